"""Where the nights end: days as even as the camps allow, over the whole trip.

In: the nominal ends of the days and the camps passed. Out: one `NightEnd` per night. An exact
dynamic programme over days; where no camp lies within the tolerance the nominal end stays, and
that is said. Whether one may camp wild there is for local rules, not for this program.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

__all__ = [
    "CAMPS_SHUT",
    "NO_CAMP",
    "Camp",
    "NightEnd",
    "camp_words",
    "choose_nights",
    "fire_in_camp",
]

NO_CAMP = "No camp on the map near here. For wild camping, check local rules."
"""Said of a day that ends away from every known camp."""
CAMPS_SHUT = (
    "The camps on the map near here are shut that night. For wild camping, check local rules."
)
"""Said of a day that ends near camps whose season or hours are over."""

_LEAST_DAY_M = 1_000.0
"""Nobody breaks camp to ride a kilometre (ours)."""
_UNEVEN_MIN = 600.0
"""A day off its length by the share s of a usual day costs so many minutes times s squared: 6 for a
tenth, 54 for 30 % (ours, so that a camp on the route beats a nicer one 15 minutes off it, and even
days beat a camp 50 km too early)."""
_LATE_MIN = 10.0
"""Each minute in camp after the latest time or sunset: nobody rides into the dark for even days."""
_SAME_CAMP_MIN = 60.0
"""Riders on their way do not sleep at one camp night after night (ours)."""
_BACK_AT_CAMP_MIN = 10.0
"""Back at the camp of two nights before: it is known and good, so another one is worth a short way,
no long one (ours)."""

_TOLD = (
    ("static_caravans", "yes", "static caravans"),
    ("permanent_camping", "yes", "guests that stay"),
    ("backcountry", "yes", "backcountry: there may be no road to it"),
    ("motor_vehicle", "no", "no motor vehicles"),
)

_Cost = tuple[int, int, int, int]
"""Nights without a camp, off the own list, doubtful; milli-minutes. Whole: ties are ties."""


@dataclass(frozen=True, slots=True)
class Camp:
    """One occasion to spend a night: a pass of a camp, or a place the rider has named."""

    row: int
    """Row of the pass."""
    chainage_m: float
    """Where the route is left for it."""
    extra_m: float = 0.0
    """Metres there and back."""
    extra_s: float = 0.0
    doubtful: bool = False
    """Something known speaks against it: its season, its hours, no road. That tents are not stated
    is the normal case and no doubt."""
    place: int = -1
    """Which place it is; one may be passed more than once."""
    own: bool = False
    """On the rider's own list; taken before any other camp."""


_Option = tuple[float, Camp | None]
"""Chainage at which a day may end, and its camp."""


@dataclass(frozen=True, slots=True)
class NightEnd:
    """The end of one day but the last."""

    day: int
    """From 1."""
    nominal_m: float
    end_m: float
    """Chainage at which the day ends."""
    row: int
    """Row of the camp's pass; -1 for none."""
    late_min: int
    """Minutes after the latest wanted arrival; 0 for in time."""
    why: str
    """Why there is no camp; empty where there is one."""


def choose_nights(
    nominal_m: Sequence[float],
    camps: Sequence[Camp],
    *,
    tolerance_m: float,
    late_min: Callable[[int, float, float, float], int] | None = None,
    on_night: Callable[[int, Camp], Camp | None] | None = None,
) -> tuple[NightEnd, ...]:
    """Choose where every day but the last ends.

    Parameters
    ----------
    nominal_m
        Increasing chainages at which the days would end by distance alone; the last one is the
        route's end and stays.
    camps
        In any order.
    tolerance_m
        How far a day's end may move along the route, either way, metres.
    late_min
        Minutes a day arrives too late: called with its number (from 1), start and end
        chainage and the seconds spent on the ways from and to the camps. None to ignore the
        clock.
    on_night
        A camp as it is on the night that ends a day (by number, from 1); None where it is shut.

    Returns
    -------
    tuple of NightEnd
        The best in this order: fewest nights without a camp, most of them on the rider's own
        list, fewest doubtful ones, then one sum in minutes: riding to the camps and back, uneven
        days, late arrivals, the same camp twice in a row or again after one night elsewhere. Of
        equals, the one whose camps come first.

    Examples
    --------
    >>> ends = choose_nights([200e3, 400e3], [Camp(7, 190e3), Camp(8, 230e3)], tolerance_m=30e3)
    >>> ends[0].row, ends[0].end_m
    (7, 190000.0)
    """
    length_m = float(nominal_m[-1])
    stages: list[list[_Option]] = []
    shut_near: list[bool] = []
    for day, end_m in enumerate(nominal_m[:-1], start=1):
        near = [camp for camp in camps if abs(camp.chainage_m - float(end_m)) <= tolerance_m]
        there = [on_night(day, camp) for camp in near] if on_night else near
        open_then = [camp for camp in there if camp is not None]
        shut_near.append(len(open_then) < len(near))
        stages.append(_options(float(end_m), open_then, tolerance_m, length_m=length_m))
    stages.append([(length_m, None)])
    day_m = [b - a for a, b in zip([0.0, *nominal_m[:-1]], nominal_m, strict=True)]
    path = _best_path(stages, day_m, late_min)
    return _ends(stages, path, nominal_m, late_min, shut_near)


def _best_path(
    stages: list[list[_Option]],
    day_m: Sequence[float],
    late_min: Callable[[int, float, float, float], int] | None,
) -> tuple[int, ...]:
    """Choose an option of every day: the least cost over the whole trip.

    What is known of a day when the next one is added: its option, and the camp of the night
    before, where that can be had again the night after.
    """
    usual_m = max(day_m)
    places = [{camp.place for _, camp in options if camp is not None} for options in stages]
    best: dict[tuple[int, int], tuple[_Cost, tuple[int, ...]]] = {(0, -1): ((0, 0, 0, 0), ())}
    before: list[_Option] = [(0.0, None)]
    for number, options in enumerate(stages, start=1):
        again = places[number] if number < len(stages) else set()
        reached: dict[tuple[int, int], tuple[_Cost, tuple[int, ...]]] = {}
        steps: dict[tuple[int, int], _Cost | None] = {}
        for (k, place_before), (cost, path) in best.items():
            last = before[k][1]
            told = last.place if last is not None and last.place in again else -1
            for i, option in enumerate(options):
                if (k, i) not in steps:
                    steps[k, i] = _day_cost(
                        number, before[k], option, day_m[number - 1], usual_m, late_min
                    )
                if (step := steps[k, i]) is None:
                    continue
                if number == len(stages):
                    step = (0, *step[1:])  # the last day ends at the route's end
                camp = option[1]
                if camp is not None and camp.place == place_before >= 0:
                    step = (*step[:3], step[3] + round(_BACK_AT_CAMP_MIN * 1000.0))
                way = (_add(cost, step), (*path, i))
                if (i, told) not in reached or way < reached[i, told]:
                    reached[i, told] = way
        before, best = options, reached
    _, path = min(best.values())
    return path


def camp_words(tags: Mapping[str, str]) -> tuple[str, ...]:
    """Say what the map tells of tents, fee and season, in plain words; map text unescaped."""
    tents = {"yes": "tents allowed", "no": "no tents"}.get(tags.get("tents", ""))
    words = [tents or "tents: not stated"]
    fee = tags.get("fee")
    words.append({"yes": "fee", "no": "no fee", None: "fee: not stated"}.get(fee, f"fee: {fee}"))
    season = tags.get("seasonal")
    if season == "yes":
        words.append("part of the year only")
    elif season not in (None, "no"):
        words.append(f"season: {season}")
    words += [told for key, value, told in _TOLD if tags.get(key) == value]
    return tuple(words)


def fire_in_camp(tags: Mapping[str, str]) -> bool | None:
    """Whether the map says that a fire may be lit in camp; None where it says nothing clear."""
    said = {tags.get(key) for key in ("openfire", "fireplace", "bbq")}
    if tags.get("openfire") == "no":
        # A grill or fireplace stands there, and open fire is still refused.
        return False
    return True if "yes" in said else None


def _options(
    nominal_m: float, camps: Sequence[Camp], tolerance_m: float, *, length_m: float
) -> list[_Option]:
    """List the ends a day may have, by chainage; the nominal one comes last, always."""
    near = [
        (camp.chainage_m, camp)
        for camp in camps
        if abs(camp.chainage_m - nominal_m) <= tolerance_m and 0.0 < camp.chainage_m < length_m
    ]
    return [*sorted(near, key=lambda option: (option[0], option[1].row)), (nominal_m, None)]


def _day_cost(
    number: int,
    start: _Option,
    end: _Option,
    wanted_m: float,
    usual_m: float,
    late_min: Callable[[int, float, float, float], int] | None,
) -> _Cost | None:
    """Cost of one day, None where it would run backwards."""
    (start_m, last), (end_m, camp) = start, end
    if end_m < start_m + _LEAST_DAY_M and not (last is None and camp is None):
        return None
    ways_s = sum(each.extra_s for each in (last, camp) if each is not None) / 2.0
    off = (end_m - start_m - wanted_m) / usual_m
    minutes = ways_s / 60.0 + _UNEVEN_MIN * off * off
    if late_min is not None:
        minutes += _LATE_MIN * max(late_min(number, start_m, end_m, ways_s), 0)
    if last is not None and camp is not None and last.place == camp.place >= 0:
        minutes += _SAME_CAMP_MIN
    missing, doubtful = int(camp is None), int(bool(camp and camp.doubtful))
    return missing, int(camp is not None and not camp.own), doubtful, round(minutes * 1000.0)


def _add(one: _Cost, other: _Cost) -> _Cost:
    a, b, c, d = (x + y for x, y in zip(one, other, strict=True))
    return a, b, c, d


def _ends(
    stages: list[list[_Option]],
    path: tuple[int, ...],
    nominal_m: Sequence[float],
    late_min: Callable[[int, float, float, float], int] | None,
    shut_near: Sequence[bool],
) -> tuple[NightEnd, ...]:
    ends: list[NightEnd] = []
    start_m, last = 0.0, None
    for number, (options, i) in enumerate(zip(stages[:-1], path, strict=False), start=1):
        end_m, camp = options[i]
        ways_s = sum(each.extra_s for each in (last, camp) if each is not None) / 2.0
        late = 0 if late_min is None else max(late_min(number, start_m, end_m, ways_s), 0)
        ends.append(
            NightEnd(
                day=number,
                nominal_m=float(nominal_m[number - 1]),
                end_m=end_m,
                row=-1 if camp is None else camp.row,
                late_min=late,
                why="" if camp else CAMPS_SHUT if shut_near[number - 1] else NO_CAMP,
            )
        )
        start_m, last = end_m, camp
    return tuple(ends)
