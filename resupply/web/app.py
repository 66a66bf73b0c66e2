"""The live page's server: FastAPI on loopback, planning off the event loop.

The client holds all state of a trip; the server keeps only routes and map data it has read, by
the hash of their content. Every answer that is not a plan is one line of text with a reason.
"""

from __future__ import annotations

import json
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeVar

import anyio
from fastapi import FastAPI, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response, StreamingResponse
from pydantic import BaseModel, ConfigDict, Field

from resupply.errors import ResupplyError
from resupply.prepare import Prepared, prepare
from resupply.report.page import live_policy, page_assets, render_shell
from resupply.route_in import parse_route, read_route
from resupply.trip import Trip, dump_trip, parse_trip
from resupply.web.guard import Guard
from resupply.web.plans import SAMPLES, ServerMap, plan_answer, sample_trip, settled_trip
from resupply.web.stores import Load, Shelf, Source, route_token, world_key

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

__all__ = ["make_app"]

M = TypeVar("M", bound=BaseModel)

_MOST_UPLOAD = 64 * 1024 * 1024
_MOST_JSON = 256 * 1024
_RESULTS = {
    "map": "plan.html",
    "json": "plan.json",
    "geojson": "plan.geojson",
    "gpx": "stops.gpx",
    "csv": "stops.csv",
    "calendar": "stops.ics",
}
_WEB_SCRIPTS = ("trip.js", "controls.js", "edit.js", "compare.js", "live.js")
_WEB_STYLES = ("live.css",)


class PlanRequest(BaseModel):
    """What the page asks for."""

    model_config = ConfigDict(extra="forbid")

    route: Annotated[str, Field(max_length=64)]
    """`sample:NAME`, or the token of an uploaded route."""
    trip: dict[str, Any]
    quick: bool = False
    geo: bool = False
    seq: Annotated[int, Field(ge=0, le=2**53)] = 0
    """The page's own counter, sent back; the page drops answers older than its newest."""


class ExportRequest(BaseModel):
    """A file of the present plan."""

    model_config = ConfigDict(extra="forbid")

    route: Annotated[str, Field(max_length=64)]
    trip: dict[str, Any]
    kind: Literal["map", "json", "geojson", "gpx", "csv", "calendar", "trip"]


class _Server:
    """The stores and the work; one per application."""

    def __init__(self, samples: Path, own_map: ServerMap, folder: Path) -> None:
        self.samples, self.own_map, self.folder = samples, own_map, folder
        self.routes: Shelf[Source] = Shelf(12)
        self.worlds: Shelf[Prepared] = Shelf(6)
        self.loads: dict[str, Load] = {}
        self.lock = threading.Lock()

    def source(self, name: str) -> tuple[Source, Trip | ServerMap]:
        """Route and map data by the name a client sent."""
        if name.startswith("sample:") and name.removeprefix("sample:") in SAMPLES:
            trip = sample_trip(self.samples, name.removeprefix("sample:"))
            kept = self.routes.get(name)
            if kept is None:
                kept = Source(read_route(self.samples / (trip.route or "")), self.samples)
                self.routes.put(name, kept)
            return kept, trip
        kept = self.routes.get(name)
        if kept is None:
            raise ResupplyError("this route is not loaded any more", mend="Open the file again")
        return kept, self.own_map

    def world(self, request: PlanRequest | ExportRequest) -> tuple[Trip, Source, str]:
        """Check the trip; give it, its route, and the key of its world."""
        source, own = self.source(request.route)
        trip = settled_trip(request.trip, own)
        return trip, source, world_key(request.route, trip)

    def start_load(self, key: str, trip: Trip, source: Source) -> Load:
        """Begin to read a world, or find the load that is doing so."""
        with self.lock:
            running = self.loads.get(key)
            if running is not None and not running.done:
                return running
            load = self.loads[key] = Load(key)
            for old in [k for k, v in self.loads.items() if v.done and k != key][:-4]:
                del self.loads[old]

        def read(load: Load) -> Prepared:
            world = prepare(trip, source.folder, route=source.route, progress=load.tell)
            self.worlds.put(key, world)
            return world

        threading.Thread(target=load.run, args=(read,), daemon=True).start()
        return load

    def answer(self, request: PlanRequest) -> tuple[int, dict[str, Any]]:
        """Plan, or say which load has to finish first."""
        trip, source, key = self.world(request)
        world = self.worlds.get(key)
        if world is None:
            load = self.start_load(key, trip, source)
            # Small maps are read at once; only what takes longer shows progress.
            with load.changed:
                load.changed.wait_for(lambda: load.done, timeout=1.5)
            if load.error is not None:
                raise ResupplyError(load.error)
            world = load.world
            if world is None:
                return 202, {"seq": request.seq, "load": key}
        answer, covered = plan_answer(
            world, trip, source.folder, quick=request.quick, with_geo=request.geo
        )
        self.worlds.put(key, covered)
        return 200, {"seq": request.seq, **answer}

    def export(self, request: ExportRequest) -> tuple[str, str, str | bytes]:
        """Name, media type and content of a file."""
        trip, source, key = self.world(request)
        if request.kind == "trip":
            return "trip.toml", "application/toml", dump_trip(_without_files(trip))
        from resupply.report.files import MEDIA_TYPES, make_result

        world = self.worlds.get(key) or prepare(trip, source.folder, route=source.route)
        answer, covered = plan_answer(world, trip, source.folder, quick=False, with_geo=True)
        self.worlds.put(key, covered)
        name = _RESULTS[request.kind]
        return name, MEDIA_TYPES[name], make_result(name, answer["plan"], answer["geo"])


def _without_files(trip: Trip) -> Trip:
    """Leave the server's own file names out of a saved trip."""
    return trip.model_copy(
        update={"map": trip.map.model_copy(update={"extracts": (), "service": False})}
    )


def make_app(*, samples: Path, own_map: ServerMap, folder: Path, port: int) -> Guard:
    """Make the application.

    Parameters
    ----------
    samples
        Folder of the sample trips.
    own_map
        Map data for uploaded routes; its file names are relative to `folder`.
    port
        Port it will be served on, for the check of the Host header.
    """
    server = _Server(samples, own_map, folder)
    app = FastAPI(title="resupply", docs_url=None, redoc_url=None)
    shell = render_shell(
        scripts=[f"/assets/{name}" for name in _WEB_SCRIPTS],
        styles=[f"/assets/{name}" for name in _WEB_STYLES],
    )
    assets = page_assets() | _web_assets()

    @app.exception_handler(ResupplyError)
    async def say(_request: Request, error: Exception) -> JSONResponse:
        return JSONResponse({"error": str(error)}, status_code=422)

    @app.get("/", response_class=HTMLResponse)
    async def page() -> str:
        return shell

    @app.get("/assets/{name}")
    async def asset(name: str) -> Response:
        if name not in assets:
            return JSONResponse({"error": "there is no such file"}, status_code=404)
        media, content = assets[name]
        return Response(content, media_type=media)

    @app.get("/api/samples")
    def sample_list() -> list[dict[str, Any]]:
        return [
            {"route": f"sample:{name}", "name": trip.name, "trip": _client_tree(trip)}
            for name in SAMPLES
            for trip in (sample_trip(samples, name),)
        ]

    @app.get("/api/map")
    def map_source() -> dict[str, Any]:
        names = [Path(name).name for name in own_map.extracts]
        return {"extracts": names, "service": own_map.service}

    @app.post("/api/route")
    async def route(request: Request) -> dict[str, Any]:
        data = await _body(request, _MOST_UPLOAD)

        def read() -> dict[str, Any]:
            token = route_token(data)
            found = parse_route(data, name="uploaded route")
            server.routes.put(token, Source(found, folder))
            return {
                "route": token,
                "name": found.name,
                "length_m": round(found.length_m),
                "warnings": list(found.warnings),
            }

        return await anyio.to_thread.run_sync(read)

    @app.post("/api/trip")
    async def trip_file(request: Request) -> dict[str, Any]:
        data = await _body(request, _MOST_JSON)
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError:
            raise ResupplyError("the trip file is not text in UTF-8") from None
        return {"trip": _client_tree(parse_trip(text, where="trip file"))}

    @app.post("/api/plan")
    async def plan(request: Request) -> JSONResponse:
        asked = await _parsed(request, PlanRequest)
        if await request.is_disconnected():
            return JSONResponse({"error": "nobody waits for this"}, status_code=499)
        status, answer = await anyio.to_thread.run_sync(server.answer, asked)
        return JSONResponse(answer, status_code=status)

    @app.post("/api/export")
    async def export(request: Request) -> Response:
        asked = await _parsed(request, ExportRequest)
        name, media, content = await anyio.to_thread.run_sync(server.export, asked)
        headers = {"content-disposition": f'attachment; filename="{name}"'}
        return Response(content, media_type=media, headers=headers)

    @app.get("/api/load/{key}")
    async def progress(key: str, request: Request) -> Response:
        load = server.loads.get(key)
        if load is None:
            return JSONResponse({"error": "there is no such load"}, status_code=404)
        return StreamingResponse(_events(load, request), media_type="text/event-stream")

    @app.post("/api/load/{key}/cancel")
    async def cancel(key: str) -> dict[str, bool]:
        load = server.loads.get(key)
        if load is not None:
            load.cancelled = True
        return {"cancelled": load is not None}

    hosts = frozenset(f"{name}:{port}" for name in ("127.0.0.1", "localhost", "[::1]"))
    return Guard(app, hosts, live_policy())


def _web_assets() -> dict[str, tuple[str, bytes]]:
    from importlib import resources

    found = {}
    for name in (*_WEB_SCRIPTS, *_WEB_STYLES):
        media = (
            "text/css; charset=utf-8" if name.endswith(".css") else "text/javascript; charset=utf-8"
        )
        content = resources.files("resupply.web").joinpath("assets", name).read_bytes()
        found[name] = (media, content)
    return found


def _client_tree(trip: Trip) -> dict[str, Any]:
    """Write the settings as the page holds them: no files, no addresses."""
    tree: dict[str, Any] = trip.model_dump(mode="json", exclude_defaults=True)
    tree.pop("route", None)
    for key in ("extracts", "service", "service_url", "contact"):
        tree.get("map", {}).pop(key, None)
    return {k: v for k, v in tree.items() if v != {}}


async def _body(request: Request, most: int) -> bytes:
    """Read a body of at most so many bytes; a longer one is refused before it is all read."""
    chunks, size = [], 0
    async for chunk in request.stream():
        size += len(chunk)
        if size > most:
            raise ResupplyError(
                f"the file is larger than {most // 1024} KiB", mend="Send a smaller one"
            )
        chunks.append(chunk)
    return b"".join(chunks)


async def _parsed(request: Request, model: type[M]) -> M:
    from pydantic import ValidationError

    data = await _body(request, _MOST_JSON)
    try:
        return model.model_validate_json(data)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False, include_context=False)[0]
        where = ".".join(str(part) for part in first["loc"])
        raise ResupplyError(f"{first['msg']}", where=where or "request") from None


async def _events(load: Load, request: Request) -> AsyncIterator[str]:
    """Progress as server-sent events, until the load ends or the page goes away."""
    seen = -1

    def wait() -> tuple[int, dict[str, Any]]:
        with load.changed:
            load.changed.wait_for(lambda: load.steps != seen, timeout=1.0)
            state = {"what": load.what, "share": load.share, "done": load.done, "error": load.error}
            return load.steps, state

    while not await request.is_disconnected():
        steps, state = await anyio.to_thread.run_sync(wait)
        if steps != seen:
            seen = steps
            yield f"data: {json.dumps(state)}\n\n"
        if state["done"]:
            return
