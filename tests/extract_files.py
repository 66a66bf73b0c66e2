"""Write small map extracts for tests: an invented road with places along it."""

from __future__ import annotations

import datetime as dt

import numpy as np
import osmium
from osmium.osm.mutable import Node, Relation, Way

from resupply.route.route import make_route

EDITED = dt.datetime(2027, 3, 4, 5, 6, 7, tzinfo=dt.UTC)


def straight_route(start=(-26.0, 46.5), end=(-25.0, 46.5), points=101):
    lon = np.linspace(start[0], end[0], points)
    lat = np.linspace(start[1], end[1], points)
    return make_route([(lon, lat, None)])


class Drawing:
    """Nodes, ways and relations, numbered as they are drawn."""

    def __init__(self):
        self.nodes, self.ways, self.relations = [], [], []

    def node(self, lon, lat, **tags):
        self.nodes.append((len(self.nodes) + 1, lon, lat, _keys(tags)))
        return len(self.nodes)

    def way(self, refs, **tags):
        self.ways.append((len(self.ways) + 1, list(refs), _keys(tags)))
        return len(self.ways)

    def line(self, points, **tags):
        return self.way([self.node(lon, lat) for lon, lat in points], **tags)

    def area(self, lon, lat, half=0.0005, **tags):
        refs = [
            self.node(lon + x * half, lat + y * half)
            for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        ]
        return self.way([*refs, refs[0]], **tags)

    def relation(self, members, **tags):
        self.relations.append((len(self.relations) + 1, list(members), _keys(tags)))
        return len(self.relations)

    def road(self, start=(-26.1, 46.5), end=(-24.9, 46.5), pieces=120):
        """A road in short pieces, as a real map has it, with side roads."""
        lon = np.linspace(start[0], end[0], pieces + 1)
        lat = np.linspace(start[1], end[1], pieces + 1)
        for one in range(pieces):
            self.line([(lon[one], lat[one]), (lon[one + 1], lat[one + 1])], highway="secondary")
            self.line([(lon[one], lat[one]), (lon[one], lat[one] + 0.008)], highway="residential")

    def write(self, path, *, box=None, stamp=None, edited=EDITED, is_sorted=False):
        header = osmium.io.Header()
        if is_sorted:
            header.set("sorting", "Type_then_ID")
        if box is not None:
            header.add_box(osmium.osm.Box(*box))
        if stamp is not None:
            header.set("osmosis_replication_timestamp", stamp)
        with osmium.SimpleWriter(str(path), header=header) as out:
            for number, lon, lat, tags in self.nodes:
                out.add_node(
                    Node(id=number, location=(lon, lat), tags=tags, version=1, timestamp=edited)
                )
            for number, refs, tags in self.ways:
                out.add_way(Way(id=number, nodes=refs, tags=tags, version=1, timestamp=edited))
            for number, members, tags in self.relations:
                out.add_relation(
                    Relation(id=number, members=members, tags=tags, version=1, timestamp=edited)
                )
        return path


def _keys(tags):
    return {key.replace("__", ":"): value for key, value in tags.items()}
