"""Plain words for places, times and states. Names are map text: escape them where shown."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from resupply.common.quantity import at, line, name, way
from resupply.common.units import Units, format_at, format_clock, format_distance, in_miles
from resupply.hours.describe import Described, describe
from resupply.hours.state import OpenState
from resupply.places.tags import kind_words

if TYPE_CHECKING:
    from resupply.common.quantity import Quantity, Sentence
    from resupply.places.place import Place
    from resupply.plan.pipeline import TripPlan

__all__ = ["Words"]

_DETOUR_M = 2_000.0
"""A way there and back shorter than that needs no word."""


@dataclass(frozen=True, slots=True, eq=False)
class Words:
    """Text about one plan, in the rider's units and clock."""

    plan: TripPlan

    @property
    def units(self) -> Units:
        """Units of the report."""
        return self.plan.trip.show.units

    def place(self, row: int) -> Place:
        """Place of a pass row."""
        prepared = self.plan.prepared
        return prepared.places.places[int(prepared.passes.place_ix[row])]

    def name(self, row: int) -> str:
        """Name of a pass's place, or its kind if it has none."""
        place = self.place(row)
        return place.name or f"unnamed {kind_words(place.kind)}"

    def named(self, row: int) -> Quantity:
        """Name of a pass's place, for a sentence."""
        return name(self.name(row))

    def chainage_m(self, row: int) -> int:
        """Kilometre of a pass, metres: the one that every sentence and row tells of it."""
        return round(float(self.plan.prepared.passes.chainage_m[row]))

    def at_pass(self, row: int) -> Quantity:
        """Where on the route a pass is."""
        return at(self.chainage_m(row))

    def next_stop_m(self, number: int) -> int:
        """Kilometre of the food stop after the one of that number (0 the start), metres."""
        stops = self.plan.supply.stops
        if number < len(stops):
            stop = stops[number]
            # What is fetched from camp is on board from the camp on.
            return round(stop.on_board_m) if stop.from_camp else self.chainage_m(stop.row)
        return round(self.plan.legs[-1].end_m)

    def detour_words(self, row: int) -> Sentence | None:
        """Say how long the way off the route is, where it is worth a word: " (detour 6.2 km)"."""
        extra_m = float(self.plan.detour_m[row])
        return line(" (detour {far})", far=way(extra_m)) if extra_m >= _DETOUR_M else None

    def km(self, distance_m: float) -> str:
        """Distance in the rider's units; short ones with a decimal, and never as nothing."""
        said = format_distance(distance_m, self.units, 1 if distance_m < 9_950.0 else 0)
        # "Less than 0.1" stays true when the page turns it into the other unit.
        return f"less than 0.1{said[3:]}" if said.startswith("0.0") and distance_m > 0.0 else said

    def at(self, chainage_m: float) -> str:
        """Chainage as riders say it: "km 412" or "mile 256"."""
        return format_at(chainage_m, self.units)

    def detour(self, row: int) -> str:
        """Say how long the way off the route is, where it is worth a word: " (detour 6.2 km)"."""
        extra_m = float(self.plan.detour_m[row])
        return f" (detour {self.km(extra_m)})" if extra_m >= _DETOUR_M else ""

    def retold(self, text: str) -> str:
        """Say a sentence in the rider's units that was made before they were known, in km."""
        return in_miles(text) if self.units == "imperial" else text

    def local(self, row: int, epoch_s: float) -> dt.datetime:
        """Local time at a pass's place."""
        timetable = self.plan.prepared.timetable
        name = timetable.zones[int(self.plan.prepared.passes.place_ix[row])] if timetable else ""
        if not name:
            return self.plan.clock.local(float(self.plan.prepared.passes.chainage_m[row]), epoch_s)
        return dt.datetime.fromtimestamp(epoch_s, ZoneInfo(name))

    def clock(self, when: dt.datetime) -> str:
        """Time of day on the rider's 12 or 24 hour clock."""
        return format_clock(when, self.plan.trip.show.clock)

    def day_clock(self, when: dt.datetime) -> str:
        """Weekday and time: "Sun 14:10"."""
        return f"{when:%a} {self.clock(when)}"

    def hours(self, row: int, epoch_s: float) -> Described:
        """Say what the map has on the hours around an arrival."""
        timetable = self.plan.prepared.timetable
        if timetable is None:
            raise ValueError("a finished plan has a timetable")
        place_ix = int(self.plan.prepared.passes.place_ix[row])
        return describe(timetable, place_ix, epoch_s, clock=self.plan.trip.show.clock)

    def state(self, row: int, epoch_s: float, risk: int) -> str:
        """Hours in words, with the doubt of the arrival and the estimate where there is one."""
        return self.doubted(self.hours(row, epoch_s), risk)

    def doubted(self, said: Described, risk: int) -> str:
        """Add the doubt of the arrival, and the estimate where there is one."""
        text = said.text
        if risk == OpenState.TIGHT:
            text = f"tight: {text}; you may arrive just too early or too late"
        return f"{text}; {said.usual}" if said.usual else text
