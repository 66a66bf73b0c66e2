"""The plan of a trip as an object: tables, files, and the same trip planned again.

In: a `Prepared` and a `Trip`. Out: a `Plan`. Days, stops and gaps are planned at once; the
comparison of daily distances, ice, menu and the document when they are first asked for, so that
planning again costs little.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any

from resupply.api.meals_and_ice import settle
from resupply.common.errors import TripFileError
from resupply.common.progress import go_on, silent
from resupply.common.text import one_line
from resupply.plan.pipeline import plan_trip, with_alternatives

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Mapping
    from pathlib import Path

    import folium
    from geopandas import GeoDataFrame
    from pandas import DataFrame

    from resupply.common.progress import Progress
    from resupply.kitchen.food.meals import Menu
    from resupply.kitchen.plan import KitchenPlan
    from resupply.plan.pipeline import TripPlan
    from resupply.plan.prepared import Prepared
    from resupply.report.document.model.places import PlaceRow
    from resupply.report.document.model.plan import PlanDocument
    from resupply.report.pocket import Pocket
    from resupply.route.route import Route
    from resupply.supply.food_stops import Shortfall
    from resupply.trip.settings import Trip

__all__ = ["Plan", "plan_prepared"]

_NAME_LENGTH = 40
"""Characters of a trip's name in a line of a notebook: our choice."""


def plan_prepared(
    prepared: Prepared,
    trip: Trip,
    folder: Path,
    *,
    notes: Mapping[str, str] | None = None,
    read: Trip | None = None,
    like: Menu | None = None,
    spelled: Mapping[str, str] | None = None,
    step: Callable[[], None] = go_on,
) -> Plan:
    """Plan a trip on what was read for it.

    Parameters
    ----------
    prepared
        Read for this trip, or for one that names the same files.
    trip
        With a start date.
    folder
        File names of the trip are relative to it.
    notes
        What was assumed, a sentence by key; they stand before the plan's own cautions.
    read
        The trip that `prepared` was read for; this one where not given.
    like
        The menu of another plan of the trip, whose dishes stay where they may.
    spelled
        Key to what the caller wrote: errors of what is made later speak of that.
    step
        Called between the stages, also of what is made later; what it raises ends the work.

    Raises
    ------
    TripFileError
        No start date, or a setting that no plan can be made with.
    """
    step()
    bare = plan_trip(prepared, trip, alone=True, step=step)
    return Plan(bare, folder, read=read or trip, notes=notes, like=like, spelled=spelled, step=step)


class Plan:
    """The plan of one trip. Made by `resupply.plan`.

    Tables are made anew each time they are asked for: they are the caller's own. All are in
    EPSG:4326; lengths are in metres, chainage along the route from its start; times in UTC, with
    the local zone's name in `time_zone`.
    """

    def __init__(
        self,
        bare: TripPlan,
        folder: Path,
        *,
        read: Trip,
        notes: Mapping[str, str] | None = None,
        like: Menu | None = None,
        spelled: Mapping[str, str] | None = None,
        step: Callable[[], None] = go_on,
    ) -> None:
        self._bare, self._folder, self._read, self._like = bare, folder, read, like
        self._notes, self._step = dict(notes or {}), step
        self._spelled = dict(spelled or {})
        self._pocket: Pocket | None = None

    @property
    def trip(self) -> Trip:
        """All settings."""
        return self._bare.trip

    @property
    def route(self) -> Route:
        """The line that is ridden."""
        return self._bare.prepared.route

    @property
    def prepared(self) -> Prepared:
        """What was read for the trip, with the opening hours it needed."""
        return self._bare.prepared

    @property
    def shortfalls(self) -> tuple[Shortfall, ...]:
        """Stretches on which the carry limit cannot be kept: a result, not an error."""
        return self._bare.supply.shortfalls

    @cached_property
    def _whole(self) -> TripPlan:
        self._step()
        return with_alternatives(self.trip_plan, step=self._step)

    @cached_property
    def _settled(self) -> tuple[TripPlan, KitchenPlan]:
        self._step()
        try:
            return settle(self._bare, self._folder, like=self._like, step=self._step)
        except TripFileError as error:
            raise error.named(self._spelled) from error

    @property
    def trip_plan(self) -> TripPlan:
        """Every stage's result, with the stops that the cooler asks for."""
        # Without a cooler nothing is asked for, and nothing has to be cooked to know it.
        return self._bare if self.trip.cooler.kind == "none" else self._settled[0]

    @property
    def _kitchen(self) -> KitchenPlan:
        return self._settled[1]

    @cached_property
    def document(self) -> PlanDocument:
        """The whole plan as it stands in `plan.json`; see docs/results.md."""
        from resupply.report.document.document import plan_document

        whole, kitchen = self._whole, self._kitchen
        self._step()
        return plan_document(whole, kitchen, notes=self._notes.values())

    def pocket_document(self) -> PlanDocument:
        """Make the document without the other plans it is compared with, and without lists of gaps.

        It is what the map's file holds of each plan for the way.
        """
        from resupply.report.document.document import plan_document

        return plan_document(
            self.trip_plan, self._kitchen, gap_lists=False, notes=self._notes.values()
        )

    def quick_document(self) -> tuple[PlanDocument, dict[str, Any]]:
        """Days, stops, gaps and food to carry, for a drag of the page; all passes in columns."""
        from resupply.report.document.document import plan_document
        from resupply.report.document.pass_columns import columns_now

        return plan_document(self._bare, None, quick=True), columns_now(self._bare)

    def place_rows(self) -> dict[str, PlaceRow]:
        """Places passed, as the document tells them."""
        from resupply.report.document.passes import place_rows

        return place_rows(self._bare)

    @cached_property
    def geometry(self) -> dict[str, Any]:
        """Line and backdrop that the document is drawn on; the line is simplified to 10 m."""
        from resupply.report.document.geometry import geo_document

        return geo_document(self.prepared)

    @property
    def stops(self) -> GeoDataFrame:
        """Food stops, indexed by `stop` from 1; points at the shops."""
        from resupply.api.frames import stops_frame

        return stops_frame(self.trip_plan, self._kitchen)

    @property
    def legs(self) -> GeoDataFrame:
        """Days of riding, indexed by `day` from 1; lines, cut at the route's breaks."""
        from resupply.api.frames import legs_frame

        return legs_frame(self.trip_plan, self._kitchen.weather, self.geometry)

    @property
    def places(self) -> GeoDataFrame:
        """Places passed, indexed by `place`, their map id; points."""
        from resupply.api.frames import places_frame

        return places_frame(self._bare)

    @property
    def passes(self) -> GeoDataFrame:
        """Every passing of a place, indexed by `pass`; points on the route."""
        from resupply.api.frames import passes_frame

        return passes_frame(self.trip_plan)

    @property
    def gaps(self) -> GeoDataFrame:
        """Stretches without a supply, indexed by `number`; lines."""
        from resupply.api.frames import gaps_frame

        return gaps_frame(self.trip_plan, self.geometry)

    @property
    def nights(self) -> GeoDataFrame:
        """Where each day but the last ends, indexed by `day`; points at the camps."""
        from resupply.api.frames import nights_frame

        return nights_frame(self._bare)

    @property
    def sweep(self) -> DataFrame:
        """Daily distances compared; empty where `show.sweep` is off."""
        from resupply.api.frames import sweep_frame

        return sweep_frame(self._whole)

    def replan(
        self,
        *,
        daily_km: float | None = None,
        start: dt.date | str | None = None,
        people: int | None = None,
        settings: Mapping[str, object] | None = None,
        keep_dishes: bool = False,
    ) -> Plan:
        """Plan again with other settings; nothing is read again.

        Parameters
        ----------
        daily_km
            Distance a day, kilometres along the route.
        start
            First riding day.
        people
            How many eat.
        settings
            Any other setting of the trip file by dotted key.
        keep_dishes
            Let the dishes of this plan stay where they may; packs and portions are found anew.

        Raises
        ------
        TripFileError
            A setting is wrong, or needs files that were not read: call `resupply.plan` for it.
        """
        from resupply.api.again import prepared_for
        from resupply.api.arguments import Arguments

        arguments = Arguments.of(daily_km=daily_km, start=start, people=people, settings=settings)
        with arguments.blamed():
            trip = arguments.put_into(self.trip)
            prepared = prepared_for(self.prepared, self._read, trip)
            notes = {k: said for k, said in self._notes.items() if k not in arguments.spelled}
            return plan_prepared(
                prepared,
                trip,
                self._folder,
                notes=notes,
                read=self._read,
                like=self._kitchen.menu if keep_dishes else None,
                spelled=self._spelled | dict(arguments.spelled),
                step=self._step,
            )

    def explore(self, *, tiles: str | None = None) -> folium.Map:
        """Map of the plan for a notebook.

        Parameters
        ----------
        tiles
            Background as folium names it, e.g. "OpenStreetMap"; None for a plain ground, for
            which nothing is asked of a server.
        """
        from resupply.api.explore import plan_map

        return plan_map(self, tiles=tiles)

    def to_html(self, path: str | Path) -> None:
        """Write the page with the map, one file that needs no network.

        Raises
        ------
        OutputError
            The file cannot be written, as in all that follow.
        """
        self._write("plan.html", path)

    def to_json(self, path: str | Path) -> None:
        """Write the whole plan; see docs/results.md."""
        self._write("plan.json", path)

    def to_geojson(self, path: str | Path) -> None:
        """Write route, stops, camps and gaps as GeoJSON."""
        self._write("plan.geojson", path)

    def to_gpx(self, path: str | Path) -> None:
        """Write route and stops for a navigation device."""
        self._write("stops.gpx", path)

    def to_csv(self, path: str | Path) -> None:
        """Write the stops as a table for a spreadsheet."""
        self._write("stops.csv", path)

    def to_calendar(self, path: str | Path) -> None:
        """Write the stops as calendar entries."""
        self._write("stops.ics", path)

    def to_site(self, folder: str | Path) -> Path:
        """Write a folder for a web host, which a phone installs from; gives the page's path."""
        from pathlib import Path

        from resupply.report.site import write_site

        return write_site(self.document, self.geometry, Path(folder), pocket=self._pocket)

    def _write(self, name: str, path: str | Path) -> None:
        from pathlib import Path

        from resupply.common.files import write_atomic

        write_atomic(Path(path), self._made(name))

    def _made(self, name: str) -> str | bytes:
        from resupply.report.write import make_result

        return make_result(name, self.document, self.geometry, pocket=self._pocket)

    def write(self, folder: str | Path) -> dict[str, Path]:
        """Write every result into a folder, all of them or none.

        Returns
        -------
        dict
            Name of each result to where it is.
        """
        from pathlib import Path

        from resupply.report.write import write_results

        return write_results(self.document, self.geometry, Path(folder), pocket=self._pocket)

    def make_pocket(self, progress: Progress = silent, *, processes: int = 1) -> Pocket:
        """Make the plans that may be needed on the way; pages written from now on hold them.

        Parameters
        ----------
        progress, processes
            Told which plan is being made; how many are made at once (on Linux).

        Returns
        -------
        Pocket
            What is on board, and what is not.
        """
        from resupply.api.in_the_pocket import pocket_of

        self._pocket = pocket_of(self, progress, processes=processes)
        return self._pocket

    def __repr__(self) -> str:
        legs, stops = self._bare.legs, len(self._bare.supply.stops)
        name = one_line(self.trip.name or self.route.name)[:_NAME_LENGTH]
        length_km = (legs[-1].end_m - legs[0].start_m) / 1000.0
        days = (legs[-1].date - legs[0].date).days + 1
        return (
            f"<resupply.Plan {name!r}: {length_km:.0f} km, {days} day{'' if days == 1 else 's'} "
            f"from {legs[0].date}, {stops} food stop{'' if stops == 1 else 's'}>"
        )

    def _repr_html_(self) -> str:
        from resupply.api.explore import plan_html

        return plan_html(self)
