"""Sentences about water: how much to take on, and whether what is on board lasts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.common.quantity import Quantity, Sentence, at, count, joined, line, volume

if TYPE_CHECKING:
    from resupply.say.names import Words
    from resupply.supply.water import WaterGap

__all__ = ["most_water", "water_on_board", "water_to_take"]


def water_to_take(gap: WaterGap, words: Words) -> Sentence:
    """Say how much water to take on at one place to last to the next."""
    return _take(gap, words, "")


def most_water(gap: WaterGap, words: Words, *, n_shut: int) -> Sentence:
    """Say how much water is on board at the most.

    Parameters
    ----------
    n_shut
        Number of places with water that are shut on arrival or may be dry.
    """
    shut = None
    if n_shut:
        shut = line(
            "{places} with water not counted: shut when you pass, or may be dry.",
            places=count(n_shut, "place"),
        )
    return joined(_take(gap, words, "Most water to carry: "), shut)


def water_on_board(
    gap: WaterGap, have_l: float | None, words: Words, *, maybe_hot: bool
) -> Sentence:
    """Say whether what is on board lasts to the first place with water.

    Parameters
    ----------
    have_l
        Litres on board; None where not stated.
    maybe_hot
        The heat is not known, so more may be drunk.
    """
    need = line(
        "{litres} for all to {place} ({there}){unknown}",
        litres=volume(gap.litres),
        place=words.named(gap.end_row) if gap.end_row >= 0 else "the end of the route",
        there=_there(gap.end_row, gap.end_m, words),
        unknown=" (map data is missing on part of the way)" if gap.crosses_unknown else None,
    )
    if have_l is None:
        return line("How much water is on board is not stated: you need {need}.", need=need)
    have = volume(have_l)
    if have_l < gap.litres:
        return line(
            "Your water does not last: you need {need} and have {have}.", need=need, have=have
        )
    return joined(
        line("You have {have} of water on board and need {need}.", have=have, need=need),
        "The heat is not known: if it is hot you need more." if maybe_hot else None,
    )


def _take(gap: WaterGap, words: Words, head: str) -> Sentence:
    source = None
    if gap.start_row >= 0:
        off = words.off_route(gap.start_row)
        source = line(
            " ({place}{off})",
            place=words.named(gap.start_row),
            off=line(", {way}", way=off) if off else None,
        )
    return joined(
        line(
            "{head}{litres} for all, from {start}{source} to {end}{nights}.",
            head=head,
            litres=volume(gap.litres),
            start=_there(gap.start_row, gap.start_m, words),
            source=source,
            end=_there(gap.end_row, gap.end_m, words),
            nights=f", over {count(gap.dry_camps, 'night')}" if gap.dry_camps else None,
        ),
        "Buy it there, with the food." if gap.buy else None,
        "Treat this water before you drink it." if gap.treat else None,
        "Map data is missing on part of it: less if you find water there."
        if gap.crosses_unknown
        else None,
    )


def _there(row: int, gap_m: float, words: Words) -> Quantity:
    return words.at_pass(row) if row >= 0 else at(gap_m)
