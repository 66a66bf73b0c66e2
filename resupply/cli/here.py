"""`resupply here`: plan again from where the rider is."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, NamedTuple

from typer import Argument, Option

from resupply.cli.given import Given, read_trip
from resupply.cli.plan import Site, plan_and_write
from resupply.common.errors import ResupplyError

__all__ = ["here"]


def here(
    trip: Annotated[Path, Argument(help="The trip file (.toml).")],
    at_km: Annotated[float | None, Option(help="Kilometre of the route. Key: now.at_km")] = None,
    at_mi: Annotated[float | None, Option(help="Or mile of the route.")] = None,
    position: Annotated[
        str | None,
        Option(help="Or latitude,longitude as your phone shows them: 46.61,-27.13."),
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
    daily_km: Annotated[float | None, Option(help="Distance a day. Key: pace.daily_km")] = None,
    daily_mi: Annotated[float | None, Option(help="Or in miles.")] = None,
    out: Annotated[Path, Option(help="Folder for the results.")] = Path("out"),
    site: Site = None,
) -> None:
    """Plan again from where you are, with what is left on board; keeps a log."""
    import datetime as dt

    from resupply.common.quantity import MEALS_PER_DAY
    from resupply.common.units import KG_PER_LB, L_PER_GAL, M_PER_KM, M_PER_MI
    from resupply.passes.position import at_km_given, local_now

    km_per_mi = M_PER_MI / M_PER_KM
    given = Given()
    at = _either("at-km", at_km, "at-mi", at_mi, km_per_mi)
    # Part of a meal feeds nobody.
    meals = _either("food-meals", food_meals, "food-days", food_days, float(MEALS_PER_DAY))
    ice = _either("ice-kg", ice_kg, "ice-lb", ice_lb, KG_PER_LB)
    fuel = _either("fuel-km", fuel_km, "fuel-mi", fuel_mi, km_per_mi)
    water = _either("water-l", water_l, "water-gal", water_gal, L_PER_GAL)
    daily = _either("daily-km", daily_km, "daily-mi", daily_mi, km_per_mi)
    keys, folder = read_trip(trip, given)
    here_km = at_km_given(keys, folder, at.value, position)
    when = time or local_now(keys.region.time_zone).isoformat(timespec="minutes")
    try:
        moment = dt.datetime.fromisoformat(when)
    except ValueError:
        raise ResupplyError(
            f"--time {when}: that is no date and time", mend="Write it like 2027-07-12T14:10"
        ) from None
    given.put(
        "now.at_km",
        *(("--position", here_km) if position else (at.option, here_km)),
        shown=position or at.given,
    )
    given.put("now.time", "--time", moment, shown=when)
    given.put("now.food_meals", meals.option, int(meals.value or 0.0), shown=meals.given)
    given.put("now.ice_kg", ice.option, ice.value or 0.0, shown=ice.given)
    given.put("now.fuel_km", fuel.option, fuel.value, shown=fuel.given)
    given.put("now.water_l", water.option, water.value, shown=water.given)
    given.put("pace.daily_km", daily.option, daily.value, shown=daily.given)
    plan_and_write(trip, given, out, site)
    from resupply.report.log import add_to_log

    row: dict[str, str | float | None] = {
        "time": moment.isoformat(timespec="minutes"),
        "at_km": here_km,
        "food_meals": int(meals.value or 0.0),
        "ice_kg": ice.value or 0.0,
        "fuel_km": fuel.value,
        "water_l": water.value,
    }
    add_to_log(out / "log.csv", row)
    print(f"The log is in {out / 'log.csv'}")


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
