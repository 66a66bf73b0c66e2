"""Whether a station sells what the tank takes, and what becomes of stations that do not."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from resupply.common.errors import TripFileError
from resupply.places.fuels import fuel_confidence, is_unmanned
from resupply.places.place import Confidence, Supply
from resupply.places.tags import classify, kept_tags
from resupply.trip.fuels import FUELS, is_fuel
from resupply.trip.read_file import make_trip

STATED, LIKELY = Confidence.STATED, Confidence.LIKELY


def sold(*takes, kind="amenity=fuel", **fuels):
    tags = {f"fuel:{name}": value for name, value in fuels.items()}
    return fuel_confidence(kind, tags, takes or ("petrol",))


@pytest.mark.parametrize(
    ("fuels", "confidence"),
    [
        ({}, STATED),
        ({"octane_95": "yes"}, STATED),
        ({"octane_87": "yes", "diesel": "yes"}, STATED),
        ({"e10": "yes"}, STATED),
        ({"octane_98": "no", "octane_95": "yes"}, STATED),
        ({"e10": "no"}, LIKELY),
        ({"octane_98": "no"}, LIKELY),
        ({"diesel": "yes"}, LIKELY),
        ({"GTL_diesel": "yes", "lpg": "yes"}, LIKELY),
        ({"e85": "yes"}, LIKELY),
        ({"discount": "card"}, STATED),
        ({"octane_95": "no"}, None),
        ({"octane_95": "no", "diesel": "yes"}, None),
        ({"octane_98": "no", "diesel": "yes"}, None),
        ({"diesel": "yes", "others": "no"}, None),
        ({"lpg": "yes"}, LIKELY),
        ({"lng": "yes"}, None),
        ({"cng": "yes"}, None),
        ({"h70": "yes"}, None),
        ({"h35": "yes", "h70": "yes"}, None),
        ({"HGV_diesel": "yes"}, None),
        ({"100LL": "yes"}, None),
        ({"avgas": "yes", "JetA1": "yes"}, None),
        ({"electricity": "yes"}, None),
        ({"adblue": "yes"}, None),
    ],
)
def test_petrol_is_stated_only_where_the_map_does_not_speak_of_others(fuels, confidence):
    assert sold(**fuels) is confidence


def test_a_grade_is_stated_where_it_is_named_and_likely_where_others_are():
    assert sold("octane_98", octane_98="yes") is STATED
    assert sold("octane_98", octane_95="yes") is LIKELY
    assert sold("octane_98", octane_98="no", octane_95="yes") is None
    assert sold("octane_98", "octane_95", octane_98="no", octane_95="yes") is STATED


def test_a_tank_for_something_else_is_judged_the_same_way():
    assert sold("diesel", diesel="yes") is STATED
    assert sold("diesel", octane_95="yes") is LIKELY
    assert sold("diesel", octane_95="yes", diesel="no") is None
    assert sold("lpg", lpg="yes") is STATED
    # A station that names nothing has petrol and diesel; of the rest nobody knows.
    assert sold("lpg") is LIKELY
    assert sold("e85") is LIKELY
    assert sold("lpg", octane_95="yes") is None


def test_fuel_in_cans_may_be_any_fuel():
    assert sold(kind="shop=fuel") is LIKELY
    assert sold(kind="shop=fuel", charcoal="yes") is None
    assert sold(kind="shop=fuel", octane_95="yes") is STATED


@pytest.mark.parametrize(
    "tag",
    [("hgv", "only"), ("waterway", "fuel"), ("aeroway", "fuel"), ("boat", "only"),
     ("motorcycle", "no"), ("motor_vehicle", "private")],
)  # fmt: skip
def test_pumps_for_lorries_boats_and_aircraft_are_no_fuel(tag):
    found = classify(dict([("amenity", "fuel"), tag]))
    assert found is None or Supply.FUEL not in found[1]


def test_every_fuel_a_station_names_is_kept():
    tags = {"amenity": "fuel", "fuel:octane_95": "no", "fuel:h70": "yes", "fuelling": "x"}
    assert kept_tags(tags) == {"amenity": "fuel", "fuel:octane_95": "no", "fuel:h70": "yes"}


def test_the_trip_file_takes_names_of_fuels_only():
    assert make_trip({}).fuel.takes == ("petrol",)
    assert make_trip({"fuel": {"takes": ["octane_98", "e5"]}}).fuel.takes == ("octane_98", "e5")
    assert all(is_fuel(name) for name in FUELS)
    with pytest.raises(TripFileError, match="octan_98"):
        make_trip({"fuel": {"takes": ["octan_98"]}})
    with pytest.raises(TripFileError, match="takes"):
        make_trip({"fuel": {"takes": []}})


def test_an_unmanned_pump_is_one_that_says_so():
    assert is_unmanned({"automated": "yes"})
    assert not is_unmanned({"self_service": "yes"})


@given(
    st.dictionaries(
        st.sampled_from(["octane_95", "octane_98", "diesel", "lpg", "h70", "others", "x"]),
        st.sampled_from(["yes", "no", ""]),
    ),
    st.sampled_from(["octane_95", "octane_98", "diesel"]),
)
def test_a_fuel_said_not_to_be_there_is_never_stated(fuels, grade):
    assert sold(grade, **{**fuels, grade: "no"}) is None
