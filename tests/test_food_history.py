import numpy as np
import pytest

from resupply.kitchen.food.warm_time import make_history, start_clock

HOUR = 3600.0


def clock(points, above_c=4.0, hot_c=32.0):
    hours, temps = zip(*points, strict=True)
    return start_clock(make_history(np.array(hours) * HOUR, temps), above_c=above_c, hot_c=hot_c)


def test_warm_time_starts_where_the_line_crosses_the_threshold():
    # 2 → 6 °C over 4 h crosses 4 °C after 2 h (and 0.01 °C of tolerance).
    end = clock([(0, 2.0), (4, 6.0), (20, 6.0)]).run_out(0.0, 2 * HOUR, HOUR)
    assert end.warm_from_s == pytest.approx(2.01 * HOUR)
    assert end.deadline_s == pytest.approx(4.01 * HOUR)
    assert not end.unknown
    assert not end.hot


def test_warm_time_adds_up_over_separate_spells():
    points = [(0, 2), (1, 2), (1.001, 9), (2, 9), (2.001, 2), (10, 2), (10.001, 9), (30, 9)]
    end = clock(points).run_out(0.0, 2 * HOUR, HOUR)
    # About one hour is used by 02:00, the second from 10:00 on.
    assert end.deadline_s == pytest.approx(11.0 * HOUR, abs=10.0)


def test_a_spell_before_the_purchase_does_not_count():
    points = [(0, 20), (5, 20), (5.001, 2), (40, 2)]
    assert clock(points).run_out(6 * HOUR, 2 * HOUR, HOUR).deadline_s > 40 * HOUR


def test_one_hot_moment_brings_the_shorter_limit_for_all_warm_time():
    points = [(0, 10), (1.5, 10), (1.501, 35), (3, 35)]
    end = clock(points).run_out(0.0, 2 * HOUR, HOUR)
    assert end.hot
    # An hour and a half was fine while mild; the heat ends it at once.
    assert end.deadline_s == pytest.approx(1.5009 * HOUR, abs=3.0)


def test_exactly_the_threshold_is_not_warm():
    end = clock([(0, 4.0), (100, 4.0)]).run_out(0.0, 2 * HOUR, HOUR)
    assert end.warm_from_s == 100 * HOUR


def test_a_gap_in_the_record_counts_as_the_worst_case():
    points = [(0, 2.0), (5, 2.0), (6, np.nan), (7, 2.0), (20, 2.0)]
    end = clock(points).run_out(0.0, 2 * HOUR, HOUR)
    # Unknown from 05:00 to 07:00: the shorter limit is used up after one hour of it.
    assert end.unknown
    assert end.deadline_s == pytest.approx(6 * HOUR)


def test_before_and_after_the_record_nothing_is_known():
    end = clock([(0, 2.0), (5, 2.0)]).run_out(0.0, 2 * HOUR, HOUR)
    assert end.unknown
    assert end.deadline_s == pytest.approx(6 * HOUR)
    early = clock([(0, 2.0), (5, 2.0)]).run_out(-3 * HOUR, 2 * HOUR, HOUR)
    assert early.deadline_s == pytest.approx(-2 * HOUR)


def test_no_history_gives_the_shorter_limit_from_the_start():
    end = start_clock(None, above_c=4.0, hot_c=32.0).run_out(1.8e9, 2 * HOUR, HOUR)
    assert end.unknown
    assert end.deadline_s == pytest.approx(1.8e9 + HOUR, abs=0.01)


def test_a_single_sample_is_a_history():
    end = clock([(3, 2.0)]).run_out(3 * HOUR, 2 * HOUR, HOUR)
    assert end.deadline_s == pytest.approx(4 * HOUR)


@pytest.mark.parametrize(
    ("times", "temps"),
    [([], []), ([0, 1], [2]), ([1, 0], [2, 2]), ([0, 0], [2, 2]), ([0, np.nan], [2, 2])],
)
def test_a_history_out_of_order_is_refused(times, temps):
    with pytest.raises(ValueError, match="time_s"):
        make_history(times, temps)


def test_a_history_cannot_be_changed():
    made = make_history([0.0, 1.0], [2.0, 2.0])
    with pytest.raises(ValueError, match="read-only"):
        made.temp_c[0] = 9.0
