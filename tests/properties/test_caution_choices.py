"""Nothing looks safer for being planned in another style, from a kept map or from a catalogue."""

from __future__ import annotations

import json
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from catalogue_server import box
from examples import examples
from extract_files import Drawing, straight_route
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from told import plan_document
from worlds import prepared_world, shops_along, trip_of, winding_route

from resupply.hours.state import OpenState
from resupply.places.catalogue import read_catalogue
from resupply.places.place import RouteSpan, Supply
from resupply.places.smallest_set import smallest_set
from resupply.plan import kept_corridor
from resupply.plan.pipeline import plan_trip
from resupply.plan.prepare import prepare
from resupply.route.route import make_route
from resupply.trip.choice import STYLES
from resupply.trip.settings import Trip

# -- styles --

ROUTE = winding_route(900, points=600)
HOURS = ("Mo-Sa 08:00-19:00", None, "24/7", "Mo-Fr 09:00-12:30,15:00-19:00", "broken 9-17")
KM = st.lists(st.floats(1, 890), min_size=1, max_size=8, unique=True).map(sorted)
styles = st.sampled_from(sorted(STYLES))


def in_style(style, places, unknown=()):
    trip = trip_of(pace={"daily_km": 220.0, "speed_kmh": 50.0}, food={"style": style})
    return plan_trip(prepared_world(ROUTE, places, trip, unknown=unknown), trip)


@settings(max_examples=examples(5))
@given(style=styles, km=KM, seed=st.integers(0, 99))
def test_no_style_calls_a_door_open_or_counts_on_one_that_its_hours_do_not_give(style, km, seed):
    places = shops_along(ROUTE, km, hours=HOURS[seed % 5 :] + HOURS, seed=seed)
    plan = in_style(style, places)
    assert all(stop.risk != OpenState.SHUT for stop in plan.supply.stops)
    facts = {row["label"]: row for row in plan_document(plan)["summary"]["facts"]}
    told = facts["Food stops"]["value_words"]
    sure = all(stop.risk == OpenState.OPEN for stop in plan.supply.stops)
    assert ("all open by stated hours" in told) == (sure and len(plan.supply.stops) > 1)
    assert (facts["Food stops"]["tone"] == "plain") == sure
    bare = in_style(style, tuple(replace(place, opening_hours=None) for place in places))
    assert not np.isin(bare.risk, [OpenState.OPEN, OpenState.TIGHT, OpenState.SHUT]).any()
    for row in plan_document(bare)["styles"]:
        assert row["stops"] == 0 or row["fail_chance"] > 0.0


@settings(max_examples=examples(5))
@given(style=styles, km=KM, start=st.floats(0, 800), length=st.floats(5, 300))
def test_every_style_says_where_map_data_is_missing(style, km, start, length):
    hole = RouteSpan(start * 1000, min(start + length, 890) * 1000, "lost")
    plan = in_style(style, shops_along(ROUTE, km), (hole,))
    document = plan_document(plan)
    assert document["coverage"]["words"] in document["summary"]["cautions"]
    for gap in plan.gaps[Supply.GROCERIES]:
        assert gap.crosses_unknown == (gap.start_m < hole.end_m and gap.end_m > hole.start_m)


# -- what was kept of a map --


def bent(by_deg):
    """A straight route with a bulge in its middle, to the north."""
    lon = np.linspace(-26.0, -25.0, 201)
    bulge = np.exp(-(((lon + 25.5) / 0.05) ** 2)) * (np.abs(lon + 25.5) < 0.45)
    return make_route([(lon, 46.5 + by_deg * bulge, None)])


def unknown_km(found):
    return [(one.start_m / 1000, one.end_m / 1000) for one in found.places.coverage.unknown]


@pytest.fixture
def keeps_all(monkeypatch):
    monkeypatch.setattr(kept_corridor, "_LEAST_BYTES", 0)


@settings(max_examples=examples(3), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    by_deg=st.floats(0.0, 0.04),
    ends=st.floats(-25.9, -24.9),
    shops=st.lists(st.tuples(st.floats(-26.0, -25.0), st.floats(46.46, 46.56)), max_size=4),
)
@pytest.mark.usefixtures("keeps_all")
def test_a_kept_map_knows_no_more_than_the_map_it_is_of(by_deg, ends, shops):
    trip = Trip.model_validate({"map": {"extracts": ["a.osm.pbf"]}})
    map_ = Drawing()
    map_.road(end=(min(ends, -25.0), 46.5))
    for lon, lat in shops:
        if lon < ends:
            map_.node(lon, lat, shop="supermarket")
    with tempfile.TemporaryDirectory() as kept, tempfile.TemporaryDirectory() as fresh:
        for folder in (kept, fresh):
            map_.write(Path(folder) / "a.osm.pbf", box=(-27.0, 45.0, ends, 48.0))
        prepare(trip, Path(kept), route=straight_route())
        found = prepare(trip, Path(kept), route=bent(by_deg))
        wanted = prepare(trip, Path(fresh), route=bent(by_deg))
    assert unknown_km(found) == unknown_km(wanted)
    assert {one.id for one in found.places.places} == {one.id for one in wanted.places.places}
    assert np.array_equal(found.detours.extra_m, wanted.detours.extra_m, equal_nan=True)
    assert found.no_road == wanted.no_road


# -- what a catalogue offers --

EAST = make_route([(np.linspace(0.1, 3.9, 400), np.full(400, 45.0), None)])
edges = st.tuples(st.floats(-1.0, 3.5), st.floats(0.2, 3.0), st.integers(1, 3000))


@settings(max_examples=examples(10))
@given(parts=st.lists(edges, min_size=1, max_size=5), all_around=st.booleans())
def test_route_that_no_chosen_extract_holds_is_told(parts, all_around):
    features = [
        {
            "properties": {
                "id": f"r{n}", "pbf": f"http://maps/r{n}", "parent": None, "bytes": mb * 1_000_000
            },
            "geometry": box(west, 44.0, west + wide, 46.0),
        }
        for n, (west, wide, mb) in enumerate(parts)
    ]  # fmt: skip
    found = read_catalogue(json.dumps({"features": features}).encode(), "http://maps/")
    chosen = smallest_set(EAST, found, 5_000.0, all_around=all_around)
    at = np.linspace(0.1, 3.9, 2_000)
    held = np.zeros(len(at), bool)
    for region in chosen.regions:
        west, _, east, _ = region.shape.bounds
        held |= (at >= west) & (at <= east)
    lacking_m = EAST.length_m * float((~held).mean())
    # The ground is looked at every half kilometre; an end of a region may lie between.
    slack_m = 1_000.0 * (len(chosen.regions) + 1)
    assert chosen.lacking_m == pytest.approx(lacking_m, abs=slack_m)
    # And nothing that the catalogue has for the route itself is left out.
    offered = np.zeros(len(at), bool)
    for west, wide, _ in parts:
        offered |= (at >= west) & (at <= west + wide)
    assert float((offered & ~held).mean()) * EAST.length_m <= slack_m
