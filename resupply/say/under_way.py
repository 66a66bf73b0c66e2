"""What a rider under way wants to know first: what is on board, how far it lasts, the next shop.

In: a plan that goes on from where the rider is. Out: facts, cautions, sentences.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, Protocol

import numpy as np

from resupply.common.quantity import (
    Part,
    Sentence,
    at,
    count,
    date,
    day_time,
    food,
    line,
    load,
    meals,
    volume,
    way,
)
from resupply.hours.state import BY_HOURS, OpenState
from resupply.places.place import Supply
from resupply.plan.schedule import last_rest_day
from resupply.plan.shops_ahead import ARRIVED_M
from resupply.say.states import STATES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from resupply.plan.pipeline import TripPlan
    from resupply.say.names import Words
    from resupply.supply.food_stops import FoodStop

__all__ = ["OnBoard", "Tone", "behind_words", "on_board_cautions", "on_board_facts", "start_words"]

_SIP_L = 0.5
"""Less than that to the next water is told, but is no caution."""
Tone = Literal["plain", "caution", "alarm"]
"""How a fact is meant."""
Fact = tuple[str, Part, Tone]
"""Label, words, tone."""


class OnBoard(Protocol):
    """Water on board of a rider under way, and what is needed to the next place with water."""

    @property
    def litres(self) -> float | None:
        """What is on board; None if not stated."""

    @property
    def needed_l(self) -> float:
        """What is needed to the next place with water."""

    @property
    def lasts(self) -> bool | None:
        """Whether it lasts; None if not known."""

    @property
    def words(self) -> Sentence:
        """The same in words."""


def start_words(plan: TripPlan, words: Words) -> Sentence:
    """Say what food has to be on board at the start, and on a trip under way what is."""
    needed, have = plan.supply.start_carry_meals, plan.supply.asked.start_meals
    if have is None:
        return line("Leave home with {food} each.", food=load(needed, plan.supply.spare_meals))
    if plan.trip.now.at_km is None:
        return line(
            "You set out with {have} each and need {needed} to {stop}{few}. The spare is "
            "bought there.",
            have=meals(have),
            needed=meals(needed),
            stop=_first_stop(plan, words),
            few=f": shop for {meals(needed - have)} before you leave" if have < needed else None,
        )
    return line(
        "You need {needed} each to {stop} and have {have} on board{few}.",
        needed=food(needed),
        stop=_first_stop(plan, words),
        have=food(have),
        few=f": {meals(needed - have)} too few" if have < needed else None,
    )


def on_board_facts(plan: TripPlan, water: OnBoard | None, words: Words) -> Iterator[Fact]:
    """Where the rider is, what is on board and where the next shop is; nothing at home."""
    now = plan.trip.now
    if now.at_km is None or now.time is None:
        return
    here = line("{here}, {when}", here=at(plan.legs[0].start_m), when=day_time(now.time))
    yield "You are at", here, "plain"
    needed = plan.supply.start_carry_meals
    until = "next stop" if plan.supply.stops else "end"
    # Not stated counts as none, and must not read like a count.
    food_left = f"{meals(now.food_meals)} each" if now.food_meals else "none that was stated"
    said = f"{food_left}, {needed} needed to the {until}"
    yield "Food on board", said, "alarm" if now.food_meals < needed else "plain"
    yield from _shops(plan, words)
    yield _fuel(plan)
    if water:
        have: Part = "not stated"
        if water.litres is not None:
            have = volume(water.litres)
        need = volume(water.needed_l)
        tones: dict[bool | None, Tone] = {True: "plain", False: "alarm", None: "caution"}
        said_l = line("{have}, {need} needed to the next", have=have, need=need)
        yield "Water on board", said_l, tones[water.lasts]


def on_board_cautions(
    plan: TripPlan, water: OnBoard | None, words: Words, *, tank: Sentence | None
) -> Iterator[Part]:
    """Fuel and water on board that is not known, or water that is too little.

    Parameters
    ----------
    tank
        What is said of the tank, where fuel is planned.
    """
    now, start = plan.trip.now, plan.trip.start.date
    if now.at_km is None or now.time is None:
        return
    if start is not None and now.time.date() < start:
        yield (
            f"{date(now.time)} is before the trip's start date, {date(start)}: check both. Days "
            "and their weather count from the start date."
        )
    yield from _rest_in_camp(plan)
    if plan.fuel is None:
        yield line(
            "The trip states no range, so no fuel is planned: {next}.",
            next=_on_the_map(plan, words),
        )
    elif now.fuel_km is None:
        yield tank
    if water and not water.lasts and water.needed_l >= _SIP_L:
        yield water.words


def _rest_in_camp(plan: TripPlan) -> Iterator[str]:
    """Say what becomes of the days of rest set in the camp where the rider is."""
    first, now, start = plan.legs[0], plan.trip.now.time, plan.trip.start.date
    in_camp = first.began_m is not None and first.began_m >= first.start_m - ARRIVED_M
    if now is None or not in_camp:
        return
    leave_on = plan.trip.now.leave_on
    if leave_on is not None and leave_on > now.date():
        yield f"You rest in this camp and leave on {date(first.date)}, as you said."
        return
    rests = last_rest_day(plan.trip, start, first.number - 1) if start else None
    if rests is None:
        return
    days = count(plan.trip.pace.rest_days[first.number - 1], "rest day")
    leaves = date(first.date)
    if now.date() <= rests:
        yield (
            f"You rest in this camp until {date(rests)} ({days} after day "
            f"{first.number - 1}) and leave on {leaves}."
        )
    else:
        yield (
            f"The {days} after day {first.number - 1} ended on {date(rests)} by the plan: "
            f"you leave on {leaves}. To stay longer, set more of them."
        )


def behind_words(plan: TripPlan, words: Words, ahead_m: float, *kinds: Supply) -> Sentence | None:
    """Name a place behind a rider under way that is nearer than the next one ahead.

    Parameters
    ----------
    ahead_m
        How far the next one ahead is, metres.
    """
    prepared, here_m = plan.prepared, plan.legs[0].start_m
    has = np.any([prepared.supply[kind] for kind in kinds], axis=0) & prepared.reachable
    rows = np.flatnonzero(has & (prepared.leave_m < here_m))
    if plan.trip.now.at_km is None or not rows.size:
        return None
    row = int(rows[np.argmax(prepared.leave_m[rows])])
    at_m = float(prepared.leave_m[row])
    if here_m - at_m >= ahead_m:
        return line("None is nearer behind you.")
    return line(
        "The nearest behind you is {place} ({there}), {back} back (now: {hours}).",
        place=words.named(row),
        there=words.at_pass(row),
        back=way(here_m - at_m),
        hours=words.hours(row, plan.clock.start_s).words,
    )


def _shops(plan: TripPlan, words: Words) -> Iterator[Fact]:
    """Name the next shop that is not known to be shut, and the next that is open for sure."""
    rows = [gap.end_row for gap in plan.gaps[Supply.SMALL_GROCERIES][:-1]]
    first = next(iter(plan.supply.stops), None)
    if first is not None and first.arrive_s < plan.clock.depart_s[0]:
        yield (
            "Next shop",
            _from_camp(first, words),
            "plain" if first.risk in BY_HOURS else "caution",
        )
        return
    if not rows:
        yield "Next shop", "none known on the way ahead", "alarm"
        return
    sure = next((row for row in rows if plan.risk[row] in BY_HOURS), None)
    yield "Next shop", _shop(plan, rows[0], words), "plain" if rows[0] == sure else "caution"
    if sure is None:
        yield "Next shop open for sure", "none on the way ahead", "caution"
    elif sure != rows[0]:
        yield "Next shop open for sure", _shop(plan, sure, words), "plain"


def _from_camp(stop: FoodStop, words: Words) -> Sentence:
    return line(
        "{shop}, from this camp, {min} min there and back, {when}, {state}",
        shop=words.named(stop.row),
        min=round(stop.way_s / 60.0),
        when=day_time(words.local(stop.row, stop.arrive_s)),
        state=STATES[OpenState(stop.risk)].word,
    )


def _shop(plan: TripPlan, row: int, words: Words) -> Sentence:
    at_m, arrive_s = float(plan.prepared.passes.chainage_m[row]), float(plan.arrive_s[row])
    state = STATES[OpenState(plan.risk[row])].word
    return line(
        "{shop}, {far} on{detour}, {when}, {state}",
        shop=words.named(row),
        far=way(at_m - plan.legs[0].start_m),
        detour=words.detour_words(row),
        when=day_time(words.local(row, arrive_s)),
        state=state,
    )


def _fuel(plan: TripPlan) -> Fact:
    """How far the tank goes, and how far the first station is."""
    fuel_km = plan.trip.now.fuel_km
    have: Part = "not stated"
    if fuel_km is not None:
        have = line("goes {far}", far=way(fuel_km * 1000.0))
    if plan.fuel is None:
        # Without a range there is no plan: the next station on the map, along the route.
        gap = plan.gaps[Supply.FUEL][0]
        first_row, road_m = gap.end_row, gap.length_m + _off_m(plan, gap.end_row)
        too_far = fuel_km is not None and road_m > fuel_km * 1000.0
    else:
        first = plan.fuel.gaps[0]
        first_row, road_m = first.end_row, first.road_m
        too_far = first.missing_m > 0.0
    where = "next station" if first_row >= 0 else "no station, the end"
    sure = plan.fuel is not None and fuel_km is not None
    tone: Tone = "alarm" if too_far else "plain" if sure else "caution"
    said = line("{have}; {where} after {far}", have=have, where=where, far=way(road_m))
    return "Fuel in the tank", said, tone


def _on_the_map(plan: TripPlan, words: Words) -> Sentence:
    gap, fuel_km = plan.gaps[Supply.FUEL][0], plan.trip.now.fuel_km
    far = way(gap.length_m + _off_m(plan, gap.end_row))
    goes = None
    if fuel_km is not None:
        goes = line(", and your fuel goes {far}", far=way(fuel_km * 1000.0))
    if gap.end_row < 0:
        return line(
            "no station is known ahead, and the end of the route is {far} from here ({end}){goes}",
            far=far,
            end=at(gap.end_m),
            goes=goes,
        )
    return line(
        "the next station on the map is {station}, {far} from here ({there}){goes}",
        station=words.named(gap.end_row),
        far=far,
        there=words.at_pass(gap.end_row),
        goes=goes,
    )


def _off_m(plan: TripPlan, row: int) -> float:
    """One way from the route to the place of a pass, metres; 0 for the end of the route."""
    return float(plan.detour_m[row]) / 2.0 if row >= 0 else 0.0


def _first_stop(plan: TripPlan, words: Words) -> Sentence:
    if not plan.supply.stops:
        return line("the end of the route")
    first = plan.supply.stops[0]
    return line("{stop} ({there})", stop=words.named(first.row), there=words.at_pass(first.row))
