"""What the GPX 1.1 schema demands of a document, as our own table of the same rules.

Source: topografix.com/GPX/1/1/gpx.xsd (Topografix, 2004), read in a copy. The schema's text
carries no licence to hand it on, so its rules are written down here: for each type its
attributes, and its children in their order with how often they may occur.
"""

from __future__ import annotations

import datetime as dt
import re
import xml.etree.ElementTree as ET
from decimal import Decimal
from typing import Final

NAMESPACE: Final = "http://www.topografix.com/GPX/1/1"
_MANY: Final = 10**9

_HEAD: Final = (
    ("name", "string", 1),
    ("cmt", "string", 1),
    ("desc", "string", 1),
    ("src", "string", 1),
    ("link", "linkType", _MANY),
    ("number", "nonNegativeInteger", 1),
    ("type", "string", 1),
    ("extensions", "extensionsType", 1),
)
CHILDREN: Final[dict[str, tuple[tuple[str, str, int], ...]]] = {
    "gpxType": (
        ("metadata", "metadataType", 1),
        ("wpt", "wptType", _MANY),
        ("rte", "rteType", _MANY),
        ("trk", "trkType", _MANY),
        ("extensions", "extensionsType", 1),
    ),
    "metadataType": (
        ("name", "string", 1),
        ("desc", "string", 1),
        ("author", "personType", 1),
        ("copyright", "copyrightType", 1),
        ("link", "linkType", _MANY),
        ("time", "dateTime", 1),
        ("keywords", "string", 1),
        ("bounds", "boundsType", 1),
        ("extensions", "extensionsType", 1),
    ),
    "wptType": (
        ("ele", "decimal", 1),
        ("time", "dateTime", 1),
        ("magvar", "degreesType", 1),
        ("geoidheight", "decimal", 1),
        ("name", "string", 1),
        ("cmt", "string", 1),
        ("desc", "string", 1),
        ("src", "string", 1),
        ("link", "linkType", _MANY),
        ("sym", "string", 1),
        ("type", "string", 1),
        ("fix", "fixType", 1),
        ("sat", "nonNegativeInteger", 1),
        ("hdop", "decimal", 1),
        ("vdop", "decimal", 1),
        ("pdop", "decimal", 1),
        ("ageofdgpsdata", "decimal", 1),
        ("dgpsid", "dgpsStationType", 1),
        ("extensions", "extensionsType", 1),
    ),
    "rteType": (*_HEAD, ("rtept", "wptType", _MANY)),
    "trkType": (*_HEAD, ("trkseg", "trksegType", _MANY)),
    "trksegType": (("trkpt", "wptType", _MANY), ("extensions", "extensionsType", 1)),
    "copyrightType": (("year", "gYear", 1), ("license", "anyURI", 1)),
    "linkType": (("text", "string", 1), ("type", "string", 1)),
    "personType": (("name", "string", 1), ("email", "emailType", 1), ("link", "linkType", 1)),
    "emailType": (),
    "boundsType": (),
}
ATTRIBUTES: Final[dict[str, dict[str, str]]] = {
    "gpxType": {"version": "version", "creator": "string"},
    "wptType": {"lat": "latitudeType", "lon": "longitudeType"},
    "copyrightType": {"author": "string"},
    "linkType": {"href": "anyURI"},
    "emailType": {"id": "string", "domain": "string"},
    "boundsType": {
        "minlat": "latitudeType",
        "minlon": "longitudeType",
        "maxlat": "latitudeType",
        "maxlon": "longitudeType",
    },
}
"""All of them are required, and there are no others."""

_DECIMAL: Final = re.compile(r"\s*[+-]?(\d+(\.\d*)?|\.\d+)\s*")
_SCHEMA_INSTANCE: Final = "{http://www.w3.org/2001/XMLSchema-instance}"


def faults(document: str) -> list[str]:
    """Say what of a document breaks the rules; empty where nothing does."""
    root = ET.fromstring(document)
    found: list[str] = []
    if root.tag != f"{{{NAMESPACE}}}gpx":
        return [f"root is {root.tag}"]
    _check(root, "gpxType", found)
    return found


def _check(element: ET.Element, kind: str, found: list[str]) -> None:
    tag = element.tag.rpartition("}")[2]
    wanted = ATTRIBUTES.get(kind, {})
    given = {key: v for key, v in element.attrib.items() if not key.startswith(_SCHEMA_INSTANCE)}
    if set(given) != set(wanted):
        found.append(f"<{tag}> has the attributes {sorted(given)}")
    found += [
        f"<{tag} {key}={value!r}> is no {wanted[key]}"
        for key, value in given.items()
        if key in wanted and not _is(value, wanted[key])
    ]
    if kind == "extensionsType":
        own = f"{{{NAMESPACE}}}"
        found += [f"own element {e.tag} in extensions" for e in element if e.tag.startswith(own)]
    elif kind in CHILDREN:
        if (element.text or "").strip():
            found.append(f"text in <{tag}>")
        _check_children(element, tag, kind, found)
    elif len(element):
        found.append(f"<{tag}> has children")
    elif not _is(element.text or "", kind):
        found.append(f"<{tag}>{element.text}</{tag}> is no {kind}")


def _check_children(element: ET.Element, tag: str, kind: str, found: list[str]) -> None:
    rows = CHILDREN[kind]
    names = [f"{{{NAMESPACE}}}{name}" for name, _, _ in rows]
    at, count = 0, 0
    for child in element:
        if child.tag not in names[at:]:
            found.append(f"{child.tag} is not allowed here in <{tag}>")
            continue
        place = names.index(child.tag)
        count = count + 1 if place == at else 1
        at = place
        if count > rows[place][2]:
            found.append(f"<{rows[place][0]}> occurs {count} times in <{tag}>")
        _check(child, rows[place][1], found)


def _is(text: str, kind: str) -> bool:
    if kind == "version":
        return text == "1.1"
    if kind in ("latitudeType", "longitudeType", "degreesType", "decimal"):
        if not _DECIMAL.fullmatch(text):
            return False
        value = Decimal(text.strip())
        return {
            "latitudeType": -90 <= value <= 90,
            "longitudeType": -180 <= value < 180,
            "degreesType": 0 <= value < 360,
            "decimal": True,
        }[kind]
    if kind in ("nonNegativeInteger", "dgpsStationType"):
        good = re.fullmatch(r"\s*\+?\d+\s*", text) is not None
        return good and (kind == "nonNegativeInteger" or int(text) <= 1023)
    if kind == "dateTime":
        return _is_time(text.strip())
    if kind == "gYear":
        return re.fullmatch(r"\s*-?\d{4,}(Z|[+-]\d\d:\d\d)?\s*", text) is not None
    if kind == "fixType":
        return text in ("none", "2d", "3d", "dgps", "pps")
    if kind == "anyURI":
        return re.search(r"[\s<>\"{}|\\^`]", text) is None
    return kind == "string"


def _is_time(text: str) -> bool:
    form = r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)?"
    try:
        dt.datetime.fromisoformat(text)
    except ValueError:
        return False
    return re.fullmatch(form, text) is not None
