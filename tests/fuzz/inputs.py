"""Inputs for the readers: documents near enough to real ones to get deep into a reader.

Each is a hypothesis strategy of bytes or text. `spoilt` damages sound files; the others build
documents from a grammar in which every part may be absurd.
"""

from __future__ import annotations

import json
import re
import string

from hypothesis import strategies as st

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

hostile = st.sampled_from(HOSTILE_TEXT)
any_text = st.one_of(hostile, st.text(max_size=30), st.characters(exclude_categories=()))
number = st.one_of(st.sampled_from(ABSURD_NUMBERS), st.floats().map(repr), st.integers().map(str))
# How often a part is not what it should be, drawn once for each document: half of them are sound.
wildness = st.sampled_from([0, 0, 0, 2, 10, 100])
_permille = st.sampled_from(range(1000))


def weighted(*pairs):
    """Give one of some strategies, each as often as its weight says."""
    names = [strategy for weight, strategy in pairs for _ in range(weight)]
    return st.sampled_from(names).flatmap(lambda strategy: strategy)


_ascii = st.text(string.printable, max_size=4).map(str.encode)
_bytes = st.binary(max_size=6)


@st.composite
def spoilt(draw, seeds, pieces=(b"",)):
    """Give one of some sound files with a few faults: bytes changed, lost, repeated, put in."""
    data = bytearray(draw(st.sampled_from(seeds)))
    for _ in range(draw(st.sampled_from([1, 1, 1, 2, 3, 6]))):
        at = draw(st.integers(0, 1 << 20)) % (len(data) + 1)
        kind = draw(st.sampled_from(["change", "insert", "drop", "repeat", "cut"]))
        # Bytes that are no UTF-8 end most readers at once, so they are rare.
        kinds = [st.sampled_from(pieces)] * 4 + [_ascii] * 4 + [_bytes]
        piece = draw(draw(st.sampled_from(kinds)))
        if kind == "insert":
            data[at:at] = piece
        elif kind == "drop":
            del data[at : at + draw(st.integers(1, 40))]
        elif kind == "repeat":
            data[at:at] = data[at : at + draw(st.integers(1, 200))] * draw(st.integers(1, 8))
        elif kind == "cut":
            del data[at:]
        else:
            data[at : at + len(piece)] = piece
    return bytes(data[:200_000])


# -- XML --


_NOT_XML = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def _escaped(text):
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


def lon(dice):
    return f"{dice.uniform(-26.0, -25.0) if dice.random() < 0.7 else dice.uniform(-180, 180):.5f}"


def lat(dice):
    return f"{dice.uniform(46.0, 47.0) if dice.random() < 0.7 else dice.uniform(-90, 90):.5f}"


def words(dice):
    if dice.random() < 0.5:
        return dice.choice(HOSTILE_TEXT)
    return "".join(chr(dice.choice((dice.randrange(32, 127), dice.randrange(0x110000))))
                   for _ in range(dice.randrange(12)))  # fmt: skip


def metres(dice):
    return f"{dice.uniform(-100, 3_000):.1f}"


def one_of(*texts):
    return lambda dice: dice.choice(texts)


@st.composite
def xml(draw, root, tree, attributes, texts, version=""):
    """Give a document: children of `tree` (tag to tags) with attributes (tag to dict of texts).

    Its parts come from one random generator, for a draw of each would take most of the time.
    """
    wild, dice = draw(wildness), draw(st.randoms(use_true_random=True))

    def odd(of=1):
        return bool(wild) and dice.randrange(1000) < wild * of

    def value(sound):
        text = _escaped(dice.choice((words(dice), *ABSURD_NUMBERS)) if odd() else sound(dice))
        # What XML has no way to write would have every other document refused at once.
        return text if odd() else _NOT_XML.sub("?", text)

    def element(tag, depth):
        own = "".join(
            f' {key}="{value(sound)}"'
            for key, sound in attributes.get(tag, {}).items()
            if not odd()
        )
        inside = []
        for _ in range(dice.randint(1, 5) if tag in tree and depth < 8 else 0):
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


gpx = xml(
    "gpx",
    {
        "gpx": ["trk", "trk", "rte", "wpt", "metadata", "name", "extensions"],
        "trk": ["trkseg", "trkseg", "name", "extensions", "trk"],
        "trkseg": ["trkpt"] * 6 + ["wpt", "trkseg"],
        "rte": ["rtept"] * 4 + ["name"],
        "trkpt": ["ele", "name", "extensions"],
        "rtept": ["ele", "extensions"],
        "wpt": ["name", "ele"],
        "metadata": ["name"],
        "extensions": ["trkpt", "ele"],
    },
    {tag: {"lat": lat, "lon": lon} for tag in ("trkpt", "rtept", "wpt")},
    {"name": words, "ele": metres},
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
        "name": words,
        "altitudeMode": one_of("absolute", "clampToGround", "x"),
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
tag_keys = st.sampled_from(_TAG_KEYS)
tag_values = st.one_of(st.sampled_from(_TAG_VALUES), any_text)
_ref = one_of("1", "2", "3", "4", "5", "6", "-1", "4611686018427387904", "99")
_stamp = one_of("2027-03-04T05:06:07Z", "1970-01-01T00:00:00Z", "2105-12-31T23:59:59Z")
osm = xml(
    "osm",
    {
        "osm": ["node"] * 4 + ["way", "way", "relation", "bounds", "changeset"],
        "node": ["tag", "tag"],
        "way": ["nd"] * 3 + ["tag"],
        "relation": ["member", "member", "tag"],
    },
    {
        "node": {"id": _ref, "lat": lat, "lon": lon, "timestamp": _stamp, "version": one_of("1")},
        "way": {"id": _ref, "timestamp": _stamp},
        "relation": {"id": _ref},
        "nd": {"ref": _ref},
        "member": {"type": one_of("node", "way", "way", "relation"), "ref": _ref, "role": words},
        "tag": {
            "k": one_of(*_TAG_KEYS),
            "v": lambda dice: words(dice) if dice.random() < 0.2 else dice.choice(_TAG_VALUES),
        },
        "bounds": {"minlat": lat, "minlon": lon, "maxlat": lat, "maxlon": lon},
    },
    {},
    ' version="0.6"',
)

# -- JSON --

json_values = st.recursive(
    st.one_of(st.none(), st.booleans(), st.floats(), st.integers(), any_text),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(any_text, inner, max_size=4),
    max_leaves=12,
)


def mostly(value):
    """Give what a field should hold, now and then anything at all."""
    return weighted((60, value), (1, json_values))


@st.composite
def record(draw, fields):
    """Give an object with most of its fields."""
    return {key: draw(mostly(value)) for key, value in fields.items() if draw(_permille) >= 10}


small_ids = st.sampled_from([*list(range(1, 7)) * 30, 0, -1, 2**62, 2**70])
tags = st.dictionaries(tag_keys, tag_values, max_size=4)
_elements = st.one_of(
    record({"type": st.just("node"), "id": small_ids, "lon": st.floats(-26, -25),
            "lat": st.floats(46, 47), "tags": tags}),
    record({"type": st.just("way"), "id": small_ids, "nodes": st.lists(small_ids, max_size=6),
            "tags": tags}),
    record({"type": st.just("relation"), "id": small_ids, "tags": tags,
            "members": st.lists(record({"type": st.sampled_from(["way", "node", "relation"]),
                                        "ref": small_ids, "role": any_text}), max_size=4)}),
)  # fmt: skip
answers = record(
    {
        "version": st.just(0.6),
        "osm3s": st.one_of(
            st.just({"timestamp_osm_base": "2027-06-20T10:00:00Z"}),
            record({"timestamp_osm_base": any_text}),
        ),
        "elements": st.lists(mostly(_elements), max_size=8),
    }
)
forecasts = record(
    {
        "daily_units": st.just({"temperature_2m_max": "°C"}),
        "daily": record(
            {
                "time": st.lists(mostly(st.just("2027-07-09")), min_size=2, max_size=2),
                "temperature_2m_min": st.lists(mostly(st.floats(-5, 20)), min_size=2, max_size=2),
                "temperature_2m_max": st.lists(mostly(st.floats(20, 40)), min_size=2, max_size=2),
            }
        ),
    }
)
geometry = st.deferred(
    lambda: st.one_of(
        record({"type": st.sampled_from(["LineString", "MultiPoint", "Polygon"]),
                "coordinates": st.lists(st.lists(st.floats(-90, 90), min_size=2, max_size=3),
                                        min_size=2, max_size=6)}),
        record({"type": st.just("GeometryCollection"),
                "geometries": st.lists(geometry, max_size=3)}),
        record({"type": st.just("Feature"), "geometry": geometry,
                "properties": record({"name": any_text})}),
        record({"type": st.just("FeatureCollection"),
                "features": st.lists(geometry, max_size=3)}),
    )
)  # fmt: skip


def as_json(value):
    """Write JSON; half characters go out as escapes, as a hostile server would send them."""
    return json.dumps(value).encode()


# -- opening hours --

_WORDS = (
    "Mo", "Tu", "We", "Th", "Fr", "Sa", "Su", "PH", "SH", "Jan", "Feb", "Dec", "Feb 29", "easter",
    "week", "01-53", "2027", "2027+", "1900-9999", "off", "closed", "open", "unknown", "24/7",
    "sunrise", "sunset", "dawn", "dusk", "(sunset+00:30)", "08:00", "24:00", "26:00", "99:99",
    "-", "+", ",", ";", "||", ":", "/", "[1]", "[-1]", "[99]", '"note"', '"', "'", "(", ")", " ",
    "  ", "00:00-24:00", "08:00-19:00", "22:00-03:00", "10:00+", "Mo-Fr", "Dec 24-Jan 6", "/2",
    "+1 day", "-99999 days", "9" * 30, "–", "８:００", "\u202e",
)  # fmt: skip


@st.composite
def _rule(draw):
    """Give a rule of the grammar: dates, days, times and a modifier, all of them optional."""
    days = ("", "Mo", "Mo-Fr", "Sa-Su", "PH", "Mo[1]", "Su,PH", "SH Mo", "Fr-Mo", "PH -1 day")
    dates = ("", "", "Jul", "Jul 10-12", "Dec 24-Jan 6", "week 27-29", "2027", "easter", "Feb 29")
    point = st.one_of(
        st.tuples(st.integers(0, 27), st.sampled_from([0, 1, 30, 59])).map(
            lambda t: f"{t[0]:02d}:{t[1]:02d}"
        ),
        st.sampled_from(["sunrise", "sunset", "(sunset+01:00)", "dawn", "(sunrise-23:00)"]),
    )
    spans = st.lists(
        st.tuples(point, point, st.sampled_from(["", "", "", "+", "/00:30"])).map(
            lambda t: f"{t[0]}-{t[1]}{t[2]}"
        ),
        max_size=3,
    ).map(",".join)
    modifiers = ("", "", "", "off", "open", "unknown", '"by appointment"', 'off "ring"')
    parts = [draw(st.sampled_from(dates)), draw(st.sampled_from(days)), draw(spans)]
    return " ".join(part for part in [*parts, draw(st.sampled_from(modifiers))] if part)


hours = st.one_of(
    st.lists(_rule(), min_size=1, max_size=5).flatmap(
        lambda rules: st.sampled_from(["; ", ", ", " || "]).map(lambda mark: mark.join(rules))
    ),
    st.lists(st.sampled_from(_WORDS), max_size=14).map("".join),
    st.lists(st.sampled_from(_WORDS), max_size=14).map(" ".join),
    st.text(max_size=40),
    st.text('MoTuWeFrSaSuPH0123456789:-,;+|"()/ ', max_size=60),
)

# -- TOML --

toml_values = st.recursive(
    st.one_of(
        st.integers().map(str),
        st.sampled_from(
            ["0", "1", "2.5", "-1", "1e999", "nan", "inf", "-inf", "9" * 5000, "0x" + "f" * 300,
             "true", "2027-07-09", "2027-07-09T08:30:00", "2027-07-09T08:30:00Z", "0001-01-01",
             "9999-12-31", "08:30:00", "23:59:59.999999", "2027-13-40", "'metric'", "'imperial'",
             "12", "24", "'hard'", "'block'", "'AT'", "'Atlantic/Azores'", "'../x'", "''", "1_000"]
        ),
        st.text(string.printable, max_size=12).map(repr),
        any_text.map(json.dumps),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda items: f"[{', '.join(items)}]"),
        st.dictionaries(st.sampled_from(["1", "2", "day", "date", "low_c", "high_f", "'a b'"]),
                        inner, max_size=4)
        .map(lambda table: "{" + ", ".join(f"{k} = {v}" for k, v in table.items()) + "}"),
    ),
    max_leaves=6,
)  # fmt: skip
odd_toml = st.sampled_from(
    ["[", "]]", "=", '"""', "'''", "#", "\\", "\x00", "[[start]]", "[a.b.c]", "a.b.c = 1", "\r",
     "[" * 3000, "{a=" * 500, "x = [" + "[" * 2000 + "]" * 2000 + "]", ".".join("a" * 500) + " = 1"]
)  # fmt: skip


@st.composite
def toml(draw, tables):
    """Give a document with some of the keys (table to key to sound values, maybe none)."""
    lines = []
    wild = draw(wildness)
    for table in draw(st.lists(st.sampled_from(sorted(tables)), max_size=4)):
        if table and draw(st.integers(0, 9)):
            lines.append(f"[{table}]")
        prefix = "" if (lines and lines[-1].startswith("[")) or not table else f"{table}."
        for key in draw(st.lists(st.sampled_from(sorted(tables[table])), max_size=4, unique=True)):
            sound = tables[table][key]
            if sound and draw(_permille) >= 3 * wild:
                lines.append(f"{prefix}{key} = {draw(st.sampled_from(sound))}")
            elif wild:
                lines.append(f"{prefix}{key} = {draw(toml_values)}")
        if draw(_permille) < wild:
            lines.append(draw(odd_toml))
    return "\n".join(lines)
