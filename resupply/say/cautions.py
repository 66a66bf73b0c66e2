"""Sentences of caution on what the map does not say, or not for sure."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from resupply.common.quantity import line, listed, way

if TYPE_CHECKING:
    from collections.abc import Sequence

    from resupply.common.quantity import Part, Sentence

__all__ = [
    "few",
    "fuel_likely",
    "holiday_unsaid",
    "holidays_not_known",
    "ice_likely",
    "map_ends",
    "may_be_shut",
    "no_road_to",
    "roads_not_known",
    "unknown_heat",
]

MOST_NAMED = 4
"""Our choice: more names in one sentence are not read."""


def few(names: Sequence[Part]) -> Sentence:
    """Name the first few, and count the others."""
    left = len(names) - MOST_NAMED
    more = f" and {left} more" if left > 0 else None
    return line("{names}{more}", names=listed(names[:MOST_NAMED]), more=more)


def map_ends(reach_m: float, far_m: float) -> Sentence:
    """Tell where the data ends close to the route."""
    return line(
        "The map extract ends within {reach} of the route on {far} of it: places beyond its edge "
        "are not known.",
        reach=way(reach_m),
        far=way(far_m),
    )


def unknown_heat(days: int, of: int) -> Sentence:
    """Tell on how many days the water is counted without knowing the heat."""
    return line(
        "No heat is known for {which}: water is counted for cool days. Carry more if it is hot.",
        which="any day" if days == of else f"{days} of {of} days",
    )


def may_be_shut(places: Sequence[Part], can_ring: Sequence[bool], instead: str) -> Sentence:
    """Name stops that may be shut when the rider arrives.

    Parameters
    ----------
    can_ring
        Of each, whether the map has a number.
    instead
        What to do about it, in the imperative.
    """
    ring = "Ring ahead, or " if all(can_ring) else "Ring where there is a number, or "
    said = f"{ring if any(can_ring) else ''}{instead}"
    return line(
        "{places} may be shut when you arrive. {do}.",
        places=few(places),
        do=f"{said[0].upper()}{said[1:]}",
    )


def holidays_not_known() -> Sentence:
    """Tell that public holidays, on which many doors are shut, are not known."""
    return line(
        "Public holidays are not known on part of the route: what is open by its hours may be shut "
        "on one. Ask before you ride."
    )


def holiday_unsaid(day: int, silent: int, shops: int) -> Sentence:
    """Name a public holiday of which the hours of some of the shops passed say nothing."""
    return line(
        "Day {day} falls on a public holiday: the hours of {silent} of the {shops} shops you pass "
        "say nothing of it, and they may be shut.",
        day=day,
        silent=silent,
        shops=shops,
    )


def no_road_to(places: Sequence[Part]) -> Sentence:
    """Name places that are left out as no road to them is known."""
    return line(
        "The map shows no road to {places}, so the plan does not use {them}.",
        places=few(places),
        them="it" if len(places) == 1 else "them",
    )


def roads_not_known(missing_m: float) -> Sentence:
    """Tell of ways that are estimates; infinite metres stand for a map without any road."""
    where = line("on this map")
    if math.isfinite(missing_m):
        where = line("under {far} of the way", far=way(missing_m))
    return line(
        "No roads are known {where}: ways to places there are estimates by straight line. A river "
        "or a ridge may lie between.",
        where=where,
    )


def ice_likely(places: Sequence[Part]) -> Sentence:
    """Name where the food rests on ice that the map does not state."""
    if len(places) == 1:
        return line(
            "Ice at {place} is likely, not certain: ask there, or buy food that keeps.",
            place=places[0],
        )
    return line(
        "Ice is likely, not certain, at {places}: ask there, or buy food that keeps.",
        places=listed(places),
    )


def fuel_likely(places: Sequence[Part]) -> Sentence:
    """Name stations whose tags name other fuels, not what the tank takes."""
    return line(
        "The map does not name your fuel at {places}: it is likely, not certain. Ask ahead, or "
        "fill up before.",
        places=few(places),
    )
