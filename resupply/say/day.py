"""Sentences about a day: when it ends, on what it is ridden, where the night is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.common.quantity import Part, Sentence, at, duration, line, listed, time, way
from resupply.hours.state import OpenState
from resupply.supply.camps import camp_words

if TYPE_CHECKING:
    import datetime as dt

    from resupply.plan.pipeline import TripPlan
    from resupply.say.names import Words
    from resupply.supply.camps import NightEnd

__all__ = [
    "after_latest",
    "after_sunset",
    "camp",
    "camp_may_be_shut",
    "day_too_long",
    "loose_surface",
    "no_camp",
]

_WAY_S = 300.0
"""A way to the camp shorter than that needs no word on its time."""
_MOVED_M = 50.0
"""A day that ends so close to its nominal end is not told as moved."""


def day_too_long() -> Sentence:
    """Say that a day runs into the next one."""
    return line(
        "This day cannot be ridden: you would arrive after the next day's departure. Ride less a "
        "day."
    )


def after_sunset(sunset: dt.datetime) -> Sentence:
    """Say that the rider arrives in the dark."""
    return line(
        "You arrive after sunset ({sunset}). Animals are about, and you are tired.",
        sunset=time(sunset),
    )


def after_latest(latest: dt.datetime, reached_m: float | None) -> Sentence:
    """Say that the rider arrives too late, and where they are by then.

    Parameters
    ----------
    reached_m
        Chainage reached by then, metres; None if the day begins later.
    """
    where: Part = "you set out after it"
    if reached_m is not None:
        where = line("by then you are at about {there}", there=at(reached_m))
    return line(
        "You arrive after your latest time in camp ({latest}); {where}.",
        latest=time(latest),
        where=where,
    )


def loose_surface(length_m: float) -> Sentence:
    """Say how much of a day is gravel or track; `length_m` in metres."""
    return line("{far} of gravel or track on this day.", far=way(length_m))


def no_camp(why: str | None) -> Sentence:
    """Say that a day ends by its distance alone, and why."""
    nothing = "No camp chosen: the day ends at this distance. Look for one nearby."
    return line("{why}", why=why or nothing)


def camp(
    plan: TripPlan, night: NightEnd, words: Words, at_s: float, *, way_m: float, way_s: float
) -> Sentence:
    """Say where the camp is and what the map tells of it.

    Parameters
    ----------
    at_s
        When the rider is there, UTC epoch.
    way_m, way_s
        One way from the route to the camp: metres, seconds of riding.
    """
    more = f" and {duration(way_s)} more" if way_s >= _WAY_S else None
    return line(
        "{camp}, {far}{more} off the route ({told}{no_road}){moved}",
        camp=words.named(night.row),
        far=way(way_m),
        more=more,
        told=listed([*camp_words(words.place(night.row).tags), _season(night, words, at_s)]),
        no_road="; no road to it is known" if plan.prepared.no_road[night.row] else None,
        moved=_moved(night.end_m - night.nominal_m),
    )


def camp_may_be_shut(plan: TripPlan, night: NightEnd, words: Words, at_s: float) -> Sentence | None:
    """Warn of a camp that is not known to be open; nothing where it is, or nothing is stated.

    Parameters
    ----------
    at_s
        When the rider is there, UTC epoch.
    """
    said = words.hours(night.row, at_s)
    if said.state is OpenState.OPEN or said.unsaid:
        return None
    own = words.place(night.row).id in plan.trip.night.own
    return line(
        "{camp} may be shut when you arrive: {hours}.{ring}",
        camp="Your own place for this night" if own else "The camp",
        hours=said.words,
        ring=" Ring ahead." if words.can_ring(night.row) else None,
    )


def _season(night: NightEnd, words: Words, at_s: float) -> Part:
    """Say what season and hours of the camp are that night."""
    said = words.hours(night.row, at_s)
    if said.state is OpenState.OPEN:
        return "open then, says the map"
    return "season and hours: not stated" if said.unsaid else said.words


def _moved(longer_m: float) -> Sentence | None:
    """Say how far the camp moves the day's end."""
    if abs(longer_m) < _MOVED_M:
        return None
    which = "longer" if longer_m > 0.0 else "shorter"
    return line("; {far} {which} than your daily distance", far=way(abs(longer_m)), which=which)
