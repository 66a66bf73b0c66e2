"""Less time at an open door, or a map that lacks something, makes nothing look safer."""

from __future__ import annotations

import datetime as dt
import json
import tempfile
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import shapely
from examples import examples
from extract_files import Drawing, straight_route
from hypothesis import given, settings
from hypothesis import strategies as st
from told import plan_document
from worlds import prepared_world, shop, trip_of, winding_route

from resupply.hours.state import OpenState
from resupply.places.extract import places_from_extract
from resupply.places.overpass import places_from_service
from resupply.places.overpass_answers import checked
from resupply.plan.pipeline import plan_trip
from resupply.plan.prepared import cover_span
from resupply.supply.open_risk import judge_of, shut_chance
from resupply.trip.choice import ChanceKeys

TRIP = trip_of(pace={"daily_km": 50.0, "speed_kmh": 50.0})
MONDAY = dt.datetime(2027, 7, 12, tzinfo=dt.UTC)

# -- doors that are open for a part of the time in which one may arrive --

WINDING = winding_route(100, points=100)
NOON_S = 12 * 3600.0


@settings(max_examples=examples(7))
@given(
    half_min=st.integers(5, 60),
    stay_min=st.integers(10, 40),
    shares=st.tuples(st.floats(0.02, 0.98), st.floats(0.02, 0.98)),
)
def test_a_door_open_for_less_of_the_time_is_no_likelier_to_be_open(half_min, stay_min, shares):
    # They shut after the planned time, within the time in which one may still be there.
    shut_min = [720 + 1 + int(share * (half_min + stay_min - 2)) for share in sorted(shares)]
    lon, lat = WINDING.position_at(50_000.0)
    hours = [f"Mo-Su 06:00-{minute // 60:02d}:{minute % 60:02d}" for minute in shut_min]
    doors = tuple(shop(n, lon, lat + 0.001, hours=text) for n, text in enumerate(hours, 1))
    world = replace(prepared_world(WINDING, doors, TRIP), zone="UTC")
    world = cover_span(world, MONDAY.date(), MONDAY.date())
    rows = np.array([np.flatnonzero(world.passes.place_ix == ix)[0] for ix in (0, 1)])
    judged = judge_of(world)(
        rows,
        np.full(2, MONDAY.timestamp() + NOON_S),
        np.full(2, half_min * 60.0),
        np.full(2, stay_min * 60.0),
    )
    open_min = np.array(shut_min) - 720 + half_min
    assert judged.state.tolist() == [OpenState.TIGHT] * 2
    np.testing.assert_allclose(judged.open_share, open_min / (2 * half_min + stay_min), atol=0.001)
    less, more = shut_chance(ChanceKeys(), judged)
    assert less >= more
    assert (less > more) == (shut_min[0] < shut_min[1]) or more == ChanceKeys().open


# -- a map service that names shops without saying where they are --

ROUTE = straight_route()
LENGTH_KM = ROUTE.length_m / 1000.0
HALF_M = ROUTE.length_m / 2.0
# Away from the ends of both stretches, so that each lies within reach of one alone.
SPOTS = [km for km in range(8, int(LENGTH_KM) - 8) if abs(km - LENGTH_KM / 2) > 8]


class FromHere:
    """The map service, answering from shops in memory and lacking the nodes of some."""

    endpoint = "http://map.example/api"
    web = SimpleNamespace(contact="rider@example.org")

    def __init__(self, shop_km, lost):
        self.lonlat = {n: ROUTE.position_at(km * 1000.0) for n, km in enumerate(shop_km, 1)}
        self.lost = lost

    def ask(self, polygon, _tags, *, roads_in):
        elements = []
        for n, (lon, lat) in self.lonlat.items():
            if polygon.contains(shapely.Point(lon, lat)):
                tags = {"shop": "supermarket"}
                elements.append({"type": "way", "id": n, "nodes": [n, n], "tags": tags})
                if n not in self.lost:
                    elements.append({"type": "node", "id": n, "lon": lon, "lat": lat})
        assert roads_in
        ends = [{"lon": lon, "lat": lat} for lon, lat in ((-26.0, 46.5), (-25.0, 46.5))]
        road = {"type": "way", "id": 999, "nodes": [998, 999], "geometry": ends}
        stamp = {"timestamp_osm_base": "2027-06-20T10:00:00Z"}
        body = json.dumps({"osm3s": stamp, "elements": [*elements, road]})
        return body.encode(), checked(body, "2027-06-21T10:00:00+00:00")


@settings(max_examples=examples(4))
@given(
    shop_km=st.lists(st.sampled_from(SPOTS), min_size=1, max_size=6, unique=True).map(sorted),
    lost=st.sets(st.integers(1, 6)),
)
def test_every_shop_without_a_position_is_counted_and_its_stretch_not_known(shop_km, lost):
    legs = ((0.0, HALF_M), (HALF_M, ROUTE.length_m))
    with tempfile.TemporaryDirectory() as folder:
        client = FromHere(shop_km, lost)
        found = places_from_service(
            ROUTE, legs, client=client, cache_dir=Path(folder), reach_m=3_000.0
        )
    unknown = [(one.start_m, one.end_m) for one in found.coverage.unknown]
    lost_m = [km * 1000.0 for n, km in enumerate(shop_km, 1) if n in lost]
    for start_m, end_m in legs:
        known = not any(start_m < at_m < end_m for at_m in lost_m)
        assert known == all(end_m <= s or start_m >= e for s, e in unknown)
    counts = [int(one.reason.split()[-3]) for one in found.coverage.unknown]
    assert counts == [sum(s < at_m < e for at_m in lost_m) for s, e in unknown]
    assert sum(counts) == len(lost_m)
    assert len(found.places) == len(shop_km) - len(lost_m)
    world = prepared_world(ROUTE, found.places, TRIP, unknown=found.coverage.unknown)
    document = plan_document(plan_trip(world, TRIP))
    reasons = [row["reason"] for row in document["coverage"]["unknown"]]
    assert reasons == [one.reason for one in found.coverage.unknown]
    for block in document["gaps"].values():
        for gap in block["all"]:
            touches = [s for s, e in unknown if gap["start_m"] < e and gap["end_m"] > s]
            assert gap["crosses_unknown"] == bool(touches)


# -- an extract of another region --


@settings(max_examples=examples(3))
@given(
    away=st.tuples(st.floats(-60, 60), st.floats(-40, 30)).filter(
        lambda by: abs(by[0]) > 3 or abs(by[1]) > 1
    ),
    boxed=st.booleans(),
    km=st.lists(st.floats(0, 1), max_size=3),
)
def test_an_extract_that_does_not_touch_the_route_is_never_no_shop(away, boxed, km):
    west, south = -26.0 + away[0], 46.5 + away[1]
    far = Drawing()
    far.road(start=(west, south), end=(west + 0.2, south), pieces=10)
    for share in [0.5, *km]:
        far.node(west + 0.2 * share, south, shop="supermarket")
    box = (west - 0.1, south - 0.1, west + 0.3, south + 0.1) if boxed else None
    with tempfile.TemporaryDirectory() as folder:
        path = far.write(Path(folder) / "far.osm.pbf", box=box)
        found = places_from_extract([path], ROUTE, reach_m=5_000.0)
    assert found.places == ()
    ((start_m, end_m),) = [(one.start_m, one.end_m) for one in found.coverage.unknown]
    assert (start_m, end_m) == (0.0, ROUTE.length_m)
    world = prepared_world(ROUTE, (), TRIP, unknown=found.coverage.unknown)
    document = plan_document(plan_trip(replace(world, places=found), TRIP))
    said = document["coverage"]["warnings"]
    assert any(
        words.startswith("far.osm.pbf doesn't touch the route: it lies in ") for words in said
    )
    assert set(said) <= set(document["summary"]["cautions"])
    assert "where there are shops is not known" in document["summary"]["headline"]
    for block in document["gaps"].values():
        assert block["longest"]["crosses_unknown"]
        assert "Map data is missing" in block["longest"]["words"]
    assert "has no shop" not in json.dumps(document)
    assert "no shop in reach" not in json.dumps(document)
