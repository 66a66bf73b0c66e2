"""Sentences about a cooler: what ice it takes, whether it stays cold, what if there is none.

In: an `IcePlan`, and how instants become local time. Out: sentences. Place names are map text and
come out as they went in.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import TYPE_CHECKING

from resupply.common.quantity import (
    Sentence,
    count,
    day_time,
    days,
    duration,
    joined,
    limit,
    line,
    listed,
    mass,
    name,
    percent,
    room,
    temp,
    warmest,
)
from resupply.common.units import S_PER_DAY, S_PER_HOUR
from resupply.kitchen.cold.cooler import cooler_data
from resupply.kitchen.cold.ice_plan import IceState
from resupply.kitchen.cold.simulate import LIMIT_C
from resupply.kitchen.food.storage_classes import load_storage
from resupply.kitchen.food.warm_time import make_history, start_clock
from resupply.say.ice import camp_freezer_words
from resupply.say.ice_price import price_words, spared_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from resupply.common.quantity import Part, Quantity
    from resupply.kitchen.cold.ice_plan import IcePlan, Without
    from resupply.kitchen.ice_price import Spared

__all__ = [
    "Local",
    "assumptions",
    "ice_words",
    "if_none",
    "other_form_words",
    "plan_words",
    "room_words",
    "verdict",
]

Local = Callable[[float], dt.datetime]
"""UTC epoch seconds to aware local time."""

_WEEK_S = 7 * S_PER_DAY
"""Cold food for longer than that is told with the work it makes. Our choice."""
_LEAST_L = 0.05
"""Less is told as an empty cooler: it would read as 0 L."""


def if_none(plan: IcePlan, doubt: Without, local: Local) -> Sentence:
    """Say what to do if a likely place has no ice."""
    at_s, fails_s = doubt.stop.at_s, doubt.fails_at_s
    instead = None
    if doubt.then:
        first = doubt.then[0]
        instead = line(
            "The next ice is {kg} at {place}.", kg=mass(first.kg), place=name(first.stop.label)
        )
    here = _foods(n.what for n in plan.needs if abs(n.start_s - at_s) < S_PER_HOUR)
    if fails_s is not None and fails_s - at_s < S_PER_HOUR and here and plan.limit_c <= LIMIT_C:
        return joined(
            line("If there is none, buy food that keeps instead of: {foods}.", foods=here), instead
        )
    if fails_s is not None:
        said = line(
            "If there is none, the cooler is above {limit} from {when}.",
            limit=limit(plan.limit_c),
            when=_when(local, fails_s),
        )
        return joined(said, instead)
    if plan.unknown_from_s is not None:
        return joined("If there is none, it still holds as far as the weather is known.", instead)
    return joined("If there is none, it still holds.", instead)


def plan_words(plan: IcePlan, local: Local, spared: Spared | None = None) -> Sentence:
    """Say everything there is to say about one cooler."""
    saved = None if spared is None else spared_words(plan, spared)
    cooler = plan.cooler.name.capitalize()
    if plan.state is IceState.NO_NEED:
        nothing = line("{cooler} cooler: nothing that must stay cold is planned.", cooler=cooler)
        return joined(nothing, _too_full(plan, local), saved)
    if plan.state is IceState.NO_COOLER:
        return line(
            "{cooler}: no cooler. What should stay cold is as warm as the air, day and night.",
            cooler=cooler,
        )
    unknown = holds = long = None
    if plan.unknown_from_s is not None:
        unknown = line(
            "From {when} the weather is not known, so whether it stays at or below {limit} is not "
            "known either.",
            when=_when(local, plan.unknown_from_s),
            limit=limit(plan.limit_c),
        )
        if plan.fails_at_s is None and not plan.over_l:
            holds = "Until then it holds."
    needed_s = sum(b - a for a, b in plan.need_spans)
    if needed_s > _WEEK_S and plan.purchases:
        long = line(
            "{days} of cold food take {stops} and {kg} of ice: fresh food bought on the day it is "
            "eaten takes none.",
            days=days(round(needed_s / S_PER_DAY)),
            stops=count(plan.stops, "ice stop"),
            kg=mass(plan.bought_kg),
        )
    return joined(
        line("{cooler} cooler: {ice}", cooler=cooler, ice=ice_words(plan)),
        price_words(plan),
        saved,
        _held(plan, local),
        camp_freezer_words(plan, local),
        unknown,
        holds,
        _no_ice(plan, local),
        _frost(plan),
        long,
    )


def _frost(plan: IcePlan) -> Sentence | None:
    """Say what freezes, where there is frost while food is inside."""
    lowest_c = plan.coldest_c
    if not lowest_c <= 0.0 or plan.limit_c > LIMIT_C:
        return None
    return line(
        "Frost, down to {low}: eggs, drinks in glass and vegetables can freeze, and glass bursts. "
        "Shut in the cooler they freeze last.",
        low=temp(lowest_c),
    )


def verdict(plan: IcePlan, local: Local) -> Sentence:
    """Say whether it fits, stays cold and has ice left; empty if there is nothing to say."""
    said = [_too_full(plan, local)]
    if plan.need_spans:
        said += [_cold(plan, local), _no_ice(plan, local)]
    first, *more = [sentence for sentence in said if sentence] or [Sentence()]
    if not first:
        return first
    return joined(
        line(
            "{cooler} cooler: {said}",
            cooler=plan.cooler.name.capitalize(),
            said=_within(first),
        ),
        *more,
    )


def room_words(plan: IcePlan, local: Local) -> Sentence:
    """Say how full the cooler gets, in a few words; empty without one, or with nothing in it."""
    at_s, fullest_l = plan.fullest
    if plan.cooler.kind == "none" or fullest_l < _LEAST_L:
        return Sentence()
    fullest, usable, when = room(fullest_l), room(plan.cooler.usable_l), _when(local, at_s)
    if plan.over_l:
        return line("{all}, only {usable} fit, {when}", all=fullest, usable=usable, when=when)
    if not plan.fit_known:
        return line("{all} of {usable} without ice, {when}", all=fullest, usable=usable, when=when)
    return line("{all} of the {usable} that fit, {when}", all=fullest, usable=usable, when=when)


def ice_words(plan: IcePlan) -> Sentence:
    """Say how much ice comes from where."""
    home_kg = sum(p.loaded_kg for p in plan.purchases if not p.stop.counts)
    home_kg += sum(s.loaded_kg for s in plan.stated if s.load.label == "home")
    board_kg = sum(s.loaded_kg for s in plan.stated if s.load.label != "home")
    parts = [line("{kg} of ice from home", kg=mass(home_kg))] if home_kg else []
    parts += [line("{kg} of ice on board", kg=mass(board_kg))] if board_kg else []
    if plan.stops:
        parts.append(
            line(
                "{kg}{of} at {stops} on the way",
                kg=mass(sum(p.kg for p in plan.purchases if p.stop.counts)),
                of=None if parts else " of ice",
                stops=count(plan.stops, "ice stop"),
            )
        )
    return line("{parts}.", parts=listed(parts, " and ") if parts else "no ice to buy")


def other_form_words(plan: IcePlan, other: IcePlan, local: Local) -> Sentence:
    """Compare blocks with cubes: what the same food would take."""
    block = not other.purchases or other.purchases[0].stop.form == "block"
    ends: Part = None
    if other.fails_at_s is not None:
        ends = line(
            "It would be above {limit} from {when}.",
            limit=limit(other.limit_c),
            when=_when(local, other.fails_at_s),
        )
    elif other.unknown_from_s is not None:
        ends = "It would hold as far as the weather is known."
    elif plan.fails_at_s is not None:
        ends = "It would stay cold."
    more = "Only their smaller room is counted: published guidance says a block also lasts longer."
    return joined(
        line(
            "With {these} instead of {those}: {ice}",
            these="blocks" if block else "cubes",
            those="cubes" if block else "blocks",
            ice=ice_words(other),
        ),
        ends,
        more if block else None,
    )


def assumptions(plans: Sequence[IcePlan]) -> list[Sentence]:
    """Say what was taken for granted about the coolers."""
    data = cooler_data()
    keep_kg = max((plan.keep_kg for plan in plans), default=0.0)
    return [
        *(
            line(
                "{cooler} cooler: {source}.",
                cooler=p.cooler.name.capitalize(),
                source=p.cooler.ua_source,
            )
            for p in plans
        ),
        line(
            "The inside counts as {zero} while there is ice, then as one temperature throughout.",
            zero=limit(0.0),
        ),
        line("The top of a real cooler is warmer than its mean: what spoils goes against the ice."),
        line("Sun: {source}.", source=data["sun"]["source"]),
        line("Lid: {source}.", source=data["lid"]["source"]),
        line(
            "At least {keep} of ice is kept while perishables are inside (our margin, no source).",
            keep=mass(keep_kg),
        ),
        line("Air follows a half-cosine: low at about sunrise, high three hours after noon."),
        line(
            "Ice is put in at {zero}; colder ice and frost outside are not credited.",
            zero=limit(0.0),
        ),
        line("Meltwater is poured off before new food or ice goes in."),
        line(
            "Food, packs and ice fill at most {share} of the cooler (our assumption).",
            share=percent(data["room"]["usable_share"]),
        ),
    ]


def _when(local: Local, time_s: float) -> Quantity:
    return day_time(local(time_s))


def _within(sentence: Sentence) -> Sentence:
    """Sentence as it is read after a colon; it begins with a word of ours."""
    first, *rest = sentence
    return Sentence([f"{str(first)[0].lower()}{str(first)[1:]}", *rest])


def _foods(names: Iterable[str]) -> Sentence:
    # Names of food hold commas of their own.
    return listed((name(food) for food in sorted({food for food in names if food})), "; ")


def _too_full(plan: IcePlan, local: Local) -> Sentence | None:
    """Say that food and packs do not fit, and what that means."""
    if not plan.over_l:
        return None
    at_s, fullest_l = plan.fullest
    drinks = plan.limit_c > LIMIT_C
    what = "drinks and packs" if drinks else "food and packs"
    if not plan.cooler.packs_kg:
        what = "drinks" if drinks else "food"
    return line(
        "It does not all fit: {all} of {what} on {when}, {over} too much. What lies outside does "
        "not stay cold: take less, or a larger cooler.",
        what=what,
        all=room(fullest_l),
        when=_when(local, at_s),
        over=room(plan.over_l),
    )


def _held(plan: IcePlan, local: Local) -> Sentence:
    """Say whether it fits and stays cold, as far as the weather is known; empty if nothing is."""
    return joined(_too_full(plan, local), _cold(plan, local))


def _cold(plan: IcePlan, local: Local) -> Sentence | None:
    most, drinks = limit(plan.limit_c), plan.limit_c > LIMIT_C
    likely = [name(p.stop.label) for p in plan.purchases if p.stop.confidence != "stated"]
    if plan.fails_at_s is None:
        if plan.unknown_from_s is not None or plan.over_l:
            return None
        return line(
            "It stays at or below {limit} {during}{given}.",
            limit=most,
            during="while you ride" if drinks else "while anything that spoils is inside",
            given=line(", if there is ice at {places}", places=listed(likely)) if likely else None,
        )
    above = duration(sum(b - a for a, b in plan.above))
    when, worst = _when(local, plan.fails_at_s), warmest(plan.worst_c)
    if drinks:
        return line(
            "It is above {limit} for {long} in all, first from {when}, and up to {worst}: a "
            "matter of comfort, not of safety.",
            limit=most,
            long=above,
            when=when,
            worst=worst,
        )
    inside = _foods(n.what for n in plan.needs if n.start_s <= plan.fails_at_s < n.end_s)
    before = [p for p in plan.purchases if p.stop.at_s <= plan.fails_at_s]
    return joined(
        line(
            "It does not stay cold: above {limit} from {when}{inside}, {long} in all, up to "
            "{worst}, {though}.",
            limit=most,
            when=when,
            inside=line(" with {foods} inside", foods=inside) if inside else None,
            long=above,
            worst=worst,
            though="even with all the ice that fits" if before else "with no ice to add before",
        ),
        _spoils(plan, local),
    )


def _spoils(plan: IcePlan, local: Local) -> Sentence:
    """Say what to do with food that gets warm: before a trip plan, under way throw it out."""
    if not plan.cooler.under_way:
        return line("Eat what spoils before then, or plan it differently.")
    gone_s, since = _thrown_out_s(plan), None
    if gone_s is not None:
        since = line(": by our estimate from {when}", when=_when(local, gone_s))
    return line(
        "Throw out what spoils once it was above {limit} for more than 2 hours in all, 1 hour in "
        "the heat{since}; time before now counts too, and cooking does not mend it.",
        limit=limit(LIMIT_C),
        since=since,
    )


def _thrown_out_s(plan: IcePlan) -> float | None:
    """When what is inside has been warm for its 2 hours, 1 once it was hot; None: not so long."""
    rule, trace = load_storage().rule, plan.trace
    clock = start_clock(
        make_history(*trace.history()), above_c=plan.limit_c, hot_c=rule["hot_c"].value
    )
    usual_s, hot_s = rule["warm_h"].value * S_PER_HOUR, rule["hot_h"].value * S_PER_HOUR
    end_s = clock.run_out(float(trace.times_s[0]), usual_s, hot_s).deadline_s
    return end_s if end_s <= plan.need_spans[-1][1] else None


def _no_ice(plan: IcePlan, local: Local) -> Sentence | None:
    if plan.no_ice_from_s is None or plan.limit_c > LIMIT_C:
        return None
    return line(
        "No ice is left from {when}: published guidance discards perishables once the ice is gone.",
        when=_when(local, plan.no_ice_from_s),
    )
