"""What RFC 7946 demands of a document of points and lines, as checks.

Source: RFC 7946 (IETF, August 2016), from memory: sections 3.1.1, 3.1.9, 4 and 7.
"""

from __future__ import annotations

import json
from itertools import pairwise
from typing import Any


def faults(text: str) -> list[str]:
    """Say what of a document breaks the rules; empty where nothing does."""
    found: list[str] = []
    document = json.loads(text, parse_constant=lambda name: found.append(f"{name} is no number"))
    if document.get("type") != "FeatureCollection" or not isinstance(document["features"], list):
        return [*found, "no feature collection"]
    if "crs" in document:
        found.append("a reference system is named (section 4)")
    for number, feature in enumerate(document["features"]):
        here = [f"feature {number}: {fault}" for fault in _feature(feature)]
        found += here
    return found


def _feature(feature: dict[str, Any]) -> list[str]:
    found = []
    if feature.get("type") != "Feature":
        found.append("not a feature")
    if not isinstance(feature.get("properties"), dict):
        found.append("no properties")
    found += [
        f"a member {key}" for key in ("coordinates", "features", "geometries") if key in feature
    ]
    geometry = feature["geometry"]
    lines = {
        "Point": lambda c: [[c]],
        "LineString": lambda c: [c],
        "MultiLineString": lambda c: c,
    }[geometry["type"]](geometry["coordinates"])
    if not lines:
        found.append("no line")
    for line in lines:
        if geometry["type"] != "Point" and len(line) < 2:
            found.append("a line of fewer than two positions (3.1.4)")
        for position in line:
            if len(position) not in (2, 3) or not all(type(v) in (int, float) for v in position):
                found.append(f"{position} is no position (3.1.1)")
            elif not (-180 <= position[0] <= 180 and -90 <= position[1] <= 90):
                found.append(f"{position} is not in degrees (4)")
        found += [
            f"{a} to {b} crosses the antimeridian (3.1.9)"
            for a, b in pairwise(line)
            if abs(a[0] - b[0]) > 180
        ]
    return found
