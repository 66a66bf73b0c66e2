"""A line along the roads of a map extract through points named by hand, and its GPX file.

Read with osmium and networkx and nothing of resupply, so that a change of its readers leaves the
lines of the baseline where they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from xml.sax.saxutils import escape

import networkx as nx
import numpy as np
import osmium
from pyproj import Geod

WAYS = {
    *("motorway", "trunk", "primary", "secondary", "tertiary", "unclassified", "residential"),
    *("motorway_link", "trunk_link", "primary_link", "secondary_link", "tertiary_link"),
}
# A small road counts as longer, so that a line keeps to the roads a rider would take.
SLOWER = {"unclassified": 1.5, "residential": 2.0}
GEOD = Geod(ellps="WGS84")
Lonlat = tuple[float, float]


def road_graph(extract: Path) -> nx.Graph:
    """Largest connected piece of the roads; nodes carry `at`, edges `cost`."""
    graph = nx.Graph()
    for way in osmium.FileProcessor(str(extract)).with_locations():
        if not way.is_way() or way.tags.get("highway") not in WAYS:
            continue
        kind = way.tags["highway"]
        known = [(n.ref, (n.lon, n.lat)) for n in way.nodes if n.location.valid()]
        for (one, here), (two, there) in pairwise(known):
            across = np.hypot(
                (here[0] - there[0]) * np.cos(np.radians(here[1])), here[1] - there[1]
            )
            graph.add_node(one, at=here)
            graph.add_node(two, at=there)
            graph.add_edge(one, two, cost=float(across) * SLOWER.get(kind, 1.0))
    return graph.subgraph(max(nx.connected_components(graph), key=len))


def line_through(graph: nx.Graph, points: Sequence[Lonlat]) -> list[Lonlat]:
    """Join the road nodes nearest to the points by their shortest ways."""
    nodes = sorted(graph)
    at = np.array([graph.nodes[node]["at"] for node in nodes])
    nearest = [nodes[int(np.argmin(np.sum((at - point) ** 2, axis=1)))] for point in points]
    found = [nearest[0]]
    for one, two in pairwise(nearest):
        found += nx.shortest_path(graph, one, two, weight="cost")[1:]
    return [graph.nodes[node]["at"] for node in found]


def length_km(line: Sequence[Lonlat]) -> float:
    lon, lat = np.array(line).T
    return float(GEOD.line_length(lon, lat)) / 1000.0


def write_gpx(path: Path, line: Sequence[Lonlat], name: str) -> None:
    points = "".join(f'<trkpt lat="{lat:.6f}" lon="{lon:.6f}"/>\n' for lon, lat in line)
    path.write_text(
        '<gpx version="1.1" creator="tests" xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><name>{escape(name)}</name><trkseg>\n{points}</trkseg></trk></gpx>\n",
        "utf-8",
    )
