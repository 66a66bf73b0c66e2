import pytest
from kitchen_world import home, make_slots, plan, situation

from resupply.common.show import text
from resupply.kitchen.food.care import Situation, boil_minutes, care_for, load_care
from resupply.kitchen.food.dishes import Allergen
from resupply.kitchen.food.meals import Diet, Fire
from resupply.kitchen.food.rations import load_rations, water_need
from resupply.kitchen.food.sources import load_sources, said_by


def ids(situation):
    return [note.id for note in care_for(situation, load_care())]


def test_every_caution_appears_once():
    found = ids(situation(plan(make_slots(6), [home()])))
    assert len(found) == len(set(found))
    assert found[0] == "local-rules"


def test_raw_meat_brings_the_board_and_the_thermometer():
    meaty = ids(situation(plan(make_slots(3), [home()])))
    assert {"one-board", "raw-meat-temperature", "two-hours", "no-reheating"} <= set(meaty)
    vegan = ids(situation(plan(make_slots(3), [home()], diet=Diet(vegan=True)), cooler=False))
    assert not {"one-board", "raw-meat-temperature", "egg-temperature", "ice-gone"} & set(vegan)


def test_a_trip_without_cooking_has_no_stove_or_fire_cautions():
    cool = situation(plan(make_slots(3, no_cook=True), [home()]))
    assert not {"carbon-monoxide", "stove", "fire", "foil-coals", "dish-water"} & set(ids(cool))


def test_foil_packs_bring_coals_steam_and_carbon_monoxide():
    found = ids(situation(plan(make_slots(3, fire=Fire.YES), [home()])))
    assert {"foil-coals", "foil-steam", "fire", "carbon-monoxide"} <= set(found)


def test_what_is_not_known_is_cautioned():
    found = ids(Situation(has_menu=False))
    assert {"bears", "heat", "water", "water-high"} <= set(found)
    calm = Situation(
        has_menu=False, bears="no", hottest_c=18.0, highest_m=300.0, untreated_water=False
    )
    assert not {"bears", "heat", "water", "water-high"} & set(ids(calm))


def test_water_high_up_is_only_cautioned_high_up():
    assert "water-high" not in ids(Situation(has_menu=False, highest_m=1523.0))
    assert "water-high" in ids(Situation(has_menu=False, highest_m=1524.0))


def test_what_can_hurt_beside_food_is_told_where_it_matters():
    found = set(ids(situation(plan(make_slots(6), [home()]))))
    assert {"dry-ice", "exhaust", "alcohol"} <= found
    bare = Situation(has_menu=True)
    assert not {"dry-ice", "raw-milk", "raw-flour", "under-way"} & set(ids(bare))
    assert {"raw-milk", "raw-flour"} <= set(ids(situation(None)))  # nobody knows: as if
    vegan = ids(situation(plan(make_slots(3), [home()], diet=Diet(vegan=True))))
    assert "raw-milk" not in vegan


def test_food_on_board_under_way_is_thrown_out_when_it_was_warm():
    (note,) = [
        n
        for n in care_for(Situation(has_menu=True, under_way=True), load_care())
        if n.id == "under-way"
    ]
    assert "thrown out now, not eaten first" in note.words


def test_late_arrivals_and_allergies_bring_their_notes():
    late = situation(
        plan(make_slots(2, late=True), [home()]), diet=Diet(avoid=frozenset({Allergen.NUTS}))
    )
    assert {"late", "labels"} <= set(ids(late))


def test_a_trip_without_a_menu_still_gets_the_general_cautions():
    found = ids(situation(None, cooler=False))
    assert {"local-rules", "hands", "no-food-in-tent"} <= set(found)
    assert "two-hours" not in found


def test_boiling_satisfies_every_agency_at_every_height():
    care = load_care()
    for height in (0.0, 1523.9, 1524.0, 1981.0, 2000.0, 4000.0):
        for row in care.boiling.values():
            high = row.high_from_m is not None and height >= row.high_from_m
            assert boil_minutes(care, height) >= (row.high_minutes if high else row.minutes)
    assert boil_minutes(care, 0.0) == 1.0
    assert boil_minutes(care, 1524.0) == 3.0
    assert boil_minutes(care, None) == 3.0


def test_every_note_has_a_listed_source():
    sources, care = load_sources(), load_care()
    for row in (*care.note.values(), *care.temperature.values(), *care.boiling.values()):
        assert said_by(row.by, sources)


def test_distances_and_local_orders_are_in_the_notes():
    care = load_care()
    assert "61 m (200 ft)" in care.note["dish-water"].words
    assert "local order" in care.note["bears"].words
    assert "tent" in care.note["no-food-in-tent"].words


@pytest.mark.parametrize(
    ("high_c", "each_l"), [(18.0, 3.0), (26.0, 3 + 6 * 0.47), (30.0, 3 + 6 * 0.71), (None, 3.0)]
)
def test_water_grows_with_heat_and_hours(high_c, each_l):
    need = water_need(load_rations(), high_c=high_c, riding_h=6.0, people=2)
    assert need.drink_l == pytest.approx(2 * each_l)


def test_water_never_passes_the_ceiling():
    need = water_need(load_rations(), high_c=45.0, riding_h=14.0, people=3, cook_l=2.0)
    assert need.drink_l == need.ceiling_l == pytest.approx(3 * 11.4)
    assert need.total_l == pytest.approx(3 * 11.4 + 2.0)
    assert "11.4 L a day" in text(need.most)
    assert "1.4 L an hour (not checked)" in text(need.most)


def test_unknown_heat_is_said():
    need = water_need(load_rations(), high_c=None, riding_h=6.0, people=1)
    assert "heat is not known" in text(need.why)
