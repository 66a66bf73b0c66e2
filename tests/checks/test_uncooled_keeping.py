"""Days that food keeps uncooled, against published figures.

Sources: USDA Agriculture Handbook 66 (relative rate of decay of produce), read on a book page; USDA
FoodKeeper data set, read as a stored copy; Food Protection Trends, October 2006 (cheese), the
abstract at the publisher. Bread: a kitchen storage chart, weak.
"""

from __future__ import annotations

import pytest
from kitchen_world import FRIDAY, history, table

from resupply.kitchen.food.storage import make_storage

HANDBOOK_RATES = {20.0: 7.5, 30.0: 15.0, 40.0: 22.5}
PUBLISHED_DAYS = {
    # class: (food, least, most days at room temperature)
    "soft-vegetables": [("ripe tomatoes", 7, 7), ("courgettes", 1, 5)],
    "firm-vegetables": [("potatoes", 30, 60), ("onions", 30, 30)],
    "whole-fruit": [("lemons", 10, 10)],
    "butter": [("butter", 1, 2)],
    "bread": [("bread", 3, 3)],
}


def lasts_days(class_id, temp_c):
    kept = history((-240.0, temp_c), (2000.0, temp_c), name="the food bag")
    by = make_storage(table(), kept).use_by(class_id, FRIDAY)
    return (by.when - FRIDAY).total_seconds() / 86400.0


@pytest.mark.parametrize("temp_c", HANDBOOK_RATES)
@pytest.mark.parametrize("class_id", ["soft-vegetables", "firm-vegetables", "whole-fruit"])
def test_produce_decays_at_the_rates_of_the_handbook(class_id, temp_c):
    share = HANDBOOK_RATES[20.0] / HANDBOOK_RATES[temp_c]
    wanted = lasts_days(class_id, 20.0) * share
    assert lasts_days(class_id, temp_c) == pytest.approx(wanted, rel=1e-6)


@pytest.mark.parametrize("class_id", PUBLISHED_DAYS)
def test_no_class_is_kept_longer_than_published_for_its_foods(class_id):
    for food, _, most in PUBLISHED_DAYS[class_id]:
        assert lasts_days(class_id, 20.0) <= most, food


def test_hard_cheese_is_kept_uncooled_up_to_30_degrees_and_no_longer():
    assert lasts_days("hard-cheese", 30.0) == pytest.approx(1.5)
    assert lasts_days("hard-cheese", 30.5) == pytest.approx(2.0 / 24.0)


@pytest.mark.parametrize(("class_id", "temp_c"), [("butter", 35.0), ("hard-cheese", 35.0)])
def test_butter_and_cheese_do_not_last_the_day_in_great_heat(class_id, temp_c):
    assert lasts_days(class_id, temp_c) <= 2.0 / 24.0


def test_soft_vegetables_last_a_day_in_great_heat_and_not_until_friday():
    assert lasts_days("soft-vegetables", 35.0) == pytest.approx(3.0 / 2.5)
