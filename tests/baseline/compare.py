"""What differs between two results of one trip: figures first, then numbers, then words."""

from __future__ import annotations

import difflib
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests.baseline.figures import Figures, read_figures

NUMBER = re.compile(r"[-−]?\d+(?:[.,:]\d+)*|[¼½¾⅓⅔⅛⅜⅝⅞]")
# Told by every file and different in every version.
VERSION = re.compile(r"resupply \d+\.\d+\.\d+")


def differing_figures(old: Figures, new: Figures) -> list[str]:
    """Name each figure that differs, with both values."""
    lines = []
    for name in [*old, *(name for name in new if name not in old)]:
        one, two = _plain(old.get(name)), _plain(new.get(name))
        if one == two:
            continue
        if isinstance(one, dict) and isinstance(two, dict):
            lines += [f"{name}, {line}" for line in differing_figures(one, two)]
        else:
            lines.append(f"{name}: {_short(one)} -> {_short(two)}")
    return lines


def compare_results(old: Path, new: Path) -> list[str]:
    """Describe what differs between two folders of results; nothing where all bytes agree."""
    lines = []
    names = sorted({path.name for folder in (old, new) for path in folder.iterdir()})
    for name in names:
        if name == "run.json":
            continue
        if not (old / name).exists() or not (new / name).exists():
            lines.append(f"{name}: only {'new' if (new / name).exists() else 'old'}")
            continue
        one, two = ((folder / name).read_text("utf-8") for folder in (old, new))
        one, two = VERSION.sub("resupply", one), VERSION.sub("resupply", two)
        if one == two:
            continue
        if name == "plan.json":
            lines += [f"figure {line}" for line in _figures(old, new)]
            lines += [f"plan.json {line}" for line in differing_values(one, two)]
        else:
            lines.append(f"{name}: {_difference(one, two)}")
    return lines


def _figures(old: Path, new: Path) -> list[str]:
    return differing_figures(*(read_figures(folder / "plan.json") for folder in (old, new)))


def differing_values(old: str, new: str) -> list[str]:
    """Compare two JSON texts value by value: numbers, numbers in sentences, words, keys."""
    one, two = dict(_leaves(json.loads(old))), dict(_leaves(json.loads(new)))
    numbers, sentences, words = [], [], 0
    for path in one.keys() & two.keys():
        a, b = one[path], two[path]
        if a == b:
            continue
        if isinstance(a, str) and isinstance(b, str):
            if NUMBER.findall(a) == NUMBER.findall(b):
                words += 1
            else:
                sentences.append(f"{path}: {_short(a, 300)} -> {_short(b, 300)}")
        else:
            numbers.append(f"{path}: {_short(a)} -> {_short(b)}")
    lines = [f"value {line}" for line in sorted(numbers)]
    lines += [f"numbers in words {line}" for line in sorted(sentences)]
    if words:
        lines.append(f"words alone differ in {words} values")
    for what, paths in (("no more", one.keys() - two.keys()), ("new", two.keys() - one.keys())):
        kinds = sorted({re.sub(r"\[\d+\]", "[]", path) for path in paths})
        lines += [f"{what}: {kind}" for kind in kinds[:40]]
        if len(kinds) > 40:
            lines.append(f"{what}: {len(kinds) - 40} more kinds of value")
    return lines


def _difference(old: str, new: str) -> str:
    if NUMBER.findall(old) == NUMBER.findall(new):
        return "words alone differ"
    if max(len(old), len(new)) > 200_000:
        return "numbers differ (see plan.json)"
    changed = [
        line[:200]
        for line in difflib.unified_diff(old.splitlines(), new.splitlines(), n=0, lineterm="")
        if not line.startswith(("---", "+++", "@@"))
    ]
    return "numbers differ\n      " + "\n      ".join(changed[:12])


def _leaves(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _leaves(inner, f"{path}.{key}" if path else key)
    elif isinstance(value, list):
        for n, inner in enumerate(value):
            yield from _leaves(inner, f"{path}[{n}]")
    else:
        yield path, value


def _plain(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


def _short(value: Any, most: int = 160) -> str:
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= most else text[: most - 1] + "…"
