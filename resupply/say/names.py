"""Plain words for places, times and states. Names are map text: escape them where shown."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from resupply.common.quantity import at, line, listed, name, walk, way
from resupply.hours.describe import Described, describe
from resupply.hours.state import OpenState
from resupply.places.tags import kind_words

if TYPE_CHECKING:
    from resupply.common.quantity import Quantity, Sentence
    from resupply.places.place import Place
    from resupply.plan.pipeline import TripPlan

__all__ = ["Words"]

_NUMBERS = {"phone", "contact:phone"}
_DETOUR_M = 2_000.0
"""A way there and back shorter than that needs no word."""


_OFF_ROUTE_M = 200.0
"""Water nearer to the route than that, by road, needs no word (our choice)."""
_ON_FOOT_M = 50.0
"""A shorter walk from the road to the door needs no word (our choice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Words:
    """What sentences about one plan are made of."""

    plan: TripPlan

    def place(self, row: int) -> Place:
        """Place of a pass row."""
        prepared = self.plan.prepared
        return prepared.places.places[int(prepared.passes.place_ix[row])]

    def name(self, row: int) -> str:
        """Name of a pass's place, or its kind if it has none."""
        place = self.place(row)
        return place.name or f"unnamed {kind_words(place.kind)}"

    def can_ring(self, row: int) -> bool:
        """Whether the map has a telephone number of a pass's place."""
        return not _NUMBERS.isdisjoint(self.place(row).tags)

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

    def off_route(self, row: int) -> Sentence | None:
        """Say how far off the route a place is by road, and how much of that is on foot.

        None where it is near, or where the way is only an estimate.
        """
        far_m, walk_m = float(self.plan.detour_m[row]) / 2.0, self.plan.prepared.detours.walk_m[row]
        if not self.plan.prepared.by_road[row] or far_m < _OFF_ROUTE_M:
            return None
        foot = (
            line(", the last {part} on foot", part=walk(walk_m)) if walk_m >= _ON_FOOT_M else None
        )
        return line("{far} off the route{foot}", far=way(far_m), foot=foot)

    def local(self, row: int, epoch_s: float) -> dt.datetime:
        """Local time at a pass's place."""
        timetable = self.plan.prepared.timetable
        name = timetable.zones[int(self.plan.prepared.passes.place_ix[row])] if timetable else ""
        if not name:
            return self.plan.clock.local(float(self.plan.prepared.passes.chainage_m[row]), epoch_s)
        return dt.datetime.fromtimestamp(epoch_s, ZoneInfo(name))

    def hours(self, row: int, epoch_s: float) -> Described:
        """Say what the map has on the hours around an arrival."""
        timetable = self.plan.prepared.timetable
        if timetable is None:
            raise ValueError("a finished plan has a timetable")
        place_ix = int(self.plan.prepared.passes.place_ix[row])
        return describe(timetable, place_ix, epoch_s)

    def state(self, row: int, epoch_s: float, risk: int) -> Sentence:
        """Hours in words, with the doubt of the arrival and the estimate where there is one."""
        return self.doubted(self.hours(row, epoch_s), risk)

    def doubted(self, said: Described, risk: int) -> Sentence:
        """Add the doubt of the arrival, and the estimate where there is one."""
        hours = said.words
        if risk == OpenState.TIGHT:
            hours = line("tight: {hours}; you may arrive just too early or too late", hours=hours)
        return listed([hours, said.usual], "; ")
