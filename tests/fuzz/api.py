"""The live page's API: requests made from its own OpenAPI document, answered in this process.

Bodies are read by hand in the application, so the document says nothing of them; their models are
put in here. Requests come from schemathesis: such as the document allows, and such as it does not.
"""

from __future__ import annotations

import asyncio
import atexit
import json
import shutil
import tempfile
import threading
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

from hypothesis import strategies as st

from tests.fuzz import inputs as made

if TYPE_CHECKING:
    from hypothesis.strategies import SearchStrategy

    from resupply.web.guard import Guard

ADDRESS = "http://127.0.0.1:8327"
MAY = {200, 202, 400, 403, 404, 405, 409, 410, 422}
"""Status codes that say something the page understands."""
ROUTES = ("sample:coast_loop", "sample:there_and_back", "sample:long_moor")

Asked = tuple[str, str, dict[str, str], bytes]
"""Method, address, headers and body."""


@cache
def application() -> Guard:
    """Serve three small trips on an island with a handful of shops; nothing is asked outside."""
    from resupply.web.app import make_app
    from resupply.web.settings import ServerMap
    from tests.gpx_text import gpx, track

    folder = Path(tempfile.mkdtemp(prefix="resupply-fuzz-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    island = Path(__file__).parent / "corpus" / "extract" / "island.osm"
    (folder / "island.osm").write_bytes(island.read_bytes())
    ride = [(-25.6 + 0.01 * n, 46.5 + 0.002 * (n % 3)) for n in range(25)]
    (folder / "ride.gpx").write_bytes(gpx(track(ride, name="<b>Ride</b>")))
    for name in ROUTES:
        text = 'route = "ride.gpx"\n[start]\ndate = 2027-07-09\n[map]\nextracts = ["island.osm"]\n'
        (folder / f"{name.removeprefix('sample:')}.toml").write_text(text)
    return make_app(samples=folder, own_map=ServerMap(), folder=folder, port=8327)


def document() -> dict[str, Any]:
    """Give the OpenAPI document, with the bodies that the application reads itself."""
    from fastapi import FastAPI

    from resupply.trip.settings import Trip
    from resupply.web.requests import ExportRequest, PlanRequest

    app = application().app
    assert isinstance(app, FastAPI)
    told = app.openapi()
    definitions = told.setdefault("components", {}).setdefault("schemas", {})
    where = "#/components/schemas/{model}"
    tree = Trip.model_json_schema(ref_template=where)
    definitions.update(tree.pop("$defs"), Trip=tree)
    for path, model in (("/api/plan", PlanRequest), ("/api/export", ExportRequest)):
        body = model.model_json_schema(ref_template=where)
        body["properties"]["trip"] = {"$ref": "#/components/schemas/Trip"}
        body["properties"]["route"] = {"enum": [*ROUTES, "no such route"]}
        if "name" in body["properties"]:
            names = ["plan.json", "plan.html", "stops.gpx", "stops.csv", "trip.toml", "../x", "\r"]
            body["properties"]["name"] = {"enum": names}
        told["paths"][path]["post"]["requestBody"] = _body("application/json", body)
    for path in ("/api/route", "/api/trip"):
        text = {"type": "string"}
        told["paths"][path]["post"]["requestBody"] = _body("text/plain", text)
    return told


def _body(media: str, schema: dict[str, Any]) -> dict[str, Any]:
    return {"required": True, "content": {media: {"schema": schema}}}


def inputs() -> SearchStrategy[Asked]:
    """Requests of every operation, allowed or not, and bodies that are none of its kind."""
    import schemathesis
    from schemathesis import GenerationMode

    schema = schemathesis.openapi.from_dict(document())
    cases = [
        result.ok().as_strategy(generation_mode=mode).map(_asked)
        for result in schema.get_all_operations()
        for mode in (GenerationMode.POSITIVE, GenerationMode.NEGATIVE)
        if mode is GenerationMode.POSITIVE or result.ok().body
    ]
    bodies = made.weighted(
        (2, made.then(_plan, made.as_json)),
        (2, made.spoilt(_plan_texts(), _PIECES)),
        (1, made.then(made.json_value, made.as_json)),
    )
    by_hand = made.weighted(
        (4, lambda dice: ("POST", ADDRESS + dice.choice(_POSTS), {}, bodies(dice))), (1, _odd)
    )
    lawful, other = st.one_of(*cases), made.drawn(by_hand)
    return st.booleans().flatmap(lambda by_document: lawful if by_document else other)


_POSTS = ("/api/plan", "/api/plan", "/api/export", "/api/trip", "/api/route")
_PIECES = (b"1e999", b"null", b'"\\ud800"', b"[" * 3000, b"-", b"9" * 400)


def _odd(dice: made.Dice) -> Asked:
    """Ask for what is not there, or as somebody else."""
    method = dice.choice(("GET", "PUT", "DELETE", "OPTIONS", "HEAD", "POST"))
    path = dice.choice(("/", "/assets/../x", "/api/load/%00", "/api/plan", "/%2e%2e/etc/passwd"))
    strangers = ({}, {"host": "evil.example"}, {"origin": "http://evil.example"})
    return method, ADDRESS + path, dice.choice(strangers), b""


def _plan(dice: made.Dice) -> dict[str, Any]:
    """Ask for a plan of sound values, in combinations nobody would choose."""
    return {
        "page": f"{dice.getrandbits(64):x}",
        "seq": dice.getrandbits(dice.choice((1, 20, 53))),
        "quick": dice.random() < 0.5,
        "route": dice.choice(ROUTES),
        "trip": dice.choice(_trips()) if dice.random() < 0.3 else _sound_trip(dice),
    }


def _sound_trip(dice: made.Dice) -> dict[str, Any]:
    tables = _sound_values()
    return {
        name: {
            key: dice.choice(tables[name][key])
            for key in dice.sample(sorted(tables[name]), min(len(tables[name]), dice.randint(0, 3)))
        }
        for name in dice.sample(sorted(tables), dice.randint(0, 5))
    }


@cache
def _sound_values() -> dict[str, dict[str, list[Any]]]:
    """List sound values of every key by table, as JSON has them."""
    import tomllib

    from tests.fuzz.targets import trip_tables

    def plain(text: str) -> Any:
        value = tomllib.loads(f"x = {text}")["x"]
        return value.isoformat() if hasattr(value, "isoformat") else value

    return {
        name: {key: [plain(text) for text in texts] for key, texts in keys.items()
               if texts and not key.endswith("_mi")}
        for name, keys in trip_tables().items()
        if name not in ("", "nowhere")
    }  # fmt: skip


def _trips() -> list[dict[str, Any]]:
    return [
        {}, {"pace": {"daily_km": 20}}, {"pace": {"daily_km": 5, "rest_days": {"1": 3}}},
        {"start": {"date": "2199-12-31"}}, {"start": {"date": "1970-01-01"}},
        {"pace": {"depart": "23:59:59.9"}}, {"pace": {"own_km": {"1000": 1}}},
        {"party": {"people": 40}, "food": {"carry_limit_days": 1, "full_stop_min": 240}},
        {"now": {"at_km": 40, "time": "2027-07-09T23:59:00"}}, {"now": {"at_km": 1e300}},
        {"map": {"corridor_km": 50, "extracts": ["/etc/passwd"]}}, {"region": {"country": "ZZ"}},
        {"region": {"time_zone": "../../etc/localtime"}}, {"fuel": {"range_km": 0.001}},
        {"cooler": {"kind": "hard", "volume_l": 1e-9}, "weather": {"low_c": -60, "high_c": 60}},
        {"night": {"camps": True, "tolerance_km": 500}}, {"name": "\ud800\x1b[31m<script>"},
        {"shops": {"gone": ["node/1"], "pinned": ["node/1", "way/1"]}, "show": {"clock": 12}},
    ]  # fmt: skip


def _plan_texts() -> list[bytes]:
    from tests.fuzz.targets import kept

    return kept("api") + [
        json.dumps({"page": "a", "seq": 1, "route": ROUTES[n % 3], "trip": trip}).encode()
        for n, trip in enumerate(_trips())
    ]


def asks_for_plan(body: bytes) -> Asked:
    """Make a request of a body kept on file."""
    return "POST", f"{ADDRESS}/api/plan", {}, body


def _asked(case: Any) -> Asked:
    """Turn a case into what goes over the wire."""
    kwargs = case.as_transport_kwargs(base_url=ADDRESS)
    body = kwargs.get("data", b"")
    if "json" in kwargs:
        body = json.dumps(kwargs["json"]).encode()
    if isinstance(body, str):
        body = body.encode("utf-8", "surrogatepass")
    return kwargs["method"], kwargs["url"], {}, body if isinstance(body, bytes) else b""


def check(asked: Asked) -> str:
    """Send a request; whatever it is, the answer is one that the page can tell from a plan."""
    method, url, headers, body = asked
    asked_of = asyncio.run_coroutine_threadsafe(_send(method, url, headers, body), _loop())
    status, content = asked_of.result()
    assert status in MAY, f"status {status}: {content[:300]!r}"
    if status >= 400 and method != "HEAD":
        text = content.decode()
        if text.startswith("{"):
            told = json.loads(text)
            # Starlette itself answers for paths and methods that do not exist.
            line = told["error"] if "error" in told else told["detail"]
            assert line
            assert "\n" not in line
    elif url.endswith("/api/plan") and status == 200 and method == "POST":
        json.loads(content, parse_constant=_no_constant)
    return "read" if status < 300 else "refused"


def _no_constant(text: str) -> None:
    raise AssertionError(f"{text} is no JSON")


@cache
def _loop() -> asyncio.AbstractEventLoop:
    """A loop in a thread of its own: that of a browser may be running in this one."""
    loop = asyncio.new_event_loop()
    threading.Thread(target=loop.run_forever, daemon=True).start()
    return loop


async def _send(method: str, url: str, headers: dict[str, str], body: bytes) -> tuple[int, bytes]:
    """Ask as a server does; a client library would take half of the time."""
    given = {"host": "127.0.0.1:8327", "origin": ADDRESS, **headers}
    path, _, query = url.removeprefix(ADDRESS).partition("?")
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "scheme": "http",
        "method": method, "path": unquote(path), "raw_path": path.encode(errors="replace"),
        "query_string": query.encode(errors="replace"), "root_path": "",
        "headers": [(name.encode(), value.encode()) for name, value in given.items()],
        "client": ("127.0.0.1", 50_000), "server": ("127.0.0.1", 8327),
    }  # fmt: skip
    left, answered = [{"type": "http.request", "body": body, "more_body": False}], []

    async def receive() -> Any:
        if not left:
            await asyncio.Event().wait()  # whoever asked stays
        return left.pop()

    async def send(message: Any) -> None:
        answered.append(message)

    await application()(scope, receive, send)
    content = b"".join(message.get("body", b"") for message in answered[1:])
    return answered[0]["status"], content
