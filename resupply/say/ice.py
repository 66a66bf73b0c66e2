"""Sentences about ice on the way: where it is, how much to buy, how sure it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.common.quantity import (
    Part,
    Sentence,
    count,
    day_time,
    duration,
    joined,
    line,
    listed,
    mass,
    name,
)
from resupply.common.units import S_PER_DAY
from resupply.places.place import Confidence, Supply

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Sequence

    from resupply.kitchen.cold.ice_plan import IcePlan, Purchase, Stated
    from resupply.say.names import Words

__all__ = [
    "bags",
    "camp_freezer_words",
    "ice_buys_words",
    "ice_place",
    "on_board_words",
    "purchase_words",
    "rule_of_thumb",
]

_LEAST_KG = 0.05
"""So much less than was bought is told: it is a tenth of a kilogram as it is read."""
_NIGHT_S = 1.5 * S_PER_DAY
"""A shorter trip has no night in camp; it is counted to the midnight after it. Our choice."""
_LIKELY = "likely, not on the map: ask before you rely on it"


def ice_place(
    row: int, day: int, words: Words, buys: Sequence[Part], *, beside: int | None = None
) -> Sentence:
    """Say where ice is, how sure that is, and what to buy there.

    Parameters
    ----------
    day
        Number of the day on which the place is passed.
    buys
        What to buy, one sentence a cooler.
    beside
        Pass row of the food stop at the same spot, where it is another place.
    """
    place = words.place(row)
    sure = "ice is on the map" if place.supplies[Supply.ICE] is Confidence.STATED else _LIKELY
    if place.id in words.plan.trip.shops.has_ice:
        sure = "you found ice there"
    return joined(
        line(
            "Day {day}: {place}, {there} ({sure}).",
            day=day,
            place=words.named(row),
            there=words.at_pass(row),
            sure=sure,
        ),
        None
        if beside is None
        else line("It is beside {shop}, where you buy food.", shop=words.named(beside)),
        *(line("Buy {buy}", buy=buy) for buy in buys),
    )


def ice_buys_words(
    *, n_places: int, n_likely: int, ice_kg: float, known: bool, short: bool
) -> Sentence:
    """Say how much ice to buy on the way.

    Parameters
    ----------
    n_places, n_likely
        Number of places to buy at, and of those where ice is only likely.
    known
        Whether any place with ice is known at all.
    short
        The food cooler does not stay cold.
    """
    if not known:
        return line("No place with ice is known along the route.")
    if not n_places and short:
        return line("No ice can be bought in time: the food cooler does not stay cold.")
    if not n_places:
        return line("No ice need be bought on the way.")
    return line(
        "Buy {kg} of ice at {places} on the way{doubt}.",
        kg=mass(ice_kg),
        places=count(n_places, "place"),
        doubt=f"; at {n_likely} of them ice is likely, not certain" if n_likely else None,
    )


def rule_of_thumb(longest_s: float, *, known: bool) -> tuple[Sentence, Sentence]:
    """Say the longest time between ice stops, and how much ice it takes by habit.

    Parameters
    ----------
    longest_s
        Seconds by the clock.
    """
    said = line("No place with ice is known along the route.")
    if known:
        said = line("Longest time between ice stops: {long}.", long=duration(longest_s))
    return said, line(
        "Rule of thumb (common practice, no source): a bag of about {bag} for each day until the "
        "next ice, twice that on hot days.",
        bag=mass(2.0),
    )


def bags(number: int, form: str, bag_kg: float, *, of: str = "") -> Sentence:
    """Count bags or blocks of ice, with what they weigh together.

    Parameters
    ----------
    bag_kg
        One of them, kg.
    """
    return line(
        "{bags} of {each}{of}{sum}",
        bags=count(number, "bag" if form == "cube" else "block"),
        each=mass(bag_kg),
        of=of,
        sum=line(", {sum} in all", sum=mass(number * bag_kg)) if number > 1 else None,
    )


def on_board_words(stated: Stated) -> Sentence:
    """Say what ice is put in whatever the plan."""
    load, part = stated.load, stated.loaded_kg < stated.load.kg - _LEAST_KG
    return joined(
        line(
            "Ice {where}: {kg}.",
            where="from home" if load.label == "home" else load.label,
            kg=mass(load.kg),
        ),
        _will_fit(stated.loaded_kg) if part else None,
    )


def purchase_words(purchase: Purchase, doubts: Sentence | None) -> Sentence:
    """Say what ice to buy or to take along, and what if there is none.

    Parameters
    ----------
    doubts
        What to do where ice is only likely.
    """
    stop, part = purchase.stop, purchase.loaded_kg < purchase.kg - _LEAST_KG
    if stop.counts:
        said = joined(
            line(
                "{place}: {bags}.",
                place=name(stop.label),
                bags=bags(purchase.bags, stop.form, stop.bag_kg, of=" of ice"),
            ),
            _will_fit(purchase.loaded_kg) if part else None,
        )
    else:
        said = line(
            "Ice from home: {kg}{fits}.",
            kg=mass(purchase.loaded_kg),
            fits=", as much as fits" if part else None,
        )
    likely = line("Ice here is likely, not certain. {doubts}", doubts=doubts) if doubts else None
    return joined(said, likely)


def camp_freezer_words(plan: IcePlan, local: Callable[[float], dt.datetime]) -> Sentence | None:
    """Say which nights the packs are frozen again, or where to ask for it."""
    if not plan.cooler.packs_kg:
        return None
    start_s, end_s = float(plan.trace.times_s[0]), float(plan.trace.times_s[-1])
    nights = [(out_s, in_s) for out_s, in_s in plan.cooler.packs_away if out_s > start_s]
    if nights:
        return line(
            "As you said, a camp's freezer takes the packs: {nights}.",
            nights=listed(
                [
                    line("{out} to {back}", out=day_time(local(out_s)), back=day_time(local(in_s)))
                    for out_s, in_s in nights
                ]
            ),
        )
    if end_s - start_s < _NIGHT_S:
        return None
    return line(
        "Ask at the camp: freezer for packs. It counts only where you say so (camp_freezer in the "
        "trip file)."
    )


def _will_fit(mass_kg: float) -> Sentence:
    return line("Only {kg} will fit.", kg=mass(mass_kg))
