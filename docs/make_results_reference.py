"""Write docs/results.md from the schema and the writers; a test checks that it is current."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from resupply.report.csv_file import COLUMNS

if TYPE_CHECKING:
    from collections.abc import Iterator

SCHEMA = Path(__file__).parent / "plan.schema.json"

HEAD = """# The results

Every plan is written into one folder (`out`, or the one named with `--out`): all files, or none if
one of them cannot be written. The same trip with the same map data gives the same bytes.

| file | for | format |
| --- | --- | --- |
| `plan.html` | the rider: map, days, lists; opens with no network | HTML, everything inside |
| `plan.json` | programs: the whole plan | JSON, described [below](#planjson) |
| `plan.geojson` | maps and desktop GIS | GeoJSON, RFC 7946 |
| `stops.gpx` | the device on the handlebar | GPX 1.1 |
| `stops.csv` | spreadsheets | CSV, RFC 4180, UTF-8 |
| `stops.ics` | the phone's calendar | iCalendar, RFC 5545 |
| `shopping.txt` | whoever does the shopping | plain text, UTF-8 |

All of them carry the credit "© OpenStreetMap contributors, ODbL": pass it on with the data.
Where hours are not known, every file says *not known*; none of them turns that into *open*.
Names come from the map and from your own files. Each format holds them as text: markup is
escaped, control characters and characters that turn text round are left out.

## plan.geojson

One feature collection, longitude before latitude, degrees on WGS84, 5 decimals (about a metre).
The route is the one drawn on the map: simplified to 10 m, or more for very long routes. Lines are
cut at the antimeridian and where the route jumps. `role` tells what a feature is:

| `role` | geometry | what |
| --- | --- | --- |
| `route` | line | the route |
| `gap` | line | the longest stretch without each supply; `supply` names it |
| `no map data` | line | a stretch on which nothing is known |
| `day end` | point | the camp of the night, or the route's point where none is known |
| `stop` | point | a stop for food, ice or fuel; `buys` says which, `number` is that of food stops |

Distances end in `_m` and are metres. `state` is as in plan.json, `state_words` and `words` are
sentences ready to show.

## stops.gpx

A waypoint for every stop (food stops start with their number) and every day's end, and the route
as one track, a segment for each part. `desc` says what to carry, the hours, and what to do if the
shop is shut. The file keeps the rules of the published GPX 1.1 schema. No time is written.

## stops.csv

A row for what is carried from the start, then one for each stop, in the order of the route.
Comma as separator, a byte order mark at the start so that spreadsheets read names rightly. Text
that a spreadsheet would run as a formula (it starts with `=`, `+`, `-`, `@` or their full-width
forms) has an apostrophe before it. Units are the same whatever units the trip shows.

{columns}
## stops.ics

One event for each stop whose door may be shut: all but those open round the clock. It runs over
the arrival window, in UTC, so that the calendar shows it in the phone's own time zone; the times
in its text are local to the shop. Its alarm rings one hour before a stated closing (our choice).
Where hours are not known there is no closing to ring before, and the event says so.
A plan made anew replaces its events: their ids rest on the trip's name, the place and the
occasion. Events of stops that fell out of the plan stay in your calendar: delete them.
They are stamped with the trip's departure and not with the time of writing.

## shopping.txt

A list for each stop in the order of the trip, by aisle, then the reserve; each says where and when
the shop is reached and whether it is open then. Without a planned menu it says what to carry from
each stop. Numbers are in the trip's units.

## plan.json

Schema [`resupply-plan/1`](plan.schema.json) (JSON Schema, draft 2020-12). New keys may come;
a reader ignores those it does not know. Keys end in their unit: `_m` metres, `_km` kilometres,
`_s` seconds, `_h` hours, `_c` °C, `_kg`, `_l` litres. Numbers are metric whatever units the trip
shows; sentences (`words`, `…_words`, `why`) are in the trip's units and ready to show. They hold
names from the map: escape them. Times are ISO 8601, local, with offset. `null` is *not known* or
*none*, as the key says; a block that is absent was not planned.

<!-- made by docs/make_results_reference.py from docs/plan.schema.json; do not edit below -->
"""


def reference() -> str:
    """The whole page."""
    schema = json.loads(SCHEMA.read_text("utf-8"))
    rows = "".join(f"| `{name}` | {meaning} |\n" for name, meaning in COLUMNS.items())
    parts = [HEAD.replace("{columns}", f"| column | meaning |\n| --- | --- |\n{rows}")]
    plain = {k: v for k, v in schema["properties"].items() if not _below(v)}
    parts.append(_table({"properties": plain}))
    for name, node in schema["properties"].items():
        if _below(node):
            optional = "" if name in schema["required"] else " (may be absent)"
            parts.append(f"\n### `{name}`{optional}\n\n{node['description']}.\n\n{_table(node)}")
    parts.append("\n### Shared shapes\n")
    for name, node in schema["$defs"].items():
        parts.append(f"\n#### {name}\n\n{node['description']}.\n\n{_table(node)}")
    return "".join(parts)


def _table(node: dict[str, Any]) -> str:
    rows = "".join(
        f"| `{path}` | {_kind(child)} | {child['description']} |\n"
        for path, child in _paths(node, "")
        if path
    )
    return f"| key | type | meaning |\n| --- | --- | --- |\n{rows}"


def _paths(node: dict[str, Any], head: str) -> Iterator[tuple[str, dict[str, Any]]]:
    yield head, node
    for name, child in node.get("properties", {}).items():
        yield from _paths(child, f"{head}.{name}".lstrip("."))
    if "items" in node and _below(node["items"]):
        yield from _paths(node["items"], f"{head}[]")
    values = node.get("additionalProperties", {})
    if "description" in values:
        yield from _paths(values, f"{head}.*".lstrip("."))


def _below(node: dict[str, Any]) -> bool:
    """Whether a node has parts of its own to describe."""
    values = node.get("additionalProperties", {})
    inner = "items" in node and _below(node["items"])
    return inner or "properties" in node or "description" in values


def _kind(node: dict[str, Any]) -> str:
    if "oneOf" in node:
        return f"{_kind(node['oneOf'][0])} or null"
    if "$ref" in node:
        name = node["$ref"].rpartition("/")[2]
        return f"[{name}](#{name})"
    if "enum" in node:
        return ", ".join(f"`{value}`" for value in node["enum"])
    if "const" in node:
        return f"`{node['const']}`"
    names = node["type"] if isinstance(node["type"], list) else [node["type"]]
    if "format" in node or "pattern" in node:
        names = [node.get("format", "time"), *names[1:]]
    if names[0] == "array":
        inner = _kind(node["items"])
        return f"list of {inner}" if "$ref" in node["items"] else "list"
    return " or ".join(names)


if __name__ == "__main__":
    (Path(__file__).parent / "results.md").write_text(reference(), "utf-8")
    sys.stdout.write("docs/results.md written\n")
