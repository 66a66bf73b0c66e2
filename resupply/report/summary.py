"""The first thing a rider reads: a headline, a few facts, the cautions in order of weight."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from resupply.report.pins import pin_cautions
from resupply.supply.explain import food_words
from resupply.supply.solve import Risk

if TYPE_CHECKING:
    from resupply.pipeline import TripPlan
    from resupply.report.words import Words

__all__ = ["summary"]


def summary(plan: TripPlan, document: dict[str, Any], words: Words) -> dict[str, Any]:
    """Headline, facts and cautions of a plan document."""
    supply = plan.supply
    longest = document["gaps"]["groceries"]["longest"]
    most = max([supply.start_carry_meals, *(s.carry_meals for s in supply.stops)])
    stated = sum(s.risk == Risk.OPEN for s in supply.stops)
    days = document["trip"]["days"]
    count = len(supply.stops)
    ridden_m = plan.legs[-1].end_m - plan.legs[0].start_m
    headline = (
        f"{words.km(ridden_m)} in {days} day{'' if days == 1 else 's'} with "
        f"{count} food stop{'' if count == 1 else 's'}. "
        f"The most you carry is {food_words(most)} a person."
    )
    limit = supply.weights.limit_meals
    missing = bool(document["coverage"]["unknown"])
    facts = [
        _fact("Longest stretch without a shop", longest["words"], caution=longest["meals"] > limit),
        _fact("Most food on board", food_words(most), caution=most > limit),
        _fact(
            "Food stops",
            f"{count}, of which {stated} rest on stated opening hours",
            caution=stated < count,
        ),
        _fact("Reserve", document["reserve"]["words"], caution=False),
        _fact("Ice", document["ice"]["words"], caution=not document["ice"]["stops"]),
        _fact("Map data", document["coverage"]["words"], caution=missing),
    ]
    cautions = []
    if document.get("fuel", {}).get("exceeded"):
        cautions.append(document["fuel"]["words"])
    cautions += [s["words"] for s in document["shortfalls"]]
    if missing:
        cautions.append(document["coverage"]["words"])
    cautions += document["coverage"]["warnings"]
    cautions += plan.prepared.route.warnings
    if document["naive"]["shut"]:
        cautions.append(document["naive"]["words"])
    cautions += pin_cautions(plan, document)
    doubtful = [s for s in document["stops"] if s["state"] not in ("open", "shut")]
    if doubtful:
        names = ", ".join(s["name"] for s in doubtful[:4])
        more = f" and {len(doubtful) - 4} more" if len(doubtful) > 4 else ""
        cautions.append(
            f"Not sure to be open when you arrive: {names}{more}. Ring ahead or carry the reserve."
        )
    for leg in document["legs"]:
        cautions += [f"Day {leg['number']}: {text}" for text in leg["cautions"]]
    return {"headline": headline, "facts": facts, "cautions": cautions}


def _fact(label: str, value: str, *, caution: bool) -> dict[str, str]:
    return {"label": label, "value_words": value, "tone": "caution" if caution else "plain"}
