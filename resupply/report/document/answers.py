"""The three answers that stand first, and the one line on what could go wrong most.

In: a plan and the rows of its document. Out: sentences and what they are about; nothing is
worked out that the rows do not hold.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from resupply.common.quantity import (
    Quantity,
    Sentence,
    as_sentence,
    at,
    closing,
    count,
    date,
    day_time,
    joined,
    limit,
    line,
    listed,
    mass,
    meals,
    name,
    room,
    time,
    way,
    weekday,
)
from resupply.hours.state import BY_HOURS
from resupply.report.document.cautions import coolers_of
from resupply.report.document.model.answers import FirstAnswer, FirstAnswers, WorstCase
from resupply.report.document.passes import row_of
from resupply.say.gaps import sure_gap
from resupply.say.states import state_key, words_of

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from resupply.plan.pipeline import TripPlan
    from resupply.report.document.model.cold import CoolerRow
    from resupply.report.document.model.gaps import GapRow
    from resupply.report.document.model.ice import IcePlace
    from resupply.report.document.model.places import PassRow
    from resupply.report.document.model.plan import PlanDocument
    from resupply.report.document.model.stops import StopRow
    from resupply.say.names import Words
    from resupply.say.under_way import Tone

__all__ = ["answers"]

_SURE: Final = frozenset(state_key(state) for state in BY_HOURS)
_MOST_ICE: Final = 2
"""Our choice: so many places with ice are named in one line."""
_NOT_KNOWN, _NO_FIGURE = "Not known", "?"
"""An answer that is not known has no figure either: 0 kg or a kilometre would look like one."""


def answers(plan: TripPlan, document: PlanDocument, words: Words) -> FirstAnswers:
    """Answer the three questions of a rider from the rows of a plan document."""
    passes = {row.id: row for row in document.passes}
    return FirstAnswers(
        shops=(
            *(_shop(stop, passes.get(stop.pass_id)) for stop in document.stops),
            _no_shop(document),
        ),
        stretch=_stretch(plan, document),
        ice=_ice(plan, document, words),
        worst=_worst(plan, document, words),
    )


def _moment(when: dt.datetime) -> Sentence:
    return line("{date}, {time}", date=date(when), time=time(when))


def _shop(stop: StopRow, crossing: PassRow | None) -> FirstAnswer:
    buy = f"buy {meals(stop.carry_meals)} each" if stop.carry_meals else "the spare food is enough"
    return FirstAnswer(
        figure=as_sentence(way(stop.chainage_m)),
        question=line("Next shop · {when}", when=_moment(stop.arrive)),
        answer=as_sentence(name(stop.name)),
        detail=as_sentence(buy),
        tone="plain" if stop.state in _SURE else "caution",
        state=stop.state,
        state_words=_door(stop.state, crossing),
        pass_id=stop.pass_id,
        start_m=stop.chainage_m,
        until=stop.leave,
    )


def _door(state: str, crossing: PassRow | None) -> Sentence:
    """Open state in few words: till when, where that is known."""
    shuts = crossing.next_close if crossing is not None else None
    if state == "open":
        return line("open till {shuts}", shuts=closing(shuts)) if shuts else as_sentence("open")
    if state == "tight" and shuts:
        return line("may be shut: open till {shuts}", shuts=closing(shuts))
    return as_sentence(words_of(state).word)


def _no_shop(document: PlanDocument) -> FirstAnswer:
    last = document.legs[-1].end_m
    stops = bool(document.stops)
    unknown = bool(document.coverage.unknown)
    said = "None planned"
    if not stops and unknown:
        said = _NOT_KNOWN
    load = document.start_carry.meals if not stops else document.stops[-1].carry_meals
    return FirstAnswer(
        figure=as_sentence(_NO_FIGURE if said == _NOT_KNOWN else way(last)),
        question=as_sentence("Next shop after the last stop" if stops else "Next shop"),
        answer=as_sentence(f"{said} before the end" if said == "None planned" else said),
        detail=line("{meals} each on board, to {end}", meals=meals(load), end=at(last))
        if load
        else line("no meal on the way to {end}", end=at(last)),
        tone="caution" if not stops else "plain",
        end_m=last,
    )


def _stretch(plan: TripPlan, document: PlanDocument) -> FirstAnswer:
    """Tell the longest stretch; only where a meal falls into it is it a caution."""
    gap = document.gaps["groceries"].longest
    sure = sure_gap(plan)
    doubt = None
    if sure is not None:
        doubt = line(
            "by usual hours; for sure {far}, {meals}",
            far=way(sure.length_m),
            meals=meals(sure.meals) if sure.meals else "no meal",
        )
    if gap.crosses_unknown:
        doubt = line("map data is missing on it")
    without = "no full shop open" if gap.has_shut else "no full shop"
    spent = meals(gap.meals) if gap.meals else "no meal"
    return FirstAnswer(
        figure=as_sentence(way(gap.length_m)),
        question=as_sentence(f"Longest stretch, {without}"),
        answer=line("{span}", span=_span(plan, document, gap)),
        detail=listed(
            [
                line("{a} to {b}", a=at(gap.start_m), b=at(gap.end_m)),
                spent,
                _days(document, gap),
                doubt,
            ],
            " · ",
        ),
        # Amber only where it costs a meal, or where nobody can tell.
        tone="caution"
        if gap.meals or gap.crosses_unknown or (sure is not None and sure.meals)
        else "plain",
        start_m=gap.start_m,
        end_m=gap.end_m,
    )


def _span(plan: TripPlan, document: PlanDocument, gap: GapRow) -> Sentence:
    """From when to when; at a stop the clock starts as it is left."""
    left = [stop.leave for stop in document.stops if stop.chainage_m == gap.start_m]
    ends = plan.clock.arrive_s([gap.start_m, gap.end_m]).tolist()
    start = left[0] if left else plan.clock.local(gap.start_m, ends[0])
    end = plan.clock.local(gap.end_m, ends[1])
    if start.date() == end.date():
        return line("{start} to {end}", start=day_time(start), end=time(end))
    return line("{start} to {end}", start=day_time(start), end=day_time(end))


def _days(document: PlanDocument, gap: GapRow) -> str:
    on = [
        leg.number for leg in document.legs if leg.end_m > gap.start_m and leg.start_m < gap.end_m
    ]
    return f"day {on[0]}" if len(on) == 1 else f"days {on[0]}–{on[-1]}"


def _ice(plan: TripPlan, document: PlanDocument, words: Words) -> FirstAnswer:
    stops = [row for row in document.ice.stops if row.buy]
    total_kg = sum(buy.kg for row in stops for buy in row.buy)
    if not stops:
        return _no_ice(plan, document)
    first, rest = stops[0], stops[1:_MOST_ICE]
    more = len(stops) - 1 - len(rest)
    return FirstAnswer(
        figure=as_sentence(mass(total_kg)),
        question=as_sentence(f"Ice, {count(len(stops), 'place')}"),
        answer=line(
            "{day}: {kg}, {place}",
            day=_short(first.eta),
            kg=_bought(first),
            place=words.named(row_of(first.pass_id)),
        ),
        detail=listed(
            [
                line("{at}, {sure}", at=at(first.chainage_m), sure=_sure(first)),
                *(
                    line(
                        "{day} {kg}, {at}, {sure}",
                        day=_short(row.eta),
                        kg=_bought(row),
                        at=at(row.chainage_m),
                        sure=_sure(row),
                    )
                    for row in rest
                ),
                f"{more} more" if more else None,
            ],
            " · ",
        ),
        tone="alarm"
        if any(_is_warm(cooler) or cooler.room.over_l for cooler in _for_food(document))
        else "plain"
        if all(_sure(row) == "sure" for row in stops)
        else "caution",
        pass_id=first.pass_id,
        start_m=first.chainage_m,
        until=first.eta,
    )


def _short(when: dt.datetime) -> str:
    return weekday(when.date())[:3]


def _bought(row: IcePlace) -> Quantity:
    return mass(sum(buy.kg for buy in row.buy))


def _sure(row: IcePlace) -> str:
    """Tell whether the map states ice there and the door is open: else ask."""
    stated = row.confidence == "stated" and all(buy.confidence == "stated" for buy in row.buy)
    return "sure" if stated and row.state in _SURE else "ask"


def _for_food(document: PlanDocument) -> list[CoolerRow]:
    return [cooler for cooler in coolers_of(document) if cooler.safety]


def _is_warm(cooler: CoolerRow) -> bool:
    return cooler.state == "fails" or cooler.no_ice_from is not None


def _no_ice(plan: TripPlan, document: PlanDocument) -> FirstAnswer:
    """Say why none is bought: none is needed, none can be, or nothing is known."""
    coolers, places = coolers_of(document), (*document.ice.stops, *document.ice.spare)
    cold = _for_food(document)
    tone: Tone = "plain"
    said, detail = "None needed", "no cooler"
    if any(cooler.room.over_l for cooler in cold):
        said, detail, tone = "None to buy", "not all food fits in the cooler", "alarm"
    elif any(_is_warm(cooler) for cooler in cold):
        said, detail, tone = "None in time", "the cooler does not stay cold", "alarm"
    elif any(cooler.state == "not known" for cooler in cold):
        said, detail, tone = _NOT_KNOWN, "whether the cooler stays cold", "caution"
    elif any(cooler.state == "holds" for cooler in coolers):
        detail = "the ice from home lasts"
    elif any(cooler.spared_ice_kg for cooler in cold):
        said, detail = "None to buy", "it would outweigh its food"
    elif document.cold is None and plan.trip.cooler.kind != "none":
        # While the rider drags, the cooler is not followed.
        said, detail = "Not worked out yet", f"{count(len(places), 'place')} with ice on the way"
    return FirstAnswer(
        figure=as_sentence(_NO_FIGURE if said == _NOT_KNOWN else mass(0.0)),
        question=as_sentence("Ice to buy"),
        answer=as_sentence(said),
        detail=as_sentence(detail),
        tone=tone,
    )


def _worst(plan: TripPlan, document: PlanDocument, words: Words) -> WorstCase | None:
    """Give what costs most: a dry tank, warm food, then meals × riders, a spared meal."""
    told = sorted(_risks(plan, document, words), key=lambda one: -one[0])
    return told[0][1] if told else None


_DRY_TANK, _COLD, _LIKELY_ICE, _COVERED = 1_000.0, 500.0, 0.6, 0.3
"""Our choice: what a failure costs beside one missed meal of one rider, which is 1. A shut door may
be; a tank that runs dry and food that gets warm are certain."""


def _risks(
    plan: TripPlan, document: PlanDocument, words: Words
) -> Iterator[tuple[float, WorstCase]]:
    people = plan.trip.party.people
    if document.fuel is not None and document.fuel.exceeded:
        dry = document.fuel.exceeded[0]
        far = line(
            "No fuel for {far} from {start}: beyond your tank. Carry a can, or ask ahead.",
            far=way(dry.end_m - dry.start_m),
            start=at(dry.start_m),
        )
        yield _DRY_TANK, WorstCase(words=far, start_m=dry.start_m, end_m=dry.end_m)
    for short in document.shortfalls:
        cure = short.remedies[0].words if short.remedies else "Carry more, or eat out"
        yield (
            float(short.excess_meals * people),
            WorstCase(
                words=line(
                    "{meals} each without a shop, {over} over your limit. {cure}",
                    meals=meals(short.meals),
                    over=short.excess_meals,
                    cure=cure,
                ),
                start_m=short.start_m,
                end_m=short.end_m,
            ),
        )
    gap = document.gaps["groceries"].longest
    if gap.crosses_unknown and gap.meals:
        yield (
            gap.meals * people / 2.0,
            WorstCase(
                words=line(
                    "No map data on part of {a} to {b}: shops not known. Carry {meals} each.",
                    a=at(gap.start_m),
                    b=at(gap.end_m),
                    meals=meals(gap.meals),
                ),
                start_m=gap.start_m,
                end_m=gap.end_m,
            ),
        )
    yield from _shut(document, words, people)
    for cooler in _for_food(document):
        if over_l := cooler.room.over_l:
            said = line(
                "Not all food fits in the cooler: {over} too much on {when}. Take less, or a "
                "larger cooler.",
                over=room(over_l),
                when=day_time(cooler.room.fullest_at),
            )
            yield _COLD + 1.0, WorstCase(words=said)
        if cooler.state == "fails" and cooler.fails_at is not None:
            said = line(
                "The food goes above {limit} on {when}: eat what spoils before, or buy food that "
                "keeps.",
                limit=limit(cooler.limit_c),
                when=day_time(cooler.fails_at),
            )
            yield _COLD, WorstCase(words=said)
    doubtful = [row for row in document.ice.stops if row.buy and _sure(row) == "ask"]
    if doubtful:
        yield (
            _LIKELY_ICE,
            WorstCase(
                words=line(
                    "Ice at {at} is not certain. Ask there, or buy food that keeps.",
                    at=at(doubtful[0].chainage_m),
                ),
                start_m=doubtful[0].chainage_m,
            ),
        )


def _shut(document: PlanDocument, words: Words, people: int) -> Iterator[tuple[float, WorstCase]]:
    """Tell of the stop whose shut door asks for most food, and what feeds the riders then."""
    spare = document.spare
    if spare.worst_stop is None:
        return
    stop = document.stops[spare.worst_stop - 1]
    beyond = spare.worst_more_meals - spare.meals
    if stop.fallback.kind == "none":
        then: Sentence = line("No shop follows")
    else:
        eta = stop.fallback.eta
        then = line(
            "Next open shop {far} on{when}",
            far=way(stop.fallback.distance_m),
            # A night between them takes more food than the way tells.
            when=line(", {at}", at=day_time(eta))
            if eta and eta.date() > stop.arrive.date()
            else None,
        )
    if beyond > 0:
        can_ring = words.can_ring(row_of(stop.pass_id))
        cure = f"{'Ring ahead, or carry' if can_ring else 'Carry'} {beyond} more"
        said = joined(
            line("{shop} shut? {then}.", shop=name(stop.name), then=then),
            f"{meals(beyond).capitalize()} each would be missing. {cure}.",
        )
        yield float(beyond * people), WorstCase(words=said, start_m=stop.chainage_m)
    elif spare.worst_more_meals > 0:
        kept = f"your {spare.meals} spare meals cover it"
        said = line("{shop} shut? {then}: {kept}.", shop=name(stop.name), then=then, kept=kept)
        yield _COVERED, WorstCase(words=said, start_m=stop.chainage_m)
