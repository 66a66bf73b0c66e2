"""What a map feature supplies, from its OpenStreetMap tags. One table, read from the top.

In: the tags of one feature. Out: the tag that made it a place, and its supplies with a
confidence; or None. The map saying so is *stated*; a guess from the kind of place is *likely*.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Final

from resupply.common.text import one_line
from resupply.places.left_out import left_out
from resupply.places.place import Confidence, Supply

if TYPE_CHECKING:
    from collections.abc import Mapping

    from resupply.places.osm_file import TagLookup

__all__ = [
    "KEPT_TAGS",
    "RULES",
    "SPECIALISTS",
    "TagRule",
    "classify",
    "kept_tags",
    "kind_words",
    "may_supply",
    "rule_keys",
    "table_markdown",
    "takes_no_tents",
]

GROCERIES, SMALL, ICE = Supply.GROCERIES, Supply.SMALL_GROCERIES, Supply.ICE
WATER, FUEL, CAMP, MEAL = Supply.WATER, Supply.FUEL, Supply.CAMP, Supply.MEAL_OUT
STATED, LIKELY = Confidence.STATED, Confidence.LIKELY

Conditions = tuple[tuple[str, frozenset[str]], ...]


@dataclass(frozen=True, slots=True)
class TagRule:
    """One row: a tag, what it supplies, how sure that is, and where the tag is described."""

    key: str
    value: str
    supply: Supply
    confidence: Confidence
    words: str
    """The kind in plain words; the first row of a tag counts."""
    page: str
    """Page of wiki.openstreetmap.org that describes the tag; "" where it has none."""
    needs: Conditions = ()
    """Other tags, each of which must have one of the values."""
    unless: Conditions = ()
    """Other tags, none of which may have one of the values."""


def _tags(**conditions: str) -> Conditions:
    return tuple((key, frozenset(values.split("|"))) for key, values in conditions.items())


_UNMANNED: Final = _tags(automated="yes", shop="no", self_service="only")
_SHOP_AT_PUMP: Final = _tags(shop="yes|gas|kiosk|convenience|supermarket|general|grocery")
_NOT_DRUNK: Final = _tags(drinking_water="no", potable="no")
_DRUNK: Final = _tags(drinking_water="yes|treated")
# Nobody has tested such water ("legal=no"), or it only seems good ("conditional").
_UNTESTED: Final = _tags(**{"drinking_water:legal": "no", "drinking_water": "conditional"})
_NOT_SURE: Final = (*_NOT_DRUNK, *_UNTESTED)
# Only for groups, caravans that stay, guests of a season, or boats; riders have a tent.
_NO_TENTS: Final = _tags(**{
    "tents": "no", "capacity:tents": "0", "group_only": "yes|only", "caravans": "only",
    "static_caravans": "only", "permanent_camping": "only", "canoe": "only|designated",
})  # fmt: skip
# Pumps for lorries, boats, aircraft or trains.
_NO_PUMP: Final = _tags(
    hgv="only", waterway="fuel", aeroway="fuel", railway="fuel", boat="only|designated",
    motorcycle="no|private", motorcar="no|private", motor_vehicle="no|private",
)  # fmt: skip

# The first row that fits names the kind: full shops, fuel, small shops, camps, water, meals.
RULES: Final[tuple[TagRule, ...]] = (
    TagRule("shop", "supermarket", GROCERIES, STATED, "supermarket", "Tag:shop=supermarket"),
    TagRule("shop", "supermarket", ICE, LIKELY, "supermarket", "Tag:shop=supermarket"),
    TagRule("shop", "general", GROCERIES, LIKELY, "general store", "Tag:shop=general"),
    TagRule("amenity", "fuel", FUEL, STATED, "filling station", "Tag:amenity=fuel",
            unless=_NO_PUMP),
    TagRule("amenity", "fuel", ICE, LIKELY, "filling station", "Tag:amenity=fuel",
            unless=(*_UNMANNED, *_NO_PUMP)),
    TagRule("amenity", "fuel", SMALL, LIKELY, "filling station", "Tag:amenity=fuel",
            needs=_SHOP_AT_PUMP),
    TagRule("shop", "convenience", SMALL, STATED, "convenience shop", "Tag:shop=convenience"),
    TagRule("shop", "grocery", SMALL, STATED, "grocery", "Tag:shop=grocery"),
    TagRule("shop", "food", SMALL, STATED, "food shop", "Tag:shop=food"),
    TagRule("shop", "greengrocer", SMALL, STATED, "greengrocer", "Tag:shop=greengrocer"),
    TagRule("shop", "bakery", SMALL, STATED, "bakery", "Tag:shop=bakery"),
    TagRule("shop", "butcher", SMALL, STATED, "butcher", "Tag:shop=butcher"),
    TagRule("shop", "deli", SMALL, STATED, "delicatessen", "Tag:shop=deli"),
    TagRule("shop", "farm", SMALL, STATED, "farm shop", "Tag:shop=farm"),
    TagRule("shop", "seafood", SMALL, STATED, "fishmonger", "Tag:shop=seafood"),
    TagRule("shop", "dairy", SMALL, STATED, "dairy shop", "Tag:shop=dairy"),
    TagRule("shop", "cheese", SMALL, STATED, "cheese shop", "Tag:shop=cheese"),
    TagRule("shop", "frozen_food", SMALL, STATED, "frozen food shop", "Tag:shop=frozen_food"),
    TagRule("shop", "health_food", SMALL, LIKELY, "health food shop", "Tag:shop=health_food"),
    TagRule("shop", "kiosk", SMALL, LIKELY, "kiosk", "Tag:shop=kiosk"),
    TagRule("shop", "department_store", SMALL, LIKELY, "department store",
         "Tag:shop=department_store"),
    TagRule("amenity", "marketplace", SMALL, LIKELY, "market", "Tag:amenity=marketplace"),
    TagRule("shop", "fuel", FUEL, LIKELY, "fuel in cans", "Tag:shop=fuel"),
    TagRule("vending", "ice_cubes", ICE, STATED, "ice machine", "Tag:vending=ice_cubes"),
    TagRule("shop", "ice", ICE, STATED, "ice shop", ""),
    TagRule("tourism", "camp_site", CAMP, STATED, "camp site", "Tag:tourism=camp_site",
            unless=_NO_TENTS),
    TagRule("tourism", "caravan_site", CAMP, STATED, "caravan site that takes tents",
         "Tag:tourism=caravan_site", needs=_tags(tents="yes|designated"), unless=_NO_TENTS),
    TagRule("tourism", "camp_pitch", CAMP, STATED, "camp pitch", "Tag:tourism=camp_pitch",
            unless=_NO_TENTS),
    TagRule("amenity", "drinking_water", WATER, STATED, "drinking water",
         "Tag:amenity=drinking_water", unless=_NOT_SURE),
    TagRule("amenity", "drinking_water", WATER, LIKELY, "drinking water", "Key:drinking_water",
            unless=_NOT_DRUNK),
    TagRule("amenity", "water_point", WATER, STATED, "water point", "Tag:amenity=water_point",
            unless=_NOT_SURE),
    TagRule("amenity", "water_point", WATER, LIKELY, "water point", "Key:drinking_water",
            unless=_NOT_DRUNK),
    TagRule("man_made", "water_tap", WATER, STATED, "water tap", "Tag:man_made=water_tap",
            needs=_DRUNK, unless=_UNTESTED),
    TagRule("man_made", "water_tap", WATER, LIKELY, "water tap", "Tag:man_made=water_tap",
            unless=_NOT_DRUNK),
    TagRule("man_made", "water_well", WATER, STATED, "well", "Tag:man_made=water_well",
            needs=_DRUNK, unless=_UNTESTED),
    TagRule("man_made", "water_well", WATER, LIKELY, "well", "Tag:man_made=water_well",
            needs=_DRUNK),
    TagRule("natural", "spring", WATER, STATED, "spring", "Tag:natural=spring", needs=_DRUNK,
            unless=_UNTESTED),
    TagRule("natural", "spring", WATER, LIKELY, "spring", "Tag:natural=spring", unless=_NOT_DRUNK),
    TagRule("amenity", "restaurant", MEAL, STATED, "restaurant", "Tag:amenity=restaurant"),
    TagRule("amenity", "cafe", MEAL, STATED, "café", "Tag:amenity=cafe"),
    TagRule("amenity", "fast_food", MEAL, STATED, "fast food", "Tag:amenity=fast_food"),
    TagRule("amenity", "food_court", MEAL, STATED, "food court", "Tag:amenity=food_court"),
    TagRule("amenity", "pub", MEAL, LIKELY, "pub", "Tag:amenity=pub", unless=_tags(food="no")),
    TagRule("amenity", "biergarten", MEAL, LIKELY, "beer garden", "Tag:amenity=biergarten",
            unless=_tags(food="no")),
    # Properties: they add a supply to whatever carries them, and make a place on their own.
    TagRule("drinking_water", "yes", WATER, STATED, "drinking water", "Key:drinking_water",
            unless=_UNTESTED),
    TagRule("drinking_water", "yes", WATER, LIKELY, "drinking water", "Key:drinking_water"),
    TagRule("drinking_water", "treated", WATER, STATED, "drinking water", "Key:drinking_water",
            unless=_UNTESTED),
    TagRule("drinking_water", "treated", WATER, LIKELY, "drinking water", "Key:drinking_water"),
    TagRule("ice", "yes", ICE, STATED, "ice for sale", ""),
    TagRule("sells:ice", "yes", ICE, STATED, "ice for sale", ""),
)  # fmt: skip

KEPT_TAGS: Final = (
    "access", "access:conditional", "addr:city", "addr:housenumber", "addr:place", "addr:street",
    "amenity", "automated", "backcountry", "bbq", "bottle", "brand", "camp_site", "canoe",
    "capacity", "capacity:tents", "caravans", "check_date", "check_date:opening_hours",
    "contact:phone", "contact:website", "drinking_water", "drinking_water:legal", "end_date", "fee",
    "fireplace", "group_only", "ice", "intermittent", "motor_vehicle", "name:en", "openfire",
    "opening_date", "opening_hours:signed", "operator", "payment:cards", "payment:cash",
    "permanent_camping", "phone", "potable", "power_supply", "reservation", "seasonal", "sells:ice",
    "shop", "shower", "start_date", "static_caravans", "survey:date", "tents", "toilets", "tourism",
    "vending", "website",
)  # fmt: skip
KEPT_PREFIX: Final = "fuel:"
"""The tags carried on a place, for showing and judging; map text, hostile. So is every fuel."""

_MOST_FUELS: Final = 40
"""Our choice: more than a station sells; a place is no store for hostile text."""


SPECIALISTS = frozenset(
    f"shop={value}"
    for value in (
        "bakery",
        "butcher",
        "cheese",
        "dairy",
        "deli",
        "frozen_food",
        "greengrocer",
        "health_food",
        "kiosk",
        "seafood",
    )
)
"""Kinds of small shop with one kind of food: something to eat, not days of it."""


@cache
def _rules_by_tag() -> Mapping[tuple[str, str], tuple[TagRule, ...]]:
    found: dict[tuple[str, str], tuple[TagRule, ...]] = {}
    for rule in RULES:
        found[rule.key, rule.value] = (*found.get((rule.key, rule.value), ()), rule)
    return found


@cache
def _rule_order() -> Mapping[str, int]:
    order: dict[str, int] = {}
    for number, rule in enumerate(RULES):
        order.setdefault(f"{rule.key}={rule.value}", number)
    return order


@cache
def rule_keys() -> tuple[str, ...]:
    """Keys that can make a feature a place, in table order."""
    return tuple(dict.fromkeys(rule.key for rule in RULES))


def _values(tags: Mapping[str, str], key: str) -> tuple[str, ...]:
    """Values of a tag; several are separated by semicolons."""
    text = tags.get(key)
    return () if text is None else tuple(part.strip().lower() for part in text.split(";"))


def _meets(tags: Mapping[str, str], conditions: Conditions) -> list[bool]:
    return [not allowed.isdisjoint(_values(tags, key)) for key, allowed in conditions]


def takes_no_tents(tags: Mapping[str, str]) -> bool:
    """Tell whether a camp's tags keep a rider with a tent out; one that does not say takes them."""
    return any(_meets(tags, _NO_TENTS))


def may_supply(tags: TagLookup) -> bool:
    """Whether a feature has a tag of the table, whatever else it says; quick."""
    for key in rule_keys():
        value = tags.get(key)
        if value is not None and _fits(key, value):
            return True
    return False


@lru_cache(maxsize=4096)
def _fits(key: str, value: str) -> bool:
    by_tag = _rules_by_tag()
    return any((key, part.strip().lower()) in by_tag for part in value.split(";"))


def classify(tags: Mapping[str, str]) -> tuple[str, Mapping[Supply, Confidence]] | None:
    """Kind and supplies of a feature, or None if it supplies nothing to a passing rider.

    Parameters
    ----------
    tags
        Any tags at all; never raises.

    Examples
    --------
    >>> classify({"shop": "bakery"})
    ('shop=bakery', {<Supply.SMALL_GROCERIES: 'small_groceries'>: <Confidence.STATED: 'stated'>})
    >>> classify({"amenity": "ice_cream"}) is None
    True
    """
    by_tag, order = _rules_by_tag(), _rule_order()
    rows = [
        rule
        for key in rule_keys()
        if key in tags
        for value in _values(tags, key)
        for rule in by_tag.get((key, value), ())
        if all(_meets(tags, rule.needs)) and not any(_meets(tags, rule.unless))
    ]
    if not rows or left_out(tags) is not None:
        return None
    rows.sort(key=lambda rule: order[f"{rule.key}={rule.value}"])
    supplies: dict[Supply, Confidence] = {}
    for rule in rows:
        if supplies.get(rule.supply) is not STATED:
            supplies[rule.supply] = rule.confidence
    return f"{rows[0].key}={rows[0].value}", supplies


def kept_tags(tags: Mapping[str, str]) -> dict[str, str]:
    """Pick the few tags worth showing, cleaned."""
    kept = {key: one_line(tags[key]) for key in KEPT_TAGS if key in tags}
    fuels = sorted(key for key in tags if key.startswith(KEPT_PREFIX))[:_MOST_FUELS]
    return kept | {one_line(key): one_line(tags[key]) for key in fuels}


def kind_words(kind: str) -> str:
    """Plain words for a kind.

    >>> kind_words("shop=supermarket"), kind_words("shop=unheard_of")
    ('supermarket', 'unheard of')
    """
    number = _rule_order().get(kind)
    return RULES[number].words if number is not None else kind.split("=")[-1].replace("_", " ")


def table_markdown() -> str:
    """Write the table as Markdown, as it stands in the documentation."""
    lines = ["| tag | supplies | how sure | in words | only if | not if | described at |"]
    lines.append("| --- | --- | --- | --- | --- | --- | --- |")
    lines += [
        f"| `{rule.key}={rule.value}` | {rule.supply.value.replace('_', ' ')} | "
        f"{rule.confidence.value} | {rule.words} | {_condition_words(rule.needs)} | "
        f"{_condition_words(rule.unless)} | {f'wiki {rule.page}' if rule.page else 'no page'} |"
        for rule in RULES
    ]
    return "\n".join(lines) + "\n"


def _condition_words(conditions: Conditions) -> str:
    return ", ".join(f"`{key}={'/'.join(sorted(values))}`" for key, values in conditions)
