"""Visits, doors that shut, days and nights as a calendar (iCalendar, RFC 5545)."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from itertools import zip_longest
from typing import TYPE_CHECKING

import icalendar

from resupply.common.quantity import at, day_time, way
from resupply.common.show import Show, shown, text
from resupply.common.text import one_line
from resupply.report.document.visits import Visit, state_words, visits

if TYPE_CHECKING:
    from resupply.report.document.model.days import DayRow
    from resupply.report.document.model.plan import PlanDocument, TripDocument

__all__ = ["WARN_BEFORE", "stops_calendar"]

WARN_BEFORE = dt.timedelta(hours=1)
"""Alarm before a door shuts: our choice, so that a late rider can still make for it."""


def stops_calendar(plan: PlanDocument) -> bytes:
    """Write an event for each visit, each door that shuts behind it, each riding day, each night.

    A visit's event is its arrival window. A door's is the last `WARN_BEFORE` its stated closing,
    and its alarm rings when that begins; where hours are not known, or the door is never shut,
    there is none, and the visit says so. A day lasts from leaving to arriving, a night from
    arriving to leaving, with the days of rest in it. The category of each (Stop, Door, Day, Night)
    lets a calendar hide them. Same document, same bytes: events are stamped with the trip's
    departure, not with the time of writing.
    """
    calendar = icalendar.Calendar()
    calendar.add("prodid", f"-//{plan.made_with}//EN")
    calendar.add("version", "2.0")
    title = one_line(plan.trip.name, None)
    calendar.add("name", title)
    calendar.add("x-wr-calname", title)
    source = plan.attribution
    said = f"{source.text}, {source.data_date or 'date unknown'}"
    calendar.add("description", said)
    stamp = plan.legs[0].depart.astimezone(dt.UTC)
    seen: dict[str, int] = {}
    for visit in visits(plan):
        nth = seen[visit.place_id] = seen.get(visit.place_id, 0) + 1
        uid = _uid(plan.trip.name, visit.place_id, nth)
        calendar.add_component(_event(visit, uid, stamp, said, plan.trip))
        if visit.closes is not None:
            uid = _uid(plan.trip.name, f"{visit.place_id} shuts", nth)
            calendar.add_component(_door(visit, visit.closes, uid, stamp, plan.trip))
    for leg, after in zip_longest(plan.legs, plan.legs[1:]):
        calendar.add_component(_day(leg, stamp, said, plan.trip))
        if after is not None:
            calendar.add_component(_night(leg, after, stamp, said, plan.trip))
    return bytes(calendar.to_ical())


def _event(
    visit: Visit, uid: str, stamp: dt.datetime, source: str, trip: TripDocument
) -> icalendar.Event:
    show = Show(trip.units, trip.clock)
    number = f"{visit.number} " if visit.number is not None else ""
    hours = f": {visit.hours}" if visit.hours else ""
    event = _bare("Stop", uid, stamp, visit.earliest, visit.latest)
    event.add("summary", f"{visit.stop} {number}{visit.name}{hours}")
    event.add("location", visit.name)
    event.add("geo", (visit.lat, visit.lon))
    early, planned, late = (
        shown(day_time(when), show) for when in (visit.earliest, visit.arrive, visit.latest)
    )
    where = shown(at(visit.chainage_m), show)
    lines = [
        f"Day {visit.leg}, at {where}. Arrive between {early} and {late}, planned {planned}.",
        f"On arrival: {state_words(visit)}. Hours: {visit.hours}.",
        visit.words,
        f"If it is shut: {visit.if_shut}" if visit.if_shut else "",
        source,
    ]
    event.add("description", "\n".join(line for line in lines if line))
    return event


def _door(
    visit: Visit, closes: dt.datetime, uid: str, stamp: dt.datetime, trip: TripDocument
) -> icalendar.Event:
    show = Show(trip.units, trip.clock)
    said = f"{visit.name} shuts {shown(day_time(closes), show)}"
    event = _bare("Door", uid, stamp, closes - WARN_BEFORE, closes)
    event.add("summary", said)
    event.add("location", visit.name)
    event.add("geo", (visit.lat, visit.lon))
    if visit.if_shut:
        event.add("description", f"If it is shut: {visit.if_shut}")
    alarm = icalendar.Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", said)
    alarm.add("trigger", (closes - WARN_BEFORE).astimezone(dt.UTC))
    event.add_component(alarm)
    return event


def _day(leg: DayRow, stamp: dt.datetime, source: str, trip: TripDocument) -> icalendar.Event:
    show = Show(trip.units, trip.clock)
    night = one_line(text(leg.night.words, show), None)
    camp = one_line(leg.night.name or "", None)
    event = _bare("Day", _uid(trip.name, "day", leg.number), stamp, leg.depart, leg.arrive)
    to = f", night at {camp}" if camp else ""
    event.add("summary", f"Day {leg.number}: {shown(way(leg.length_m), show)}{to}")
    where = f"{shown(at(leg.start_m), show)} to {shown(at(leg.end_m), show)}."
    event.add("description", "\n".join(line for line in (where, night, source) if line))
    return event


def _night(
    leg: DayRow, after: DayRow, stamp: dt.datetime, source: str, trip: TripDocument
) -> icalendar.Event:
    camp = one_line(leg.night.name or "", None)
    event = _bare("Night", _uid(trip.name, "night", leg.number), stamp, leg.arrive, after.depart)
    rest = after.rest_days_before
    stays = f" and {rest} day{'' if rest == 1 else 's'} of rest" if rest else ""
    event.add("summary", f"Night {leg.number}{stays}: {camp or 'no camp known'}")
    words = one_line(text(leg.night.words, Show(trip.units, trip.clock)), None)
    event.add("description", f"{words}\n{source}")
    return event


def _bare(
    kind: str, uid: str, stamp: dt.datetime, begin: dt.datetime, end: dt.datetime
) -> icalendar.Event:
    """Make an event that leaves the rider free; without an end where it would have no length."""
    event = icalendar.Event()
    event.add("uid", uid)
    event.add("dtstamp", stamp)
    event.add("categories", [kind])
    event.add("transp", "TRANSPARENT")
    event.add("dtstart", begin.astimezone(dt.UTC))
    if end > begin:
        event.add("dtend", end.astimezone(dt.UTC))
    return event


def _uid(trip: str, place_id: str, nth: int) -> str:
    """Name an event by trip, place and occasion, so that a plan imported anew replaces it."""
    identity = json.dumps([trip, place_id, nth])
    return f"{hashlib.sha256(identity.encode()).hexdigest()[:32]}@resupply"
