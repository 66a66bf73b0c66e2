"""The rider's clock: every time in a sentence or a table is told on it."""

from __future__ import annotations

import datetime as dt
import io
import re

from demo_plans import demo_told
from plan_classes import as_plan
from rich.console import Console

from resupply.cli.terminal import print_summary
from resupply.common.quantity import time
from resupply.common.show import Show, shown
from resupply.report.calendar import stops_calendar

TIME = re.compile(r"(?<![\d:T+-])\d{1,2}:\d\d(?![\d:])( [ap]m)?")
ISO = re.compile(r"^\d{4}-\d\d-\d\dT\d\d:\d\d")
AS_TAGGED = re.compile(r"\(on the map: [^)]*\)|; on the map: [^)]*|on the map: [^;)]*")
# Data, not sentences: hours and tags as they stand on the map, and the trip's own keys.
DATA = {"opening_hours", "tags", "settings"}


def sentences(node, key=""):
    if key in DATA:
        return
    if isinstance(node, dict):
        for name, value in node.items():
            yield from sentences(value, name)
    elif isinstance(node, list):
        for value in node:
            yield from sentences(value, key)
    elif isinstance(node, str) and not ISO.match(node):
        yield AS_TAGGED.sub("", node)


def times(texts):
    return [match for text in texts for match in TIME.finditer(text)]


def terminal(document):
    console = Console(file=io.StringIO(), width=160)
    print_summary(as_plan(document), console, {})
    return console.file.getvalue().splitlines()


def test_midnight_and_noon_are_12():
    told = [
        shown(time(dt.datetime(2027, 7, 9, h, 5, tzinfo=dt.UTC)), Show(clock=12))
        for h in (0, 11, 12, 23)
    ]
    assert told == ["12:05 am", "11:05 am", "12:05 pm", "11:05 pm"]


def test_on_a_12_hour_clock_every_time_is_am_or_pm():
    now = {"now__at_km": 300, "now__time": "2027-07-10T14:10:00", "now__food_meals": 3}
    for keys in ({}, now):
        document = demo_told("coast_loop", show__clock=12, show__sweep=False, **keys)
        calendar = stops_calendar(as_plan(document)).decode().replace("\r\n ", "").splitlines()
        said = [line for line in calendar if line.startswith(("SUMMARY", "DESCRIPTION"))]
        for texts in (list(sentences(document)), terminal(document), said):
            found = times(texts)
            assert len(found) > 5
            assert [match.string for match in found if match.group(1) is None] == []


def test_on_a_24_hour_clock_none_is():
    document = demo_told("coast_loop", show__sweep=False)
    for texts in (list(sentences(document)), terminal(document)):
        found = times(texts)
        assert len(found) > 5
        assert all(match.group(1) is None for match in found)
