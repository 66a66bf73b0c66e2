"""Write the region as OpenStreetMap data and the routes as GPX, the same bytes every time."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

import osmium

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence
    from pathlib import Path

    from varrow.land import Point
    from varrow.routes import Line

__all__ = ["GENERATOR", "STAMP", "Region", "write_gpx"]

GENERATOR = "resupply sample region"
STAMP = dt.datetime(2027, 6, 1, tzinfo=dt.UTC)
MAX_NODES_PER_WAY = 400


@dataclass
class Region:
    """OSM objects in the making. Equal points of ways are one node."""

    nodes: list[tuple[Point, dict[str, str]]] = field(default_factory=list)
    ways: list[tuple[list[int], dict[str, str]]] = field(default_factory=list)
    relations: list[tuple[list[tuple[str, int, str]], dict[str, str]]] = field(default_factory=list)
    shared: dict[Point, int] = field(default_factory=dict)

    def add_node(self, point: Point, tags: Mapping[str, str]) -> int:
        """Add a node of its own; return its id."""
        self.nodes.append((point, dict(tags)))
        return len(self.nodes)

    def node_at(self, point: Point) -> int:
        """Find or make the one way node at a point; return its id."""
        if point not in self.shared:
            self.shared[point] = self.add_node(point, {})
        return self.shared[point]

    def add_way(self, points: Sequence[Point], tags: Mapping[str, str]) -> int:
        """Add a line or ring (last point equals the first); return its id."""
        self.ways.append(([self.node_at(p) for p in points], dict(tags)))
        return len(self.ways)

    def add_long_way(self, points: Sequence[Point], tags: Mapping[str, str]) -> list[int]:
        """Add a line in pieces that share their end nodes; return their ids."""
        return [
            self.add_way(points[start : start + MAX_NODES_PER_WAY + 1], tags)
            for start in range(0, len(points) - 1, MAX_NODES_PER_WAY)
        ]

    def add_relation(self, members: Sequence[tuple[str, int, str]], tags: Mapping[str, str]) -> int:
        """Members as (type, id, role); returns the relation's id."""
        self.relations.append((list(members), dict(tags)))
        return len(self.relations)

    def write(self, path: Path) -> None:
        """Write a .osm.pbf: sorted ids, no compression (so no dependence on a zlib version)."""
        header = osmium.io.Header()
        header.set("generator", GENERATOR)
        header.set("osmosis_replication_timestamp", STAMP.strftime("%Y-%m-%dT%H:%M:%SZ"))
        lon = [p[0] for p, _ in self.nodes]
        lat = [p[1] for p, _ in self.nodes]
        header.add_box(
            osmium.osm.Box(
                osmium.osm.Location(min(lon) - 0.1, min(lat) - 0.1),
                osmium.osm.Location(max(lon) + 0.1, max(lat) + 0.1),
            )
        )
        path.unlink(missing_ok=True)
        form = osmium.io.File(str(path), "pbf,pbf_compression=none,add_metadata=version+timestamp")
        with osmium.SimpleWriter(form, header=header) as writer:
            for number, (point, tags) in enumerate(self.nodes, start=1):
                writer.add_node(
                    osmium.osm.mutable.Node(
                        id=number, version=1, timestamp=STAMP, location=point, tags=tags
                    )
                )
            for number, (refs, tags) in enumerate(self.ways, start=1):
                writer.add_way(
                    osmium.osm.mutable.Way(
                        id=number, version=1, timestamp=STAMP, nodes=refs, tags=tags
                    )
                )
            for number, (members, tags) in enumerate(self.relations, start=1):
                writer.add_relation(
                    osmium.osm.mutable.Relation(
                        id=number, version=1, timestamp=STAMP, members=members, tags=tags
                    )
                )


def write_gpx(
    path: Path,
    line: Line,
    height_at: Callable[[Point], float],
    marks: Iterable[tuple[Point, str]],
) -> None:
    """One GPX 1.1 track; each stretch between ferries is a segment."""
    rows = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<gpx version="1.1" creator="{GENERATOR}" xmlns="http://www.topografix.com/GPX/1/1">',
        f"<metadata><name>{escape(line.name)}</name></metadata>",
    ]
    for (lon, lat), name in marks:
        rows.append(f'<wpt lat="{lat:.6f}" lon="{lon:.6f}"><name>{escape(name)}</name></wpt>')
    rows.append(f"<trk><name>{escape(line.name)}</name>")
    for points in line.segments:
        rows.append("<trkseg>")
        rows += [
            f'<trkpt lat="{p[1]:.6f}" lon="{p[0]:.6f}"><ele>{height_at(p):.0f}</ele></trkpt>'
            for p in points
        ]
        rows.append("</trkseg>")
    rows += ["</trk>", "</gpx>", ""]
    path.write_bytes("\n".join(rows).encode())
