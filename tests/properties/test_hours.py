"""Whatever the hours and the arrival: unknown is never open, and doubt never makes open."""

from __future__ import annotations

import datetime as dt
from functools import cache
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from resupply.common import show
from resupply.hours.describe import describe
from resupply.hours.holidays import holidays_of
from resupply.hours.stated import stated_hours
from resupply.hours.timetable import OpenState, build_timetable, states
from resupply.places.place import Place

if TYPE_CHECKING:
    from resupply.hours.state import Segment

ZONE = ZoneInfo("Europe/Vienna")
# The clock goes back on 31 October; 26 October and 1 November are Austrian holidays.
START = dt.datetime(2027, 10, 24, tzinfo=ZONE)
DAYS = 10
MINUTE_S = 60
TEXTS = (
    "24/7",
    "Mo-Fr 08:00-12:00,14:00-18:00; Sa 08:00-12:00; PH off",
    "Mo-Sa 07:30-19:00",
    "Fr-Sa 20:00-03:00",
    "Su 02:15-02:45",
    "Mo-Fr 08:00-12:00+; SH 10:00-14:00",
    'Mo-Fr 09:00-17:00 || "ring"; Tu off',
    '"by appointment"',
    "Oct 25-30 06:00-06:10,06:20-06:30",
    "Mo-Fr 9-17",
    "off",
    None,
)


@cache
def timetable():
    places = [
        Place(f"node/{ix}", 16.4, 48.2, "", "shop=supermarket", {}, text)
        for ix, text in enumerate(TEXTS)
    ]
    end = START + dt.timedelta(days=DAYS)
    return build_timetable(places, start=START, end=end, zone_of="Europe/Vienna")


@cache
def by_the_minute(ix: int) -> list[OpenState]:
    """State of each minute of the trip, straight from the segments of local time."""
    days = START.date() - dt.timedelta(days=1), START.date() + dt.timedelta(days=DAYS + 2)
    segments = stated_hours(TEXTS[ix], *days, holidays=holidays_of("AT", *days)).segments
    return [
        _state_at(segments, START.timestamp() + minute * MINUTE_S)
        for minute in range(DAYS * 24 * 60)
    ]


def _state_at(segments: tuple[Segment, ...], epoch_s: float) -> OpenState:
    clock = dt.datetime.fromtimestamp(epoch_s, ZONE).replace(tzinfo=None, fold=0)
    return next(part.state for part in segments if part.start <= clock < part.end)


def by_brute_force(ix: int, since: int, until: int, planned: int) -> OpenState:
    met = set(by_the_minute(ix)[since : max(until, since + 1)])
    then = by_the_minute(ix)[planned]
    if len(met) == 1 or then in (OpenState.SHUT, OpenState.UNKNOWN):
        return then
    return OpenState.UNKNOWN if OpenState.UNKNOWN in met else OpenState.TIGHT


ix = st.integers(0, len(TEXTS) - 1)
minute = st.integers(600, DAYS * 24 * 60 - 1200)
width = st.integers(0, 300)


def ask(ix, arrive_min, half_min, stay_min):
    arrive_s = START.timestamp() + np.asarray(arrive_min) * MINUTE_S
    half_s, stay_s = np.asarray(half_min) * MINUTE_S, np.asarray(stay_min) * MINUTE_S
    return states(timetable(), ix, arrive_s, half_s, stay_s)


@given(st.lists(st.tuples(ix, minute, width, width), min_size=1, max_size=200))
def test_arrays_agree_with_brute_force_minute_by_minute(visits):
    places, arrive, half, stay = (np.array(column) for column in zip(*visits, strict=True))
    # The hour that comes twice is one hour on the clock: brute force cannot tell which.
    twice = (7 * 24 + 2) * 60
    clear = (arrive + half + stay < twice - 60) | (arrive - half > twice + 120)

    found = ask(places, arrive, half, stay)
    expected = [by_brute_force(p, a - h, a + h + s, a).value for p, a, h, s in visits]
    assert found[clear].tolist() == np.array(expected)[clear].tolist()


@given(ix, minute, width, width, width, width)
def test_more_doubt_or_a_longer_stay_never_makes_open(ix, arrive, half, stay, more, longer):
    before = OpenState(int(ask(ix, arrive, half, stay)))
    after = OpenState(int(ask(ix, arrive, half + more, stay + longer)))

    if before is not OpenState.OPEN:
        assert after is not OpenState.OPEN
    if before in (OpenState.UNKNOWN, OpenState.SHUT):
        assert after in (OpenState.UNKNOWN, OpenState.SHUT)
    if OpenState(int(ask(ix, arrive, 0, 0))) is OpenState.SHUT:
        assert before is after is OpenState.SHUT


@given(minute, width, width)
def test_a_place_of_which_nothing_is_known_is_never_open(arrive, half, stay):
    unknown = [number for number, why in enumerate(timetable().problems) if why]
    assert {TEXTS[number] for number in unknown} == {"Mo-Fr 9-17", None}

    assert set(ask(np.array(unknown), arrive, half, stay).tolist()) == {OpenState.UNKNOWN.value}


@given(ix, minute)
def test_the_words_agree_with_the_state(ix, arrive):
    arrive_s = START.timestamp() + arrive * MINUTE_S
    found = describe(timetable(), ix, arrive_s)

    assert found.state is OpenState(int(ask(ix, arrive, 0, 0)))
    assert show.text(found.words).startswith(
        {
            OpenState.OPEN: "open ",
            OpenState.SHUT: "shut",
            OpenState.UNKNOWN: "hours not known",
        }[found.state]
    )
    for when in (found.next_open, found.next_close):
        assert when is None or when.timestamp() > arrive_s


@given(st.text(max_size=60) | st.text('MoTuWeFrSaSuPH0123456789:-,;+|" ', max_size=60))
def test_any_text_covers_the_span(text):
    days = dt.date(2027, 7, 9), dt.date(2027, 7, 12)
    segments = stated_hours(text, *days).segments

    assert segments[0].start.date() == days[0]
    assert segments[-1].end.date() == days[1]
    assert all(part.start < part.end for part in segments)
