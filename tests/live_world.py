"""An invented road with shops for the live page: a GPX file and the extract that covers it."""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from pathlib import Path

import numpy as np
from conftest import ROOT
from extract_files import Drawing
from worlds import winding_route

HOURS = ("Mo-Sa 08:00-19:00", None, "Mo-Fr 08:00-12:30,15:00-19:00; Sa 08:00-13:00", "24/7")
SAMPLES = ROOT / "sample_routes"


def write_world(
    folder: Path, *, length_km: float, shops: int, points: int = 4000, ground: bool = False
):
    """Write `road.gpx` and `road.osm.pbf`; returns both paths.

    With `ground` towns, woods, lakes and summits lie along the road, as in a real country.
    """
    route = winding_route(length_km, points=points)
    gpx = folder / "road.gpx"
    rows = "".join(
        f'<trkpt lat="{lat:.6f}" lon="{lon:.6f}"><ele>{200 + 150 * np.sin(k / 40):.0f}</ele></trkpt>'  # noqa: E501
        for k, (lon, lat) in enumerate(zip(route.lon, route.lat, strict=True))
    )
    gpx.write_text(
        '<gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><name>Winding road</name><trkseg>{rows}</trkseg></trk></gpx>"
    )
    drawing = Drawing()
    line = [drawing.node(lon, lat) for lon, lat in zip(route.lon, route.lat, strict=True)]
    for k in range(0, len(line) - 1, 10):
        drawing.way(line[k : k + 11], highway="secondary")
    at_km = np.sort(np.random.default_rng(1).uniform(5, length_km - 5, shops))
    for n, km in enumerate(at_km):
        lon, lat = route.position_at(km * 1000.0)
        nearest = int(np.argmin(np.abs(route.lon - lon)))
        away = 0.004 + 0.012 * (n % 4) / 4
        side = drawing.node(lon, lat + away)
        drawing.way([line[nearest], side], highway="residential")
        hours = HOURS[n % len(HOURS)]
        kind = {"shop": "bakery" if n % 3 == 2 else "supermarket", "name": f"Shop {n + 1}"}
        drawing.node(lon, lat + away, **kind, **({"opening_hours": hours} if hours else {}))
        if n % 5 == 0:
            drawing.node(lon, lat - away, amenity="fuel", name=f"Fuel {n + 1}")
        if n % 7 == 0:
            drawing.node(lon, lat - 2 * away, tourism="camp_site", name=f"Camp {n + 1}")
    if ground:
        _draw_ground(drawing, route, length_km)
    west, east = float(route.lon.min()) - 0.3, float(route.lon.max()) + 0.3
    box = (west, 45.5, east, 46.5)
    return gpx, drawing.write(folder / "road.osm.pbf", box=box, stamp="2027-03-01T00:00:00Z")


def _draw_ground(drawing: Drawing, route, length_km: float) -> None:
    """Every 4 km something: a wood with a ragged edge, a village, a town, a lake, a summit."""
    rng = np.random.default_rng(2)
    for n, km in enumerate(np.arange(4.0, length_km - 4.0, 4.0)):
        lon, lat = route.position_at(km * 1000.0)
        north = (0.05 if n % 2 else -0.05) + rng.uniform(-0.02, 0.02)
        turns = np.linspace(0.0, 2.0 * np.pi, 41)[:-1]
        reach = rng.uniform(0.01, 0.03, 40)
        edge = zip(lon + reach * np.cos(turns), lat + north + reach * np.sin(turns), strict=True)
        refs = [drawing.node(x, y) for x, y in edge]
        kind = {"natural": "water"} if n % 9 == 4 else {"landuse": "forest"}
        drawing.way([*refs, refs[0]], **kind)
        size, people = ("town", 9_000) if n % 16 == 8 else ("village", 700)
        if n % 2 == 0:
            drawing.node(lon, lat + 0.01, place=size, name=f"Winding {n}", population=str(people))
        if n % 3 == 0:
            drawing.node(lon, lat - 1.5 * north, natural="peak", name=f"Top {n}", ele=str(800 + n))


def pass_rows(along: dict, now: dict, used: list[dict]) -> list[dict]:
    """Make rows of the columns of a step of a drag, as the page does (`pass_rows.js`)."""
    told = {row["id"]: row for row in used}
    rows = now["rows"] if now["rows"] is not None else range(len(now["leg"]))
    out = []
    for k, ix in enumerate(rows):
        fixed = {key: along[key][ix] for key in ("place", "chainage_m", "offset_m", "side")}
        own = {key: now[key][k] for key in ("leg", "eta", "detour_m", "detour_s")}
        foot = {} if along["walk_m"][ix] is None else {"walk_m": along["walk_m"][ix]}
        state = along["states"][now["state"][k]]
        row = {"id": f"p{ix}", **fixed, **own, **foot, "state": state, "role": "other"}
        out.append(told.get(row["id"], row))
    return out


@contextlib.contextmanager
def serving(own_map, folder: Path, *, port: int = 0):
    """Serve the live page in a thread, on a free port unless one is given; gives its address."""
    import uvicorn

    from resupply.web.app import make_app

    if not port:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
    application = make_app(samples=SAMPLES, own_map=own_map, folder=folder, port=port)
    server = uvicorn.Server(
        uvicorn.Config(application, host="127.0.0.1", port=port, log_level="error")
    )
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    deadline = time.monotonic() + 20.0
    while not server.started and time.monotonic() < deadline:
        time.sleep(0.02)
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(timeout=10.0)
