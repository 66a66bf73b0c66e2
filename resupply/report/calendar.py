"""Visits, days and nights as a calendar (iCalendar, RFC 5545)."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
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
"""Alarm before a shop shuts: our choice, so that a late rider can still make for it."""


def stops_calendar(plan: PlanDocument) -> bytes:
    """Write one event for each visit, over its arrival window, then one for each riding day.

    The alarm rings `WARN_BEFORE` a stated closing; where hours are not known, or the door is never
    shut, there is none to ring before, and the event says so. A day's event lasts from leaving to
    arriving and names the night. Same document, same
    bytes: events are stamped with the trip's departure, not with the time of writing.
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
    for leg in plan.legs:
        calendar.add_component(_day(leg, stamp, said, plan.trip))
    return bytes(calendar.to_ical())


def _event(
    visit: Visit, uid: str, stamp: dt.datetime, source: str, trip: TripDocument
) -> icalendar.Event:
    show = Show(trip.units, trip.clock)
    event = icalendar.Event()
    event.add("uid", uid)
    event.add("dtstamp", stamp)
    event.add("dtstart", visit.earliest.astimezone(dt.UTC))
    if visit.latest > visit.earliest:
        event.add("dtend", visit.latest.astimezone(dt.UTC))
    number = f"{visit.number} " if visit.number is not None else ""
    event.add("summary", f"{visit.buys.capitalize()} stop {number}{visit.name}: {visit.hours}")
    event.add("location", visit.name)
    event.add("geo", (visit.lat, visit.lon))
    # A window to arrive in leaves the rider free.
    event.add("transp", "TRANSPARENT")
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
    if visit.closes is not None:
        alarm = icalendar.Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", f"{visit.name} shuts {shown(day_time(visit.closes), show)}")
        alarm.add("trigger", (visit.closes - WARN_BEFORE).astimezone(dt.UTC))
        event.add_component(alarm)
    return event


def _day(leg: DayRow, stamp: dt.datetime, source: str, trip: TripDocument) -> icalendar.Event:
    show = Show(trip.units, trip.clock)
    night = one_line(text(leg.night.words, show), None)
    camp = one_line(leg.night.name or "", None)
    event = icalendar.Event()
    event.add("uid", _uid(trip.name, "day", leg.number))
    event.add("dtstamp", stamp)
    event.add("dtstart", leg.depart.astimezone(dt.UTC))
    event.add("dtend", leg.arrive.astimezone(dt.UTC))
    to = f", night at {camp}" if camp else ""
    event.add("summary", f"Day {leg.number}: {shown(way(leg.length_m), show)}{to}")
    event.add("transp", "TRANSPARENT")
    where = f"{shown(at(leg.start_m), show)} to {shown(at(leg.end_m), show)}."
    event.add("description", "\n".join(line for line in (where, night, source) if line))
    return event


def _uid(trip: str, place_id: str, nth: int) -> str:
    """Name an event by trip, place and occasion, so that a plan imported anew replaces it."""
    identity = json.dumps([trip, place_id, nth])
    return f"{hashlib.sha256(identity.encode()).hexdigest()[:32]}@resupply"
