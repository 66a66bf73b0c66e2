"""One JSON document told by its differences from another, column by column.

In: a document, and the one it is told against. Out: JSON text that `differences.js` turns back
(so does `tests/read_differences.py`). A table of a thousand passes whose times are all an hour
later is one column that says so.

A column is coded as `0` where it is as in the other document, else as a list: its way of coding,
then what that needs. Values are told against those at the same place of the other document.

=====  =========================================================================================
`v`    values as they are; one value or none (a key that is not there) stands for the whole column
`n`    whole numbers: bit 1 of the mode: against the other document; bit 2: each against the last
`f`    decimals as whole numbers: digits after the point, column of numbers
`t`    times and dates: seconds of a step, column of steps by the clock on the wall, column of what
       stands behind the clock
`k`    texts that are one text and a number, as ids are: that text, column of numbers
`e`    few different texts: those, column of which
`x`    few changes: how far each is from the last, column of what stands there
`o`    objects: a column for each key that differs
`l`    lists: column of lengths, column of all their values
`p`    lists of rows of which some went or came: as `l`, with the row each one stands against
`m`    several kinds: column of kinds, a column for each kind; the last of them is where the same
       thing stands elsewhere in the other document
`@`    a key of the same object, and a column told against that one
=====  =========================================================================================
"""

from __future__ import annotations

import json
from itertools import chain
from typing import TYPE_CHECKING, Any, Final

from resupply.report.json_kinds import (
    ABSENT,
    Kind,
    kind_of,
    kinds_of,
    numbered_of,
    same,
    step_of,
    time_of,
    whole_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

__all__ = ["Against", "parts"]

_Json = Any

_NUMBERS: Final = (Kind.WHOLE, Kind.DECIMAL)
_DIGITS: Final = 6
"""Decimals with more digits are kept as they are (our choice: the document rounds)."""
_LONG: Final = 24
"""Characters of JSON from which on a thing is looked for elsewhere (our choice: a shorter one is
hardly longer than where it stands)."""
_ROWS: Final = 16
"""Of fewer rows no column is told against the one before it (our choice: it saves nothing)."""
_FEW_OF: Final = 2 / 3
"""Where more of a column changed than this, changes alone are not tried (our choice)."""
_KEY: Final = "place"
"""Rows of two documents that are of the same place are told against each other."""
_AS_IT_WAS: Final = "0"


_text = json.JSONEncoder(separators=(",", ":"), allow_nan=False).encode


def parts(value: _Json) -> Iterator[_Json]:
    """Everything with an inside, and every text, outermost first: what may stand elsewhere."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        yield value
        for one in value.values() if isinstance(value, dict) else value:
            yield from parts(one)


class Against:
    """A document that others are told against.

    Parameters
    ----------
    other
        A JSON object.
    looked_through
        Keys of it whose parts are looked for elsewhere under the same keys of other documents.
    """

    def __init__(self, other: dict[str, _Json], looked_through: Sequence[str]) -> None:
        self.other, self.looked_through = other, tuple(looked_through)
        # Where each thing of some length stands first. Times are shorter told as numbers.
        known: dict[str, int] = {}
        for number, part in enumerate(parts([other[key] for key in looked_through])):
            text = _text(part)
            if len(text) >= _LONG and not (isinstance(part, str) and time_of(part)):
                known.setdefault(text, number)
        self._coders = {key: _Coder(known) for key in looked_through}

    def differences(self, document: dict[str, _Json]) -> str:
        """Tell a document by what differs from this one, as JSON text."""
        plain, other = _Coder({}), self.other
        told = []
        for key in dict.fromkeys((*document, *other)):
            coder = self._coders.get(key, plain)
            coded = coder.column([document.get(key, ABSENT)], [other.get(key, ABSENT)])
            if coded != _AS_IT_WAS:
                told.append(f"{_text(key)}:{coded}")
        return f'["o",{{{",".join(told)}}}]'


class _Coder:
    """Codes columns; `known` tells where each thing stands that may be found elsewhere."""

    def __init__(self, known: Mapping[str, int]) -> None:
        self._known = known

    def column(self, values: list[_Json], others: list[_Json]) -> str:
        """Code values, each against the one at its place in the other document."""
        changed = [
            i
            for i, (value, other) in enumerate(zip(values, others, strict=True))
            # Most values are text: told apart without a call.
            if value is not other
            and (value != other or (not isinstance(value, str) and not same(value, other)))
        ]
        if not changed:
            return _AS_IT_WAS
        if len(changed) > len(values) * _FEW_OF:
            return self._every_row(values, others, changed)
        steps = [after - before for before, after in zip([-1, *changed], changed, strict=False)]
        some, beside = [values[i] for i in changed], [others[i] for i in changed]
        told = self._every_row(some, beside, range(len(some)))
        sparse = f'["x",[{_listed(steps)}],{told}]'
        if any(isinstance(value, dict | list) for value in values):
            # Both would take twice the time at each level, and the changes alone nearly always win.
            return sparse
        return min(sparse, self._every_row(values, others, changed), key=len)

    def _every_row(self, values: list[_Json], others: list[_Json], changed: Sequence[int]) -> str:
        kinds = kinds_of(values)
        if self._known:
            for i in changed:
                if self._stands_elsewhere(values[i]):
                    kinds[i] = Kind.ELSEWHERE
        different = set(kinds)
        if different == {Kind.WHOLE, Kind.DECIMAL}:
            return self._decimals(values, others)
        if len(different) > 1 or kinds[0] == Kind.ELSEWHERE:
            return self._mixed(values, others, kinds)
        match kinds[0]:
            case Kind.WHOLE:
                return _numbers(values, others)
            case Kind.DECIMAL:
                return self._decimals(values, others)
            case Kind.TEXT:
                return self._texts(values, others)
            case Kind.LIST:
                return self._lists(values, others)
            case Kind.OBJECT:
                return self._objects(values, others)
            case Kind.ABSENT:
                return '["v",[]]'
        return f'["v",{_text(values[:1])}]'

    def _stands_elsewhere(self, value: _Json) -> bool:
        if not isinstance(value, str | dict | list):
            return False
        return not (isinstance(value, str) and len(value) < _LONG) and _text(value) in self._known

    def _mixed(self, values: list[_Json], others: list[_Json], kinds: list[Kind]) -> str:
        told = {}
        for kind in sorted(set(kinds)):
            rows = [i for i, one in enumerate(kinds) if one == kind]
            if kind == Kind.ELSEWHERE:
                told[int(kind)] = _numbers([self._known[_text(values[i])] for i in rows], [])
            elif kind >= Kind.WHOLE:
                told[int(kind)] = self.column([values[i] for i in rows], [others[i] for i in rows])
        named = ",".join(f'"{kind}":{column}' for kind, column in told.items())
        codes = self.column([int(kind) for kind in kinds], [int(kind) for kind in kinds_of(others)])
        return f'["m",{codes},{{{named}}}]'

    def _decimals(self, values: list[float], others: list[_Json]) -> str:
        for digits in range(_DIGITS + 1):
            whole = [whole_of(value, digits) for value in values]
            if None not in whole:
                beside = [whole_of(o, digits) if kind_of(o) in _NUMBERS else None for o in others]
                return f'["f",{digits},{self.column(whole, beside)}]'
        return _plain(values)

    def _texts(self, values: list[str], others: list[_Json]) -> str:
        times = [time for time in map(time_of, values) if time is not None]
        if len(times) == len(values):
            step_s = min(step_of(tail) for _, tail in times)
            beside = [time_of(other) if isinstance(other, str) else None for other in others]
            steps = self.column(
                [at_s // step_s for at_s, _ in times],
                [one and one[0] // step_s for one in beside],
            )
            tails = self.column([tail for _, tail in times], [one and one[1] for one in beside])
            return f'["t",{step_s},{steps},{tails}]'
        numbered = [one for one in map(numbered_of, values) if one is not None]
        prefixes = {prefix for prefix, _ in numbered}
        if len(numbered) == len(values) > 1 and len(prefixes) == 1:
            prefix = prefixes.pop()
            split = [numbered_of(other) if isinstance(other, str) else None for other in others]
            same_text = [one[1] if one and one[0] == prefix else None for one in split]
            column = self.column([number for _, number in numbered], same_text)
            return f'["k",{_text(prefix)},{column}]'
        different = list(dict.fromkeys(values))
        if len(different) * 2 > len(values):
            return _plain(values)
        number = {text: n for n, text in enumerate(different)}
        which = [number.get(other) if isinstance(other, str) else None for other in others]
        return f'["e",{_text(different)},{self.column([number[text] for text in values], which)}]'

    def _objects(self, values: list[dict[str, _Json]], others: list[_Json]) -> str:
        beside = [other if isinstance(other, dict) else {} for other in others]
        told, before = [], None
        for key in dict.fromkeys(chain.from_iterable((*values, *beside))):
            column = [value.get(key, ABSENT) for value in values]
            coded = self.column(column, [one.get(key, ABSENT) for one in beside])
            numbers = kind_of(column[0]) in (Kind.WHOLE, Kind.TEXT)
            if before and numbers and len(values) >= _ROWS and coded != _AS_IT_WAS:
                name, last = before
                against = f'["@",{_text(name)},{self.column(column, last)}]'
                coded = min(coded, against, key=len)
            if coded != _AS_IT_WAS:
                told.append(f"{_text(key)}:{coded}")
            # Keys that look like numbers come first in a script's objects, whatever their order.
            if numbers and not key.isdigit():
                before = key, column
        return f'["o",{{{",".join(told)}}}]'

    def _lists(self, values: list[list[_Json]], others: list[_Json]) -> str:
        beside = [other if isinstance(other, list) else [] for other in others]
        lengths = self.column([len(value) for value in values], [len(one) for one in beside])
        flat = [item for value in values for item in value]
        rows = [
            _matches(value, one) if _have_key(value) else list(range(len(value)))
            for value, one in zip(values, beside, strict=True)
        ]
        against = [
            one[i] if 0 <= i < len(one) else ABSENT
            for one, matched in zip(beside, rows, strict=True)
            for i in matched
        ]
        told = self.column(flat, against)
        if all(i == n for matched in rows for n, i in enumerate(matched)):
            return f'["l",{lengths},{told}]'
        # A row stands against the one after the last: mostly the number is 1.
        numbers = _numbers([i for matched in rows for i in matched], [])
        return f'["p",{lengths},{numbers},{told}]'


def _plain(values: list[_Json]) -> str:
    return f'["v",{_text(values)}]'


def _listed(numbers: Sequence[int]) -> str:
    return ",".join(map(str, numbers))


def _numbers(values: list[int], others: Sequence[_Json]) -> str:
    """Whole numbers: against the other document, against the last one, both or neither."""
    values = list(map(int, values))
    whole = zip(others, kinds_of(others), strict=True)
    beside = [int(o) if kind is Kind.WHOLE else 0 for o, kind in whole] or [0] * len(values)
    found = []
    for mode in (0, 1, 2, 3) if any(beside) else (0, 2):
        told = [v - b for v, b in zip(values, beside, strict=True)] if mode & 1 else values
        if mode & 2:
            told = [after - before for before, after in zip([0, *told], told, strict=False)]
        found.append(f'["n",{mode},[{_listed(told)}]]')
    return min(found, key=len)


def _have_key(rows: list[_Json]) -> bool:
    return bool(rows) and all(isinstance(row, dict) and _KEY in row for row in rows)


def _matches(rows: list[dict[str, _Json]], others: list[_Json]) -> list[int]:
    """Row of the other document for each row, by place and how often it has come; −1 for none."""
    told: dict[str, list[int]] = {}
    for number, other in enumerate(others):
        if isinstance(other, dict) and isinstance(other.get(_KEY), str):
            told.setdefault(other[_KEY], []).append(number)
    # Of a place that is passed several times the passes ahead are the last ones.
    found = []
    for row in reversed(rows):
        left = told.get(row[_KEY]) if isinstance(row[_KEY], str) else None
        found.append(left.pop() if left else -1)
    # Where few places are the same, the first is told against the first.
    return found[::-1] if found.count(-1) * 2 < len(found) else list(range(len(found)))
