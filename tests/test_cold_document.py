import datetime as dt
import json
from zoneinfo import ZoneInfo

import pytest
from cold_world import (
    HOUR,
    T0,
    ambient_of,
    bare_cooler,
    food,
    home,
    ice_stop,
    make_days,
    plan,
    steady,
    utc,
)
from plan_classes import as_json

from resupply.common.show import METRIC, Show
from resupply.kitchen.cold.cooler import make_cooler
from resupply.kitchen.cold.weather import make_ambient
from resupply.report.document.cold import cold_document

ZONE = ZoneInfo("Atlantic/Azores")
DAYS = make_days([(25, 25)] * 12)


def local(at_s):
    return dt.datetime.fromtimestamp(at_s, ZONE)


def write(*plans, show=METRIC, **more):
    document = as_json(cold_document(plans, weather=DAYS, local=local, **more), show)
    json.dumps(document, allow_nan=False)
    return document


def one(found, **more):
    return write(found, **more)["coolers"][0]


@pytest.fixture
def failing():
    stored = [food("chicken", 0, 48, mass_kg=2.0)]
    return plan(make_cooler("soft", 15.0), steady(30.0), 48, stored, [home()])


def test_trace_is_hourly_in_local_time():
    found = plan(bare_cooler(0.5), steady(25.0), 24, [food("meat", 0, 24)], [home()])
    trace = one(found)["trace"]
    times = [row["t"] for row in trace]
    assert times[0] == "2027-07-09T08:00+00:00"  # Azores summer time
    hours = {t for t in times if t[14:16] == "00"}
    assert len(hours) == 25
    assert set(trace[0]) == {"t", "temp_c", "ice_kg", "ambient_c"}


def test_plan_that_holds_says_so_plainly():
    found = plan(
        bare_cooler(0.5, volume_l=16.0),
        steady(25.0),
        60,
        [food("meat", 0, 60)],
        [home(), ice_stop(30, "Kelp & Co")],
    )
    row = one(found)
    assert row["state"] == "holds"
    assert row["fails_at"] is None
    assert "stays at or below 4 °C" in row["words"]
    assert "1 ice stop on the way" in row["words"]
    assert [p["label"] for p in row["purchases"]] == ["home", "Kelp & Co"]
    assert row["ice_stops"] == 1
    assert row["ice_kg"] == sum(p["kg"] for p in row["purchases"])


def test_failure_names_the_time_the_food_and_the_degrees(failing):
    row = one(failing)
    assert row["state"] == "fails"
    assert row["fails_at"] == local(failing.fails_at_s).isoformat(timespec="minutes")
    assert row["warmest_c"] > 4.0
    assert "chicken inside" in row["words"]
    assert "does not stay cold" in row["words"]
    assert "even with all the ice that fits" in row["words"]


def test_failure_is_never_worded_as_fine(failing):
    assert "It stays" not in one(failing)["words"]


def test_unknown_weather_is_worded_as_not_known():
    ambient = ambient_of((10, 20), (12, 30), None, (14, 26))
    row = one(plan(bare_cooler(0.5), ambient, 60, [food("meat", 0, 50)], [home()]))
    assert row["state"] == "not known"
    assert row["unknown_from"] == "2027-07-10T00:00+00:00"
    assert "not known" in row["words"]
    assert "It stays" not in row["words"]
    assert row["trace"][-1]["temp_c"] is None


def test_no_cooler_and_no_need_are_said():
    bare = one(plan(make_cooler("none", 20.0), steady(25.0), 20, [food("meat", 0, 9)], []))
    assert bare["ua_w_per_k"] is None
    assert "no cooler" in bare["words"]
    idle = one(plan(bare_cooler(0.5), steady(25.0), 20, [], [home()]))
    assert idle["state"] == "no need"
    assert idle["ice_kg_per_day"] is None


def test_likely_ice_says_what_happens_without_it():
    found = plan(
        bare_cooler(0.5, volume_l=16.0),
        steady(25.0),
        60,
        [food("meat", 0, 60)],
        [home(), ice_stop(30, "Pump", likely=True)],
    )
    row = one(found)["purchases"][1]
    assert row["confidence"] == "likely"
    assert "likely, not certain" in row["words"]
    assert "If there is none, the cooler is above 4 °C from" in row["words"]
    assert row["if_none_fails_at"] is not None


def test_part_bag_is_told():
    found = plan(
        bare_cooler(0.5, volume_l=8.0),
        steady(20.0),
        20,
        [food("meat", 0, 20, mass_kg=0.5, volume_l=1.0)],
        [home(bag_kg=5.0)],
    )
    assert one(found)["purchases"][0]["words"] == "Ice from home: 3.3 kg, as much as fits."


def test_frost_says_what_freezes():
    stored = [food("meat", 0, 40)]
    frost = one(plan(bare_cooler(0.5), steady(-3.0), 40, stored, [home()]))["words"]
    mild = one(plan(bare_cooler(0.5), steady(3.0), 40, stored, [home()]))["words"]
    assert "Frost, down to −3 °C: eggs, drinks in glass and vegetables can freeze" in frost
    assert "no ice to buy" in frost
    assert "Frost" not in mild


def test_ice_gone_with_perishables_inside_quotes_the_guidance():
    found = plan(bare_cooler(0.2), steady(15.0), 3, [food("meat", 0, 3, mass_kg=4.0)], [])
    assert "No ice is left" in one(found)["words"]


def test_more_than_a_week_of_cold_food_states_the_work():
    stops = [home(), *(ice_stop(h, f"s{h}") for h in range(24, 216, 24))]
    found = plan(bare_cooler(0.5), steady(25.0), 220, [food("milk", 0, 216)], stops)
    words = one(found)["words"]
    assert "9 days of cold food take 1 ice stop and 30 kg of ice" in words


def test_ice_stands_beside_the_food_it_keeps_and_much_of_it_hardly_pays():
    stops = [home(), *(ice_stop(h, f"s{h}") for h in range(24, 216, 24))]
    meat = food("meat", 0, 216, mass_kg=1.0)
    dear = one(plan(bare_cooler(0.5), steady(25.0), 220, [meat], stops))["words"]
    assert "of ice for 1 kg of food that must stay cold. The ice outweighs" in dear
    meat = food("meat", 0, 10, mass_kg=8.0, volume_l=9.0)
    cheap = one(plan(bare_cooler(0.3), steady(20.0), 12, [meat], stops))["words"]
    assert "of ice for 8 kg of food that must stay cold." in cheap
    assert "outweighs" not in cheap


def test_imperial_sentences_use_the_published_limit(failing):
    words = one(failing, show=Show("imperial"))["words"]
    assert "40 °F" in words
    assert "°C" not in words


def test_own_clock_is_used_in_sentences(failing):
    words = one(failing, show=Show(clock=12))["words"]
    assert f"{local(failing.fails_at_s):%-I:%M %p}".lower() in words


def test_map_text_comes_out_as_it_went_in():
    label = "<script>alert('ice')</script>"
    found = plan(bare_cooler(0.5), steady(25.0), 20, [food("a", 0, 20)], [ice_stop(0, label)])
    assert one(found)["purchases"][0]["label"] == label


def test_weather_and_its_sources_are_listed():
    ambient = make_ambient(DAYS, utc)
    found = plan(bare_cooler(0.5), ambient, 20, [food("a", 0, 20)], [home()])
    document = write(found, problems=["no forecast for 2027-07-20"])
    assert document["weather"]["days"][0]["source"] == "test"
    assert document["weather"]["problems"] == ["no forecast for 2027-07-20"]
    assert any("margin, no source" in a for a in document["assumptions"])
    assert any("not checked" in s for s in document["sources"])


def test_same_plan_gives_the_same_bytes():
    def text():
        found = plan(bare_cooler(0.5), steady(25.0), 40, [food("a", 0, 40)], [home()])
        return json.dumps(write(found))

    assert text() == text()


def test_trip_of_a_fortnight_stays_small():
    stops = [home(), *(ice_stop(h, f"s{h}") for h in range(24, 330, 24))]
    ambient = steady(25.0)
    found = plan(make_cooler("hard", 25.0), ambient, 336, [food("milk", 0, 330)], stops)
    assert len(json.dumps(write(found))) < 80_000
    assert found.trace.times_s[-1] - T0 == 336 * HOUR
