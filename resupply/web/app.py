"""The live page's server: FastAPI on loopback, planning off the event loop.

The client holds all state of a trip; the server keeps only routes and map data it has read, by
the hash of their content. Every answer that is not a plan is one line of text with a reason.
"""

from __future__ import annotations

import asyncio
import json
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import anyio
from anyio import to_thread
from fastapi import FastAPI, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response, StreamingResponse
from pydantic import BaseModel, ValidationError

from resupply.common.errors import ResupplyError
from resupply.report.page import live_policy, page_assets, render_shell
from resupply.trip.settings import Trip
from resupply.web.answers import Answers, RouteGoneError
from resupply.web.guard import Guard
from resupply.web.newest_first import NewestFirst, Stale, Turn
from resupply.web.requests import ExportRequest, MapsRequest, PlanRequest

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

    from resupply.web.kept_routes import MapReading
    from resupply.web.settings import ServerMap

__all__ = ["make_app"]

M = TypeVar("M", bound=BaseModel)

_MOST_UPLOAD = 64 * 1024 * 1024
"""Bytes: our choice, the largest GeoJSON that is read; what is sent is held whole."""
_MOST_JSON = 256 * 1024
"""Bytes: our choice, far more than a trip file with every key has."""
_WEB_SCRIPTS = (
    "route_in_link.js",
    "trip_state.js",
    "from_phone.js",
    "pass_rows.js",
    "requests.js",
    "change_on_map.js",
    "day_ends.js",
    "settings_fields.js",
    "settings_kitchen.js",
    "settings_groups.js",
    "pace_bar.js",
    "settings_panel.js",
    "compare.js",
    "before_first_route.js",
    "map_data_offer.js",
    "live_cards.js",
    "open_route.js",
    "save_files.js",
    "live.js",
)
_WEB_STYLES = ("live.css",)
_LISTEN_S = 0.1
"""Our choice: a closed page is seen at once, and looking costs nothing."""
_STATIC = {".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8"}


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
    desk, turns = Answers(samples, own_map, folder), NewestFirst()
    # Two plans share the processor with the page itself; more would only wait for each other.
    planning, reading = anyio.CapacityLimiter(4), anyio.CapacityLimiter(2)
    app = FastAPI(title="resupply", docs_url=None, redoc_url=None, openapi_url=None)
    _serve_page(app)

    @app.exception_handler(ResupplyError)
    async def say(_request: Request, error: Exception) -> JSONResponse:
        return JSONResponse({"error": str(error)}, status_code=422)

    @app.exception_handler(RouteGoneError)
    async def say_gone(_request: Request, error: Exception) -> JSONResponse:
        return JSONResponse({"error": str(error)}, status_code=410)

    @app.exception_handler(Stale)
    async def say_stale(_request: Request, _error: Exception) -> JSONResponse:
        return JSONResponse({"error": "a newer question came after this one"}, status_code=409)

    @app.get("/api/samples")
    def sample_list() -> list[dict[str, Any]]:
        return desk.samples_told()

    @app.get("/api/map")
    def map_source() -> dict[str, Any]:
        defaults = Trip().model_dump(mode="json", exclude_none=True)
        return {**desk.map_told(), "defaults": defaults}

    @app.post("/api/route")
    async def route(request: Request) -> dict[str, Any]:
        data = await _body(request, _MOST_UPLOAD)

        return await to_thread.run_sync(desk.take_route, data, limiter=reading)

    @app.post("/api/trip")
    async def trip_file(request: Request) -> dict[str, Any]:
        data = await _body(request, _MOST_JSON)
        return await to_thread.run_sync(desk.read_trip, data, limiter=reading)

    @app.post("/api/plan")
    async def plan(request: Request) -> Response:
        asked = await _parsed(request, PlanRequest)
        async with turns.take(asked.page, asked.seq, quick=asked.quick) as turn:
            watch = asyncio.create_task(_stop_if_left(request, turn))
            try:
                status, content = await to_thread.run_sync(
                    desk.answer, asked, turn, limiter=planning
                )
            finally:
                watch.cancel()
        return Response(content, status_code=status, media_type="application/json")

    @app.post("/api/export")
    async def export(request: Request) -> Response:
        asked = await _parsed(request, ExportRequest)
        media, content = await to_thread.run_sync(desk.export, asked, limiter=planning)
        headers = {"content-disposition": f'attachment; filename="{asked.name}"'}
        return Response(content, media_type=media, headers=headers)

    @app.post("/api/maps/find")
    async def find_maps(request: Request) -> dict[str, Any]:
        asked = await _parsed(request, MapsRequest)
        return await to_thread.run_sync(desk.find_maps, asked, limiter=reading)

    @app.post("/api/maps/fetch")
    async def fetch_maps(request: Request) -> dict[str, str]:
        asked = await _parsed(request, MapsRequest)
        return await to_thread.run_sync(desk.fetch_maps, asked, limiter=reading)

    @app.get("/api/load/{key}")
    async def progress(key: str, request: Request) -> Response:
        load = desk.load(key)
        if load is None:
            return JSONResponse({"error": "there is no such load"}, status_code=404)
        return StreamingResponse(_events(load, request), media_type="text/event-stream")

    @app.post("/api/load/{key}/cancel")
    async def cancel(key: str) -> dict[str, bool]:
        load = desk.load(key)
        if load is not None:
            load.cancel()
        return {"cancelled": load is not None}

    hosts = frozenset(f"{name}:{port}" for name in ("127.0.0.1", "localhost", "[::1]"))
    return Guard(app, hosts, live_policy())


def _serve_page(app: FastAPI) -> None:
    """Answer with the page and its files, all of them held in memory."""
    shell = render_shell(
        scripts=[f"/assets/{name}" for name in _WEB_SCRIPTS],
        styles=[f"/assets/{name}" for name in _WEB_STYLES],
    )
    assets = page_assets()
    for name in (*_WEB_SCRIPTS, *_WEB_STYLES):
        content = resources.files("resupply.web").joinpath("assets", name).read_bytes()
        assets[name] = (_STATIC[Path(name).suffix], content)

    @app.get("/", response_class=HTMLResponse)
    async def page() -> str:
        return shell

    @app.get("/assets/{name}")
    async def asset(name: str) -> Response:
        if name not in assets:
            return JSONResponse({"error": "there is no such file"}, status_code=404)
        media, content = assets[name]
        return Response(content, media_type=media)


async def _body(request: Request, most: int) -> bytes:
    """Read a body of at most so many bytes; a longer one is refused before it is all read."""
    chunks, size = [], 0
    async for chunk in request.stream():
        size += len(chunk)
        if size > most:
            raise ResupplyError(
                f"this is larger than the {most // 1024} KiB that are taken", mend="Send less"
            )
        chunks.append(chunk)
    return b"".join(chunks)


async def _parsed(request: Request, model: type[M]) -> M:
    data = await _body(request, _MOST_JSON)
    try:
        return model.model_validate_json(data)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False, include_context=False)[0]
        where = ".".join(str(part) for part in first["loc"])
        raise ResupplyError(f"{first['msg']}", where=where or "request") from None


async def _stop_if_left(request: Request, turn: Turn) -> None:
    """Stop the work when the page is closed or has given the question up."""
    while not await request.is_disconnected():
        await asyncio.sleep(_LISTEN_S)
    turn.stop()


async def _events(load: MapReading, request: Request) -> AsyncIterator[str]:
    """Progress as server-sent events, until the load ends or the page goes away."""
    seen = -1
    with load.listened_to():
        while not await request.is_disconnected():
            if load.steps != seen or load.done:
                with load.changed:
                    seen = load.steps
                    state = {
                        "what": load.what,
                        "share": load.share,
                        "done": load.done,
                        "error": load.error,
                    }
                yield f"data: {json.dumps(state)}\n\n"
                if state["done"]:
                    return
            await asyncio.sleep(_LISTEN_S)
