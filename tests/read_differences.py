"""Reads what `resupply.report.differences` tells, as the page's script does: a second reader."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from resupply.report.differences import parts
from resupply.report.json_kinds import ABSENT, Kind, kind_of, numbered_of, time_of, whole_of

if TYPE_CHECKING:
    from collections.abc import Sequence

BARE = (ABSENT, None, False, True)


def clock_of(at_s: int, tail: str) -> str:
    """Give the text of a time back, as `time_of` read it."""
    told = dt.datetime.fromtimestamp(at_s, dt.UTC).isoformat()
    if tail == "d":
        return told[:10]
    return told[:19] + tail[1:] if tail.startswith("s") else told[:16] + tail


def with_differences(other: Any, told: Any, looked_through: Sequence[str]) -> Any:
    """Give the document back that was told against another."""
    known = list(parts([other[key] for key in looked_through]))
    return _Reader(known).column(told, 1, [other])[0]


class _Reader:
    def __init__(self, known: list[Any]) -> None:
        self.known = known

    def column(self, told: Any, count: int, others: list[Any]) -> list[Any]:
        if told == 0:
            return others[:count]
        how, *rest = told
        return getattr(self, f"_{how}" if how != "@" else "_at")(count, others, *rest)

    def _v(self, count, others, values):
        return values * count if len(values) == 1 else values or [ABSENT] * count

    def _n(self, count, others, mode, numbers):
        out, last = [], 0
        for i, number in enumerate(numbers):
            last = last + number if mode & 2 else number
            out.append(last + (others[i] if mode & 1 and kind_of(others[i]) == Kind.WHOLE else 0))
        return out

    def _f(self, count, others, digits, told):
        beside = [
            whole_of(o, digits) if kind_of(o) in (Kind.WHOLE, Kind.DECIMAL) else None
            for o in others
        ]
        return [whole / 10**digits for whole in self.column(told, count, beside)]

    def _t(self, count, others, step_s, steps, tails):
        beside = [time_of(o) if isinstance(o, str) else None for o in others]
        at = self.column(steps, count, [one and one[0] // step_s for one in beside])
        behind = self.column(tails, count, [one and one[1] for one in beside])
        return [clock_of(n * step_s, tail) for n, tail in zip(at, behind, strict=True)]

    def _k(self, count, others, prefix, told):
        beside = [numbered_of(o) if isinstance(o, str) else None for o in others]
        beside = [one[1] if one and one[0] == prefix else None for one in beside]
        return [f"{prefix}{number}" for number in self.column(told, count, beside)]

    def _e(self, count, others, different, told):
        number = {text: n for n, text in enumerate(different)}
        beside = [number.get(o) if isinstance(o, str) else None for o in others]
        return [different[n] for n in self.column(told, count, beside)]

    def _x(self, count, others, steps, told):
        out, rows, at = others[:count], [], -1
        for step in steps:
            at += step
            rows.append(at)
        changed = self.column(told, len(rows), [others[i] for i in rows])
        for row, value in zip(rows, changed, strict=True):
            out[row] = value
        return out

    def _o(self, count, others, columns):
        beside = [o if isinstance(o, dict) else {} for o in others]
        out = [dict(one) for one in beside]
        for key, told in columns.items():
            against = [one.get(key, ABSENT) for one in beside]
            if told[0] == "@":
                against, told = [one.get(told[1], ABSENT) for one in out], told[2]
            for one, value in zip(out, self.column(told, count, against), strict=True):
                if value is ABSENT:
                    one.pop(key, None)
                else:
                    one[key] = value
        return out

    def _l(self, count, others, lengths, told, rows=None):
        beside = [o if isinstance(o, list) else [] for o in others]
        sizes = self.column(lengths, count, [len(one) for one in beside])
        at = iter(rows if rows is not None else [i for size in sizes for i in range(size)])
        against = [
            one[i] if 0 <= (i := next(at)) < len(one) else ABSENT
            for one, size in zip(beside, sizes, strict=True)
            for _ in range(size)
        ]
        flat = iter(self.column(told, sum(sizes), against))
        return [[next(flat) for _ in range(size)] for size in sizes]

    def _p(self, count, others, lengths, rows, told):
        return self._l(count, others, lengths, told, self._n(0, [], *rows[1:]))

    def _m(self, count, others, codes, columns):
        kinds = self.column(codes, count, [int(kind_of(o)) for o in others])
        out = [BARE[kind] if kind < Kind.WHOLE else None for kind in kinds]
        for name, told in columns.items():
            rows = [i for i, kind in enumerate(kinds) if kind == int(name)]
            values = self.column(told, len(rows), [others[i] for i in rows])
            if int(name) == Kind.ELSEWHERE:
                values = [self.known[n] for n in values]
            for i, value in zip(rows, values, strict=True):
                out[i] = value
        return out
