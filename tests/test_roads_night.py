"""Where the nights end."""

import itertools

import numpy as np
import pytest

from resupply.places.tags import takes_no_tents
from resupply.supply.camps import NO_CAMP, Camp, camp_words, choose_nights


def camps_at(*km, **options):
    return [Camp(row=i, chainage_m=1000.0 * at, **options) for i, at in enumerate(km)]


def rows(nights):
    return [night.row for night in nights]


def test_days_end_at_the_camps_that_keep_them_even():
    nights = choose_nights(
        [200e3, 400e3, 600e3], camps_at(172, 195, 229, 371, 415, 428), tolerance_m=30e3
    )
    assert rows(nights) == [1, 4]
    assert [night.end_m for night in nights] == [195e3, 415e3]
    assert not any(night.why for night in nights)


def test_evenness_is_judged_over_the_whole_trip():
    # Taken one by one the first night would stop at 201; then the next day is 218.
    nights = choose_nights([200e3, 400e3, 600e3], camps_at(180, 419, 201), tolerance_m=30e3)
    assert rows(nights) == [2, 1]
    lengths = np.diff([0, *(night.end_m for night in nights), 600e3])
    others = np.diff([0, 180e3, 419e3, 600e3])
    assert ((lengths - 200e3) ** 2).sum() < ((others - 200e3) ** 2).sum()


def test_without_a_camp_near_the_nominal_end_stays_and_says_so():
    first, second = choose_nights([200e3, 400e3, 600e3], camps_at(390), tolerance_m=30e3)
    assert (first.row, first.end_m, first.why) == (-1, 200e3, NO_CAMP)
    assert "local rules" in first.why
    assert (second.row, second.why) == (0, "")


def test_the_tolerance_counts_from_the_nominal_end():
    assert rows(choose_nights([200e3, 400e3], camps_at(231), tolerance_m=30e3)) == [-1]
    assert rows(choose_nights([200e3, 400e3], camps_at(230), tolerance_m=30e3)) == [0]


def test_the_riders_own_list_comes_before_other_camps():
    camps = [Camp(0, 200e3), Camp(1, 225e3, own=True)]
    assert rows(choose_nights([200e3, 400e3], camps, tolerance_m=30e3)) == [1]


def test_a_doubtful_camp_is_taken_only_where_no_other_is():
    camps = [Camp(0, 200e3, doubtful=True), Camp(1, 225e3)]
    assert rows(choose_nights([200e3, 400e3], camps, tolerance_m=30e3)) == [1]
    assert rows(choose_nights([200e3, 400e3], camps[:1], tolerance_m=30e3)) == [0]


def test_arriving_before_dark_comes_before_even_days():
    def late_min(_day, start_m, end_m, extra_s):
        return round(max((end_m - start_m) / 1000.0 + extra_s / 60.0 - 195.0, 0.0))

    camps = camps_at(175, 199)
    nights = choose_nights([200e3, 360e3], camps, tolerance_m=30e3, late_min=late_min)
    assert rows(nights) == [0]
    assert nights[0].late_min == 0
    (late,) = choose_nights([200e3, 360e3], camps[1:], tolerance_m=30e3, late_min=late_min)
    assert late.late_min == 4


def test_the_way_to_a_camp_counts_as_riding():
    camps = [Camp(0, 195e3, extra_m=40e3, extra_s=2400.0), Camp(1, 186e3)]
    assert rows(choose_nights([200e3, 400e3], camps, tolerance_m=30e3)) == [1]


def test_a_day_is_never_ridden_backwards():
    nights = choose_nights([50e3, 80e3, 200e3], camps_at(70, 60, 75), tolerance_m=30e3)
    ends = [night.end_m for night in nights]
    assert ends == sorted(ends) and len(set(ends)) == 2


def test_one_day_has_no_night():
    assert choose_nights([150e3], camps_at(100), tolerance_m=30e3) == ()


def judged(pick, nominal, late_min):
    """Cost of one camp (or None) per night by the rules in the docstring; None if backwards."""
    ends = [end if c is None else c.chainage_m for c, end in zip(pick, nominal, strict=False)]
    ends.append(nominal[-1])
    starts, chosen = [0.0, *ends[:-1]], [None, *pick, None]
    usual = max(np.diff([0.0, *nominal]))
    milli = 0
    for day, (a, b) in enumerate(zip(starts, ends, strict=True)):
        ways = [c for c in chosen[day : day + 2] if c is not None]
        if b < a + 1_000.0 and ways:
            return None
        half_s = sum(c.extra_s for c in ways) / 2
        wanted = nominal[day] - (nominal[day - 1] if day else 0.0)
        minutes = half_s / 60 + 600 * ((b - a - wanted) / usual) ** 2
        minutes += 10 * max(late_min(day + 1, a, b, half_s), 0)
        if len(ways) == 2 and ways[0].place == ways[1].place >= 0:
            minutes += 60
        milli += round(minutes * 1000)
    for first, third in zip(pick, pick[2:], strict=False):
        milli += 10_000 * (first is not None and third is not None and first.place == third.place)
    return (
        sum(c is None for c in pick),
        sum(c is not None and not c.own for c in pick),
        sum(c is not None and c.doubtful for c in pick),
        milli,
    )


def brute_force(nominal, camps, tolerance_m, late_min):
    """Least cost of every combination of camps and nominal ends."""
    stages = [
        [*(c for c in camps if abs(c.chainage_m - end) <= tolerance_m), None]
        for end in nominal[:-1]
    ]
    costs = [judged(pick, nominal, late_min) for pick in itertools.product(*stages)]
    return min(cost for cost in costs if cost is not None)


@pytest.mark.parametrize("seed", range(40))
def test_against_every_combination(seed):
    rng = np.random.default_rng(seed)
    days = int(rng.integers(2, 6))
    nominal = np.cumsum(rng.uniform(60e3, 200e3, days)).tolist()
    camps = [
        Camp(
            row=i,
            chainage_m=float(rng.uniform(1e3, nominal[-1])),
            extra_m=float(rng.integers(0, 8) * 1_000),
            extra_s=float(rng.integers(0, 900)),
            doubtful=bool(rng.random() < 0.3),
            own=bool(rng.random() < 0.2),
            place=int(rng.integers(0, 4)),
        )
        for i in range(int(rng.integers(0, 9)))
    ]

    def late_min(day, start_m, end_m, extra_s):
        return int((end_m - start_m) / 1_500.0 + extra_s / 60.0 - 90 - day)

    nights = choose_nights(nominal, camps, tolerance_m=45e3, late_min=late_min)
    by_row = {camp.row: camp for camp in camps}
    pick = [by_row.get(night.row) for night in nights]
    assert judged(pick, nominal, late_min) == brute_force(nominal, camps, 45e3, late_min)
    for night, camp in zip(nights, pick, strict=True):
        assert night.end_m == (night.nominal_m if camp is None else camp.chainage_m)


def test_tents():
    assert not takes_no_tents({})
    assert not takes_no_tents({"tents": "yes"})
    assert takes_no_tents({"tents": "no"})
    assert takes_no_tents({"group_only": "yes"})


def test_what_is_not_tagged_is_not_stated():
    assert camp_words({}) == ("tents: not stated", "fee: not stated")
    assert camp_words({"tents": "yes", "fee": "no", "seasonal": "summer"}) == (
        "tents allowed",
        "no fee",
        "season: summer",
    )
    assert camp_words({"fee": "5 EUR", "seasonal": "yes"})[1:] == (
        "fee: 5 EUR",
        "part of the year only",
    )


def test_of_two_camps_at_one_kilometre_the_nearer_one_is_taken():
    camps = [
        Camp(0, 190e3, extra_m=20e3, extra_s=1500.0),
        Camp(1, 190e3, extra_m=4e3, extra_s=300.0),
    ]
    assert rows(choose_nights([200e3, 400e3], camps, tolerance_m=30e3)) == [1]


def test_a_camp_on_the_route_beats_one_a_quarter_of_an_hour_off_it():
    camps = [Camp(0, 200e3, extra_m=20e3, extra_s=1800.0), Camp(1, 185e3)]
    assert rows(choose_nights([200e3, 400e3], camps, tolerance_m=30e3)) == [1]


def test_a_camp_a_quarter_of_an_hour_off_the_route_beats_none():
    camps = [Camp(0, 200e3, extra_m=20e3, extra_s=1800.0)]
    assert rows(choose_nights([200e3, 400e3], camps, tolerance_m=30e3)) == [0]


def test_riders_on_their_way_do_not_sleep_at_one_camp_twice_in_a_row():
    # A loop comes by the first camp again near the end of the second day.
    camps = [Camp(0, 100e3, place=7), Camp(1, 200e3, place=7), Camp(2, 210e3, place=8)]
    assert rows(choose_nights([100e3, 200e3, 300e3], camps, tolerance_m=30e3)) == [0, 2]
    assert rows(choose_nights([100e3, 200e3, 300e3], camps[:2], tolerance_m=30e3)) == [0, 1]


def test_back_at_the_camp_of_two_nights_before_only_where_another_is_a_long_way_off():
    """Out and back: the camp of the first night is passed again on the third."""
    out_and_back = [Camp(0, 100e3, place=7), Camp(1, 200e3, place=8), Camp(2, 300e3, place=7)]
    nominal = [100e3, 200e3, 300e3, 400e3]
    near = Camp(3, 305e3, extra_s=240.0, place=9)
    far = Camp(3, 305e3, extra_s=1_500.0, place=9)
    assert rows(choose_nights(nominal, [*out_and_back, near], tolerance_m=30e3)) == [0, 1, 3]
    assert rows(choose_nights(nominal, [*out_and_back, far], tolerance_m=30e3)) == [0, 1, 2]
