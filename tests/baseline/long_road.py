"""4,004 km through an invented country whose shops have the tags of real ones.

Towns lie along the road at uneven distances; what stands in them is drawn, with a fixed seed,
from every shop, filling station, tap and camp of the real extracts. Names are numbers.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import osmium
from osmium.osm.mutable import Node, Way
from pyproj import Geod

if TYPE_CHECKING:
    from tests.baseline.lines import Lonlat

LENGTH_KM = 4004.0
SEED = 4004
KEPT = (
    "shop",
    "amenity",
    "tourism",
    "opening_hours",
    "drinking_water",
    "organic",
    "brand:wikidata",
)
FOOD = {"supermarket", "convenience", "bakery", "butcher", "greengrocer", "deli", "farm", "kiosk"}
GEOD = Geod(ellps="WGS84")


def real_tags(extracts: list[Path]) -> dict[str, list[dict[str, str]]]:
    """Tags of what a rider needs, by kind, in the order of the files."""
    found: dict[str, list[dict[str, str]]] = {"food": [], "fuel": [], "water": [], "camp": []}
    for extract in extracts:
        for item in osmium.FileProcessor(str(extract)):
            if item.is_relation() or not len(item.tags):
                continue
            tags = item.tags
            kind = (
                ("food" if tags.get("shop") in FOOD else None)
                or {"fuel": "fuel", "drinking_water": "water"}.get(tags.get("amenity", ""))
                or ("camp" if tags.get("tourism") == "camp_site" else None)
            )
            if kind:
                found[kind].append({key: tags[key] for key in KEPT if key in tags})
    return found


def long_line() -> list[Lonlat]:
    """A point each 2 km of a road that winds from south to north and back, and its length."""
    t = np.linspace(0.0, 1.0, 2003)
    lon, lat = 8.0 + 5.0 * np.sin(2.0 * np.pi * 3.0 * t), 46.0 + 8.0 * t
    lon = lon + 0.05 * np.sin(900.0 * t)
    # As long as the trip is named, to the metre: cut or stretched about its start.
    for _ in range(20):
        share = LENGTH_KM * 1000.0 / GEOD.line_length(lon, lat)
        lon, lat = lon[0] + (lon - lon[0]) * share, lat[0] + (lat - lat[0]) * share
    return list(zip(lon.tolist(), lat.tolist(), strict=True))


def write_country(path: Path, line: list[Lonlat], tags: dict[str, list[dict[str, str]]]) -> None:
    """Write the road and its towns: a town each 4 to 70 km, with none to twelve places."""
    rng = np.random.default_rng(SEED)
    at = np.array(line)
    path.unlink(missing_ok=True)
    header = osmium.io.Header()
    header.set("osmosis_replication_timestamp", "2027-06-01T00:00:00Z")
    low, high = at.min(axis=0) - 0.3, at.max(axis=0) + 0.3
    header.add_box(osmium.osm.Box(*low.tolist(), *high.tolist()))
    streets: list[list[int]] = []
    with osmium.SimpleWriter(str(path), header=header) as out:
        for number, (lon, lat) in enumerate(line, 1):
            out.add_node(Node(id=number, location=(lon, lat), version=1))
        number, spot = len(line), 0.0
        while (spot := spot + rng.gamma(1.6, 14.0) + 4.0) < LENGTH_KM:
            nearest = min(int(spot / LENGTH_KM * len(line)), len(line) - 1)
            lon, lat = at[nearest]
            size = int(rng.choice([1, 2, 4, 8], p=[0.4, 0.3, 0.2, 0.1]))
            draws = {"food": size, "fuel": rng.integers(0, 1 + size), "water": rng.integers(0, 2)}
            draws["camp"] = int(rng.random() < 0.35)
            for kind, count in draws.items():
                for _ in range(int(count)):
                    number += 1
                    own = tags[kind][int(rng.integers(len(tags[kind])))]
                    shift = rng.normal(0.0, 0.008, 2)
                    place = (float(lon + shift[0]), float(lat + shift[1]))
                    named = {**own, "name": f"{kind.title()} {number}"}
                    out.add_node(Node(id=number, location=place, tags=named, version=1))
                    streets.append([nearest + 1, number])
        roads = [
            list(range(start + 1, min(start + 501, len(line)) + 1))
            for start in range(0, len(line) - 1, 500)
        ]
        for way, refs in enumerate([*roads, *streets], 1):
            kind = "secondary" if way <= len(roads) else "residential"
            out.add_way(Way(id=way, nodes=refs, tags={"highway": kind}, version=1))
