"""A local provider of map extracts: a catalogue, real extracts, their sums; it can misbehave.

It answers as the published servers do: `index-v1.json`, `NAME-latest.osm.pbf` with `Range`,
`ETag` and `Last-Modified`, and `NAME-latest.osm.pbf.md5` beside it.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import re
import socket
import struct
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

CHANGED = "Fri, 09 Jul 2027 20:21:22 GMT"

FAULTS = {
    "no ranges": "a server that knows no ranges, and breaks off once",
    "wrong sum": "an extract that is not what its checksum says",
    "half catalogue": "half a catalogue, cleanly ended",
    "web page": "a web page where the catalogue should be",
    "gone midway": "the server goes away in the middle of an extract",
    "breaks off": "the server breaks off once in the middle of an extract",
    "no sum": "an extract without a published checksum",
    "other version": "another version of the extract while it is fetched",
}


def box(west, south, east, north):
    ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    return {"type": "MultiPolygon", "coordinates": [[ring]]}


class CatalogueServer:
    """Serves extracts: `{id: (path, geometry, parent)}`; a path of None is listed, not served.

    With `dated` the newest extract and its sum are elsewhere on the server, under a day's name.
    """

    def __init__(self, extracts, *, fault=None, dated=False):
        self.extracts = extracts
        self.dated = dated
        self.fault = fault
        self.broken = 0
        """How many times an extract was broken off."""
        self.asked = []
        """(method, path, Range) of every question."""

    def __enter__(self):
        outer = self

        class Handler(BaseHTTPRequestHandler):
            def log_message(self, *_):
                pass

            def do_HEAD(self):
                self.do_GET()

            def do_GET(self):
                outer.asked.append((self.command, self.path, self.headers.get("Range")))
                with contextlib.suppress(OSError):
                    self.answer()

            def answer(self):
                if self.path.endswith("/index-v1.json"):
                    self.catalogue()
                    return
                if outer.dated and "-latest." in self.path:
                    self.send_response(302)
                    self.send_header("Location", self.path.replace("-latest.", "-270709."))
                    self.send_header("Content-Length", "0")
                    self.end_headers()
                    return
                found = re.fullmatch(r"/(.+)-(?:latest|270709)\.osm\.pbf(\.md5)?", self.path)
                path = outer.extracts.get(found[1], (None,))[0] if found else None
                if path is None or (found[2] and outer.fault == "no sum"):
                    self.send_error(404)
                elif found[2]:
                    whole = hashlib.md5(Path(path).read_bytes()).hexdigest()
                    if outer.fault == "wrong sum":
                        whole = whole[::-1]
                    self.reply(f"{whole}  {found[1]}-latest.osm.pbf\n".encode())
                else:
                    self.extract(Path(path).read_bytes())

            def catalogue(self):
                text = json.dumps(outer.catalogue()).encode()
                if outer.fault == "half catalogue":
                    text = text[: len(text) // 2]
                elif outer.fault == "web page":
                    text = b"<html>Sign in to the network of this camp site</html>"
                self.reply(text)

            def extract(self, content):
                tag = f'"{hashlib.md5(content).hexdigest()[:8]}"'
                if outer.fault == "other version" and outer.broken:
                    tag = '"newer"'
                found = re.fullmatch(r"bytes=(\d+)-", self.headers.get("Range") or "")
                whole = [("ETag", tag), ("Last-Modified", CHANGED)]
                ranged = found and outer.fault != "no ranges"
                if ranged and self.headers.get("If-Range") == tag:
                    start, total = int(found[1]), len(content)
                    whole.append(("Content-Range", f"bytes {start}-{total - 1}/{total}"))
                    self.reply(content[start:], status=206, headers=whole)
                else:
                    self.reply(content, headers=whole)

            def reply(self, body, *, status=200, headers=()):
                self.send_response(status)
                self.send_header("Content-Length", str(len(body)))
                for name, value in headers:
                    self.send_header(name, value)
                self.end_headers()
                if self.command == "HEAD":
                    return
                once = outer.fault in ("no ranges", "breaks off", "other version")
                is_extract = self.path.endswith(".pbf")
                if is_extract and (outer.fault == "gone midway" or (once and not outer.broken)):
                    outer.broken += 1
                    self.wfile.write(body[: len(body) // 2])
                    self.wfile.flush()
                    # A reset, as when the machine at the other end goes.
                    linger = struct.pack("ii", 1, 0)
                    self.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, linger)
                    self.connection.close()
                    return
                self.wfile.write(body)

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.thread = threading.Thread(target=self.server.serve_forever, daemon=True)
        self.thread.start()
        self.address = f"http://127.0.0.1:{self.server.server_port}/index-v1.json"
        return self

    def __exit__(self, *_):
        self.server.shutdown()
        self.server.server_close()
        self.thread.join(5.0)

    def catalogue(self):
        """Give the catalogue in the published form."""
        rows = [
            {
                "type": "Feature",
                "properties": {
                    "id": name,
                    "parent": parent,
                    "name": name.title(),
                    "urls": {
                        "pbf": f"http://127.0.0.1:{self.server.server_port}/{name}-latest.osm.pbf",
                        "updates": "http://127.0.0.1:1/updates",
                    },
                },
                "geometry": geometry,
            }
            for name, (_, geometry, parent) in self.extracts.items()
        ]
        return {"type": "FeatureCollection", "features": rows}

    def fetched(self):
        """Names of the extracts asked for, one for each question."""
        return [path for method, path, _ in self.asked if method == "GET" and path.endswith("pbf")]
