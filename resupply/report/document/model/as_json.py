"""The plan document as JSON, and back."""

from __future__ import annotations

import json
from functools import cache
from typing import TYPE_CHECKING, Any

from resupply.report.document.model.plan import PlanDocument

if TYPE_CHECKING:
    from pydantic import TypeAdapter

    from resupply.common.show import Show

__all__ = ["to_dict", "to_json", "to_wire"]


@cache
def _adapter() -> TypeAdapter[PlanDocument]:
    """Make the writer once: it takes longer than a document."""
    from pydantic import TypeAdapter

    return TypeAdapter(PlanDocument)


def to_dict(document: PlanDocument, show: Show | None = None) -> dict[str, Any]:
    """Write the document as dicts, lists, text and numbers.

    Parameters
    ----------
    show
        Write sentences as text, so; None for lists of words and quantities, as in the JSON.
    """
    told: dict[str, Any] = _adapter().dump_python(
        document, mode="json", by_alias=True, exclude_defaults=True, context=show
    )
    return told


def to_wire(document: PlanDocument) -> bytes:
    """Write the document as JSON without spaces, in one go: what a page waits for."""
    return _adapter().dump_json(document, by_alias=True, exclude_defaults=True)


def to_json(document: PlanDocument) -> str:
    """Write the document, a line for each row; the same document gives the same bytes.

    Indenting it all would take twice the time and a fifth more space.
    """
    text = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode
    blocks = []
    for key, value in to_dict(document).items():
        if isinstance(value, list) and value:
            block = "[\n" + ",\n".join(map(text, value)) + "\n]"
        elif isinstance(value, dict) and value:
            rows = (f"{text(name)}: {text(row)}" for name, row in value.items())
            block = "{\n" + ",\n".join(rows) + "\n}"
        else:
            block = text(value)
        blocks.append(f"{text(key)}: {block}")
    return "{\n" + ",\n".join(blocks) + "\n}\n"
