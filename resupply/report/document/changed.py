"""What a new plan changes against the last one, in five lines.

In: the last plan document as it stands in `plan.json`, and the new one. Out: sentences. What is
behind the rider is no change.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any, Final

from resupply.common.quantity import (
    Part,
    Sentence,
    at,
    count,
    date,
    day_time,
    line,
    listed,
    mass,
    name,
    time,
    way,
)
from resupply.common.text import one_line

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["what_changed"]

_MOST_NAMED: Final = 3
"""Our choice: more names are no line any more."""
_SAME_MIN: Final = 5
"""Minutes: less is no change (our choice)."""
_SAME_M: Final = 500.0
"""Metres: the same for a stretch."""
_SAME_KG: Final = 0.05
"""The same for ice."""

Rows = list[dict[str, Any]]


def what_changed(
    before: Mapping[str, Any], now: Mapping[str, Any], *, behind_m: float
) -> tuple[Sentence, ...] | None:
    """Tell stops, next stop, longest stretch, arrival and ice, each against the last plan.

    Parameters
    ----------
    before, now
        Plan documents as JSON (`resupply-plan/2`).
    behind_m
        Where the rider is by the kilometres of the last plan, metres.

    Returns
    -------
    tuple
        Five sentences; None if the last plan cannot be compared.
    """
    here_m = float(now["legs"][0]["start_m"])
    try:
        stops = [stop for stop in before["stops"] if stop["chainage_m"] > behind_m]
        return (
            _stops(stops, now["stops"]),
            _next(stops, now["stops"]),
            _stretch(_longest_m(before, behind_m), _longest_m(now, here_m)),
            _arrival(before["legs"][-1], now["legs"][-1]),
            _ice(_ice_of(before, behind_m), _ice_of(now, here_m)),
        )
    except (KeyError, TypeError, ValueError, IndexError, AttributeError):
        return None


def _stops(before: Rows, now: Rows) -> Sentence:
    was, are = {stop["place"] for stop in before}, {stop["place"] for stop in now}
    gone = [stop for stop in before if stop["place"] not in are]
    new = [stop for stop in now if stop["place"] not in was]
    if not gone and not new:
        return line(
            f"Stops: the same {count(len(now), 'food stop')} as before."
            if now
            else "Stops: none ahead, as before."
        )
    said = [
        line("{stops} {verb}", stops=_names(rows), verb=one if len(rows) == 1 else many)
        for rows, one, many in (
            (gone, "falls away", "fall away"),
            (new, "is new", "are new"),
        )
        if rows
    ]
    return line("Stops: {said}.", said=listed(said, "; "))


def _names(stops: Sequence[Mapping[str, Any]]) -> Sentence:
    told: list[Part] = [_named(stop) for stop in stops[:_MOST_NAMED]]
    if len(stops) > _MOST_NAMED:
        told.append(f"{len(stops) - _MOST_NAMED} more")
    return listed(told)


def _named(stop: Mapping[str, Any]) -> Sentence:
    # The last plan is a file: anybody may have changed it.
    return line(
        "{stop} ({there})",
        stop=name(one_line(str(stop["name"]))),
        there=at(float(stop["chainage_m"])),
    )


def _next(before: Rows, now: Rows) -> Sentence:
    if not now:
        return line("Next stop: none on the way ahead{was}.", was=_instead(before))
    first = now[0]
    here = line("{stop}, {when}", stop=_named(first), when=day_time(_moment(first["arrive"])))
    if before and before[0]["place"] == first["place"]:
        return line("Next stop: {here}, as before.", here=here)
    return line("Next stop: {here}{was}.", here=here, was=_instead(before))


def _instead(before: Rows) -> Sentence:
    if not before:
        return line("; there was none")
    return line(" instead of {was}", was=_named(before[0]))


def _longest_m(plan: Mapping[str, Any], here_m: float) -> float:
    gaps = plan["gaps"]["groceries"]["all"]
    ahead = [float(gap["end_m"]) - max(float(gap["start_m"]), here_m) for gap in gaps]
    return max((length_m for length_m in ahead if length_m > 0.0), default=0.0)


def _stretch(before_m: float, now_m: float) -> Sentence:
    if abs(before_m - now_m) < _SAME_M:
        return line("Longest stretch without a full shop: {far}, as before.", far=way(now_m))
    return line(
        "Longest stretch without a full shop: {far} instead of {was}.",
        far=way(now_m),
        was=way(before_m),
    )


def _arrival(before: Mapping[str, Any], now: Mapping[str, Any]) -> Sentence:
    was, ends = _moment(before["arrive"]), _moment(now["arrive"])
    late_days = (ends.date() - was.date()).days
    late_min = round((ends - was).total_seconds() / 60.0)
    said: str
    if late_days:
        said = f"{count(abs(late_days), 'day')} {'later' if late_days > 0 else 'earlier'}"
    elif abs(late_min) >= _SAME_MIN:
        said = f"{abs(late_min)} min {'later' if late_min > 0 else 'earlier'}"
    else:
        return line("Last day: {day}, {when}, as before.", day=date(ends.date()), when=time(ends))
    return line(
        "Last day: {day}, {when}, {said} than in the last plan.",
        day=date(ends.date()),
        when=time(ends),
        said=said,
    )


def _ice_of(plan: Mapping[str, Any], here_m: float) -> tuple[int, float]:
    """Count the places with ice to buy ahead, and the kg bought there."""
    ice = plan.get("ice") or {"stops": []}
    rows = [row for row in ice["stops"] if row["chainage_m"] > here_m and row["buy"]]
    return len(rows), sum(float(buy["kg"]) for row in rows for buy in row["buy"])


def _ice(before: tuple[int, float], now: tuple[int, float]) -> Sentence:
    same = before[0] == now[0] and abs(before[1] - now[1]) < _SAME_KG
    if same:
        return line("Ice: {now}, as before.", now=_bought(now))
    return line("Ice: {now} instead of {was}.", now=_bought(now), was=_bought(before))


def _bought(ice: tuple[int, float]) -> Sentence:
    if not ice[0]:
        return line("none to buy")
    return line("{kg} at {places}", kg=mass(ice[1]), places=count(ice[0], "place"))


def _moment(iso: str) -> dt.datetime:
    return dt.datetime.fromisoformat(iso)
