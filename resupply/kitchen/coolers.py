"""The trip's coolers: what stands around them, and the ice each needs.

In: a trip, its clock, the weather, where ice can be had. Out: ice plans of the food cooler for
whatever food is put in, and of the drinks cooler. On a trip under way the ice on board takes the
place of home: nothing is frozen anew, and packs have thawed but take their room.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from resupply.common.quantity import limit, line, volume
from resupply.common.units import S_PER_HOUR
from resupply.hours.holidays import country_of
from resupply.kitchen.cold.balance import IceLoad
from resupply.kitchen.cold.cooler import IceTest, make_cooler, stowage_l_per_kg
from resupply.kitchen.cold.ice_plan import IceGoal, plan_ice
from resupply.kitchen.cold.ice_search import IceChance
from resupply.kitchen.cold.steps import Need, Stored
from resupply.kitchen.cold.weather import DayWeather, Surroundings, make_ambient, sun_spans
from resupply.places.place import Confidence

if TYPE_CHECKING:
    from collections.abc import Sequence

    from resupply.common.quantity import Sentence
    from resupply.kitchen.cold.cooler import Cooler, IceForm
    from resupply.kitchen.cold.ice_plan import IcePlan
    from resupply.route.clock import RideClock
    from resupply.trip.kitchen_keys import CoolerKeys
    from resupply.trip.settings import Trip

__all__ = [
    "FoodCooler",
    "bag_kg_of",
    "day_weather",
    "drinks_note",
    "freezer_nights",
    "plan_drinks",
    "span_s",
    "trip_dates",
]

_DRINKS_C = 10.0
"""Drinks are wanted at or below this while riding: comfort, not safety (an assumption)."""
_DRINKS_L = 1.5
"""Litres of drinks a person in the drinks cooler each morning (an assumption)."""
_WAIT_S = 2 * 3600.0
"""Drinks put in warm need this long before they are wanted cold (an assumption)."""
_DAY_S = 9 * 3600.0
"""A day's ride, after which the drinks are drunk (an assumption)."""
_BAG_KG = 2.0
"""A bag of ice as sold, where nothing else is known (from memory)."""
_BAGS_US_KG = (3.175, 4.536, 9.072)
"""Bags of 7, 10 and 20 lb, as sold in the United States (from memory)."""
_BAG_SHARE = 1.0 / 3.0
"""Of the cooler, what one bag may fill where there is a choice: ours."""
_FREEZE_S = 8 * S_PER_HOUR
"""Packs that lie in a freezer for less than a night's rest do not count as frozen: our choice."""
_REST_OUT, _REST_IN = dt.time(20), dt.time(8)
"""On days without a ride packs go into a freezer in the evening and back at eight: our choice."""
_DRINKS_SLACK_C = 3.0
"""Where ice does not last, so much warmer is good enough: no stop for a cooler can of cola."""


def day_weather(trip: Trip, dates: Sequence[dt.date]) -> tuple[DayWeather, ...]:
    """Low and high of each date as the trip states them; not known where it states none."""
    # Under way the dates begin later than the trip does.
    first = trip.start.date or dates[0]
    own = {
        row.date or first + dt.timedelta(days=(row.day or 1) - 1): row for row in trip.weather.days
    }
    out = []
    for date in dates:
        row = own.get(date)
        if row is not None:
            out.append(DayWeather(date, row.low_c, row.high_c, "stated for the day"))
        elif trip.weather.low_c is not None and trip.weather.high_c is not None:
            low, high = trip.weather.low_c, trip.weather.high_c
            out.append(DayWeather(date, low, high, "stated for the trip"))
        else:
            out.append(DayWeather(date, None, None, "not stated"))
    return tuple(out)


def trip_dates(clock: RideClock) -> list[dt.date]:
    """Every date of the trip, rest days included, and the day after."""
    first, last = clock.local(clock.legs[0].start_m, clock.start_s).date(), clock.legs[-1].date
    # One more: a late arrival may run past midnight.
    return [first + dt.timedelta(days=n) for n in range((last - first).days + 2)]


def span_s(clock: RideClock) -> tuple[float, float]:
    """From departure (for a rider in camp: now) to midnight after the last arrival, UTC epoch."""
    last = clock.legs[-1]
    arrive = clock.local(last.end_m, float(clock.arrive_s(last.end_m)[0]))
    midnight = dt.datetime.combine(
        arrive.date() + dt.timedelta(days=1), dt.time(), tzinfo=arrive.tzinfo
    )
    return clock.start_s, midnight.timestamp()


@dataclass(frozen=True, slots=True, eq=False)
class FoodCooler:
    """The food cooler and its surroundings, for planning its ice more than once."""

    cooler: Cooler
    around: Surroundings
    fixed: tuple[IceLoad, ...]
    """Ice stated from home, or what is on board now."""
    chances: tuple[IceChance, ...]
    ice_times_food: float = math.inf
    """Ice that weighs more than so many times what it keeps is not worth it."""

    @classmethod
    def of(
        cls,
        trip: Trip,
        clock: RideClock,
        weather: Sequence[DayWeather],
        ice: Sequence[IceChance],
    ) -> FoodCooler:
        """Read it off a trip."""
        keys, (start_s, _) = trip.cooler, span_s(clock)
        cooler = _cooler(trip, keys, clock, "food", iced=trip.now.ice_kg > 0.0)
        bag_kg = _bag_kg(trip, keys, clock)
        fixed, home = _start_ice(trip, keys, start_s, trip.now.ice_kg, bag_kg)
        return cls(
            cooler=cooler,
            around=_around(keys, clock, weather),
            fixed=fixed,
            chances=(*home, *_as_sold(ice, keys, bag_kg)) if cooler.kind != "none" else (),
            ice_times_food=keys.ice_times_food,
        )

    def plan(self, stored: Sequence[Stored], form: IceForm | None = None) -> IcePlan:
        """Ice for this food; `form` to ask about blocks instead of cubes, or the reverse."""
        chances, fixed = self.chances, self.fixed
        if form is not None:
            chances = tuple(replace(chance, form=form) for chance in chances)
            fixed = tuple(replace(load, form=form) for load in fixed)
        return self._planned(stored, chances, fixed)

    def follow(self, stored: Sequence[Stored], bought: IcePlan) -> IcePlan:
        """Other food with the ice already planned: the same purchases, as far as they fit."""
        loads = tuple(IceLoad(p.stop.at_s, p.kg, p.stop.form) for p in bought.purchases)
        followed = self._planned(stored, (), (*self.fixed, *loads))
        own = len(self.fixed)
        purchases = tuple(
            replace(purchase, loaded_kg=stated.loaded_kg)
            for purchase, stated in zip(bought.purchases, followed.stated[own:], strict=True)
        )
        return replace(
            followed,
            stated=followed.stated[:own],
            purchases=purchases,
            without=bought.without,
        )

    def _planned(
        self,
        stored: Sequence[Stored],
        chances: Sequence[IceChance],
        fixed: Sequence[IceLoad],
    ) -> IcePlan:
        return plan_ice(
            self.cooler,
            self.around,
            stored=stored,
            stops=chances,
            fixed=fixed,
        )


def drinks_note() -> Sentence:
    """Say what is assumed of drinks."""
    return line(
        "Drinks cooler: {each} each, put in warm each morning, wanted at or below {limit} from "
        "two hours after departure to the evening (our assumption).",
        each=volume(_DRINKS_L),
        limit=limit(_DRINKS_C),
    )


def plan_drinks(
    trip: Trip, clock: RideClock, weather: Sequence[DayWeather], ice: Sequence[IceChance]
) -> IcePlan | None:
    """Ice for the drinks cooler; None without one. What is on board under way is not known."""
    keys = trip.drinks_cooler
    if keys.kind == "none":
        return None
    start_s, end_s = span_s(clock)
    litres = _DRINKS_L * trip.party.people
    departs = [float(at_s) for at_s in clock.depart_s[: len(clock.legs)]]
    rides = [(at_s, min(at_s + _DAY_S, end_s)) for at_s in departs]
    stored = [
        Stored(
            "drinks",
            litres,
            a,
            b,
            temp_c=20.0 if n else 5.0,
            cp_kj_per_kg_k=4.19,
            volume_l=litres,
            perishable=False,
        )
        for n, (a, b) in enumerate(rides)
        if b > a
    ]
    bag_kg = _bag_kg(trip, keys, clock)
    fixed, home = _start_ice(trip, keys, start_s, 0.0, bag_kg)
    return plan_ice(
        _cooler(trip, keys, clock, "drinks", iced=False),
        _around(keys, clock, weather),
        stored=stored,
        needs=[Need(a + _WAIT_S, b, "drinks") for a, b in rides if b > a + _WAIT_S],
        stops=(*home, *_as_sold(ice, keys, bag_kg)),
        fixed=fixed,
        goal=IceGoal(limit_c=_DRINKS_C, keep_kg=0.0, slack_c=_DRINKS_SLACK_C),
    )


def bag_kg_of(keys: CoolerKeys, country: str | None) -> float:
    """Weight of a bag of ice as it is sold in a country, for a cooler of this size."""
    if keys.bag_kg is not None:
        return keys.bag_kg
    if country != "US":
        return _BAG_KG
    most_kg = _BAG_SHARE * keys.volume_l / stowage_l_per_kg(keys.form)
    fitting = [kg for kg in _BAGS_US_KG if kg <= most_kg]
    return max(fitting, default=_BAGS_US_KG[0])


def _bag_kg(trip: Trip, keys: CoolerKeys, clock: RideClock) -> float:
    return bag_kg_of(keys, country_of(trip.region.country, clock.legs[0].depart.tzinfo))


def _as_sold(ice: Sequence[IceChance], keys: CoolerKeys, bag_kg: float) -> tuple[IceChance, ...]:
    return tuple(replace(chance, bag_kg=bag_kg, form=keys.form) for chance in ice)


def _start_ice(
    trip: Trip, keys: CoolerKeys, start_s: float, on_board_kg: float, bag_kg: float
) -> tuple[tuple[IceLoad, ...], tuple[IceChance, ...]]:
    """Ice put in at the start whatever the plan, and the freezer at home where it may choose."""
    if trip.now.at_km is not None:
        return (IceLoad(start_s, on_board_kg, keys.form, "on board"),) if on_board_kg else (), ()
    if keys.ice_start_kg is not None:
        return (IceLoad(start_s, keys.ice_start_kg, keys.form),) if keys.ice_start_kg else (), ()
    home = IceChance(
        start_s, "home", Confidence.STATED, bag_kg=bag_kg, form=keys.form, counts=False
    )
    return (), (home,)


def _cooler(trip: Trip, keys: CoolerKeys, clock: RideClock, name: str, *, iced: bool) -> Cooler:
    test = None
    if keys.test_ice_kg is not None and keys.test_hours is not None:
        test = IceTest(keys.test_ice_kg, keys.test_hours, keys.test_ambient_c or 0.0)
    under_way = trip.now.at_km is not None
    cooler = make_cooler(
        keys.kind,
        keys.volume_l,
        name=name,
        ice_test=test,
        pre_chilled=iced if under_way else keys.pre_chilled,
        packs_kg=keys.packs_kg,
        openings_per_day=float(keys.openings_per_day),
        colour=keys.colour,
    )
    away = freezer_nights(keys.camp_freezer, trip.start.date, clock) if cooler.packs_kg else ()
    return replace(cooler, under_way=under_way, packs_away=away)


def freezer_nights(
    days: Sequence[int], first: dt.date | None, clock: RideClock
) -> tuple[tuple[float, float], ...]:
    """When packs lie in a camp's freezer: from arrival until the next departure, UTC seconds.

    Parameters
    ----------
    days
        Days of the trip, rest days counted, whose camp has one for sure.
    first
        Date of the first day; None for that of the first leg.
    """
    legs = {leg.date: k for k, leg in enumerate(clock.legs)}
    first = first or clock.legs[0].date
    nights = []
    for day in sorted(set(days)):
        date = first + dt.timedelta(days=day - 1)
        after = date + dt.timedelta(days=1)
        if not clock.legs[0].date <= date < clock.legs[-1].date:
            continue
        zone = _zone_on(clock, date)
        out_s = dt.datetime.combine(date, _REST_OUT, tzinfo=zone).timestamp()
        in_s = dt.datetime.combine(after, _REST_IN, tzinfo=zone).timestamp()
        if date in legs:
            out_s = float(clock.arrive_s(clock.legs[legs[date]].end_m)[0])
        if after in legs:
            in_s = float(clock.depart_s[legs[after]])
        if in_s - out_s >= _FREEZE_S:
            nights.append((out_s, in_s))
    return tuple(nights)


def _around(keys: CoolerKeys, clock: RideClock, weather: Sequence[DayWeather]) -> Surroundings:
    ambient = make_ambient(weather, lambda date: _zone_on(clock, date))
    rides = tuple(
        (float(clock.depart_s[k]), float(clock.arrive_s(leg.end_m)[0]))
        for k, leg in enumerate(clock.legs)
    )
    sun = sun_spans(
        rides,
        trip_dates(clock),
        lambda date: _zone_on(clock, date),
        shaded_riding=keys.shaded_riding,
        shaded_camp=keys.shaded_camp,
    )
    return Surroundings(ambient, *span_s(clock), sun, rides)


def _zone_on(clock: RideClock, date: dt.date) -> dt.tzinfo:
    leg = next((leg for leg in reversed(clock.legs) if leg.date <= date), clock.legs[0])
    zone = leg.depart.tzinfo
    if zone is None:
        raise ValueError("a leg's times are aware")
    return zone
