"""What the choice of stops, fuel, water and nights knows of a trip: its passes, in columns.

`resupply.plan.prepared.Prepared` is such a table, and holds more that no stop depends on.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np
    from numpy.typing import NDArray

    from resupply.hours.timetable import Timetable
    from resupply.passes.find import Passes
    from resupply.places.place import PlaceSet, Supply
    from resupply.roads.detours import Detours
    from resupply.route.route import Route

__all__ = ["PassTable"]


class PassTable(Protocol):
    """m passes of places along a route, with the ways to them and their hours."""

    @property
    def route(self) -> Route:
        """The route they lie along."""

    @property
    def places(self) -> PlaceSet:
        """The places, and what of the route the map data covers."""

    @property
    def passes(self) -> Passes:
        """The passes, in the order in which they are ridden by."""

    @property
    def supply(self) -> Mapping[Supply, NDArray[np.bool_]]:
        """Per supply, (m,) True where the place supplies it within that supply's corridor."""

    @property
    def detours(self) -> Detours:
        """The way to every pass: by road, or the straight estimate where no road is known."""

    @property
    def no_road(self) -> tuple[str, ...]:
        """(m) why no road to the place is known though roads are, or ""."""

    @property
    def food(self) -> NDArray[np.bool_]:
        """(m,) True where food can be bought."""

    @property
    def reachable(self) -> NDArray[np.bool_]:
        """(m,) False where roads are known, but none to the place."""

    @property
    def leave_m(self) -> NDArray[np.float64]:
        """(m,) chainage at which the route is left."""

    @property
    def timetable(self) -> Timetable | None:
        """Hours of the places over the dates of the trip; None before they are worked out."""
