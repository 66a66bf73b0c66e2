"""The first thing a rider reads: a headline, a few facts, the cautions in order of weight."""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.common import quantity as q
from resupply.common.quantity import as_sentence, at, count, line, load, mass, meals, way
from resupply.hours.state import BY_HOURS, OpenState
from resupply.report.document.cautions import cautions, coolers_of, water_on_board
from resupply.report.document.model.summary import Fact, Summary, Tone
from resupply.say.gaps import sure_gap
from resupply.say.under_way import on_board_facts

if TYPE_CHECKING:
    from collections.abc import Iterator

    from resupply.common.quantity import Part
    from resupply.plan.pipeline import TripPlan
    from resupply.report.document.model.plan import PlanDocument
    from resupply.say.names import Words

__all__ = ["summary"]


def summary(plan: TripPlan, document: PlanDocument, words: Words) -> Summary:
    """Headline, facts and cautions of a plan document."""
    supply = plan.supply
    most = supply.most_meals
    ridden_m = plan.legs[-1].end_m - plan.legs[0].start_m
    missing_m = _missing_m(document)
    # While the rider drags nothing is cooked, and a cooler may still ask for other stops.
    about = any(row.chosen and row.approximate for row in document.styles)
    trip = line(
        "{far}{here} in {days}",
        far=way(ridden_m),
        here=None
        if plan.trip.now.at_km is None
        else line(" from {at}", at=at(plan.legs[0].start_m)),
        days=q.days(document.trip.days),
    )
    if missing_m >= ridden_m - 1.0:
        headline = line(
            "{trip}, without map data: where there are shops is not known. Without any you carry "
            "{most} each.",
            trip=trip,
            most=load(most, supply.spare_meals),
        )
    else:
        headline = line(
            "{trip} with {about}{stops}{known}. The most you carry is {about}{most} each.{cooler}",
            trip=trip,
            about="about " if about else None,
            cooler=" What the cooler needs is being worked out." if about else None,
            stops=count(len(supply.stops), "food stop"),
            known=" on the known part" if missing_m else None,
            most=load(most, supply.spare_meals),
        )
    return Summary(
        headline=headline,
        facts=tuple(_facts(plan, document, words, most)),
        cautions=tuple(as_sentence(said) for said in cautions(plan, document, words)),
    )


def _facts(plan: TripPlan, document: PlanDocument, words: Words, most: int) -> Iterator[Fact]:
    """Give a label and a few words each; the sentences stand in their own blocks."""
    yield from (_fact(*told) for told in on_board_facts(plan, water_on_board(document), words))
    supply, limit = plan.supply, plan.supply.asked.limit_meals
    missing_m = _missing_m(document)
    longest = document.gaps["groceries"].longest
    said = line(
        "{far}, {meals}{missing}{jump}",
        far=way(longest.length_m),
        meals=meals(longest.meals),
        missing="; map data is missing on it" if longest.crosses_unknown else None,
        jump=line("; the line jumps {far} on it", far=way(longest.jump_m))
        if longest.jump_m
        else None,
    )
    without = "with no full shop open" if longest.has_shut else "without a full shop"
    caution = longest.meals > limit or longest.crosses_unknown or longest.jump_m > 0
    yield _fact(f"Longest stretch {without}", said, _tone(caution))
    if (sure := sure_gap(plan)) is not None:
        said = line("{far}, {meals}", far=way(sure.length_m), meals=meals(sure.meals))
        yield _fact("Counting only shops with known hours", said, "caution")
    masses = [document.start_carry.kg, *(stop.carry_kg for stop in document.stops)]
    known, people = [kg for kg in masses if kg is not None], plan.trip.party.people
    party = f" for {people}" if people > 1 else None
    carried = line(
        "{load}{kg}",
        load=load(most, supply.spare_meals),
        kg=line(", {kg}{party}", kg=mass(max(known)), party=party) if known else None,
    )
    yield _fact("Most food on board", carried, "caution" if most > limit else "plain")
    stops, stated = len(supply.stops), sum(s.risk in BY_HOURS for s in supply.stops)
    for_sure = all(s.risk == OpenState.OPEN for s in supply.stops)
    share = f"{stated or 'none'} " if stated < stops else "all " if stops > 1 else ""
    rest = f"{stops}, {share}open by stated hours" if stops else "none"
    yield _fact("Food stops", rest, _tone(not for_sure))
    beyond = supply.worst_more_meals - supply.spare_meals
    kept = f"{meals(supply.spare_meals)} each" if supply.spare_meals else "none"
    short = f"; {beyond} more if stop {supply.worst_stop} is shut"
    unsure = "; whether that is enough is not known" if missing_m else ""
    yield _fact(
        "Spare", kept + (short if beyond > 0 else unsure), _tone(beyond > 0 or bool(unsure))
    )
    yield _ice(document)
    yield from _cold(document)
    ridden_m = plan.legs[-1].end_m - plan.legs[0].start_m
    gone = line("missing on {far}", far=way(missing_m))
    if missing_m >= ridden_m - 1.0:
        gone = line("none")
    yield _fact("Map data", gone if missing_m else "on the whole route", _tone(missing_m > 0.0))


def _missing_m(document: PlanDocument) -> float:
    """Length of the way ahead of which no map data tells."""
    unknown = document.coverage.unknown
    return float(sum(part.end_m - part.start_m for part in unknown))


def _ice(document: PlanDocument) -> Fact:
    stops = document.ice.stops
    kg = sum(buy.kg for row in stops for buy in row.buy)
    if kg:
        doubtful = sum(row.confidence != "stated" for row in stops)
        said = line(
            "{kg} at {stops}{doubt}",
            kg=mass(kg),
            stops=count(len(stops), "stop"),
            doubt=f"; {_some(doubtful, len(stops))} may have no ice" if doubtful else None,
        )
        return _fact("Ice", said, _tone(_ice_in_doubt(document)))
    if stops:
        return _fact("Ice", f"{count(len(stops), 'place')} on the way", "plain")
    if document.ice.spare:
        short = any(one.safety and one.state == "fails" for one in coolers_of(document))
        heavy = any(one.spared_ice_kg for one in coolers_of(document))
        none = "none to buy: it would outweigh its food" if heavy else "none to buy"
        if short:
            none = "none that could be bought in time"
        return _fact("Ice", none, "alarm" if short else "plain")
    return _fact("Ice", "no place known", "caution")


def _some(doubtful: int, total: int) -> str:
    """Say how many of them are doubtful."""
    if doubtful == total:
        return "it" if total == 1 else "any of them"
    return "one" if doubtful == 1 else str(doubtful)


def _ice_in_doubt(document: PlanDocument) -> bool:
    """Tell whether ice is to be bought that is only likely, or where the door may be shut."""
    rows = [row for row in document.ice.stops if row.buy]
    return any(row.confidence != "stated" or row.state != "open" for row in rows)


def _cold(document: PlanDocument) -> Iterator[Fact]:
    """Whether the food stays cold; nothing without a cooler or a need."""
    for cooler in coolers_of(document):
        limit = q.limit(cooler.limit_c)
        told: dict[str, tuple[Part, Tone]] = {
            "holds": (line("at or below {limit}", limit=limit), "plain"),
            "fails": (line("above {limit} for a time", limit=limit), "alarm"),
            "too full": ("not all of it: it does not fit", "alarm"),
            "not known": ("not known: weather is missing", "caution"),
        }
        said = told.get(cooler.state)
        if cooler.state == "holds" and cooler.no_ice_from:
            said = ("the ice is gone too early", "alarm")
        elif cooler.state == "holds" and _ice_in_doubt(document):
            said = (line("at or below {limit} if all that ice is there", limit=limit), "caution")
        if cooler.safety and said is not None:
            yield _fact("Cold food", said[0], said[1])
        if cooler.room.words and not (cooler.state == "no need" and cooler.spared_ice_kg):
            room, label = cooler.room, f"{cooler.name.capitalize()} cooler at its fullest"
            tone = "alarm" if room.over_l else _tone(not room.known)
            yield _fact(label, room.words, tone)


def _tone(caution: bool) -> Tone:
    return "caution" if caution else "plain"


def _fact(label: str, value: Part, tone: Tone) -> Fact:
    return Fact(label=label, value_words=as_sentence(value), tone=tone)
