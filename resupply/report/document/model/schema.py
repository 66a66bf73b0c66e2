"""The JSON schema of the plan document, with every field's own text."""

from __future__ import annotations

import ast
import dataclasses
import importlib
import inspect
import pkgutil
from typing import Any, Final

from pydantic import TypeAdapter

from resupply.report.document import model
from resupply.report.document.model.base import QuantityRow
from resupply.report.document.model.plan import PlanDocument

__all__ = ["plan_schema"]

_SENTENCE: Final = "Words and quantities in the order in which they are read"


def plan_schema() -> dict[str, Any]:
    """JSON schema (draft 2020-12) of the plan document."""
    made = TypeAdapter(PlanDocument).json_schema(by_alias=True)
    kinds = {
        kind: {"type": "number" if of is float else "string"}
        for kind, of in QuantityRow.__annotations__.items()
    }
    part = {"anyOf": [{"type": "string"}, {"$ref": "#/$defs/QuantityRow"}]}
    defs = made.pop("$defs")
    defs["QuantityRow"] = {
        "type": "object",
        "properties": kinds,
        "minProperties": 1,
        "maxProperties": 1,
    }
    defs["Sentence"] = {"description": _SENTENCE, "type": "array", "items": part}
    texts = _texts()
    for name, node in [("PlanDocument", made), *defs.items()]:
        if name in texts:
            node["description"], fields = texts[name]
            for key, child in node["properties"].items():
                child["description"] = fields[key]
    version = made["properties"]["schema"]["const"]
    number = version.rpartition("/")[2]
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:resupply:plan:{number}",
    }
    tidy = {key: _tidy(node) for key, node in sorted(defs.items())}
    return {**head, **_tidy(made), "title": version, "$defs": tidy}


def _tidy(node: Any) -> Any:
    """Without pydantic's titles; a key that may be absent is never null when it is there."""
    if isinstance(node, list):
        return [_tidy(value) for value in node]
    if not isinstance(node, dict):
        return node
    if "default" in node and "anyOf" in node:
        (kind,) = [one for one in node["anyOf"] if one != {"type": "null"}]
        node = {**kind, **{key: value for key, value in node.items() if key != "anyOf"}}
    if node.pop("sentence", False):
        node = {"$ref": "#/$defs/Sentence", **node}
    out = {}
    for key, value in node.items():
        if key == "properties":
            out[key] = {name: _tidy(child) for name, child in value.items()}
        elif key not in ("title", "default"):
            out[key] = _tidy(value)
    return out


def _texts() -> dict[str, tuple[str, dict[str, str]]]:
    """Text of each class and of its fields by their key, from the docstrings."""
    found = {}
    for module in pkgutil.iter_modules(model.__path__, f"{model.__name__}."):
        loaded = importlib.import_module(module.name)
        for node in ast.parse(inspect.getsource(loaded)).body:
            if isinstance(node, ast.ClassDef):
                kind = getattr(loaded, node.name)
                fields = {_key(kind, name): said for name, said in _field_texts(node)}
                found[node.name] = (_said(ast.get_docstring(node) or ""), fields)
    return found


def _field_texts(node: ast.ClassDef) -> list[tuple[str, str]]:
    found = []
    for field, after in zip(node.body, node.body[1:], strict=False):
        if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name):
            if not isinstance(after, ast.Expr) or not isinstance(after.value, ast.Constant):
                raise TypeError(f"{node.name}.{field.target.id} has no text")
            found.append((field.target.id, _said(str(after.value.value))))
    return found


def _key(kind: type, name: str) -> str:
    """Key of a field in the JSON: another word where its own is one of Python's."""
    if dataclasses.is_dataclass(kind):
        for mark in getattr(kind.__annotations__[name], "__metadata__", ()):
            if getattr(mark, "alias", None):
                return str(mark.alias)
    return name


def _said(text: str) -> str:
    """Text in one line, without its full stop."""
    return " ".join(text.split()).removesuffix(".")
