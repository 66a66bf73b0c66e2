import datetime as dt
from copy import deepcopy
from zoneinfo import ZoneInfo

import pytest
from kitchen_world import FRIDAY, cold, history, moment, table, warm_from

from resupply.common import quantity
from resupply.common.errors import TripFileError
from resupply.common.quantity import as_sentence
from resupply.common.show import Show, text
from resupply.kitchen.food.sources import Status, load_sources, said_by
from resupply.kitchen.food.storage import Limit, make_storage
from resupply.kitchen.food.storage_classes import class_of, parse_storage
from resupply.kitchen.food.tables import read_data


def use_by(class_id, kept, bought=FRIDAY, opened=None):
    return make_storage(table(), kept).use_by(class_id, bought, opened=opened)


def test_raw_chicken_lasts_the_low_end_of_its_days_when_cold():
    found = use_by("raw-poultry", cold())
    assert found.when == FRIDAY + dt.timedelta(days=1)
    assert found.limit is Limit.DAYS
    assert text(found.why) == "1 day kept cold from purchase"


def test_a_warm_spell_ends_perishable_food_after_two_hours():
    found = use_by("raw-cuts", warm_from(20.0))
    assert found.limit is Limit.WARM
    assert found.when == pytest.approx(moment(0, 22), abs=dt.timedelta(seconds=10))
    assert "the cooler passes 4 °C Fri 20:00" in text(found.why)


def test_a_hot_spell_ends_it_after_one_hour():
    found = use_by("raw-cuts", history((-10, 2), (20, 2), (20.001, 36), (200, 36)))
    assert found.when == pytest.approx(moment(0, 21), abs=dt.timedelta(seconds=10))


def test_without_a_known_temperature_perishables_last_one_hour():
    found = use_by("fresh-milk", None)
    assert found.limit is Limit.UNKNOWN
    assert found.when == pytest.approx(FRIDAY + dt.timedelta(hours=1), abs=dt.timedelta(seconds=1))
    assert "nobody can tell" in text(found.why)


def test_dry_and_tinned_food_has_no_limit_while_sealed():
    for class_id in ("dry", "tinned-fish", "spreads", "long-life-milk"):
        found = use_by(class_id, None)
        assert found.when is None


def test_an_opened_tin_is_perishable():
    opened = moment(1, 12)
    assert use_by("tinned-fish", cold(), opened=opened).when == opened + dt.timedelta(days=3)
    warm = use_by("tinned-fish", warm_from(0.0), opened=opened)
    assert warm.when == pytest.approx(opened + dt.timedelta(hours=2), abs=dt.timedelta(seconds=1))


def test_jam_stays_good_once_opened_and_warm():
    assert use_by("spreads", None, opened=FRIDAY).when is None


def test_opening_never_makes_food_last_longer():
    late = moment(13)
    assert use_by("luncheon-meat", cold(), opened=late).when == FRIDAY + dt.timedelta(days=14)
    assert use_by("luncheon-meat", cold(), opened=moment(1)).when == moment(1) + dt.timedelta(
        days=3
    )


def test_block_cheese_survives_a_warm_spell_for_some_days():
    found = use_by("hard-cheese", warm_from(20.0))
    assert found.limit is Limit.ROOM
    assert found.when == pytest.approx(moment(3, 20), abs=dt.timedelta(seconds=10))
    assert "days uncooled" in text(found.why)


def test_block_cheese_lasts_its_cold_days_when_it_stays_cold():
    assert use_by("hard-cheese", cold()).when == FRIDAY + dt.timedelta(days=21)


def test_mayonnaise_has_its_own_looser_rule():
    # Above 10 °C for more than 8 h: 9 °C does not count at all.
    assert use_by("mayonnaise", history((-10, 9), (3000, 9))).limit is Limit.DAYS
    found = use_by("mayonnaise", warm_from(20.0))
    assert found.when == pytest.approx(moment(1, 4), abs=dt.timedelta(seconds=10))


def test_food_past_its_limit_is_thrown_out_and_at_it_eaten():
    found = use_by("raw-poultry", cold())
    assert found.allows(moment(1, 8))
    assert not found.allows(moment(1, 8.01))


def test_a_day_of_storage_is_24_hours_when_the_clocks_change():
    zone = ZoneInfo("Europe/Berlin")
    bought = dt.datetime(2027, 3, 27, 12, 0, tzinfo=zone)  # clocks go forward that night
    kept = history((-24 * 200, 2), (5000, 2))
    found = use_by("raw-poultry", kept, bought=bought)
    assert found.when.timestamp() - bought.timestamp() == 86_400.0
    assert found.when.hour == 13


def test_times_are_told_in_the_zone_of_the_purchase():
    bought = FRIDAY.astimezone(ZoneInfo("Asia/Tokyo"))
    assert use_by("raw-cuts", warm_from(20.0), bought=bought).when.tzinfo is bought.tzinfo


def test_an_unknown_class_is_named():
    with pytest.raises(TripFileError, match="no storage class 'ghost'"):
        class_of(table(), "ghost")


def test_a_number_without_a_source_is_refused():
    raw = deepcopy(read_data("storage.toml"))
    del raw["class"]["bacon"]["days_by"]
    with pytest.raises(TripFileError, match=r"class\.bacon"):
        parse_storage(raw, where="storage.toml")


def test_every_row_names_a_listed_source():
    sources = load_sources()
    for row in table().classes.values():
        for by in (row.days_by, row.warm_by, row.room_by):
            if by is not None:
                assert said_by(by, sources)


def test_what_was_not_read_at_the_publisher_says_so():
    sources = load_sources()
    for row in table().classes.values():
        by = row.warm_by
        assert (by.status is Status.CONFIRMED) == (said_by(by, sources)[-1] != ")")


def test_a_far_day_is_told_with_its_date():
    def said(when, clock=24):
        return text(as_sentence(quantity.moment(when, moment(0))), Show(clock=clock))

    assert said(moment(7, 9)) == "Fri 16 Jul 09:00"
    assert said(moment(5, 9)) == "Wed 09:00"
    assert said(moment(5, 0.5), 12) == "Wed 12:30 am"
