"""Places, and the occasions on which the route passes them."""

from typing import Literal, TypeAlias

from resupply.report.document.model.base import SentenceText, Time, Whole, model
from resupply.say.states import StateKey

__all__ = ["DoorTimes", "PassRole", "PassRow", "PlaceRow"]

PassRole: TypeAlias = Literal["stop", "fallback", "ice", "other"]
"""What the plan uses a pass for."""


@model
class PlaceRow:
    """A place that is passed."""

    name: str
    """Name on the map; may be empty."""
    kind: str
    """The tag that makes it one, key=value."""
    kind_words: str
    """The same in words."""
    lon: float
    """Longitude, degrees."""
    lat: float
    """Latitude, degrees."""
    supplies: dict[str, Literal["stated", "likely"]]
    """What it supplies: groceries (a full food shop), small_groceries, ice, water, fuel, camp,
    meal_out; and how sure: on the map, or likely by its kind.
    """
    opening_hours: str | None
    """Hours as tagged; null if there are none."""
    hours_words: SentenceText | None = None
    """The same as a person writes them; absent where they are more than days and times."""
    tags: dict[str, str]
    """Further tags."""


@model
class DoorTimes:
    """Stated openings around `eta`, for riders early or late, to be looked up (lookup.js).

    Only for shops whose hours are known then.
    """

    known_from_s: int
    """From when the hours are known, UTC seconds since 1970; at most 12 hours before `eta`."""
    known_to_s: int
    """Until when they are known; at most 36 hours after `eta`."""
    open: tuple[tuple[int, int], ...]
    """Openings that touch that time, UTC seconds: from, to."""
    unless_holiday: bool
    """An opening may fail on a public holiday, and which days are is not known."""
    stay_s: int
    """Seconds that a visit takes."""


@model
class PassRow:
    """One occasion on which the route comes by a place; a loop passes a place more than once.

    While a rider drags on the live page, hours and ways are told of the stops only.
    """

    id: str
    """Id within this document."""
    place: str
    """Its place, a key of `places`."""
    chainage_m: Whole
    """Where on the route, metres."""
    offset_m: Whole
    """Straight distance from the route, metres."""
    side: Literal["left", "on", "right"]
    """Side of the road."""
    leg: int
    """Riding day."""
    supplies: tuple[str, ...] | None = None
    """What it supplies within the corridor of that supply."""
    eta: Time
    """Local time of arrival."""
    eta_early: Time | None = None
    """Earliest likely arrival."""
    eta_late: Time | None = None
    """Latest likely arrival."""
    state: StateKey
    """open: by stated hours over the whole window; open_unless_holiday: the same where public
    holidays are not known; tight: open at the planned time, not over the whole window; shut: shut
    at the planned time; unknown: no hours that can be read, usually_open or usually_shut where
    there is an estimate.
    """
    state_words: SentenceText | None = None
    """Hours in words."""
    holiday_unsaid: bool = False
    """True if it is a public holiday, of which the hours as tagged say nothing."""
    next_open: Time | None = None
    """Next stated opening after the arrival; absent if not known."""
    next_close: Time | None = None
    """End of the opening at hand, else of the next; absent if not known or round the clock."""
    doors: DoorTimes | None = None
    """Stated openings around `eta`, for riders early or late; only for shops whose hours are known
    then.
    """
    detour_m: Whole
    """Way there and back, metres."""
    detour_s: Whole
    """Time there and back, seconds."""
    walk_m: Whole | None = None
    """Of the way there the part on foot, metres, one way: from the last road to the door; absent
    where there is no way by road."""
    detour_source: str | None = None
    """By road, or an estimate, and why."""
    detour_path: tuple[tuple[float, float], ...] | None = None
    """Way there and back; only where the plan uses the pass and the road is known."""
    role: PassRole
    """What the plan uses it for."""
