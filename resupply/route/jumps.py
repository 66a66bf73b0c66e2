"""What the jumps of a line are taken for: a ferry, a ridden stretch, or not known.

In: a `Route`, and what the rider says of its jumps. Out: what each costs. One that the rider says
is ridden becomes part of the line, as a straight piece. One of which nothing is said costs time as
a ferry does and fuel as if it were ridden: whichever it is, neither comes as a surprise.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from resupply.common.units import S_PER_HOUR

if TYPE_CHECKING:
    from resupply.route.route import Break, Route
    from resupply.trip.riding_keys import JumpKeys

__all__ = ["ASK_M", "Crossing", "crossings_of", "with_ridden_jumps"]

ASK_M: Final = 2_000.0
"""A shorter jump is not asked about: a recorder that lost its signal leaves about that much (our
choice). It counts as ridden in time and fuel."""
_FERRY_KMH: Final = 30.0
"""Speed of a ferry, about 16 knots (common practice, no source)."""
_WAIT_S: Final = S_PER_HOUR
"""Time to be there before a ferry, and to get off (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Crossing:
    """One jump that is no part of the line, and what it costs."""

    number: int
    """From 1, in the order of the route's file."""
    chainage_m: float
    length_m: float
    """Straight length."""
    kind: Literal["ferry", "unknown"]
    crossing_s: float
    """Time it takes, waiting included."""
    fuel_m: float
    """Metres it counts for the tank."""
    time_stated: bool
    """The rider says how long it takes."""

    @property
    def asked(self) -> bool:
        """The rider is asked what it is."""
        return self.kind == "unknown" and self.length_m >= ASK_M


def _kind(keys: JumpKeys, number: int) -> str:
    return keys.each.get(number, keys.kind)


def crossings_of(
    route: Route, keys: JumpKeys, speed_kmh: float = _FERRY_KMH
) -> tuple[Crossing, ...]:
    """Tell what every jump that is left in a line costs, in order.

    Parameters
    ----------
    speed_kmh
        Average moving speed, for one that may be ridden.
    """
    return tuple(_crossing(jump, keys, speed_kmh) for jump in route.breaks)


def _crossing(jump: Break, keys: JumpKeys, speed_kmh: float) -> Crossing:
    ferry = _kind(keys, jump.number) == "ferry"
    ridden_s = jump.length_m / (speed_kmh / 3.6)
    ferry_s = _WAIT_S + jump.length_m / (_FERRY_KMH / 3.6)
    usual_s = ferry_s if ferry or jump.length_m >= ASK_M else 0.0
    own_h = keys.hours.get(jump.number)
    counted_s = max(usual_s, 0.0 if ferry else ridden_s)
    return Crossing(
        number=jump.number,
        chainage_m=jump.chainage_m,
        length_m=jump.length_m,
        kind="ferry" if ferry else "unknown",
        crossing_s=counted_s if own_h is None else own_h * S_PER_HOUR,
        fuel_m=0.0 if ferry else jump.length_m,
        time_stated=own_h is not None,
    )


def with_ridden_jumps(route: Route, keys: JumpKeys) -> Route:
    """Make the jumps that the rider says are ridden straight pieces of the line."""
    ridden = [jump for jump in route.breaks if _kind(keys, jump.number) == "ridden"]
    if not ridden:
        return route
    added_m = np.zeros(len(route.chainage_m))
    for jump in ridden:
        added_m[jump.index + 1 :] += jump.length_m
    chainage_m = route.chainage_m + added_m
    chainage_m.flags.writeable = False
    return replace(
        route,
        chainage_m=chainage_m,
        breaks=tuple(
            replace(jump, chainage_m=float(chainage_m[jump.index]))
            for jump in route.breaks
            if jump not in ridden
        ),
        ridden_jumps=tuple(
            replace(jump, chainage_m=float(chainage_m[jump.index])) for jump in ridden
        ),
    )
