"""Gaps and ice of a plan as document blocks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from resupply.common.quantity import line
from resupply.common.units import S_PER_HOUR
from resupply.places.place import Supply
from resupply.report.document.model.gaps import GapRow, SupplyGaps
from resupply.report.document.model.ice import IceBuy, IceDocument, IcePlace
from resupply.report.document.passes import pass_id, row_of
from resupply.say.gaps import gap_words, longest_words
from resupply.say.ice import ice_buys_words, ice_place, rule_of_thumb
from resupply.say.states import state_key

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from resupply.common.quantity import Sentence
    from resupply.plan.pipeline import TripPlan
    from resupply.say.names import Words
    from resupply.supply.gaps import Gap

__all__ = ["gap_block", "ice_block"]

_DRAWN: Final = 200
"""Gaps on the strip while the rider drags: the others are too narrow to be told apart (ours)."""


def gap_block(
    plan: TripPlan, words: Words, kind: Supply, *, quick: bool = False, lists: bool = True
) -> SupplyGaps:
    """Gaps of one supply, the longest named.

    Quick ones have words for the longest only, and of full shops so many as the strip can show.

    Parameters
    ----------
    lists
        Whether to list them all.
    """
    gaps = plan.gaps[kind]
    listed: Sequence[Gap] = ()
    if quick and kind is Supply.GROCERIES:
        listed = gaps.most(_DRAWN)
    elif lists and not quick:
        listed = gaps
    sure = None
    if kind is Supply.GROCERIES:
        sure = _row(plan.sure_gap, words, gap_words(plan.sure_gap, words, kind, stated=True))
    return SupplyGaps(
        longest=_row(gaps.longest, words, longest_words(plan, words, kind)),
        stated=sure,
        all=tuple(
            _row(gap, words, None if quick else gap_words(gap, words, kind)) for gap in listed
        ),
        count_passes=len(gaps) - 1,
    )


def _row(gap: Gap, words: Words, said: Sentence | None) -> GapRow:
    return GapRow(
        start_m=round(gap.start_m),
        end_m=round(gap.end_m),
        length_m=round(gap.length_m),
        ride_s=round(gap.ride_s),
        wall_s=round(gap.wall_s),
        meals=gap.meals,
        days=gap.days,
        from_words="the start" if gap.start_row < 0 else words.name(gap.start_row),
        to_words="the end" if gap.end_row < 0 else words.name(gap.end_row),
        crosses_unknown=gap.crosses_unknown,
        has_shut=gap.has_shut,
        jump_m=round(gap.jump_m),
        words=said,
    )


def ice_block(
    plan: TripPlan,
    words: Words,
    buys: Mapping[str, Sequence[IceBuy]] | None = None,
    *,
    short: bool = False,
) -> IceDocument:
    """Where to buy ice.

    Parameters
    ----------
    buys
        Ice to buy by pass id, where the cold chain tells: then those places are the stops, and
        the others are spare. None where it does not: then there is one a day. Without a cooler
        there is none, and all are spare.
    short
        The food cooler does not stay cold.
    """
    daily = {stop.row for stop in plan.ice}
    rows = daily | {row_of(key) for key in buys or ()}
    if buys is not None:
        rows |= {stop.row for stop in plan.ice_elsewhere}
    told = [
        _ice_row(plan, words, row, (buys or {}).get(pass_id(row), ()))
        for row in sorted(rows, key=lambda row: (float(plan.arrive_s[row]), row))
    ]
    longest_s = max((gap.wall_s for gap in plan.ice_gaps), default=0.0)
    stops = told if buys is None else [row for row in told if row.buy]
    rule: Sentence | None = None
    if plan.trip.cooler.kind == plan.trip.drinks_cooler.kind == "none":
        stops, said = [], line("There is no cooler: no ice is planned.")
    elif buys is None:
        said, rule = rule_of_thumb(longest_s, known=bool(told))
    else:
        said = ice_buys_words(
            n_places=len(stops),
            n_likely=sum(row.confidence != "stated" for row in stops),
            ice_kg=sum(buy.kg for row in stops for buy in row.buy),
            known=bool(told),
            short=short,
        )
    return IceDocument(
        stops=tuple(stops),
        spare=tuple(row for row in told if row not in stops),
        longest_gap_h=round(longest_s / S_PER_HOUR, 1) if daily else None,
        words=said,
        rule_words=rule,
    )


def _ice_row(plan: TripPlan, words: Words, row: int, buys: Sequence[IceBuy]) -> IcePlace:
    arrive_s, risk = float(plan.arrive_s[row]), int(plan.risk[row])
    confidence = words.place(row).supplies[Supply.ICE]
    chainage_m = float(plan.prepared.passes.chainage_m[row])
    number = plan.with_ice.get(row, 0)
    stop = plan.supply.stops[number - 1] if number else None
    leg_ix = stop.leg_ix if stop else int(plan.clock.leg_ix([chainage_m])[0])
    day = plan.legs[leg_ix].number
    beside = stop.row if stop is not None and stop.row != row else None
    return IcePlace(
        leg=day,
        pass_id=pass_id(row),
        confidence=confidence.value,
        chainage_m=round(chainage_m),
        eta=words.local(row, arrive_s),
        state=state_key(risk),
        state_words=words.state(row, arrive_s, risk),
        at_stop=number or None,
        buy=tuple(buys),
        words=ice_place(row, day, words, [buy.words for buy in buys], beside=beside),
    )
