"""Write docs/trip-file.md from the trip file's own model; a test checks that it is current."""

from __future__ import annotations

import ast
import inspect
import sys
import textwrap
from itertools import pairwise
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from resupply.trip.settings import Trip

HEAD = """# The trip file

One TOML file holds every setting of a trip. Every command line option is a key of it, and
`--set key=value` sets any other. Only what differs from the defaults needs to be there:

```toml
name = "Round the island"
route = "coast_loop.gpx"

[start]
date = 2027-07-09

[pace]
daily_km = 230
rest_days = { 3 = 1 }   # one rest day after day 3

[party]
people = 2

[map]
extracts = ["varrow.osm.pbf"]
```

Keys end in their unit. For other units, use the same key with that unit's ending, e.g. `daily_mi`:
`_mi` for `_km`, `_mph` for `_kmh`, `_f` for `_c`, `_lb` for `_kg`, `_gal` for `_l`.
A wrong key or value is refused with one line that names the file, the line and the key.
File names are relative to the trip file. Times are local and written `08:30:00`. The map id of a
place, such as `node/123`, stands in the column `map_id` of `stops.csv` and under `places` in
`plan.json`.

The same file with the same map data gives the same plan, byte for byte.

<!-- made by docs/make_trip_reference.py; do not edit below -->
"""


def reference() -> str:
    """The whole page."""
    parts = [HEAD, "\n## Top level\n\n", _table(Trip, plain=True)]
    for name, field in Trip.model_fields.items():
        model = field.annotation
        if isinstance(model, type) and issubclass(model, BaseModel):
            parts.append(f"\n## `[{name}]`\n\n{_table(model)}")
    return "".join(parts)


def _table(model: type[BaseModel], *, plain: bool = False) -> str:
    rows = ["| key | default | meaning |\n| --- | --- | --- |\n"]
    meant = meanings(model)
    for name, field in model.model_fields.items():
        kind = field.annotation
        if plain and isinstance(kind, type) and issubclass(kind, BaseModel):
            continue
        meaning = " ".join(meant.get(name, "").split()).replace("|", "\\|")
        rows.append(f"| `{name}` | {_shown(field.default)} | {meaning} |\n")
    return "".join(rows)


def meanings(model: type[BaseModel]) -> dict[str, str]:
    """Text below each key in the source; the trip file's own start is quicker without it."""
    body = [
        line
        for node in ast.parse(textwrap.dedent(inspect.getsource(model))).body
        if isinstance(node, ast.ClassDef)
        for line in node.body
    ]
    return {
        field.target.id: str(after.value.value)
        for field, after in pairwise(body)
        if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name)
        if isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant)
    }


def _shown(value: Any) -> str:
    if value is None or value == () or value == {} or value == "":
        return "–"
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    if isinstance(value, str):
        return f'`"{value}"`'
    return f"`{value}`"


if __name__ == "__main__":
    (Path(__file__).parent / "trip-file.md").write_text(reference(), "utf-8")
    sys.stdout.write("docs/trip-file.md written\n")
