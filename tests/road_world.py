"""Draw small road networks in kilometres and ride through them."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from resupply.passes.find import find_passes
from resupply.places.osm_file import read_header
from resupply.places.osm_scan import scan_extract
from resupply.roads.graph import make_graph
from resupply.roads.match import match_route
from resupply.roads.pieces import Pieces, route_ends, split_at_barriers, split_at_points
from resupply.roads.sources import RoadCollector
from resupply.roads.speeds import load_speeds
from resupply.roads.ways import road_of
from resupply.route.route import make_route

LON_0, LAT_0 = -26.0, 46.5
KM_PER_LAT = 111.17
KM_PER_LON = 76.76


def lon_lat(x_km, y_km):
    return LON_0 + np.asarray(x_km) / KM_PER_LON, LAT_0 + np.asarray(y_km) / KM_PER_LAT


def graph_from_extract(paths, route, *, reach_m=20_000.0):
    """The roads within reach of a route, of one or several extracts."""
    collector = RoadCollector(route, reach_m=reach_m)
    for path in paths:
        scan_extract(path, read_header(path), [collector])
    return collector.graph("extract")


def matched_share(matched):
    """0 to 1 of the route's length that lies on known roads."""
    lost_m = sum(stretch.end_m - stretch.start_m for stretch in matched.unmatched)
    return 1.0 - lost_m / matched.length_m


def draw(spots, ways, *, closed=(), route=None, reach_m=50_000.0):
    """A graph from {name: (x, y)} in km and [(names, tags)]; node ids are positions in `spots`."""
    number = {name: i + 1 for i, name in enumerate(spots)}
    speeds = load_speeds()
    judged = [(names, road_of(tags, speeds)) for names, tags in ways]
    judged = [(names, road) for names, road in judged if road is not None]
    at = {name: lon_lat(*spot) for name, spot in spots.items()}
    flat = [(i, name) for i, (names, _) in enumerate(judged) for name in names]
    pieces = Pieces(
        ref=np.array([number[name] for _, name in flat], np.int64),
        lon=np.array([float(at[name][0]) for _, name in flat]),
        lat=np.array([float(at[name][1]) for _, name in flat]),
        piece=np.array([i for i, _ in flat], np.int64),
        way_id=np.arange(len(judged)) + 1,
        road_class=np.array([road.road_class for _, road in judged], np.uint8),
        surface=np.array([road.surface for _, road in judged], np.uint8),
        forward_kmh=np.array([road.forward_kmh for _, road in judged], float),
        backward_kmh=np.array([road.backward_kmh for _, road in judged], float),
        frontage=np.array([road.frontage for _, road in judged], bool),
    )
    shut = np.array([number[name] for name in closed], np.int64)
    pieces = split_at_barriers(pieces, shut)
    if route is not None:
        pieces = split_at_points(pieces, *route_ends(route))
    return make_graph(pieces, speeds=speeds, reach_m=reach_m, source="drawing")


def ride(spots, *names, step_km=0.1):
    """A route along straight lines between spots."""
    lon, lat = [], []
    for a, b in pairwise(names):
        (x0, y0), (x1, y1) = spots[a], spots[b]
        share = np.linspace(0.0, 1.0, max(int(np.hypot(x1 - x0, y1 - y0) / step_km), 1) + 1)
        some_lon, some_lat = lon_lat(x0 + share * (x1 - x0), y0 + share * (y1 - y0))
        lon.append(some_lon if not lon else some_lon[1:])
        lat.append(some_lat if not lat else some_lat[1:])
    return make_route([(np.concatenate(lon), np.concatenate(lat), None)])


def matched(graph, route, average_kmh=60.0):
    return match_route(graph, route, average_kmh=average_kmh)


def passes_of(route, places, reach_m=20_000.0):
    """Passes of places given as (x, y) in km, and their lon, lat."""
    lon, lat = lon_lat([p[0] for p in places], [p[1] for p in places])
    return find_passes(route, lon, lat, reach_m=reach_m), lon, lat
