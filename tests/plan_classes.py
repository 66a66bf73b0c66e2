"""Plan documents as classes, for tests that write them by hand or change one that was read."""

from __future__ import annotations

import dataclasses
import datetime as dt
import types
from functools import cache
from typing import TYPE_CHECKING, Any, Union, get_args, get_origin, get_type_hints

from demo_plans import demo_document
from pydantic import TypeAdapter

from resupply.common.quantity import Quantity, Sentence
from resupply.report.document.model.plan import PlanDocument

if TYPE_CHECKING:
    from resupply.common.show import Show


def as_plan(told: PlanDocument | dict[str, Any]) -> PlanDocument:
    """Document of dicts and text, unchecked: hostile text stays; what is left out is a sample's."""
    if isinstance(told, PlanDocument):
        return told
    plan: PlanDocument = _made(PlanDocument, told, demo_document()[0])
    return plan


def as_json(row: Any, show: Show | None = None) -> dict[str, Any]:
    """Write a part of a document as its JSON holds it; with sentences as text where shown so."""
    told: dict[str, Any] = _adapter(type(row)).dump_python(
        row, mode="json", by_alias=True, exclude_defaults=True, context=show
    )
    return told


@cache
def _adapter(kind: type) -> TypeAdapter[Any]:
    return TypeAdapter(kind)


@cache
def _fields(kind: Any) -> list[tuple[str, str, Any, bool]]:
    hints = get_type_hints(kind, include_extras=True)
    found = []
    for field in dataclasses.fields(kind):
        marks = getattr(hints[field.name], "__metadata__", ())
        key = next((mark.alias for mark in marks if getattr(mark, "alias", None)), field.name)
        found.append((field.name, key, hints[field.name], field.default is dataclasses.MISSING))
    return found


def _made(kind: Any, value: Any, sample: Any) -> Any:
    if value is None:
        return None
    if hasattr(kind, "__metadata__"):
        kind = kind.__origin__
    origin, inner = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        return _made(next(one for one in inner if one is not type(None)), value, sample)
    if dataclasses.is_dataclass(kind):
        given = {}
        for name, key, of, needed in _fields(kind):
            if key in value:
                given[name] = _made(of, value[key], getattr(sample, name, None))
            elif needed:
                given[name] = getattr(sample, name)
        return kind(**given)
    if origin is tuple:
        first = sample[0] if isinstance(sample, tuple) and sample else None
        return tuple(_made(inner[0], one, first) for one in value)
    if origin is dict:
        first = next(iter(sample.values()), None) if sample else None
        return {key: _made(inner[1], one, first) for key, one in value.items()}
    if kind is Sentence:
        parts = [value] if isinstance(value, str) else value
        return Sentence(Quantity(part) if isinstance(part, dict) else part for part in parts)
    if kind in (dt.datetime, dt.date):
        return kind.fromisoformat(value)
    return value
