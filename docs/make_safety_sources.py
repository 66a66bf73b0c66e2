"""Every number of the safety tables with its source and status, as a page of the documentation.

A test compares the page.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from resupply.kitchen.food.care import load_care
from resupply.kitchen.food.packing import load_packing_rules
from resupply.kitchen.food.rations import load_rations
from resupply.kitchen.food.sources import Read, Status, load_sources
from resupply.kitchen.food.storage_classes import load_storage

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from resupply.kitchen.food.sources import Backing
    from resupply.kitchen.food.storage_classes import StorageClass, TableValue

_INTRO = """# Where the safety numbers come from

This page is written by `python docs/make_safety_sources.py`; do not edit it by hand.

Every number that decides whether food is kept or thrown out is listed here with its source and
with how it was checked:

- **confirmed**: read on the publisher's own page;
- **copy**: read in a copy or summary held elsewhere, shown as "(published, read second-hand)";
- **memory**: not looked up, shown as "(not checked)";
- **practice**: a habit that nobody publishes, shown as "(common practice, no source)";
- **ours**: an assumption of this program, shown as "(our assumption)".

Only *confirmed* numbers may be taken as the publisher's word. Ranges are kept as published; the
plan uses the low end. Local rules come first.
"""

_ORDER = """Those read on the publisher's own page come first, then copies on the pages of public
bodies, then copies that newspapers, shops, blogs and document hosts keep.
"""
_READ = {
    Read.OWN: "publisher's own page",
    Read.PUBLIC: "second-hand: a public body's copy",
    Read.OTHER: "second-hand: a private copy",
    Read.NONE: "not read",
}


def render_safety_sources() -> str:
    """Write the page as Markdown."""
    storage, care, sources = load_storage(), load_care(), load_sources()
    classes = storage.classes.values()
    parts = [
        _INTRO,
        "## General limits\n",
        _rules(storage.rule),
        "## Days at or below 4 °C (40 °F), from purchase\n",
        _table(
            ("food", "class", "unopened, days", "opened, days", "source", "status"),
            (
                (r.name, f"`{r.id}`", _span(r.unopened), _span(r.opened), *_by(r.days_by))
                for r in classes
                if r.days_by is not None
            ),
        ),
        "## After more than 2 h warm (1 h above 32 °C)\n",
        "For food that keeps sealed this is about the opened pack.\n",
        _table(
            ("food", "class", "do", "own limit", "source", "status"),
            ((r.name, f"`{r.id}`", r.after_warm, _own(r), *_by(r.warm_by)) for r in classes),
        ),
        "## Days uncooled\n",
        _table(
            ("food", "class", "days", "source", "status"),
            (
                (r.name, f"`{r.id}`", f"{r.room_days:g}", *_by(r.room_by))
                for r in classes
                if r.room_days is not None
            ),
        ),
        "## What a small shop sells (common practice, no source)\n",
        _table(
            ("food", "class", "a small shop has it"),
            ((r.name, f"`{r.id}`", r.small_shop) for r in classes),
        ),
        "## Internal temperatures\n",
        _table(
            ("food", "°F", "°C", "rest, min", "or", "source", "status"),
            (
                (
                    t.food,
                    "–" if t.temp_f is None else f"{t.temp_f:g}",
                    "–" if t.temp_c is None else f"{t.temp_c:.1f}",
                    "–" if t.rest_min is None else f"{t.rest_min:g}",
                    t.words or "–",
                    *_by(t.by),
                )
                for t in care.temperature.values()
            ),
        ),
        "## Boiling untreated water\n",
        _table(
            ("agency", "minutes", "high up, minutes", "from, m", "source", "status"),
            (
                (
                    b.agency,
                    f"{b.minutes:g}",
                    "–" if b.high_minutes is None else f"{b.high_minutes:g}",
                    "–" if b.high_from_m is None else f"{b.high_from_m:g}",
                    *_by(b.by),
                )
                for b in care.boiling.values()
            ),
        ),
        "## Cautions\n",
        _table(
            ("caution", "words", "source", "status"),
            ((n.title, n.words, *_by(n.by)) for n in care.note.values()),
        ),
        "## Packing\n",
        _rules(load_packing_rules()),
        "## Water and fuel\n",
        _rules(load_rations()),
        "## Sources\n",
        _ORDER,
        _table(
            ("id", "publisher", "document", "how it was read", "read at"),
            (
                (f"`{s.id}`", s.publisher, s.document or "–", _READ[s.read], s.read_at or "–")
                for s in sorted(sources.values(), key=lambda s: list(Read).index(s.read))
            ),
        ),
    ]
    return "\n".join(parts)


def _rules(rules: Mapping[str, TableValue]) -> str:
    return _table(
        ("limit", "value", "source", "status"),
        ((r.words, f"{r.value:g}" if r.value else "–", *_by(r.by)) for r in rules.values()),
    )


def _by(by: Backing | None) -> tuple[str, str]:
    return (f"`{by.source}`", Status(by.status).value) if by is not None else ("–", "–")


def _span(days: tuple[float, float] | None) -> str:
    if days is None:
        return "–"
    low, high = days
    return f"{low:g}" if low == high else f"{low:g}–{high:g}"


def _own(row: StorageClass) -> str:
    if row.warm_h is None or row.warm_above_c is None:
        return "–"
    return f"{row.warm_h:g} h above {row.warm_above_c:g} °C"


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "".join(f"| {' | '.join(cells)} |\n" for cells in lines)


if __name__ == "__main__":
    (Path(__file__).parent / "safety-sources.md").write_text(render_safety_sources(), "utf-8")
