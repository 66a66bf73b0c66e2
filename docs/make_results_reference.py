"""Write what tells of the plan document, from its classes; a test checks that all is current.

The schema (docs/plan.schema.json), the page (docs/results.md) and the types for the scripts
(tests/node/plan.d.ts) are printed from `resupply.report.document.model`.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

from resupply.report.csv_file import COLUMNS
from resupply.report.document.model.schema import plan_schema

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parent.parent
SCRIPT_TYPES = {"string": "string", "integer": "number", "number": "number", "boolean": "boolean"}

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
| `stop` | point | a visit; `buys` says what for, `number` is that of food stops |

Distances end in `_m` and are metres. `state` is as in plan.json, `state_words` and `words` are
sentences ready to show.

## stops.gpx

A waypoint for every visit (food stops start with their number) and every day's end; a route for
each day, from camp to camp through its visits, of at most 100 points; and the whole line as one
track, a segment for each part ([on the device](on-the-road.md)). `desc` says what to carry, the
hours, and what to do if the shop is shut. The file keeps the rules of the published GPX 1.1
schema. No time is written.

## stops.csv

A row for what is carried from the start, then one for each stop, in the order of the route.
Comma as separator, a byte order mark at the start so that spreadsheets read names rightly. Text
that a spreadsheet would run as a formula (it starts with `=`, `+`, `-`, `@` or their full-width
forms) has an apostrophe before it. Units are the same whatever units the trip shows.

{columns}
## stops.ics

One event for each visit (food, ice, fuel, water, a meal out), each door that shuts behind it, each
riding day, from leaving to arriving, and each night, from arriving to leaving; their categories are
Stop, Door, Day and Night. A visit's event runs over the arrival window, in UTC, so that the
calendar shows it in the phone's own time zone; the times in its text are local to the shop. A
door's event is the last hour before a stated closing (our choice); an alarm rings when it begins.
Where hours are not known there is no closing, and the visit says so.
A plan made anew replaces its events: their ids rest on the trip's name, the place and the
occasion. Events of stops that fell out of the plan stay in your calendar: delete them.
They are stamped with the trip's departure and not with the time of writing.

## shopping.txt

A list for each stop in the order of the trip, by aisle, then the reserve; each says where and when
the shop is reached and whether it is open then. Without a planned menu it says what to carry from
each stop. Numbers are in the trip's units.

## plan.json

Schema [`resupply-plan/2`](plan.schema.json) (JSON Schema, draft 2020-12). New keys may come;
a reader ignores those it does not know. Keys end in their unit: `_m` metres, `_km` kilometres,
`_s` seconds, `_h` hours, `_c` °C, `_kg`, `_l` litres. Numbers are metric whatever units the trip
shows. A [sentence](#sentence) is a list of text and of quantities, `["Carry it to ", {"at_m":
716834}, "."]`: show each quantity in the rider's units ([cases](quantities.json) tell how). Text
holds names from the map: escape it. Times are ISO 8601, local, with offset. `null` is *not known*
or *none*, as the key says; a block that is absent was not planned.

<!-- made by docs/make_results_reference.py from resupply/report/document/model; edit that -->
"""


def files() -> dict[Path, str]:
    """Every file and what it holds."""
    schema = plan_schema()
    return {
        ROOT / "docs" / "plan.schema.json": json.dumps(schema, indent=1, ensure_ascii=False) + "\n",
        ROOT / "docs" / "results.md": page(schema),
        ROOT / "tests" / "node" / "plan.d.ts": script_types(schema),
    }


def page(schema: dict[str, Any]) -> str:
    """The whole page; a shape used in one place stands there."""
    used = Counter(_references(schema))
    shared = {name for name, times in used.items() if times > 1}
    tree = _in_place(schema, schema["$defs"], shared)
    rows = "".join(f"| `{name}` | {meaning} |\n" for name, meaning in COLUMNS.items())
    parts = [HEAD.replace("{columns}", f"| column | meaning |\n| --- | --- |\n{rows}")]
    plain = {k: v for k, v in tree["properties"].items() if not _below(v)}
    parts.append(_table({"properties": plain}))
    for name, node in tree["properties"].items():
        if _below(node):
            optional = "" if name in schema["required"] else " (may be absent)"
            parts.append(f"\n### `{name}`{optional}\n\n{node['description']}.\n\n{_table(node)}")
    parts.append("\n### Shared shapes\n")
    for name in sorted(shared):
        node = _in_place(schema["$defs"][name], schema["$defs"], shared)
        table = _table(node) if _below(node) else "A list of text and of `QuantityRow`.\n"
        parts.append(f"\n#### {name}\n\n{node['description']}.\n\n{table}")
    return "".join(parts)


def script_types(schema: dict[str, Any]) -> str:
    """TypeScript declarations of the document, for the checker of the page's scripts."""
    parts = ["// Made by docs/make_results_reference.py: do not edit.\n"]
    for name, node in {**schema["$defs"], "PlanDocument": schema}.items():
        if "properties" not in node:
            parts.append(f"type {name} = {_script_type(node)};\n")
            continue
        needed = node.get("required", ())
        rows = "".join(
            f"  {json.dumps(key)}{'' if key in needed else '?'}: {_script_type(child)};\n"
            for key, child in node["properties"].items()
        )
        parts.append(f"interface {name} {{\n{rows}}}\n")
    return "\n".join(parts)


def _script_type(node: dict[str, Any]) -> str:
    if "$ref" in node:
        return _name(node)
    if "anyOf" in node:
        return " | ".join(_script_type(one) for one in node["anyOf"])
    if "enum" in node or "const" in node:
        values = node.get("enum", [node.get("const")])
        return " | ".join(json.dumps(value, ensure_ascii=False) for value in values)
    if node["type"] == "array":
        if "prefixItems" in node:
            return f"[{', '.join(map(_script_type, node['prefixItems']))}]"
        return f"Array<{_script_type(node['items'])}>"
    if node["type"] == "object":
        values = node["additionalProperties"]
        return f"Record<string, {_script_type(values) if values is not True else 'unknown'}>"
    return SCRIPT_TYPES.get(node["type"], "null")


def _references(node: Any) -> Iterator[str]:
    if isinstance(node, list):
        for value in node:
            yield from _references(value)
    elif isinstance(node, dict):
        if "$ref" in node:
            yield _name(node)
        for value in node.values():
            yield from _references(value)


def _in_place(node: Any, defs: dict[str, Any], shared: set[str]) -> Any:
    """The tree with every shape that is used once where it is used."""
    if isinstance(node, list):
        return [_in_place(value, defs, shared) for value in node]
    if not isinstance(node, dict):
        return node
    if "anyOf" in node and {"type": "null"} in node["anyOf"]:
        kind = node["anyOf"][0]
        node = {**kind, "nullable": True, **{k: v for k, v in node.items() if k != "anyOf"}}
    if "$ref" in node and _name(node) not in shared:
        node = {**defs[_name(node)], **{k: v for k, v in node.items() if k != "$ref"}}
    return {k: _in_place(v, defs, shared) for k, v in node.items() if k != "$defs"}


def _name(node: dict[str, Any]) -> str:
    return str(node["$ref"].rpartition("/")[2])


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
    values = node.get("additionalProperties")
    if isinstance(values, dict) and _below(values):
        yield from _paths(values, f"{head}.*".lstrip("."))


def _below(node: dict[str, Any]) -> bool:
    """Whether a node has parts of its own to describe."""
    values = node.get("additionalProperties")
    inner = "items" in node and _below(node["items"])
    return inner or "properties" in node or (isinstance(values, dict) and _below(values))


def _kind(node: dict[str, Any]) -> str:
    return _bare_kind(node) + (" or null" if node.get("nullable") else "")


def _bare_kind(node: dict[str, Any]) -> str:
    if "$ref" in node:
        return f"[{_name(node)}](#{_name(node).lower()})"
    if "enum" in node:
        return ", ".join(f"`{value}`" for value in node["enum"])
    if "const" in node:
        return f"`{node['const']}`"
    if "format" in node or "pattern" in node:
        return str(node.get("format", "time"))
    if node["type"] == "array":
        inner = node.get("items", {})
        return f"list of {_kind(inner)}" if "$ref" in inner else "list"
    values = node.get("additionalProperties")
    if isinstance(values, dict) and "$ref" in values:
        return f"object of {_kind(values)}"
    return str(node["type"])


if __name__ == "__main__":
    for path, text in files().items():
        path.write_text(text, "utf-8")
        sys.stdout.write(f"{path.relative_to(ROOT)} written\n")
