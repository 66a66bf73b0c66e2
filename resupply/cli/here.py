"""`resupply here`: plan again from where the rider is."""

from __future__ import annotations

import datetime as dt
from contextlib import suppress
from pathlib import Path
from typing import Annotated, Final, NamedTuple

from typer import Argument, Option

from resupply.cli.given import Given, read_trip
from resupply.cli.plan import Site  # noqa: TC001 (the parser of options reads it)
from resupply.common.errors import ResupplyError

__all__ = ["here"]

_LIKE: Final = "Write it like 2027-07-12T14:10"
_FAR_DAYS: Final = 183
"""A time farther than that from the trip's first day is a slip of the year (our choice)."""


def here(
    trip: Annotated[Path, Argument(help="The trip file (.toml).")],
    at_km: Annotated[float | None, Option(help="Kilometre of the route. Key: now.at_km")] = None,
    at_mi: Annotated[float | None, Option(help="Or mile of the route.")] = None,
    position: Annotated[
        str | None,
        Option(help="Or latitude,longitude as your phone shows them: 46.61,-27.13."),
    ] = None,
    from_phone: Annotated[
        str | None,
        Option(
            help="Or what the phone handed over, a file or the link: position, stock and ticks. "
            "Without any of these the newest on-the-road*.json beside the trip is taken."
        ),
    ] = None,
    time: Annotated[
        str | None,
        Option(help="Local time there, 2027-07-12T14:10; left out, what it is now."),
    ] = None,
    food_meals: Annotated[
        int | None, Option(help="Meals a person still on board. Key: now.food_meals")
    ] = None,
    food_days: Annotated[float | None, Option(help="Or days of food, of three meals each.")] = None,
    ice_kg: Annotated[float | None, Option(help="Ice left in the cooler. Key: now.ice_kg")] = None,
    ice_lb: Annotated[float | None, Option(help="Or in pounds.")] = None,
    fuel_km: Annotated[
        float | None,
        Option(help="How far the fuel in the tank still goes. Key: now.fuel_km"),
    ] = None,
    fuel_mi: Annotated[float | None, Option(help="Or in miles.")] = None,
    water_l: Annotated[
        float | None, Option(help="Drinking water on board, for all. Key: now.water_l")
    ] = None,
    water_gal: Annotated[float | None, Option(help="Or in US gallons.")] = None,
    shut: Annotated[
        list[str] | None,
        Option(help="A shop found shut or gone, by name or map id; repeatable. Key: shops.gone"),
    ] = None,
    no_ice: Annotated[
        list[str] | None,
        Option(help="A place found without ice; repeatable. Key: shops.no_ice"),
    ] = None,
    has_ice: Annotated[
        list[str] | None,
        Option(help="A place found to sell ice; repeatable. Key: shops.has_ice"),
    ] = None,
    rest: Annotated[
        int | None,
        Option(help="Days of rest, in this camp or the one you reach tonight. Key: now.leave_on"),
    ] = None,
    stop_here: Annotated[
        bool, Option("--stop-here", help="End this day at a camp nearby. Key: pace.own_km")
    ] = False,
    daily_km: Annotated[float | None, Option(help="Distance a day. Key: pace.daily_km")] = None,
    daily_mi: Annotated[float | None, Option(help="Or in miles.")] = None,
    people: Annotated[
        int | None, Option(help="How many eat from now on. Key: party.people")
    ] = None,
    route: Annotated[
        Path | None, Option(help="Another route from now on; you are where you are. Key: route")
    ] = None,
    set_: Annotated[
        list[str] | None, Option("--set", help="Any other key: --set pace.depart=07:30.")
    ] = None,
    out: Annotated[Path, Option(help="Folder for the results.")] = Path("out"),
    site: Site = None,
) -> None:
    """Plan again from where you are, with what is left on board; keeps a log.

    What you say of shops, people, distances, rest and route holds for the next time too: it is
    kept beside the results, in NAME.here.toml.
    """
    from resupply.cli.news import News, plan_with_news
    from resupply.cli.phone import phone_of
    from resupply.cli.said import put_kept, said_path
    from resupply.common.quantity import MEALS_PER_DAY
    from resupply.common.units import KG_PER_LB, L_PER_GAL, M_PER_KM, M_PER_MI
    from resupply.passes.position import local_now

    km_per_mi = M_PER_MI / M_PER_KM
    given, kept = Given(), said_path(out, trip)
    at = _either("at-km", at_km, "at-mi", at_mi, km_per_mi)
    # Part of a meal feeds nobody.
    meals = _either("food-meals", food_meals, "food-days", food_days, float(MEALS_PER_DAY))
    ice = _either("ice-kg", ice_kg, "ice-lb", ice_lb, KG_PER_LB)
    fuel = _either("fuel-km", fuel_km, "fuel-mi", fuel_mi, km_per_mi)
    water = _either("water-l", water_l, "water-gal", water_gal, L_PER_GAL)
    daily = _either("daily-km", daily_km, "daily-mi", daily_mi, km_per_mi)
    if at.value is not None and position is not None:
        raise ResupplyError(
            "where you are is given twice", mend="Give either --at-km or --position"
        )
    put_kept(given, kept)
    before, folder = read_trip(trip, given)
    placed = at.value is not None or position is not None
    phone = phone_of(from_phone, (Path(), trip.parent, out), placed=placed)
    if route is not None:
        # Days behind were ridden on another route.
        given = Given()
        put_kept(given, kept, without=("route", "pace.own_km"))
        given.put("route", "--route", str(route.resolve()), shown=route)
    given.put("pace.daily_km", daily.option, daily.value, shown=daily.given)
    given.put("party.people", "--people", people)
    when = time or (phone and phone.time.isoformat(timespec="minutes"))
    moment = _moment(when or local_now(before.region.time_zone).isoformat(timespec="minutes"))
    first = before.start.date
    if time and first and abs((moment.date() - first).days) > _FAR_DAYS:
        raise ResupplyError(f"--time {time}: the trip begins on {first}", mend="Check the year")
    # What nobody knows of food and ice counts as none.
    given.keys |= {"now.food_meals": 0, "now.ice_kg": 0.0}
    for key, one in (("food_meals", meals), ("ice_kg", ice), ("fuel_km", fuel), ("water_l", water)):
        if phone is not None:
            given.put(f"now.{key}", "from the phone:", getattr(phone, key))
        value = int(one.value) if key == "food_meals" and one.value is not None else one.value
        given.put(f"now.{key}", one.option, value, shown=one.given)
    taken = {"now.at_km": "--at-km", "now.time": "--time"}
    given.put_pairs(set_, taken=taken if rest is None else {**taken, "now.leave_on": "--rest"})
    news = News(
        time=moment,
        at_km=at.value,
        at_option=f"{at.option} {at.given:g}" if at.given is not None else "",
        position=position,
        phone=phone,
        shut=tuple(shut or ()),
        no_ice=tuple(no_ice or ()),
        has_ice=tuple(has_ice or ()),
        rest=rest,
        stop_here=stop_here,
    )
    plan_with_news(trip, given, news, out=out, site=site, before=(before, folder), kept=kept)


class _Quantity(NamedTuple):
    """What one of two options says."""

    value: float | None
    """In the unit of the first; None where neither is given."""
    option: str
    given: float | None
    """As it was written."""


def _either(
    name: str, own: float | None, other_name: str, other: float | None, factor: float
) -> _Quantity:
    """Take what one of two options says, the other one converted."""
    if own is not None and other is not None:
        raise ResupplyError(f"--{name} and --{other_name} say the same", mend="Give one of them")
    if other is None:
        return _Quantity(own, f"--{name}", own)
    return _Quantity(other * factor, f"--{other_name}", other)


def _moment(when: str) -> dt.datetime:
    with suppress(ValueError):
        dt.date.fromisoformat(when)
        raise ResupplyError(f"--time {when}: that is a day and no time", mend=_LIKE)
    try:
        return dt.datetime.fromisoformat(when)
    except ValueError:
        raise ResupplyError(f"--time {when}: that is no date and time", mend=_LIKE) from None
