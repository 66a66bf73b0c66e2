"""Numbers that a rider can notice are those that the documentation tells, word for word.

Each row: where the number is, what it is (in the units of its name), and the words that tell it.
Whoever changes one has to change both.
"""

from __future__ import annotations

import datetime as dt
import importlib
import re

import pytest
from conftest import ROOT

from resupply.common.units import KG_PER_LB, S_PER_DAY

HOUR, MIN = 3600.0, 60.0
COLD, FOOD, SUPPLY = "how/cold.md", "how/food.md", "how/supply.md"
ON_THE_ROAD, FILES = "on-the-road.md", "route-files.md"
WORDS = "how/words.md"
HOURS, ROADS, ROUTE, PLACES = "how/hours.md", "how/roads.md", "how/route.md", "how/places.md"
US_BAGS_KG = pytest.approx((7 * KG_PER_LB, 10 * KG_PER_LB, 20 * KG_PER_LB), abs=0.001)

TOLD = {
    # The cooler.
    "kitchen.cold.simulate.LIMIT_C": (4.0, COLD, "4 °C (published 40 °F = 4.4 °C, rounded down)"),
    "kitchen.cold.ice_plan.KEEP_KG": (0.5, COLD, "half a kilogram of ice, packs or frozen food"),
    "kitchen.cold.ice_plan._EARLY_S": (6 * HOUR, COLD, "none is taken more than six hours"),
    "kitchen.cold.ice_search._SLACK_KG": (0.25, COLD, "or a quarter of a kilogram of the ice"),
    "kitchen.cold.heat.LATENT_KJ_PER_KG": (333.55, COLD, "| ice, packs | 333.55 kJ/kg |"),
    "kitchen.cold.heat._FOOD_LATENT_KJ_PER_KG": (335.0, COLD, "its water share · 335 kJ/kg"),
    "kitchen.cold.cooler._AIR_KJ_PER_L_K": (
        pytest.approx(1.2e-3 * 1.005), COLD, "`n · V · 1.2 g/L · 1.005 kJ/(kg K)"),
    "kitchen.cold.steps._STEP_S": (HOUR, COLD, "cut into steps of at most an hour"),
    "kitchen.coolers._DRINKS_C": (10.0, COLD, "wanted at or below 10 °C while riding"),
    "kitchen.coolers._DRINKS_L": (1.5, COLD, "1.5 L a person put in warm each morning"),
    "kitchen.coolers._BAG_KG": (2.0, COLD, "A bag weighs 2 kg where the trip file does not say"),
    "kitchen.coolers._BAGS_US_KG": (US_BAGS_KG, COLD, "7, 10 or 20 lb (from memory)"),
    "kitchen.coolers._BAG_SHARE": (
        pytest.approx(1 / 3), COLD, "the largest that fills a third of the cooler at most"),
    "say.ice_price._DEAR": (3.0, COLD, "Where it is three times as heavy or more"),
    "say.cooler._WEEK_S": (7 * S_PER_DAY, COLD, "After more than a week of cold food"),
    # Food.
    "kitchen.food.meals.USUAL_KCAL": (2500.0, FOOD, "A day is to give 2,500 kcal a person"),
    "kitchen.food.thrift._GIVE": (0.15, FOOD, "each food may give way by 15 %"),
    "kitchen.food.thrift._LEFT_PER_KG": (30.0, FOOD, "A kilogram left over costs 30"),
    "kitchen.food.thrift._NIBBLED": (0.4, FOOD, "nibbled counts 0.4 of it"),
    "kitchen.food.thrift._CHANGED": (4, FOOD, "then changes four dishes at random"),
    "kitchen.food.larder._CARRIED": (0.1, FOOD, "for a day counts as a tenth of a kilogram wasted"),
    "kitchen.food.assign.EMPTY": (1000.0, FOOD, "| a meal without a dish | 1000 |"),
    "kitchen.food.assign.NEAR_REPEAT": (30.0, FOOD, "| 30 for every run of meals"),
    "kitchen.food.assign.TRIP_REPEAT": (3.0, FOOD, "| each further time on the trip | 3 |"),
    "kitchen.food.menu._VARIETY_MEALS": (6, FOOD, "next meals (6 unless you say otherwise)"),
    "kitchen.food.menu._FRESH": (1.0, FOOD, "| food that does not keep: eaten at all | −1 − 2u |"),
    "kitchen.food.menu._URGENT": (2.0, FOOD, "| food that does not keep: eaten at all | −1 − 2u |"),
    "kitchen.food.menu._DOUBTFUL": (1.5, FOOD, "that only a small shop may have | 1.5 |"),
    "kitchen.food.menu._PREFERRED": (2.5, FOOD, "(`party.prefer`) | −2.5 |"),
    "kitchen.food.menu._ROADSIDE": (0.15, FOOD, "that needs cooking, on the road | 0.15 |"),
    "kitchen.food.menu._HEAVY_PER_KG_DAY": (0.001, FOOD, "| 0.001 × kg × days |"),
    "kitchen.food.menu._ORDER": (0.0001, FOOD, "| 0.0001 × position |"),
    "kitchen.food.menu._KEPT": (0.2, FOOD, "a meal that need not change stays (0.2 cheaper)"),
    "kitchen.food.menu._MOVED": (0.4, FOOD, "rather than dropped (0.4 cheaper)"),
    "kitchen.food.fire.COALS_MIN": (40, FOOD, "A fire burns 40 minutes until there are coals"),
    "kitchen.food.fire.TOO_HOT_C": (30.0, FOOD, "on a day whose high reaches 30 °C"),
    "kitchen.food.room_time._MILD_C": (20.0, FOOD, "`w = 1` up to 20 °C, 2 at 30 °C"),
    "kitchen.food.room_time._TWICE_AFTER_K": (10.0, FOOD, "`w = 1` up to 20 °C, 2 at 30 °C"),
    "kitchen.food.room_time._UNKNOWN_C": (30.0, FOOD, "Heat that is not known counts as 30 °C"),
    "kitchen.food.care.HOT_C": (26.0, FOOD, "on heat and water comes from a high of 26 °C on"),
    "kitchen.menu_input._COOKED_S": (30 * MIN, FOOD, "eaten half an hour after arrival"),
    "kitchen.menu_input._EARLY_S": (2 * HOUR, FOOD, "at most two hours earlier than usual"),
    # Stops.
    "supply.if_shut._EVENING_S": (900.0, SUPPLY, "(a quarter of an hour after arriving"),
    "supply.if_shut.NEXT_DOOR_M": (100.0, SUPPLY, "A shop next door counts, up to 100 m back"),
    "supply.hours_from_camp.SETTLE_S": (900.0, SUPPLY, "(a quarter of an hour after arriving"),
    "supply.hours_from_camp._STILL_OUT_S": (2400.0, SUPPLY, "within forty minutes"),
    "supply.hours_from_camp._LATEST_NOW": (dt.time(20, 0), SUPPLY, "asked between then and 20:00"),
    "supply.hours_from_camp._LATEST_OUT": (dt.time(18, 15), SUPPLY, "up to 18:15)"),
    "supply.hours_from_camp._REST_DAY": (
        (dt.time(10), dt.time(18, 30)), SUPPLY, "on rest days (10:00 to 18:30)"),
    "supply.visit_options._DELAY_STEPS": (4 * 12, SUPPLY, "At most four hours may be lost"),
    "supply.visit_solver.STEP_MIN": (5, SUPPLY, "time lost today, in steps of five minutes"),
    "supply.candidates.MEALS_OF_SMALL": (3, SUPPLY, "small one for a day (three meals)"),
    "supply.candidates.MEALS_OF_SPECIALIST": (1, SUPPLY, "such as a bakery for one meal"),
    "supply.daily_distance._COUNT": (40, SUPPLY, "again for forty daily distances"),
    "supply.daily_distance._MOST_DAYS": (25, SUPPLY, "(from 50 km, or what makes 25 days of it"),
    "supply.daily_distance._SHORTEST_M": (50e3, SUPPLY, "(from 50 km, or what makes 25 days of it"),
    "supply.daily_distance._LONGEST_M": (800e3, SUPPLY, "to 800 km or one day)"),
    "supply.spots.SPOT_M": (150.0, SUPPLY, "ice at a food shop or within 150 m of it"),
    "supply.eat_out._BREAKFAST_S": (HOUR, SUPPLY, "a bakery or a café in the first hour"),
    "supply.eat_out._LUNCH_S": (HOUR, SUPPLY, "a place passed within an hour of its time"),
    "supply.water._WAKING_H": (16.0, ROADS, "is spread over 16 waking hours"),
    "supply.water._AT_CAMP_M": (500.0, ROADS, "at camps without water within 500 m"),
    # Hours.
    "hours.describe.OLD_CHECK_YEARS": (5.0, HOURS, "more than five years before the day"),
    "hours.stated.LONGEST_TEXT": (1_000, HOURS, "longer than 1,000 characters"),
    # Roads.
    "roads.detours.STRAIGHT_FACTOR": (1.4, ROADS, "there and back times 1.4 (common practice"),
    "roads.detours._WALK_M": (500.0, ROADS, "connected with the route, at most 500 m away"),
    "roads.detours._SPAN_M": (30_000.0, ROADS, "Both lie within 30 km of the pass"),
    "roads.detours._LIMITS_S": (
        (15 * MIN, 25 * MIN, 45 * MIN, 90 * MIN), ROADS,
        "Rides of up to 15 minutes each way are looked for first, then 25, 45 and 90"),
    "roads.detours._ROUTE_S_PER_M": (0.01, ROADS, "of route left out counts as 10 s"),
    "roads.detours._OFF_PASS_S_PER_M": (0.005, ROADS, "or *r* before it, counts as 5 s"),
    "roads.quickest.SAVING_S": (30.0, ROADS, "no other saves more than 30 s"),
    "roads.search._MUCH_FARTHER_M": (50.0, ROADS, "a road nearer by more than 50 m is *not*"),
    "roads.search._SAME_DOOR_M": (10.0, ROADS, "(and any other within 10 m more: a corner)"),
    "roads.sources.REACH_M": (20_000.0, ROADS, "takes the roads within 20 km of the route"),
    "roads.match._SAMPLE_M": (40.0, ROADS, "Every 40 m of the line gets"),
    "roads.match._ROADS": (6, ROADS, "the nearest six roads within 60 m"),
    "roads.match._WITHIN_M": (60.0, ROADS, "the nearest six roads within 60 m"),
    "roads.chains._BRIDGE_HOLE_M": (1_000.0, ROADS, "Holes of up to a kilometre are bridged"),
    "say.names._ON_FOOT_M": (50.0, ROADS, "are told as a walk where they are 50 or more"),
    # The route.
    "route.route.JOIN_M": (30.0, ROUTE, "more than 30 m from the end of the last"),
    "route.jumps.ASK_M": (2_000.0, ROUTE, "A jump of 2 km or more of which nothing is said"),
    "route.jumps._FERRY_KMH": (30.0, ROUTE, "its straight length at 30 km/h"),
    "route.content.MAX_BYTES": (200_000_000, ROUTE, "more than 200 MB, 2,000,000 points"),
    "route.content.MAX_POINTS": (2_000_000, ROUTE, "more than 200 MB, 2,000,000 points"),
    "route.content.MAX_PARTS": (20_000, ROUTE, "or 20,000 pieces of line | refused"),
    "passes.approaches.HYSTERESIS_MIN_M": (150.0, ROUTE, "at least 150 m"),
    "passes.approaches.HYSTERESIS": (0.25, ROUTE, "(1.25 km at 5 km)"),
    "plan.prepared.USUAL_KMH": (60.0, "trip-file.md", "60 km/h where none are known"),
    # The map.
    "places.coverage.SPACING_M": (500.0, PLACES, "Points are judged every 500 m"),
    "places.duplicates._SAME_SPOT_M": (30.0, PLACES, "if they are within 30 m of each"),
    "places.overpass._SHORTEST_M": (20_000.0, PLACES, "in two halves, down to 20 km"),
    "places.overpass._ROADS_WITHIN_M": (500.0, PLACES, "and ferries within 500 m of the route"),
    "places.fetch._FRESH_S": (30 * S_PER_DAY, "quick-start.md", "It is kept for 30 days"),
    # The way, the phone and the files.
    "plan.day_notes._WITHIN_M": (250.0, SUPPLY, "the time zones, to about 250 m"),
    "plan.day_notes._EVERY_M": (5_000.0, SUPPLY, "a visit of less than 5 km may be missed"),
    "plan.where_left._ELSEWHERE_M": (2_000.0, ROADS, "more than 2 km off all the same"),
    "plan.pocket.MOST_PLANS": (48, "how/pocket.md", "never the clock: 48"),
    "plan.on_the_way._FAR_BACK_M": (30_000.0, ON_THE_ROAD, "up to 60 km on, 30 km back"),
    "cli.news._FAR_ON_M": (60_000.0, ON_THE_ROAD, "up to 60 km on, 30 km back"),
    "cli.news._MOST_CAMPS": (3, ON_THE_ROAD, "you choose among three"),
    "passes.position._BESIDE_TOO_M": (150.0, SUPPLY, "the position is nearer by 150 m"),
    "report.calendar.WARN_BEFORE": (
        dt.timedelta(hours=1), ON_THE_ROAD, "the last hour before a stated closing, with an alarm"),
    "route.gpx.SPARSE_M": (5_000.0, ROUTE, "If any step is longer than 5 km"),
    "route.content.MAX_MARKS": (10_000, ROUTE, "(at most 10,000; a warning counts the rest)"),
    "route.kml.MAX_ENTRIES": (10_000, FILES, "10,000 files in the archive"),
    "route.geojson.MAX_JSON_BYTES": (64_000_000, FILES, "| GeoJSON | 64 MB, 10 million values"),
    "route.fit.MAX_FIT_BYTES": (8_000_000, FILES, "| FIT | 8 MB, 1 million messages"),
    "route.fit._MAX_MESSAGES": (1_000_000, FILES, "| FIT | 8 MB, 1 million messages"),
    "route.legs._SHORT_SHARE": (0.2, "trip-file.md", "a last one under a fifth of a day"),
    "kitchen.second_menu._MOST": (3, FOOD, "For each such stop, the first three of a trip"),
    "kitchen.food.gear._CARTRIDGES_G": ((100, 230, 450), FOOD, "cartridges of 100, 230 and 450 g"),
    "kitchen.food.stove._POT_PORTIONS": (4, FOOD, "pots and pans for four portions each"),
    "places.base_map._READ_TOLERANCE_M": (20.0, PLACES, "simplified by 20 m on reading"),
    "places.overpass.STRETCH_M": (100_000.0, PLACES, "within reach of a stretch of 100 km"),
    "places.overpass._FRESH_DAYS": (30, PLACES, "and used again for 30 days"),
    "roads.live._PIECE_M": (40_000.0, ROADS, "40 km at a time from fixed marks"),
    "supply.open_risk._SHORT_STOP_S": (
        15 * MIN, SUPPLY, "| a stop at a pump, a tap or an ice box | 15 min |"),
    "supply.open_risk.MEAL_OUT_S": (30 * MIN, SUPPLY, "| a meal out, at the least | 30 min |"),
    "supply.if_shut._FOUND_SHUT_S": (
        15 * MIN, SUPPLY, "| to find a door shut and look for another | 15 min |"),
    "supply.visit_options.OUT_HALF_S": (
        10 * MIN, SUPPLY, "| the hour to leave camp for a shop is kept within | 10 min |"),
    "supply.fuel_range._BESIDE_M": (
        300.0, SUPPLY, "| a station is beside a shop, without riding on, within | 300 m |"),
    "plan.shops_ahead.ARRIVED_M": (
        1_000.0, SUPPLY, "| you have arrived at a camp or the end from | 1 km |"),
    "passes.position._BESIDE_M": (
        2_000.0, SUPPLY, "| a position is not on the route beyond | 2 km |"),
    "plan.cautions._ROADLESS_M": (
        5_000.0, SUPPLY, "| of the route may lie beside the roads of the map, unsaid |"),
    # When a thing is worth a word.
    "say.asked_shops._MOST_NAMED": (4, WORDS, "that are shut, one caution each | 4 |"),
    "say.cautions.MOST_NAMED": (4, WORDS, "| names in one sentence; the others are counted | 4 |"),
    "say.day_facts._MOST_NAMED": (4, WORDS, "| meals out without a place, named | 4 |"),
    "report.document.answers._MOST_ICE": (2, WORDS, "with ice among the first answers | 2 |"),
    "report.document.changed._MOST_NAMED": (3, WORDS, "in the five lines of `resupply here` | 3 |"),
    "report.document.changed._SAME_MIN": (5, WORDS, "| there a time is another one from | 5 min |"),
    "report.document.changed._SAME_M": (500.0, WORDS, "a stretch is another one from | 500 m |"),
    "report.document.changed._SAME_KG": (0.05, WORDS, "ice is another amount from | 0.05 kg |"),
    "cli.news._MOST_OFFERED": (4, WORDS, "| places offered where a name fits several | 4 |"),
    "say.door_hours._MOST_RULES": (6, WORDS, "read as a person writes them | 6 |"),
    "say.carry._EVENING_H": (17, WORDS, '| "in the evening" | 17:00 |'),
    "say.day._WAY_S": (5 * MIN, WORDS, "| the time of a way to a camp | 5 min |"),
    "say.day._MOVED_M": (50.0, WORDS, "| a day's end that was moved | 50 m |"),
    "report.document.days._LOOSE_M": (1_000.0, WORDS, "| gravel or track of a day | 1 km |"),
    "say.gaps._BESIDE_M": (1_000.0, WORDS, "a beginning and an end of its own | 1 km |"),
    "say.gaps._ALIKE_M": (1_000.0, WORDS, "with the same meals, told apart | 1 km |"),
    "say.names._DETOUR_M": (2_000.0, WORDS, "| the way to a shop, there and back | 2 km |"),
    "say.names._OFF_ROUTE_M": (200.0, WORDS, "| the way to water, by road | 200 m |"),
    "report.document.stops._SAME_SPOT_M": (100.0, WORDS, "is left at one spot | 100 m |"),
    "say.under_way._SIP_L": (0.5, WORDS, "of what is needed, as a caution | 0.5 L |"),
    "say.cooler._LEAST_L": (0.05, WORDS, "| what is in the cooler | 0.05 L |"),
    "say.ice._LEAST_KG": (0.05, WORDS, "| ice that will not fit | 0.05 kg |"),
    "say.ice._NIGHT_S": (1.5 * S_PER_DAY, WORDS, "for the rule of thumb on ice | 1.5 days |"),
    "say.stops._MOSTLY": (0.5, WORDS, "as fresh as a dinner can be | half |"),
    "api.explore._MOST_CAUTIONS": (12, WORDS, "of a plan shown in a notebook | 12 |"),
    # Small numbers of the stops, the kitchen and the files.
    "supply.visit_options._FALLBACK_STEP": (6, SUPPLY, "a shut one is judged later by | 30 min |"),
    "supply.fuel_range._SAME_PASS_M": (5_000.0, SUPPLY, "| a station passed again after more than"),
    "supply.ice_stops._SAME_PASS_M": (2_000.0, SUPPLY, "| ice passed again after more than"),
    "supply.daily_distance._COARSE_M": (100e3, SUPPLY, "in steps of 5 km from | 100 km |"),
    "supply.nights._EVENING_S": (6 * HOUR, SUPPLY, "| a camp is judged by its hours at | 18:00 |"),
    "supply.nights._NOON": (dt.time(12), SUPPLY, "| a camp is judged by its hours at | 18:00 |"),
    "supply.nights._THERE_M": (50.0, SUPPLY, "you set for a day lies within | 50 m |"),
    "supply.hours_from_camp._OUT_STEP_S": (15 * MIN, SUPPLY, "a shop are tried every | 15 min |"),
    "supply.camps._BACK_AT_CAMP_MIN": (10.0, ROADS, "10 for the same again after one night"),
    "report.document.passes._DOORS_BEFORE_S": (12 * 3600, SUPPLY, "after you pass | 12 h, 36 h |"),
    "report.document.passes._DOORS_AFTER_S": (36 * 3600, SUPPLY, "after you pass | 12 h, 36 h |"),
    "plan.pocket._LEAST_KM": (10.0, SUPPLY, "is not planned for the way | 10 km |"),
    "report.gpx.MOST_POINTS": (100, ON_THE_ROAD, "at most 100 points"),
    "report.pocket.ROOM": (1_500_000, "how/pocket.md", "All of them may take 1.5 MB"),
    "roads.live.MOST_BYTES": (400_000_000, ROADS, "no more than 400 MB for one route"),
    "roads.chains._BRIDGE_FACTOR": (1.5, ROADS, "(at most half as long again and 100 m)"),
    "roads.chains._BRIDGE_EXTRA_M": (100.0, ROADS, "(at most half as long again and 100 m)"),
    "places.overpass._MOST_FAILURES": (3, PLACES, "after three failed stretches in a row"),
    "places.coverage.SIDE_M": (2_500.0, PLACES, "road of the extract comes within 2.5 km of it"),
    "route.geojson._MAX_VALUES": (10_000_000, FILES, "| GeoJSON | 64 MB, 10 million values |"),
    "route.legs._STUB_M": (1_000.0, "trip-file.md", "a rest of under 1 km is added"),
    "kitchen.coolers._FREEZE_S": (8 * HOUR, COLD, "Less than eight hours in a freezer do not"),
    "kitchen.plan._OWN_KG": (1.0, COLD, "a kilogram of perishable food a person counts as"),
    "kitchen.agree._MORE_KG": (0.15, FOOD, "so that 150 g a rider more are left over"),
    "kitchen.food.thrift._MUCH_KG": (0.15, FOOD, "Where 150 g a rider or more are left over"),
    "kitchen.food.thrift._FEW_MEALS": (12, FOOD, "twelve meals at most with as many again"),
    "kitchen.food.menu._APART": (1.0, FOOD, "another one counts 1.0 more"),
    "kitchen.food.mixed._MOST_APART": (0.4, FOOD, "at most 40 % of its energy"),
    "kitchen.food.mixed._FEWEST_LEFT": (2, FOOD, "two foods beside the kit are left"),
}  # fmt: skip


def words_of(page: str) -> str:
    """Text of a page on one line, without the stars of bold type."""
    text = (ROOT / "docs" / page).read_text("utf-8")
    return re.sub(r"\s+", " ", text.replace("**", ""))


@pytest.mark.parametrize("where", TOLD)
def test_a_number_that_a_rider_can_notice_is_the_one_in_the_documentation(where):
    value, page, words = TOLD[where]
    module, _, name = where.rpartition(".")
    assert getattr(importlib.import_module(f"resupply.{module}"), name) == value
    assert words in words_of(page)


def test_meals_share_the_energy_of_a_day_as_the_documentation_tells():
    from resupply.kitchen.food.thrift import MEAL_SHARE

    assert [round(100 * share) for share in MEAL_SHARE.values()] == [23, 25, 30]
    assert "Meals give 23, 25 and 30 % of it" in words_of(FOOD)


def test_a_fire_takes_the_charcoal_that_the_documentation_tells():
    from resupply.kitchen.food.fire import _GOODS

    (charcoal, _) = _GOODS
    assert (charcoal.amount, charcoal.unit) == (350.0, "g")
    assert "350 g of charcoal a person and meal" in words_of(FOOD)


def test_styles_weigh_what_the_documentation_tells():
    from resupply.trip.choice import STYLES

    assert dict(STYLES) == {"fresh": 1.6, "balanced": 1.0, "few": 0.1}
    assert "`fresh` 1.6, `balanced` 1, `few` 0.1" in words_of(SUPPLY)
