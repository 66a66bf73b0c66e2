"""Inputs for the readers: documents near enough to real ones to get deep into a reader.

A maker is a function from a random generator to an input. `spoilt` damages sound files; the others
build documents from a grammar in which every part may be absurd. `drawn` makes a hypothesis
strategy of a maker: one draw an input, for a draw of every part would take most of the time.
"""

from __future__ import annotations

import json
import random
import re
import string
import struct
from collections.abc import Callable
from typing import Any

from hypothesis import strategies as st

Dice = random.Random
Make = Callable[[Dice], Any]

HOSTILE_TEXT = (
    "<script>alert(1)</script>", "<img src=x onerror=alert(1)>", "'\"><svg/onload=x>", "&amp;",
    "=1+1", "+cmd|' /C calc'!A0", "@SUM(1)", "-2", "\x1b[31mred\x1b]8;;http://x\x07", "\r\nBEGIN:",
    "\u202egnp", "\u2066", "\ud800", "\udfff", "\x00", "\x85", "\u2028", "\ufeff", "a\u0301" * 9,
    "]]>", "${x}", "{{x}}", "%s%n", "../../etc/passwd", "x" * 300, "  ", "☕ café",
)  # fmt: skip
ABSURD_NUMBERS = (
    "0", "-0.0", "1e999", "-1e999", "nan", "inf", "-inf", "1e-320", "0x10", "1_0", "٣", "¹", "+1",
    "--1", "1e", "180.0000001", "-180", "90", "9" * 400, "-" + "9" * 19, "9223372036854775807",
    "4611686018427387904", "1,5", " 7 ", "", "true",
)  # fmt: skip
# How often, in a thousand, a part is not what it should be: half of the documents are sound.
WILDNESS = (0, 0, 0, 2, 10, 100)


def drawn(make: Make) -> st.SearchStrategy[Any]:
    """Give the strategy of what a maker makes."""
    return st.integers(0, 2**64 - 1).map(lambda number: make(random.Random(number)))


def weighted(*pairs: tuple[int, Make]) -> Make:
    """Give one of some makers, each as often as its weight says."""
    makers = [make for weight, make in pairs for _ in range(weight)]
    return lambda dice: dice.choice(makers)(dice)


def among(*values: Any) -> Make:
    return lambda dice: dice.choice(values)


def then(make: Make, change: Callable[[Any], Any]) -> Make:
    return lambda dice: change(make(dice))


def between(low: float, high: float) -> Make:
    return lambda dice: dice.uniform(low, high)


def several(make: Make, least: int, most: int) -> Make:
    return lambda dice: [make(dice) for _ in range(dice.randint(least, most))]


def letters(known: str, most: int) -> Make:
    return lambda dice: "".join(dice.choices(known, k=dice.randint(0, most)))


def any_text(dice: Dice) -> str:
    """Give hostile words, or characters of every kind, half ones included."""
    if dice.random() < 0.5:
        return dice.choice(HOSTILE_TEXT)
    tops = dice.choices((0x80, 0x250, 0x3000, 0x110000), k=dice.randint(0, 20))
    return "".join(chr(dice.randrange(top)) for top in tops)


def noise(dice: Dice) -> bytes:
    return dice.randbytes(dice.randint(0, 300))


def any_float(dice: Dice) -> float:
    """Give any number of 64 bits, infinite and none included, or one of a usual size."""
    found: float = struct.unpack("<d", dice.randbytes(8))[0]
    return dice.choice((found, dice.uniform(-200, 200), float("nan"), float("-inf"), -0.0))


def any_integer(dice: Dice) -> int:
    return dice.choice((1, -1)) * dice.getrandbits(dice.choice((1, 4, 8, 31, 32, 63, 64, 200)))


def as_json(value: object) -> bytes:
    """Write JSON; half characters go out as escapes, as a hostile server would send them."""
    return json.dumps(value).encode()


def spoilt(seeds: list[bytes], pieces: tuple[bytes, ...] = (b"",)) -> Make:
    """Give one of some sound files with a few faults: bytes changed, lost, repeated, put in."""

    def piece_of(dice: Dice) -> bytes:
        which = dice.randrange(9)
        if which < 4:
            return dice.choice(pieces)
        # Bytes that are no UTF-8 end most readers at once, so they are rare.
        return dice.randbytes(dice.randint(0, 6)) if which == 4 else ascii_(dice).encode()

    ascii_ = letters(string.printable, 4)

    def make(dice: Dice) -> bytes:
        data = bytearray(dice.choice(seeds))
        for _ in range(dice.choice((1, 1, 1, 2, 3, 6))):
            at = dice.randrange(len(data) + 1)
            kind = dice.choice(("change", "insert", "drop", "repeat", "cut"))
            piece = piece_of(dice)
            if kind == "insert":
                data[at:at] = piece
            elif kind == "drop":
                del data[at : at + dice.randint(1, 40)]
            elif kind == "repeat":
                data[at:at] = data[at : at + dice.randint(1, 200)] * dice.randint(1, 8)
            elif kind == "cut":
                del data[at:]
            else:
                data[at : at + len(piece)] = piece
        return bytes(data[:200_000])

    return make


# -- XML --


_NOT_XML = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&quot;")


_ODD_XML = (
    "<!-- x -->", "<![CDATA[ </trkpt> ]]>", "<?x y?>", "&x;", "&#0;", "&#xD800;", "]]>", "<a/>",
     "<b:c/>", "<!DOCTYPE a [<!ENTITY x 'y'>]>", "\x00", "<", ">", "<a" + " b='1'" * 50 + "/>",
)  # fmt: skip
_ODD_HEADS = (
    '<?xml version="1.1"?>', "\ufeff", "\n\n",
     '<?xml version="1.0" encoding="UTF-16"?>', '<?xml version="1.0" encoding="utf-7"?>',
     '<?xml version="1.0" encoding="rot13"?>', '<?xml version="1.0" encoding="windows-1252"?>',
     '<!DOCTYPE gpx [<!ENTITY a "aa"><!ENTITY b "&a;&a;&a;">]>',
     '<!DOCTYPE gpx SYSTEM "file:///etc/passwd">',
)  # fmt: skip


def lon(dice: Dice) -> str:
    return f"{dice.uniform(-25.7, -25.3) if dice.random() < 0.98 else dice.uniform(-180, 180):.5f}"


def lat(dice: Dice) -> str:
    return f"{dice.uniform(46.4, 46.6) if dice.random() < 0.98 else dice.uniform(-90, 90):.5f}"


def metres(dice: Dice) -> str:
    return f"{dice.uniform(-100, 3_000):.1f}"


def xml(
    root: str,
    tree: dict[str, list[str]],
    attributes: dict[str, dict[str, Make]],
    texts: dict[str, Make],
    version: str = "",
) -> Make:
    """Give a document: children of `tree` (tag to tags) with attributes (tag to dict of texts)."""

    def make(dice: Dice) -> bytes:
        wild = dice.choice(WILDNESS)

        def odd(of: int = 1) -> bool:
            return bool(wild) and dice.randrange(1000) < wild * of

        def value(sound: Make) -> str:
            absurd = odd()
            text = _escaped(dice.choice((any_text(dice), *ABSURD_NUMBERS)) if absurd
                            else sound(dice))  # fmt: skip
            # What XML has no way to write would have every other document refused at once.
            return text if odd() else _NOT_XML.sub("?", text)

        def element(tag: str, depth: int) -> str:
            own = "".join(
                f' {key}="{value(sound)}"'
                for key, sound in attributes.get(tag, {}).items()
                if not odd()
            )
            inside = []
            for _ in range(dice.randint(1, 5) if tag in tree and depth < 7 else 0):
                if odd():
                    inside.append(dice.choice(_ODD_XML))
                inside.append(element(dice.choice(tree[tag]), depth + 1))
            if tag in texts:
                inside.append(value(texts[tag]))
            return f"<{tag}{own}>{''.join(inside)}</{tag}>"

        body = "".join(element(dice.choice(tree[root]), 1) for _ in range(4))
        head = dice.choice(_ODD_HEADS) if odd(5) else '<?xml version="1.0" encoding="UTF-8"?>'
        text = f"{head}<{root}{version}>{body}</{root}>"
        return text.encode("utf-16" if odd() else "utf-8", "surrogatepass")

    return make


gpx = xml(
    "gpx",
    {
        "gpx": ["trk", "trk", "trk", "rte", "wpt", "metadata", "name", "extensions"],
        "trk": ["trkseg"] * 4 + ["name", "extensions"],
        "trkseg": ["trkpt"] * 20 + ["wpt", "trkseg"],
        "rte": ["rtept"] * 4 + ["name"],
        "trkpt": ["ele", "ele", "name", "extensions"],
        "rtept": ["ele", "extensions"],
        "wpt": ["name", "ele"],
        "metadata": ["name"],
        "extensions": ["trkpt", "ele", "ele", "name"],
    },
    {tag: {"lat": lat, "lon": lon} for tag in ("trkpt", "rtept", "wpt")},
    {"name": any_text, "ele": metres},
    ' version="1.1" xmlns="http://www.topografix.com/GPX/1/1"',
)
kml = xml(
    "kml",
    {
        "kml": ["Document", "Placemark", "Folder"],
        "Document": ["Placemark", "Folder", "name", "NetworkLink"],
        "Folder": ["Placemark", "Folder", "name"],
        "Placemark": ["LineString", "Point", "Polygon", "Track", "MultiGeometry", "name"],
        "MultiGeometry": ["LineString", "Point", "Polygon"],
        "Polygon": ["outerBoundaryIs"],
        "outerBoundaryIs": ["LinearRing"],
        "LinearRing": ["coordinates"],
        "LineString": ["coordinates", "altitudeMode"],
        "Point": ["coordinates"],
        "Track": ["coord", "coord", "when"],
    },
    {},
    {
        "name": any_text,
        "altitudeMode": among("absolute", "clampToGround", "x"),
        "coord": lambda dice: f"{lon(dice)} {lat(dice)} {metres(dice)}",
        "coordinates": lambda dice: " ".join(
            f"{lon(dice)},{lat(dice)}" for _ in range(dice.randrange(7))
        ),
    },
)

# -- maps --

_TAG_KEYS = (
    "shop", "amenity", "highway", "name", "brand", "opening_hours", "type", "natural", "place",
    "tourism", "access", "disused", "ref", "population", "drinking_water", "maxspeed", "oneway",
)  # fmt: skip
_TAG_VALUES = (
    "supermarket", "bakery", "fuel", "yes", "no", "multipolygon", "site", "coastline", "water",
    "secondary", "residential", "town", "camp_site", "24/7", "Mo-Sa 08:00-19:00",
)  # fmt: skip
_tag_value = weighted((4, among(*_TAG_VALUES)), (1, any_text))
_ref = among("1", "2", "3", "4", "5", "6", "-1", "4611686018427387904", "99")
_stamp = among("2027-03-04T05:06:07Z", "1970-01-01T00:00:00Z", "2105-12-31T23:59:59Z")
osm = xml(
    "osm",
    {
        "osm": ["node"] * 4 + ["way", "way", "relation", "bounds", "changeset"],
        "node": ["tag", "tag"],
        "way": ["nd"] * 3 + ["tag"],
        "relation": ["member", "member", "tag"],
    },
    {
        "node": {"id": _ref, "lat": lat, "lon": lon, "timestamp": _stamp, "version": among("1")},
        "way": {"id": _ref, "timestamp": _stamp},
        "relation": {"id": _ref},
        "nd": {"ref": _ref},
        "member": {"type": among("node", "way", "way", "relation"), "ref": _ref, "role": any_text},
        "tag": {"k": among(*_TAG_KEYS), "v": _tag_value},
        "bounds": {"minlat": lat, "minlon": lon, "maxlat": lat, "maxlon": lon},
    },
    {},
    ' version="0.6"',
)

# -- JSON --

_plain = weighted(
    (1, among(None, True, False)), (1, any_float), (1, any_integer), (2, any_text)
)  # fmt: skip


def json_value(dice: Dice, depth: int = 0) -> Any:
    """Give any value, nested a little."""
    kind = dice.randrange(4) if depth < 4 else 3
    if kind == 0:
        return [json_value(dice, depth + 1) for _ in range(dice.randint(0, 4))]
    if kind == 1:
        return {any_text(dice): json_value(dice, depth + 1) for _ in range(dice.randint(0, 4))}
    return _plain(dice)


def mostly(make: Make) -> Make:
    """Give what a field should hold, now and then anything at all."""
    return lambda dice: json_value(dice) if dice.random() < 0.016 else make(dice)


def record(fields: dict[str, Make]) -> Make:
    """Give an object with most of its fields."""
    wary = {key: mostly(make) for key, make in fields.items()}
    return lambda dice: {k: make(dice) for k, make in wary.items() if dice.random() > 0.01}


def _tags(dice: Dice) -> dict[str, str]:
    return {dice.choice(_TAG_KEYS): _tag_value(dice) for _ in range(dice.randint(0, 4))}


_small_id = among(*list(range(1, 7)) * 30, 0, -1, 2**62, 2**70)
_element = weighted(
    (1, record({"type": among("node"), "id": _small_id, "lon": between(-25.7, -25.3),
                "lat": between(46.4, 46.6), "tags": _tags})),
    (1, record({"type": among("way"), "id": _small_id, "nodes": several(_small_id, 0, 6),
                "tags": _tags})),
    (1, record({"type": among("relation"), "id": _small_id, "tags": _tags,
                "members": several(record({"type": among("way", "node", "relation"),
                                           "ref": _small_id, "role": any_text}), 0, 4)})),
)  # fmt: skip
answers = record(
    {
        "version": among(0.6),
        "osm3s": weighted(
            (3, lambda _: {"timestamp_osm_base": "2027-06-20T10:00:00Z"}),
            (1, record({"timestamp_osm_base": any_text})),
        ),
        "elements": several(mostly(_element), 0, 8),
    }
)
forecasts = record(
    {
        "daily_units": lambda _: {"temperature_2m_max": "°C"},
        "daily": record(
            {
                "time": several(mostly(among("2027-07-09")), 2, 2),
                "temperature_2m_min": several(mostly(between(-5, 20)), 2, 2),
                "temperature_2m_max": several(mostly(between(20, 40)), 2, 2),
            }
        ),
    }
)
_position = several(between(-90, 90), 2, 3)
_line = record({"type": among("LineString", "LineString", "MultiPoint", "Polygon"),
                "coordinates": several(_position, 2, 6)})  # fmt: skip


def geometry(dice: Dice, depth: int = 0) -> Any:
    """Give a GeoJSON object: lines, collections and features within each other."""
    if depth > 3 or dice.random() < 0.4:
        return _line(dice)

    def inner(dice: Dice) -> Any:
        return geometry(dice, depth + 1)

    name = record({"name": any_text})
    kinds = (
        {"type": among("GeometryCollection"), "geometries": several(inner, 0, 3)},
        {"type": among("Feature"), "geometry": inner, "properties": name},
        {"type": among("FeatureCollection"), "features": several(inner, 0, 3)},
    )
    return record(dice.choice(kinds))(dice)
