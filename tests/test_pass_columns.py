"""A step of a drag tells its passes in columns: the same as rows, but for words."""

from __future__ import annotations

import datetime as dt
import json
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from demo_plans import demo_read
from live_world import pass_rows

from resupply.report.document.model.as_json import to_dict
from resupply.report.document.pass_columns import _offsets_s, columns_along


@pytest.mark.parametrize(
    "settings",
    [
        {},
        # The clocks go back on the last Sunday of October: here in the third night.
        {"start.date": "2027-10-29"},
        # Under way: what is behind is no pass any more.
        {"now.at_km": 455.0, "now.time": "2027-07-10T15:30:00", "now.food_meals": 2},
    ],
    ids=["as it stands", "clocks changed", "under way"],
)
def test_columns_tell_what_the_rows_of_the_whole_plan_tell(settings):
    plan = demo_read().replan(settings={"food.plan_menu": False, "show.sweep": False, **settings})
    document, now = plan.quick_document()
    along, used = columns_along(plan.prepared), to_dict(document)["passes"]
    rows = to_dict(plan.document)["passes"]
    assert 0 < len(used) < len(rows)
    told = pass_rows(*json.loads(json.dumps([along, now, used])))
    if "start.date" in settings:
        assert {row["eta"][-6:] for row in told} == {"+00:00", "-01:00"}
    assert (now["rows"] is None) == ("now.at_km" not in settings)
    assert [{**full, **short} for full, short in zip(rows, told, strict=True)] == rows
    whole = {row["id"]: row for row in rows}
    assert {row["id"] for row in used} == {n for n, row in whole.items() if row["role"] != "other"}
    for row in used:
        if row["role"] == "stop":
            assert row == whole[row["id"]]


@pytest.mark.parametrize("zone", ["America/St_Johns", "Australia/Lord_Howe", "Asia/Kathmandu"])
def test_offsets_of_a_whole_year_are_those_of_the_zone(zone):
    at_s = np.arange(1_800_000_000, 1_832_000_000, 7_000)
    each = [
        dt.datetime.fromtimestamp(one, ZoneInfo(zone)).utcoffset().total_seconds()
        for one in at_s.tolist()
    ]
    assert _offsets_s(ZoneInfo(zone), at_s).tolist() == each
