"""Opening hours: making a timetable, asking it for many visits, and one by one for comparison.

Run with `pytest benchmarks/bench_hours.py --benchmark-only -s`.
"""

from __future__ import annotations

import datetime as dt
import time
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from resupply.hours.timetable import OpenState, build_timetable, states
from resupply.hours.usual import read_usual_hours
from resupply.places.place import Place

ZONE = ZoneInfo("Europe/Vienna")
START = dt.datetime(2027, 7, 1, tzinfo=ZONE)
DAYS = 20
PLACES = 5000
DELAYS = 180
DISTINCT = 700
"""About as many different texts as the real extracts hold together."""


def texts(count: int) -> list[str]:
    dice = np.random.default_rng(1)
    made = []
    for _ in range(count):
        opens, shuts, saturday = dice.integers([6, 16, 11], [10, 22, 18])
        minute = dice.choice(["00", "15", "30", "45"])
        made.append(
            f"Mo-Fr {opens:02d}:{minute}-12:30,14:00-{shuts}:{minute}; "
            f"Sa {opens:02d}:{minute}-{saturday}:00{dice.choice(['', '; PH off'])}"
        )
    return made


@pytest.fixture(scope="module")
def places() -> list[Place]:
    dice, hours = np.random.default_rng(2), texts(DISTINCT)
    return [
        Place(
            f"node/{number}",
            float(dice.uniform(10, 16)),
            float(dice.uniform(46.5, 48.5)),
            "",
            "shop=supermarket",
            {},
            None if number % 2 else hours[dice.integers(len(hours))],
        )
        for number in range(PLACES)
    ]


def timetable_of(places: list[Place]):
    return build_timetable(
        places,
        start=START,
        end=START + dt.timedelta(days=DAYS),
        zone_of="Europe/Vienna",
        usual=read_usual_hours(),
    )


def visits() -> tuple[np.ndarray, np.ndarray]:
    """Each place once on the way, for each of many possible delays."""
    place_ix = np.repeat(np.arange(PLACES), DELAYS)
    nominal_s = START.timestamp() + np.linspace(0.0, DAYS * 86400.0, PLACES)
    delay_s = np.arange(DELAYS) * 60.0
    return place_ix, (nominal_s[:, None] + delay_s).ravel()


def test_timetable_of_5000_places_over_20_days(benchmark, places):
    benchmark.pedantic(timetable_of, args=(places,), rounds=3, warmup_rounds=1)


def test_900000_visits_against_asking_one_by_one(benchmark, places):
    from opening_hours import OpeningHours

    table = timetable_of(places)
    place_ix, arrive_s = visits()
    found = benchmark(states, table, place_ix, arrive_s, 0.0, 0.0)

    hours = [
        place.opening_hours and OpeningHours(place.opening_hours, country="AT", auto_country=False)
        for place in places
    ]
    some = np.random.default_rng(3).choice(len(place_ix), 20_000, replace=False)
    asked = [(hours[place_ix[i]], float(arrive_s[i])) for i in some]
    start = time.perf_counter()
    alone = [
        one.is_open(dt.datetime.fromtimestamp(at_s, ZONE).replace(tzinfo=None)) if one else None
        for one, at_s in asked
    ]
    one_by_one_s = (time.perf_counter() - start) / len(some) * len(place_ix)

    code = {True: OpenState.OPEN.value, False: OpenState.SHUT.value, None: OpenState.UNKNOWN.value}
    assert [code[answer] for answer in alone] == found[some].tolist()
    print(f"\none by one / own: {one_by_one_s / benchmark.stats['median']:.0f}x")
