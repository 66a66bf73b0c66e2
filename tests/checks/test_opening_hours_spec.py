"""Published examples of opening hours and their expected results.

OpenStreetMap wiki, Key:opening_hours and Key:opening_hours/specification. The values of
WIKI_EXAMPLES are the wiki's own; the results of all rows, and the other values, were worked
out with an independent evaluator without a holiday calendar. TRAPS are values for which an
evaluator may say yes or no while the honest answer is "not known".
"""

from __future__ import annotations

import datetime as dt

import pytest

from resupply.hours.holidays import Holidays
from resupply.hours.state import OpenState
from resupply.hours.stated import stated_hours

# On these days no holiday is kept: what a missing calendar means is tested elsewhere.
NO_HOLIDAYS = Holidays("AT", frozenset(), frozenset())
OPEN, SHUT, UNKNOWN = OpenState.OPEN, OpenState.SHUT, OpenState.UNKNOWN

WIKI_EXAMPLES = [
    ("24/7", "2025-07-02 00:00", OPEN),
    ("24/7", "2025-12-25 03:30", OPEN),
    ("Mo-Fr 08:00-12:00,13:00-17:30; Sa 08:00-12:00", "2025-07-02 12:30", SHUT),
    ("Mo-Fr 08:00-12:00,13:00-17:30; Sa 08:00-12:00", "2025-07-02 13:00", OPEN),
    ("Mo-Fr 08:00-12:00,13:00-17:30; Sa 08:00-12:00", "2025-07-05 11:59", OPEN),
    ("Mo-Fr 08:00-12:00,13:00-17:30; Sa 08:00-12:00", "2025-07-05 12:00", SHUT),
    ("Mo-Sa 10:00-20:00; Tu off", "2025-07-01 12:00", SHUT),
    ("Mo-Sa 10:00-20:00; Tu off", "2025-07-02 12:00", OPEN),
    ("Mo-Sa 10:00-20:00; Tu off", "2025-07-06 12:00", SHUT),
    ("Mo-Sa 10:00-20:00; Tu 10:00-14:00", "2025-07-01 13:00", OPEN),
    ("Mo-Sa 10:00-20:00; Tu 10:00-14:00", "2025-07-01 15:00", SHUT),
    ("Mo-Su 08:00-18:00; Apr 10-15 off; Jun 08:00-14:00; Aug off; Dec 25 off",
     "2025-04-12 10:00", SHUT),
    ("Mo-Su 08:00-18:00; Apr 10-15 off; Jun 08:00-14:00; Aug off; Dec 25 off",
     "2025-06-10 15:00", SHUT),
    ("Mo-Su 08:00-18:00; Apr 10-15 off; Jun 08:00-14:00; Aug off; Dec 25 off",
     "2025-08-03 10:00", SHUT),
    ("Mo-Su 08:00-18:00; Apr 10-15 off; Jun 08:00-14:00; Aug off; Dec 25 off",
     "2025-12-25 10:00", SHUT),
    ("Mo-Su 08:00-18:00; Apr 10-15 off; Jun 08:00-14:00; Aug off; Dec 25 off",
     "2025-12-26 10:00", OPEN),
    ("Sa-Su 00:00-24:00", "2025-07-05 00:00", OPEN),
    ("Sa-Su 00:00-24:00", "2025-07-07 00:00", SHUT),
]  # fmt: skip

MORE_EXAMPLES = [
    ("Fr 20:00-02:00", "2025-07-05 01:00", OPEN),
    ("Fr 20:00-02:00", "2025-07-05 02:00", SHUT),
    ("Fr 20:00-02:00", "2025-07-04 01:00", SHUT),
    ("Su-Tu 11:00-01:00, We-Th 11:00-03:00, Fr 11:00-06:00, Sa 11:00-07:00",
     "2025-07-02 00:30", OPEN),
    ("Su-Tu 11:00-01:00, We-Th 11:00-03:00, Fr 11:00-06:00, Sa 11:00-07:00",
     "2025-07-02 02:00", SHUT),
    ("Su-Tu 11:00-01:00, We-Th 11:00-03:00, Fr 11:00-06:00, Sa 11:00-07:00",
     "2025-07-05 05:00", OPEN),
    ("Su-Tu 11:00-01:00, We-Th 11:00-03:00, Fr 11:00-06:00, Sa 11:00-07:00",
     "2025-07-06 06:30", OPEN),
    ("Mo-Fr 09:00-18:00; Th[3],Th[-1] off", "2025-07-17 10:00", SHUT),
    ("Mo-Fr 09:00-18:00; Th[3],Th[-1] off", "2025-07-31 10:00", SHUT),
    ("Mo-Fr 09:00-18:00; Th[3],Th[-1] off", "2025-07-10 10:00", OPEN),
    ("week 01-26 Mo-Fr 09:00-12:00", "2025-06-23 10:00", OPEN),
    ("week 01-26 Mo-Fr 09:00-12:00", "2025-06-30 10:00", SHUT),
    ("Nov-Feb 10:00-16:00", "2025-01-10 12:00", OPEN),
    ("Nov-Feb 10:00-16:00", "2025-12-10 12:00", OPEN),
    ("Nov-Feb 10:00-16:00", "2025-03-10 12:00", SHUT),
    ("May 15-Sep 15 08:00-20:00", "2025-05-14 12:00", SHUT),
    ("May 15-Sep 15 08:00-20:00", "2025-05-15 12:00", OPEN),
    ("May 15-Sep 15 08:00-20:00", "2025-09-16 12:00", SHUT),
    ("Mo-Fr 08:00-18:00; 12:00-14:00 off", "2025-07-02 13:00", SHUT),
    ("Mo-Fr 08:00-18:00; 12:00-14:00 off", "2025-07-02 14:00", OPEN),
    ("2025 Jul 1-2025 Jul 10 09:00-17:00", "2025-07-10 12:00", OPEN),
    ("2025 Jul 1-2025 Jul 10 09:00-17:00", "2026-07-05 12:00", SHUT),
    ("24/7; Dec 24-26 off", "2025-12-25 12:00", SHUT),
    ("24/7; Dec 24-26 off", "2025-12-27 00:00", OPEN),
]  # fmt: skip

TRAPS = [
    ("Mo-Fr 9-17", "2025-07-02 12:00"),
    ('"by appointment"', "2025-07-02 12:00"),
    ('Mo-Fr 08:00-12:00 || "call us"', "2025-07-02 14:00"),
    ("Mo-Fr 10:00+", "2025-07-02 23:00"),
    ("SH 10:00-12:00", "2025-07-02 11:00"),
    ("Mo-Fr 10:00-18:00; SH off", "2025-07-02 11:00"),
]


def state_at(text: str, when: str) -> OpenState:
    at = dt.datetime.fromisoformat(when)
    day = dt.timedelta(days=1)
    found = stated_hours(text, at.date() - 2 * day, at.date() + 2 * day, holidays=NO_HOLIDAYS)
    return next(part.state for part in found.segments if part.start <= at < part.end)


@pytest.mark.parametrize(("text", "when", "expected"), WIKI_EXAMPLES)
def test_example_of_the_wiki(text, when, expected):
    assert state_at(text, when) is expected


@pytest.mark.parametrize(("text", "when", "expected"), MORE_EXAMPLES)
def test_example_worked_out_independently(text, when, expected):
    assert state_at(text, when) is expected


@pytest.mark.parametrize(("text", "when"), TRAPS)
def test_value_that_does_not_say_is_not_known(text, when):
    assert state_at(text, when) is UNKNOWN
