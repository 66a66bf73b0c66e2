"""What one opening_hours text states; mostly what it does not."""

from __future__ import annotations

import calendar
import datetime as dt
import itertools
from zoneinfo import ZoneInfo

import pytest

from resupply.hours.holidays import Holidays, holidays_of
from resupply.hours.readings import fallbacks, latest_spill, readings, tidied
from resupply.hours.state import OpenState
from resupply.hours.stated import Sun, is_readable, stated_hours

OPEN, SHUT, UNKNOWN = OpenState.OPEN, OpenState.SHUT, OpenState.UNKNOWN
UNLESS = OpenState.UNLESS_HOLIDAY
FRIDAY = dt.date(2027, 7, 9)
TUESDAY = dt.date(2027, 7, 13)
NO_HOLIDAYS = Holidays("AT", frozenset(), frozenset())
CHRISTMAS = dt.date(2026, 12, 25)
AUSTRIA = holidays_of("AT", dt.date(2026, 12, 20), dt.date(2027, 1, 10))


def on(text, day, clock, *, holidays=NO_HOLIDAYS, sun=None):
    """Segment at a clock time of a day, evaluated over three days around it."""
    at = dt.datetime.combine(day, dt.time.fromisoformat(clock))
    one = dt.timedelta(days=1)
    found = stated_hours(text, day - one, day + 2 * one, holidays=holidays, sun=sun)
    return next(part for part in found.segments if part.start <= at < part.end)


@pytest.mark.parametrize(
    "text",
    ["24/7", "Mo-Fr 08:00-18:00", '"x"', "Mo-Fr 9-17", "08:00+", "off", "Mo || Tu", "PH off", None],
)
def test_segments_cover_the_span_without_a_hole(text):
    segments = stated_hours(text, FRIDAY, TUESDAY).segments

    assert segments[0].start.date() == FRIDAY
    assert segments[-1].end.date() == TUESDAY
    assert all(one.end == two.start for one, two in itertools.pairwise(segments))


@pytest.mark.parametrize(
    "text",
    [
        "Mo-Fr 9-17",
        "Mo-Fr 08.00-18.00",
        "by appointment",
        "yes",
        "😀",
        "Mo\x00",
        "\ud800",
        '"',
        "Feb 30 10:00-12:00",
        "Jun 31 off",
        "week 53-01 10:00-12:00",
        "easter +99999999999999999999 days off",
        "(" * 900,
        "||",
        "Mo-Fr 08:00-18:00 ||",
    ],
)
def test_broken_text_is_not_known_and_says_so(text):
    found = stated_hours(text, FRIDAY, TUESDAY, holidays=NO_HOLIDAYS)

    assert [part.state for part in found.segments] == [UNKNOWN]
    assert found.problem == "the hours on the map cannot be read"


@pytest.mark.parametrize("month", range(1, 13))
def test_the_day_after_the_last_of_a_month_is_no_date(month):
    last = calendar.monthrange(2028, month)[1]
    for day, read in ((last, True), (last + 1, False)):
        text = f"{calendar.month_abbr[month]} {day} 10:00-12:00"
        found = stated_hours(text, FRIDAY, TUESDAY, holidays=NO_HOLIDAYS)
        assert (found.problem == "the hours on the map cannot be read") != read


@pytest.mark.parametrize("text", [None, "", "   ", "\n\t"])
def test_no_text_is_not_known(text):
    found = stated_hours(text, FRIDAY, TUESDAY)

    assert [part.state for part in found.segments] == [UNKNOWN]
    assert found.problem == "the map gives no hours"


def test_an_over_long_text_is_not_evaluated():
    found = stated_hours("Mo-Fr 08:00-18:00; " * 60 + "Sa 08:00-12:00", FRIDAY, TUESDAY)

    assert found.problem == "the hours on the map are too long to be hours"


def test_a_crash_inside_the_evaluator_is_not_known(monkeypatch):
    class PanicException(BaseException):
        """As raised by extension modules written in Rust."""

    def crash(*_args, **_options):
        raise PanicException("index out of bounds")

    monkeypatch.setattr("opening_hours.OpeningHours", crash)

    assert stated_hours("24/7", FRIDAY, TUESDAY).segments[0].state is UNKNOWN


def test_an_interrupt_inside_the_evaluator_goes_through(monkeypatch):
    def interrupt(*_args, **_options):
        raise KeyboardInterrupt

    monkeypatch.setattr("opening_hours.OpeningHours", interrupt)

    with pytest.raises(KeyboardInterrupt):
        stated_hours("24/7", FRIDAY, TUESDAY)


@pytest.mark.parametrize(
    "text",
    [
        '"by appointment"',
        'Mo-Fr 10:00-16:00 "ring the bell"',
        'Mo-Fr 10:00-16:00 open "only by appointment"',
        'Mo-Fr 10:00-16:00 unknown "ask"',
    ],
)
def test_an_opening_with_a_comment_is_not_known(text):
    found = on(text, FRIDAY, "12:00")

    assert found.state is UNKNOWN
    assert f'"{found.note}"' in text


def test_a_comment_on_shut_hours_leaves_them_shut():
    assert on('Mo-Sa 08:00-18:00; Fr off "stocktaking"', FRIDAY, "12:00").state is SHUT


def test_a_comment_is_one_short_line():
    found = on('Mo-Su 10:00-16:00 "' + "a\n" * 300 + '"', FRIDAY, "12:00")

    assert "\n" not in found.note
    assert len(found.note) <= 120


def test_the_fallback_rule_fills_shut_hours_only():
    text = 'Mo-Fr 08:00-12:00 || "call us"'

    assert on(text, FRIDAY, "10:00").state is OPEN
    assert on(text, FRIDAY, "14:00").state is UNKNOWN
    assert on(text, FRIDAY, "14:00").note == "call us"


def test_a_rule_after_a_fallback_changes_what_is_above_it():
    text = 'Mo-Fr 08:00-12:00 || "call us"; Fr off'

    assert on(text, FRIDAY, "10:00").state is SHUT


def test_bars_in_a_comment_are_no_fallback():
    assert fallbacks('Mo "a || b"') == ['Mo "a || b"']


def test_an_open_end_is_not_known_from_the_stated_start():
    assert on("10:00+", FRIDAY, "09:59").state is SHUT
    assert on("10:00+", FRIDAY, "10:00").state is UNKNOWN
    assert on("10:00+", FRIDAY, "23:59").state is UNKNOWN
    assert on("10:00+", FRIDAY, "10:00").note == "closing time not given"


def test_an_open_end_after_a_stated_end_is_open_until_then():
    assert on("10:00-12:00+", FRIDAY, "11:59").state is OPEN
    assert on("10:00-12:00+", FRIDAY, "12:00").state is UNKNOWN


def test_an_evening_with_an_open_end_is_not_known_after_midnight():
    assert on("Th 20:00+", FRIDAY, "02:00").state is UNKNOWN
    assert on("Th 20:00+", FRIDAY, "07:00").state is SHUT


def test_a_plus_in_dates_is_no_open_end():
    assert on("2027+ 10:00-12:00", FRIDAY, "11:00").state is OPEN


def test_school_holidays_matter_only_where_they_change_the_state():
    text = "Mo-Fr 08:00-16:00; SH 10:00-12:00"

    assert on(text, FRIDAY, "11:00").state is OPEN
    assert on(text, FRIDAY, "15:00").state is UNKNOWN
    assert on(text, FRIDAY, "20:00").state is SHUT
    assert on("Mo-Fr 08:00-16:00; SH Mo-Fr 10:00-12:00", FRIDAY, "15:00").state is UNKNOWN


@pytest.mark.parametrize(
    ("text", "clock", "expected"),
    [
        ("Mo-Fr 08:00-16:00; PH off", "15:00", UNLESS),
        ("Mo-Fr 08:00-16:00; PH off", "20:00", SHUT),
        ("Mo-Fr 08:00-16:00; PH 10:00-12:00", "15:00", UNLESS),
        ("Mo-Th 08:00-16:00; PH 10:00-12:00", "11:00", SHUT),
        ("PH off; Mo-Fr 08:00-16:00", "15:00", OPEN),
        ("Mo-Su,PH 08:00-16:00", "15:00", OPEN),
        ("Mo-Fr 08:00-16:00", "15:00", UNLESS),
        ("Mo-Fr 08:00-16:00+; PH off", "15:00", UNLESS),
        ("Mo-Fr 08:00-16:00+; PH off", "17:00", UNKNOWN),
        ("24/7", "15:00", OPEN),
        ("24/7; PH off", "15:00", UNLESS),
        ("Mo-Fr 9-17; PH off", "15:00", UNKNOWN),
    ],
)
def test_without_a_calendar_hours_hold_unless_it_is_a_public_holiday(text, clock, expected):
    assert on(text, FRIDAY, clock, holidays=None).state is expected


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("Mo-Sa 08:00-18:00; Su, PH off", "Mo-Sa 08:00-18:00; Su,PH off"),
        ("Mo-Fr 08:00-18:00; Sa, PH 09:00-12:00", "Mo-Fr 08:00-18:00; Sa,PH 09:00-12:00"),
        ("Mo-Fr 08:00-18:00; Sa , PH 09:00-12:00", "Mo-Fr 08:00-18:00; Sa,PH 09:00-12:00"),
        ("PH, Su 10:00-12:00", "PH,Su 10:00-12:00"),
    ],
)
def test_a_blank_in_a_list_of_days_changes_nothing(text, plain):
    span = (dt.date(2026, 12, 20), dt.date(2027, 1, 10))

    assert stated_hours(text, *span, holidays=AUSTRIA) == stated_hours(
        plain, *span, holidays=AUSTRIA
    )
    assert not stated_hours(text, *span, holidays=AUSTRIA).problem
    assert all(
        part.state is not UNKNOWN
        for part in stated_hours(plain, *span, holidays=AUSTRIA).segments
        if part.start.date() < CHRISTMAS
    )


def test_a_country_that_only_one_calendar_knows_has_holidays_all_the_same():
    # 2 December, National Day of the United Arab Emirates: holidays package, from memory too.
    day = dt.date(2027, 12, 2)
    emirates = holidays_of("AE", dt.date(2027, 11, 25), dt.date(2027, 12, 10))

    assert on("Mo-Su 08:00-16:00; PH off", day, "12:00", holidays=emirates).state is SHUT
    assert on("Mo-Su 08:00-16:00; PH 11:00-13:00", day, "12:00", holidays=emirates).state is OPEN
    assert on("Mo-Su 08:00-16:00", day, "12:00", holidays=emirates).state is UNKNOWN
    before = dt.date(2027, 11, 30)
    assert on("Mo-Su 08:00-16:00; PH off", before, "12:00", holidays=emirates).state is OPEN


def test_a_stated_rule_for_holidays_is_followed():
    assert on("Mo-Fr 08:00-16:00; PH off", CHRISTMAS, "12:00", holidays=AUSTRIA).state is SHUT
    assert on("Mo-Fr,PH 08:00-16:00", CHRISTMAS, "12:00", holidays=AUSTRIA).state is OPEN


def test_hours_that_do_not_mention_holidays_are_not_known_on_one():
    found = on("Mo-Fr 08:00-16:00", CHRISTMAS, "12:00", holidays=AUSTRIA)

    assert found.state is UNKNOWN
    assert "public holiday" in found.note
    assert on("Mo-Fr 08:00-16:00", CHRISTMAS, "20:00", holidays=AUSTRIA).state is SHUT
    assert on("Mo-Fr 08:00-16:00", dt.date(2026, 12, 28), "12:00", holidays=AUSTRIA).state is OPEN


@pytest.mark.parametrize("text", ["24/7", "Mo-Su 00:00-24:00"])
def test_what_never_shuts_is_open_on_a_holiday(text):
    assert on(text, CHRISTMAS, "12:00", holidays=AUSTRIA).state is OPEN


def test_a_regional_holiday_is_not_known_if_the_hours_turn_on_holidays():
    corpus_christi = dt.date(2027, 5, 27)
    germany = holidays_of("DE", dt.date(2027, 5, 20), dt.date(2027, 6, 5))

    assert on("Mo-Fr 08-16; PH off", corpus_christi, "12:00", holidays=germany).state is UNKNOWN
    assert on("Mo-Fr 08:00-16:00; PH off", corpus_christi, "12:00", holidays=germany).note == (
        "a public holiday in parts of the country"
    )
    assert on("Mo-Fr 08:00-16:00; PH off", corpus_christi, "20:00", holidays=germany).state is SHUT


def test_lists_with_blanks_are_one_list():
    assert tidied("Tu, Fr 10:00-12:00, 14:00-16:00") == "Tu,Fr 10:00-12:00,14:00-16:00"
    assert tidied('Mo "Tu, Fr", Sa 10:00-12:00') == 'Mo "Tu, Fr", Sa 10:00-12:00'
    assert on("Tu, Fr 10:00-12:00", FRIDAY - dt.timedelta(days=3), "20:00").state is SHUT


def test_an_opening_cut_off_at_midnight_is_not_known_beyond():
    saturday = FRIDAY + dt.timedelta(days=1)
    text = "Mo-Fr 18:00-03:00; Sa 20:00-03:00"

    assert on(text, saturday, "01:00").state is UNKNOWN
    assert on(text, saturday, "03:00").state is SHUT


def test_a_stated_closing_at_midnight_is_believed():
    assert latest_spill("Mo-Th 18:00-24:00; Fr 18:00-02:00") == dt.timedelta(0)
    assert latest_spill("Mo-Th 18:00-23:00; Fr 18:00-02:00") == dt.timedelta(hours=2)
    assert latest_spill("Mo-Th 18:00-26:30") == dt.timedelta(hours=2, minutes=30)


def test_readings_of_a_plain_text_are_the_text():
    assert list(readings("Mo-Fr 08:00-18:00; PH off")) == ["Mo-Fr 08:00-18:00; PH off"]


def test_readings_multiply():
    found = list(readings("Mo-Fr 10:00+; PH,SH off"))

    assert len(found) == len(set(found)) == 4
    assert "Mo-Fr 10:00-24:00; PH,Mo-Su off" in found


VIENNA = Sun(16.37, 48.21, ZoneInfo("Europe/Vienna"))


def test_hours_by_the_sun_follow_the_place():
    assert on("sunrise-sunset", FRIDAY, "05:30", sun=VIENNA).state is OPEN
    assert on("sunrise-sunset", FRIDAY, "04:30", sun=VIENNA).state is SHUT
    assert on("sunrise-sunset", FRIDAY, "20:30", sun=VIENNA).state is OPEN


def test_the_evaluator_and_the_almanac_agree_on_the_sun():
    from resupply.hours.sun import sunrise

    for day in range(1, 29):
        date = dt.date(2027, 3, day)
        opens = next(
            part.start
            for part in stated_hours(
                "sunrise-sunset", date, date + dt.timedelta(days=1), sun=VIENNA
            ).segments
            if part.state is UNLESS
        )
        rises = sunrise(*VIENNA[:2], date, VIENNA.zone).replace(tzinfo=None)
        assert abs(opens - rises) < dt.timedelta(minutes=2)


def test_hours_by_the_sun_without_a_place_are_not_known():
    assert on("sunrise-sunset", FRIDAY, "12:00").state is UNKNOWN


@pytest.mark.parametrize("text", ["sunrise-sunset", "10:00-dusk"])
def test_hours_by_a_sun_that_does_not_set_are_not_known(text):
    tromso = Sun(18.96, 69.65, ZoneInfo("Europe/Oslo"))

    assert on(text, dt.date(2027, 6, 21), "12:00", sun=tromso).state is UNKNOWN


def test_an_open_end_by_the_sun_is_not_known():
    assert on("sunrise+", FRIDAY, "12:00", sun=VIENNA).state is UNKNOWN


def test_readable_texts_are_told_from_others():
    assert is_readable("Mo-Sa 08:00-20:00; PH off")
    assert is_readable("sunrise-sunset")
    assert is_readable("unknown")
    assert not is_readable("Mo-Fr 9-17")
    assert not is_readable(" ")


@pytest.mark.parametrize("rule", ["PH Mo-Fr 10:00-12:00", "Mo-Fr PH 10:00-12:00"])
def test_holidays_on_weekdays_are_neither_every_holiday_nor_every_weekday(rule):
    text = f"Mo-Fr 08:00-16:00; {rule}"

    assert on(text, FRIDAY, "11:00").state is OPEN
    assert on(text, FRIDAY, "15:00").state is UNKNOWN
    assert on(text, FRIDAY, "15:00").note == "depends on the weekday on which a holiday falls"
    assert on(rule, FRIDAY, "11:00").state is UNKNOWN
    assert on(rule, FRIDAY + dt.timedelta(days=1), "11:00").state is SHUT
