"""The first thing a rider reads: a headline, a few facts, the cautions in order of weight."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from resupply.common.units import format_amount
from resupply.hours.state import BY_HOURS, OpenState
from resupply.hours.stated import HOLIDAY
from resupply.places.place import Confidence, Supply
from resupply.places.read import reach_m
from resupply.report.document.days import LOOSE_WORDS
from resupply.report.document.gaps import sure_gap
from resupply.report.document.passes import row_of
from resupply.say.asked_shops import pin_cautions
from resupply.say.jumps import jump_cautions
from resupply.say.stops import food_words, meal_words
from resupply.say.under_way import on_board_cautions, on_board_facts

if TYPE_CHECKING:
    from collections.abc import Iterator

    from resupply.plan.pipeline import TripPlan
    from resupply.say.names import Words
from resupply.say.states import state_key

__all__ = ["summary"]

_FOOD = {Supply.GROCERIES, Supply.SMALL_GROCERIES}
_NEEDED = (Supply.GROCERIES, Supply.SMALL_GROCERIES, Supply.ICE, Supply.WATER, Supply.FUEL)
_MOST_NAMED = 4
"""Our choice: more names in one sentence are not read."""
_ROADLESS_M = 5_000.0
"""So much of a route may lie beside the roads of the map, on a ferry or a new road, unsaid."""

Tone = Literal["plain", "caution", "alarm"]


def summary(plan: TripPlan, document: dict[str, Any], words: Words) -> dict[str, Any]:
    """Headline, facts and cautions of a plan document."""
    supply = plan.supply
    most = max([supply.start_carry_meals, *(s.carry_meals for s in supply.stops)])
    days = document["trip"]["days"]
    count = len(supply.stops)
    ridden_m = plan.legs[-1].end_m - plan.legs[0].start_m
    missing_m = _missing_m(document)
    here = "" if plan.trip.now.at_km is None else f" from {words.at(plan.legs[0].start_m)}"
    trip = f"{words.km(ridden_m)}{here} in {days} day{'' if days == 1 else 's'}"
    most_words = food_words(most)
    if missing_m >= ridden_m - 1.0:
        headline = (
            f"{trip}, without map data: where there are shops is not known. "
            f"Without any you carry {most_words} a person."
        )
    else:
        known = " where the map is known" if missing_m else ""
        headline = (
            f"{trip} with {count} food stop{'' if count == 1 else 's'}{known}. "
            f"The most you carry is {most_words} a person."
        )
    return {
        "headline": headline,
        "facts": list(_facts(plan, document, words, most)),
        "cautions": list(_cautions(plan, document, words)),
    }


def _facts(
    plan: TripPlan, document: dict[str, Any], words: Words, most: int
) -> Iterator[dict[str, str]]:
    """Give a label and a few words each; the sentences stand in their own blocks."""
    yield from (_fact(*told) for told in on_board_facts(plan, document, words))
    supply, limit = plan.supply, plan.supply.weights.limit_meals
    missing_m = _missing_m(document)
    longest = document["gaps"]["groceries"]["longest"]
    said = f"{words.km(longest['length_m'])}, {meal_words(longest['meals'])}"
    if longest["crosses_unknown"]:
        said += "; map data is missing on it"
    if longest["jump_m"]:
        said += f"; the line jumps {words.km(longest['jump_m'])} on it"
    without = "with no full shop open" if longest["has_shut"] else "without a full shop"
    caution = longest["meals"] > limit or longest["crosses_unknown"] or longest["jump_m"] > 0
    yield _fact(f"Longest stretch {without}", said, _tone(caution))
    if (sure := sure_gap(plan, words)) is not None:
        said = f"{words.km(sure.length_m)}, {meal_words(sure.meals)}"
        yield _fact("The same by stated hours alone", said, "caution")
    masses = [document["start_carry"]["kg"], *(stop["carry_kg"] for stop in document["stops"])]
    mass = format_amount(max(masses), words.units)
    carried = f"{meal_words(most)} a person, {mass} in all"
    yield _fact("Most food on board", carried, "caution" if most > limit else "plain")
    count, stated = len(supply.stops), sum(s.risk in BY_HOURS for s in supply.stops)
    for_sure = all(s.risk == OpenState.OPEN for s in supply.stops)
    share = f"{stated} " if stated < count else "all " if count > 1 else ""
    rest = f"{count}, {share}open by stated hours" if count else "none"
    yield _fact("Food stops", rest, _tone(not for_sure))
    reserve = document["reserve"]
    kept = f"{meal_words(reserve['meals'])} a person, {format_amount(reserve['kg'], words.units)}"
    unsure = bool(missing_m) and not reserve["meals"]
    spare = "not known: map data is missing" if unsure else "none needed"
    yield _fact("Reserve", kept if reserve["meals"] else spare, _tone(unsure))
    yield _ice(document, words)
    yield from _cold(document)
    ridden_m = plan.legs[-1].end_m - plan.legs[0].start_m
    gone = "none" if missing_m >= ridden_m - 1.0 else f"missing on {words.km(missing_m)}"
    yield _fact("Map data", gone if missing_m else "on the whole route", _tone(missing_m > 0.0))


def _missing_m(document: dict[str, Any]) -> float:
    """Length of the way ahead of which no map data tells."""
    unknown = document["coverage"]["unknown"]
    return float(sum(part["end_m"] - part["start_m"] for part in unknown))


def _ice(document: dict[str, Any], words: Words) -> dict[str, str]:
    stops = document["ice"]["stops"]
    kg = sum(buy["kg"] for row in stops for buy in row["buy"])
    if kg:
        likely = any(row["confidence"] != "stated" for row in stops)
        where = "1 stop" if len(stops) == 1 else f"{len(stops)} stops"
        said = f"buy {format_amount(kg, words.units)} at {where}"
        said += ", some likely only" if likely else ""
        return _fact("Ice", said, _tone(_ice_in_doubt(document)))
    if stops:
        said = f"{len(stops)} place{'' if len(stops) == 1 else 's'} on the way"
        return _fact("Ice", said, "plain")
    if document["ice"]["spare"]:
        short = any(one["safety"] and one["state"] == "fails" for one in _coolers(document))
        said = "none that could be bought in time" if short else "none to buy"
        return _fact("Ice", said, "alarm" if short else "plain")
    return _fact("Ice", "no place known", "caution")


def _ice_in_doubt(document: dict[str, Any]) -> bool:
    """Tell whether ice is to be bought that is only likely, or where the door may be shut."""
    rows = [row for row in document["ice"]["stops"] if row["buy"]]
    return any(row["confidence"] != "stated" or row["state"] != "open" for row in rows)


def _coolers(document: dict[str, Any]) -> list[dict[str, Any]]:
    return list(document.get("cold", {}).get("coolers", []))


def _cold(document: dict[str, Any]) -> Iterator[dict[str, str]]:
    """Whether the food stays cold; nothing without a cooler or a need."""
    for cooler in _coolers(document):
        said = {
            "holds": (f"at or below {cooler['limit_words']}", "plain"),
            "fails": (f"above {cooler['limit_words']} for a time", "alarm"),
            "too full": ("not all of it: it does not fit", "alarm"),
            "not known": ("not known: weather is missing", "caution"),
        }.get(cooler["state"])
        if cooler["state"] == "holds" and cooler["no_ice_from"]:
            said = ("the ice is gone too early", "alarm")
        elif cooler["state"] == "holds" and _ice_in_doubt(document):
            said = (f"at or below {cooler['limit_words']} if all that ice is there", "caution")
        if cooler["safety"] and said is not None:
            yield _fact("Cold food", said[0], said[1])
        if cooler["room"]["words"]:
            room, label = cooler["room"], f"{cooler['name'].capitalize()} cooler at its fullest"
            tone = "alarm" if room["over_l"] else _tone(not room["known"])
            yield _fact(label, room["words"], tone)


def _cautions(plan: TripPlan, document: dict[str, Any], words: Words) -> Iterator[str]:
    if document.get("fuel", {}).get("exceeded"):
        yield document["fuel"]["words"]
    yield from (short["words"] for short in document["shortfalls"])
    yield from jump_cautions(plan, words)
    yield from on_board_cautions(plan, document, words)
    if document["coverage"]["unknown"]:
        yield document["coverage"]["words"]
    yield from document["coverage"]["warnings"]
    cold = document.get("cold", {})
    yield from cold.get("weather", {}).get("problems", [])
    for cooler in cold.get("coolers", []):
        fails = cooler["state"] in ("fails", "too full")
        if cooler["safety"] and (fails or cooler["no_ice_from"] or cooler["room"]["over_l"]):
            yield f"Food cooler: {cooler['verdict'][0].lower()}{cooler['verdict'][1:]}"
    yield from pin_cautions(plan, words)
    yield from _not_sure_open(document, words)
    yield from _no_calendar(plan)
    yield from _holidays(document)
    yield from _likely_ice(cold)
    yield from _likely_fuel(document)
    yield from _heat(document)
    menu = document.get("menu", {})
    if menu.get("unfilled"):
        count = len(menu["unfilled"])
        yield f"{meal_words(count).capitalize()} without a dish: see the menu for the reason."
    yield from _overload(document.get("load", {}), words)
    yield from _no_roads(plan, words)
    yield from document["route"]["warnings"]
    yield from _of_days(document, words)
    if document["naive"]["shut"]:
        yield document["naive"]["words"]
    yield from _near_edge(plan, words)


def _near_edge(plan: TripPlan, words: Words) -> Iterator[str]:
    """Tell, after all that matters more, where the data ends close to the route."""
    here_m = plan.legs[0].start_m
    ends = [(max(s.start_m, here_m), s.end_m) for s in plan.prepared.places.coverage.near_edge]
    length_m = sum(max(end_m - start_m, 0.0) for start_m, end_m in ends)
    if length_m:
        yield (
            f"The map extract ends within {words.km(reach_m(plan.trip))} of the route on "
            f"{words.km(length_m)} of it: places beyond its edge are not known."
        )


def _heat(document: dict[str, Any]) -> Iterator[str]:
    """Tell where the water is counted without knowing the heat."""
    days = document.get("water", {}).get("unknown_heat", [])
    if days:
        legs = len(document["legs"])
        which = "any day" if len(days) == legs else f"{len(days)} of {legs} days"
        yield (
            f"No heat is known for {which}: the water there is counted for cool days. Carry more "
            "if it is hot."
        )


def _not_sure_open(document: dict[str, Any], words: Words) -> Iterator[str]:
    """Name every stop for food, ice or fuel that may be shut when the rider arrives.

    That it may be a public holiday is said once, of all of them; see `_no_calendar`.
    """
    by_hours = {state_key(state) for state in BY_HOURS}
    ice = [row for row in document["ice"]["stops"] if row["buy"]]
    fuel = document.get("fuel", {}).get("stops", [])
    told = {row["pass"]: row["name"] for row in document["stops"] if row["state"] not in by_hours}
    for what, rows in (("ice", ice), ("fuel", fuel)):
        for row in rows:
            if row["state"] not in by_hours and row["pass"] not in told:
                told[row["pass"]] = f"{words.name(row_of(row['pass']))} ({what})"
    if told:
        listed = _first_few(list(told.values()))
        yield f"Not sure to be open when you arrive: {listed}. Ring ahead or carry the reserve."


def _first_few(names: list[str]) -> str:
    left = len(names) - _MOST_NAMED
    return ", ".join(names[:_MOST_NAMED]) + (f" and {left} more" if left > 0 else "")


def _no_calendar(plan: TripPlan) -> Iterator[str]:
    """Tell that public holidays, on which many doors are shut, are not known where it matters."""
    timetable, prepared = plan.prepared.timetable, plan.prepared
    counted = np.any([prepared.supply[kind] for kind in _NEEDED], axis=0)
    ahead = prepared.passes.chainage_m >= plan.legs[0].start_m
    shown = np.isin(plan.risk, (*BY_HOURS, OpenState.TIGHT)) & counted & ahead
    places = prepared.passes.place_ix[shown]
    if timetable is not None and not timetable.has_calendar[places].all():
        yield (
            "Public holidays are not known on part of the route: what is open by its hours may be "
            "shut on one. Ask before you ride."
        )


def _of_days(document: dict[str, Any], words: Words) -> Iterator[str]:
    """Cautions of the days; loose surface on many of them is one line."""
    loose = [leg for leg in document["legs"] if _loose_m(leg)]
    together = len(loose) > _MOST_NAMED
    for leg in document["legs"]:
        for text in leg["cautions"]:
            if not (together and text.endswith(LOOSE_WORDS)):
                yield f"Day {leg['number']}: {text}"
    if together:
        most = max(loose, key=_loose_m)
        yield (
            f"Gravel or track on {len(loose)} days, {words.km(sum(map(_loose_m, loose)))} in all; "
            f"most on day {most['number']}: {words.km(_loose_m(most))}."
        )


def _loose_m(leg: dict[str, Any]) -> float:
    """Metres of gravel and track of a day that has a caution on them."""
    if not any(text.endswith(LOOSE_WORDS) for text in leg["cautions"]):
        return 0.0
    return float(leg["surface"]["gravel_m"] + leg["surface"]["track_m"])


def _holidays(document: dict[str, Any]) -> Iterator[str]:
    """Name the days that are public holidays, of which most hours on the map say nothing."""
    places = document["places"]
    food = {key for key, place in places.items() if not _FOOD.isdisjoint(place["supplies"])}
    passed: dict[int, set[str]] = {leg["number"]: set() for leg in document["legs"]}
    unsaid: dict[int, set[str]] = {number: set() for number in passed}
    # Once over the passes, not once for each day: a long trip has thousands.
    for row in document["passes"]:
        if row["place"] in food and row["leg"] in passed:
            passed[row["leg"]].add(row["place"])
            if HOLIDAY in row.get("state_words", ""):
                unsaid[row["leg"]].add(row["place"])
    for number, silent in unsaid.items():
        if silent:
            yield (
                f"Day {number} falls on a public holiday: the hours of {len(silent)} of the "
                f"{len(passed[number])} shops you pass say nothing of it, and they may be shut."
            )


_PEAK_OF = {"carry": "peak_kg", "bag holds": "peak_bag_l", "in the cooler": "peak_cooler_l"}


def _overload(load: dict[str, Any], words: Words) -> Iterator[str]:
    for over in load.get("over", []):
        peak = next(load[key] for end, key in _PEAK_OF.items() if over.endswith(end))
        when = words.day_clock(dt.datetime.fromisoformat(peak["when"]))
        yield f"{when}, {peak['label']}: {over}."


def _no_roads(plan: TripPlan, words: Words) -> Iterator[str]:
    """Tell of places that are left out as no road is known, and of ways that are estimates."""
    prepared, here_m = plan.prepared, plan.legs[0].start_m
    counted = np.any([prepared.supply[kind] for kind in _NEEDED], axis=0)
    ahead = prepared.passes.chainage_m >= here_m
    lost = np.flatnonzero(counted & ahead & ~prepared.reachable).tolist()
    names = list({words.place(row).id: words.name(row) for row in lost}.values())
    if names:
        yield (
            f"No road is known to {_first_few(names)}: not counted on for food, ice, water or "
            "fuel, whatever the map has there."
        )
    if not (counted & ahead).any():
        return
    holes = prepared.roads.matched.unmatched if prepared.roads is not None else None
    if holes is None:
        where = "on this map"
    else:
        missing_m = sum(max(s.end_m - max(s.start_m, here_m), 0.0) for s in holes)
        if missing_m < _ROADLESS_M:
            return
        where = f"under {words.km(missing_m)} of the way"
    yield (
        f"No roads are known {where}: the ways to places there are estimates by straight line, and "
        "a river or a ridge may lie between."
    )


def _likely_ice(cold: dict[str, Any]) -> Iterator[str]:
    """Ice that the food rests on and that the map does not state."""
    doubtful = [
        buy
        for cooler in cold.get("coolers", [])
        for buy in cooler["purchases"]
        if cooler["safety"] and buy["doubt_words"]
    ]
    if len(doubtful) == 1:
        yield (
            f"Ice at {doubtful[0]['label']} is likely, not certain: ask there, or buy food that "
            "keeps."
        )
    if len(doubtful) > 1:
        names = ", ".join(buy["label"] for buy in doubtful)
        yield f"Ice is likely, not certain, at {names}: ask there, or buy food that keeps."


def _likely_fuel(document: dict[str, Any]) -> Iterator[str]:
    """Stations of the plan whose tags name other fuels, not what the tank takes."""
    stops = document.get("fuel", {}).get("stops", [])
    names = [stop["name"] for stop in stops if stop["confidence"] != Confidence.STATED]
    if names:
        yield (
            f"The map does not name your fuel at {_first_few(names)}: it is likely, not certain. "
            "Ask ahead, or fill up before."
        )


def _tone(caution: bool) -> Tone:
    return "caution" if caution else "plain"


def _fact(label: str, value: str, tone: str) -> dict[str, str]:
    return {"label": label, "value_words": value, "tone": tone}
