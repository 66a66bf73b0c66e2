"""What the tags of a way mean to a motorcycle: may it pass, which way round, how fast.

In: the tags of one way or barrier. Out: a `Road`, or None where no motorcycle may go. Access
follows the wiki's order for land vehicles, most specific first: motorcycle, motor_vehicle,
vehicle, access (wiki: Key:access). Conditional tags (hours, winter) are not judged.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from resupply.common.units import KM_PER_MI
from resupply.roads.speeds import Surface, SurfaceRule

if TYPE_CHECKING:
    from collections.abc import Mapping

    from resupply.roads.speeds import Speeds

__all__ = ["Road", "barrier_closed", "max_speed_kmh", "road_of"]

_MODES = ("motorcycle", "motor_vehicle", "vehicle", "access")
# Wiki: Key:access. customers and destination let a rider in who goes to the shop there.
_OPEN = frozenset({"yes", "permissive", "designated", "destination", "customers", "official"})
_SHUT = frozenset(
    {
        "no", "private", "agricultural", "forestry", "delivery", "military", "permit",
        "residents", "emergency", "bus", "psv", "use_sidepath", "employees", "staff",
    }
)  # fmt: skip
_FORWARD = frozenset({"yes", "true", "1"})
_BACKWARD = frozenset({"-1", "reverse"})
_BOTH = frozenset({"no", "false", "0", "alternating"})
# Wiki: Key:barrier, the values that stop a motorcycle unless a tag lets it through.
_BLOCKING = frozenset(
    {
        "block", "bollard", "chain", "cycle_barrier", "debris", "full-height_turnstile",
        "horse_stile", "jersey_barrier", "kissing_gate", "log", "motorcycle_barrier", "planter",
        "stile", "turnstile", "wall", "fence", "hedge",
    }
)  # fmt: skip
_SPEED = re.compile(r"^(\d+(?:\.\d+)?)\s*(mph|km/h|kmh|kph)?$")
_WALKING_KMH = 7.0  # wiki: Key:maxspeed, "walk"; the number is common practice, no source

Direction = Literal["forward", "backward"]


@dataclass(frozen=True, slots=True)
class Road:
    """A way as a motorcycle sees it."""

    road_class: int
    """Index into `Speeds.classes`."""
    surface: Surface
    forward_kmh: float
    """0 where a motorcycle may not ride in the direction the way is drawn."""
    backward_kmh: float
    frontage: bool = True
    """Whether places beside it are entered from it: not from a motorway, bridge or tunnel."""


def road_of(tags: Mapping[str, str], speeds: Speeds) -> Road | None:
    """Judge one way.

    Parameters
    ----------
    tags
        The way's tags.
    speeds
        The speed table.

    Returns
    -------
    Road or None
        None where it is no road, or closed to motorcycles both ways.

    Examples
    --------
    >>> from resupply.roads.speeds import load_speeds
    >>> road = road_of({"highway": "primary", "surface": "gravel", "oneway": "yes"}, load_speeds())
    >>> road.surface.name, road.forward_kmh, road.backward_kmh
    ('GRAVEL', 50.0, 0.0)
    """
    highway = tags.get("highway", "")
    if highway not in speeds.classes or tags.get("area") == "yes":
        return None
    road_class = speeds.classes.index(highway)
    rule = _surface(tags, speeds)
    surface = rule.surface
    cap_kmh = min(rule.cap_kmh, speeds.smoothness_cap_kmh.get(tags.get("smoothness", ""), 1e9))
    usual_kmh = min(speeds.table_kmh[road_class][surface], cap_kmh) * speeds.factor
    if highway == "track" and surface is Surface.UNKNOWN:
        surface = Surface.TRACK
    stated_only = highway in speeds.stated_only or tags.get("service") == "emergency_access"
    forward, backward = _directions(tags)
    forward_kmh = backward_kmh = 0.0
    if forward and _may_pass(tags, "forward", stated_only=stated_only):
        forward_kmh = min(usual_kmh, max_speed_kmh(tags, "forward"))
    if backward and _may_pass(tags, "backward", stated_only=stated_only):
        backward_kmh = min(usual_kmh, max_speed_kmh(tags, "backward"))
    if forward_kmh <= 0.0 and backward_kmh <= 0.0:
        return None
    return Road(road_class, surface, forward_kmh, backward_kmh, _has_frontage(tags))


def barrier_closed(tags: Mapping[str, str]) -> bool:
    """Whether a node's barrier stops a motorcycle.

    A gate without access tags counts as passable; wiki: Key:barrier leaves it open.
    """
    if "barrier" not in tags:
        return False
    answer = _access(tags)
    return tags["barrier"] in _BLOCKING if answer is None else not answer


def max_speed_kmh(tags: Mapping[str, str], direction: Direction) -> float:
    """Signed speed limit in km/h; infinity where none is stated as a number.

    Values that stand for a country's default (`DE:urban`), `none` and `signals` give infinity:
    the table's speed then holds.
    """
    for key in ("maxspeed:motorcycle", f"maxspeed:{direction}", "maxspeed"):
        value = tags.get(key, "").strip().lower()
        if value == "walk":
            return _WALKING_KMH
        match = _SPEED.match(value)
        if match and float(match[1]) > 0.0:
            return float(match[1]) * (KM_PER_MI if match[2] == "mph" else 1.0)
    return float("inf")


def _has_frontage(tags: Mapping[str, str]) -> bool:
    if tags["highway"] in ("motorway", "motorway_link") or tags.get("motorroad") == "yes":
        return False
    return all(tags.get(key, "no") == "no" for key in ("bridge", "tunnel"))


def _surface(tags: Mapping[str, str], speeds: Speeds) -> SurfaceRule:
    # "asphalt;gravel": the slower part decides; a value nobody documented says nothing.
    values = [value.strip() for value in tags.get("surface", "").split(";")]
    rules = [speeds.surface[value] for value in values if value in speeds.surface]
    if not rules and tags.get("tracktype") in speeds.tracktype:
        rules = [speeds.tracktype[tags["tracktype"]]]
    if not rules:
        return SurfaceRule(Surface.UNKNOWN)
    return SurfaceRule(max(rule.surface for rule in rules), min(rule.cap_kmh for rule in rules))


def _directions(tags: Mapping[str, str]) -> tuple[bool, bool]:
    """Whether the way may be ridden forward and backward (wiki: Key:oneway)."""
    for key in ("oneway:motorcycle", "oneway:motor_vehicle", "oneway:vehicle", "oneway"):
        value = tags.get(key, "")
        if value in _FORWARD:
            return True, False
        if value in _BACKWARD:
            return False, True
        if value in _BOTH:
            return True, True
        if value == "reversible":  # changes by the hour; which way now is not known
            return False, False
    implied = tags.get("junction") == "roundabout" or tags.get("highway") == "motorway"
    return True, not implied


def _may_pass(tags: Mapping[str, str], direction: Direction, *, stated_only: bool) -> bool:
    answer = _access(tags, direction, modes=_MODES[:2] if stated_only else _MODES)
    return not stated_only if answer is None else answer


def _access(
    tags: Mapping[str, str], direction: Direction | None = None, modes: tuple[str, ...] = _MODES
) -> bool | None:
    """Answer of the most specific tag that gives one; None if no tag does."""
    for mode in modes:
        for key in (f"{mode}:{direction}", mode) if direction else (mode,):
            values = {value.strip() for value in tags.get(key, "").split(";")}
            if values & _OPEN:
                return True
            if values & _SHUT:
                return False
    return None
