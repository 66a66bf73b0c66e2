"""A local service that speaks the Overpass JSON format and can be told to misbehave.

It answers the questions osmnx asks: features with one of the tags inside a polygon, with the
members they need. `python tests/overpass_server.py` runs it for trying things by hand.
"""

from __future__ import annotations

import contextlib
import json
import re
import socket
import struct
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs

import shapely

DATA_DATE = "2027-06-20"

FAULTS = {
    "busy": "status 429 with Retry-After",
    "overloaded": "status 504",
    "silent": "takes the question and says nothing",
    "reset": "closes the connection in the middle of the answer",
    "web page": "a web page with status 200",
    "remark": "half the data and a remark (out of time or memory)",
    "cut off": "half the answer, cleanly ended",
    "drip": "one byte at a time",
    "nothing": "status 200 without a body",
    "refused": "status 400",
    "blocked": "status 403",
    "nonsense": "JSON that is not map data",
    "odd data": "map data with impossible coordinates",
    "undated": "map data without a word of what it is and of what date",
    "no date": "map data without a date",
    "dripping headers": "a header now and then, without end",
    "continue": "`100 Continue` again and again",
    "moved": "sends the question elsewhere (status 302)",
    "see other": "sends the question elsewhere (status 303)",
    "other host": "sends us to another host (status 307)",
}


class OverpassServer:
    """Serves `elements` on a free local port; `faults` are used up one per question."""

    def __init__(
        self, elements=(), *, faults=(), status_page=None, retry_after="0", land=None, left_out=()
    ):
        self.land = land
        """Where the service knows roads, a polygon; None for everywhere."""
        self.left_out = set(left_out)
        """Numbers of nodes that its answers lack."""
        self.elements = list(elements)
        self.faults = list(faults)
        self.status_page = status_page
        self.retry_after = retry_after
        self.questions = []
        self.agents = []
        self.at_once = self.most_at_once = 0
        self.lock = threading.Lock()

    def __enter__(self):
        outer = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def log_message(self, *_):
                pass

            def do_GET(self):
                page = outer.status_page
                if page is None or not self.path.partition("?")[0].endswith("/status"):
                    self.send_error(404)
                    return
                if page in FAULTS:
                    with contextlib.suppress(OSError):
                        self.misbehave(page, {"long": "x" * 4_000})
                    return
                self.reply(page() if callable(page) else page, kind="text/plain")

            def do_POST(self):
                with outer.lock:
                    outer.at_once += 1
                    outer.most_at_once = max(outer.most_at_once, outer.at_once)
                try:
                    with contextlib.suppress(OSError):
                        self.answer()
                finally:
                    with outer.lock:
                        outer.at_once -= 1

            def answer(self):
                size = int(self.headers["Content-Length"])
                query = parse_qs(self.rfile.read(size).decode())["data"][0]
                outer.questions.append(query)
                outer.agents.append(self.headers["User-Agent"])
                fault = outer.faults.pop(0) if outer.faults else None
                self.misbehave(fault, outer.answer_to(query))

            def reply(self, text, *, status=200, kind="application/json", headers=()):
                body = text.encode()
                self.send_response(status)
                self.send_header("Content-Type", kind)
                self.send_header("Content-Length", str(len(body)))
                for name, value in headers:
                    self.send_header(name, value)
                self.end_headers()
                self.wfile.write(body)

            def misbehave(self, fault, document):
                text = json.dumps(document)
                match fault:
                    case None:
                        self.reply(text)
                    case "busy":
                        waits = [("Retry-After", outer.retry_after)] if outer.retry_after else []
                        self.reply("rate_limited", status=429, headers=waits)
                    case "overloaded":
                        self.reply("The server is probably too busy.", status=504)
                    case "silent":
                        time.sleep(4.0)
                        self.close_connection = True
                    case "reset":
                        self.part(text, len(text) + 1_000)
                        linger = struct.pack("ii", 1, 0)
                        self.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, linger)
                        self.connection.close()
                        self.close_connection = True
                    case "web page":
                        self.reply("<html><body>Dispatcher says no</body></html>", kind="text/html")
                    case "remark":
                        half = document["elements"][: len(document["elements"]) // 2]
                        remark = 'runtime error: Query timed out in "query" at line 3'
                        self.reply(json.dumps({**document, "elements": half, "remark": remark}))
                    case "cut off":
                        self.reply(text[: len(text) // 2])
                    case "drip":
                        self.send_response(200)
                        self.send_header("Content-Length", str(len(text)))
                        self.end_headers()
                        for char in text:
                            self.wfile.write(char.encode())
                            self.wfile.flush()
                            time.sleep(0.05)
                    case "nothing":
                        self.reply("")
                    case "refused":
                        self.reply("<html>parse error</html>", status=400, kind="text/html")
                    case "blocked":
                        self.reply("<html>no</html>", status=403, kind="text/html")
                    case "nonsense":
                        self.reply('["elements"]')
                    case "odd data":
                        odd = {"type": "node", "id": 1, "lon": 200.0, "lat": 46.5}
                        self.reply(json.dumps({"elements": [odd]}))
                    case "undated":
                        self.reply(json.dumps({"elements": document["elements"]}))
                    case "no date":
                        self.reply(json.dumps({**document, "osm3s": {"copyright": "ODbL"}}))
                    case "dripping headers":
                        self.without_end(b"HTTP/1.1 200 OK\r\n", b"X-Wait: 1\r\n")
                    case "continue":
                        self.without_end(b"", b"HTTP/1.1 100 Continue\r\n\r\n")
                    case "moved":
                        self.reply("", status=302, headers=[("Location", outer.endpoint)])
                    case "see other":
                        self.reply("", status=303, headers=[("Location", outer.endpoint)])
                    case "other host":
                        self.reply("", status=307, headers=[("Location", "http://localhost:9/")])
                    case "same host":
                        self.reply("", status=307, headers=[("Location", self.path)])

            def without_end(self, first, again):
                """Say so much, then something every now and then, for longer than anyone waits."""
                self.close_connection = True
                self.wfile.write(first)
                for _ in range(400):
                    self.wfile.write(again)
                    time.sleep(0.05)

            def part(self, text, promised):
                self.send_response(200)
                self.send_header("Content-Length", str(promised))
                self.end_headers()
                self.wfile.write(text[: len(text) // 2].encode())
                self.wfile.flush()
                time.sleep(0.05)

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        threading.Thread(target=self.server.serve_forever, args=(0.02,), daemon=True).start()
        self.endpoint = f"http://127.0.0.1:{self.server.server_address[1]}/api"
        return self

    def __exit__(self, *_):
        self.server.shutdown()
        self.server.server_close()

    def answer_to(self, query):
        """What the query asks for: roads as lines; wanted tags, in its polygon, with members."""
        area = _polygon(re.search(r"poly:'([^']+)'", query)[1])
        wanted = set(re.findall(r"\['([^']+)'='([^']+)'\]", query))
        by_id = {(one["type"], one["id"]): one for one in self.elements}

        def members(element):
            if element["type"] == "way":
                return [by_id["node", ref] for ref in element["nodes"] if ("node", ref) in by_id]
            if element["type"] == "relation":
                own = [by_id[key] for one in element["members"]
                       if (key := (one["type"], one["ref"])) in by_id]  # fmt: skip
                return [*own, *(deep for one in own for deep in members(one))]
            return []

        found = {}
        for element in self.elements:
            parts = [element, *members(element)]
            inside = any(
                area.contains(shapely.Point(one["lon"], one["lat"]))
                for one in parts
                if one["type"] == "node"
            )
            if inside and wanted & set(element.get("tags", {}).items()):
                found.update({(one["type"], one["id"]): one for one in parts})
        return {
            "version": 0.6,
            "generator": "Overpass API (a stand-in)",
            "osm3s": {"timestamp_osm_base": f"{DATA_DATE}T10:00:00Z"},
            "elements": [
                *self.roads(query),
                *(one for one in found.values() if one["id"] not in self.left_out),
            ],
        }

    def roads(self, query):
        """A road around each piece of ground whose roads are asked for, where there is land."""
        asked = re.findall(r'way\["highway"~"[^"]+"\]\(poly:"([^"]+)"\)', query)
        for number, text in enumerate(dict.fromkeys(asked), start=7_000_000):
            around = _polygon(text).exterior
            line = around if self.land is None else shapely.intersection(around, self.land)
            for part, one in enumerate(shapely.get_parts(line)):
                yield {
                    "type": "way", "id": 1_000 * number + part,
                    "nodes": list(range(1, len(one.coords) + 1)),
                    "geometry": [{"lat": lat, "lon": lon} for lon, lat in one.coords],
                }  # fmt: skip


def _polygon(text):
    numbers = [float(one) for one in text.split()]
    return shapely.Polygon(list(zip(numbers[1::2], numbers[0::2], strict=True)))


def node(number, lon, lat, **tags):
    return {"type": "node", "id": number, "lon": lon, "lat": lat, "tags": tags}


if __name__ == "__main__":
    with OverpassServer([node(1, -25.5, 46.5, shop="supermarket")]) as running:
        print(running.endpoint)
        threading.Event().wait()
