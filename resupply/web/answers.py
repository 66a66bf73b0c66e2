"""The work behind each question of the page, done in threads: find the world, plan, answer.

In: a checked request. Out: bytes. All that is kept between questions lives here.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from resupply.common.errors import ResupplyError, TripFileError
from resupply.common.quantity import as_sentence
from resupply.plan.prepare import prepare
from resupply.report.document.model.as_json import to_wire
from resupply.report.write import MEDIA_TYPES, make_result
from resupply.route.read import parse_route, read_route
from resupply.trip.read_file import dump_trip, parse_trip
from resupply.trip.samples import SAMPLES
from resupply.web.fetching import Fetching
from resupply.web.kept_maps import KeptMaps
from resupply.web.kept_routes import LoadedRoute, MapReading, RecentlyUsed, route_token
from resupply.web.newest_first import Turn
from resupply.web.settings import (
    client_tree,
    file_name,
    make_plan,
    own_trip,
    sample_trip,
    settled_trip,
    to_bytes,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from resupply.places.place import PlaceSet
    from resupply.plan.prepared import Prepared
    from resupply.report.document.model.plan import PlanDocument
    from resupply.trip.settings import Trip
    from resupply.web.requests import ExportRequest, MapsRequest, PlanRequest
    from resupply.web.settings import ServerMap

__all__ = ["Answers", "RouteGoneError"]

_ROUTES_KEPT = 8
"""Our choice: more than a rider has open; bounds the memory."""
_PLANS_KEPT = 6
"""Our choice: some steps back and forth; a plan takes a few megabytes."""
_TRIP_FILE = "trip.toml"


class RouteGoneError(ResupplyError):
    """The page names a route the server does not hold (any more): it may send it again."""


class Answers:
    """Routes and worlds in memory; one per application. Safe for threads."""

    def __init__(self, samples: Path, own_map: ServerMap, folder: Path) -> None:
        self._samples, self._own_map, self._folder = samples, own_map, folder
        self._routes: RecentlyUsed[LoadedRoute] = RecentlyUsed(_ROUTES_KEPT)
        self._sample_trips: dict[str, Trip] = {}
        self._plans: RecentlyUsed[tuple[PlanDocument, PlaceSet]] = RecentlyUsed(_PLANS_KEPT)
        self.worlds = KeptMaps()
        self._fetching = Fetching(folder, self._take_maps)

    def map_told(self) -> dict[str, Any]:
        """Tell where the map data of uploaded routes is from."""
        names = [Path(name).name for name in self._own_map.extracts]
        return {"extracts": names, "service": self._own_map.service}

    def load(self, key: str) -> MapReading | None:
        """Find a load by its key: map data being read, or fetched."""
        return self.worlds.load(key) or self._fetching.load(key)

    def find_maps(self, asked: MapsRequest) -> dict[str, Any]:
        """Tell which map data could be fetched for a route.

        Raises
        ------
        ResupplyError
            There is none, or nobody to ask.
        """
        trip, source = self._settled(asked)
        return self._fetching.find(trip, source)

    def fetch_maps(self, asked: MapsRequest) -> dict[str, str]:
        """Begin to fetch what was told of; progress is that of a load.

        Raises
        ------
        ResupplyError
            Nothing was told of yet.
        """
        _, source = self._settled(asked)
        return {"load": self._fetching.start(source)}

    def _take_maps(self, paths: tuple[Path, ...]) -> None:
        """Plan uploaded routes with extracts that have come, besides those there were."""
        names = (*self._own_map.extracts, *(str(path.resolve()) for path in paths))
        self._own_map = replace(self._own_map, extracts=tuple(dict.fromkeys(names)))

    def samples_told(self) -> list[dict[str, Any]]:
        """Every sample trip with its settings, for the page to start from."""
        told = []
        for name in SAMPLES:
            source, trip = self._sample(name)
            length_m = source.route.length_m
            told.append(
                {
                    "route": f"sample:{name}",
                    "name": trip.name,
                    "length_m": round(length_m),
                    "trip": client_tree(trip),
                }
            )
        return told

    def read_trip(self, data: bytes) -> dict[str, Any]:
        """Read the settings of a trip file, and the route it names: a sample's, or a file's name.

        Raises
        ------
        TripFileError
            The file is no trip file.
        """
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            raise TripFileError("is not text in UTF-8", where="trip file") from None
        trip = parse_trip(text, where="trip file")
        path = trip.route or ""
        # A path is compared or shown, never opened.
        sample = next((name for name in SAMPLES if path == self._sample_path(name)), None)
        return {
            "trip": client_tree(trip),
            "route": f"sample:{sample}" if sample else None,
            "file": file_name(path),
        }

    def take_route(self, data: bytes) -> dict[str, Any]:
        """Read an uploaded route and keep it by the hash of its bytes.

        Raises
        ------
        RouteError
            It is no route.
        """
        token, route = route_token(data), parse_route(data, name="route file")
        self._routes.put(token, LoadedRoute(token, route, self._folder))
        return {
            "route": token,
            "name": route.name,
            "length_m": round(route.length_m),
            "warnings": [as_sentence(said) for said in route.warnings],
        }

    def answer(self, asked: PlanRequest, turn: Turn) -> tuple[int, bytes]:
        """Plan; or say which load has to end first (202).

        Raises
        ------
        ResupplyError, Stale
            The plan cannot be made; nobody wants it any more.
        """
        turn.step()
        trip, source = self._settled(asked)
        found = self.worlds.find(trip, source, again=asked.again, stopped=turn.is_stopped)
        if isinstance(found, MapReading):
            return 202, to_bytes({"seq": asked.seq, "load": found.key})
        known = asked.have == found.key
        if asked.quick:
            plan, columns, world = make_plan(
                found.prepared,
                trip,
                source.folder,
                quick=True,
                with_places=not known,
                step=turn.step,
            )
        else:
            plan, world = self._whole_plan(found.prepared, trip, source, step=turn.step)
            plan, columns = replace(plan, places={}) if known else plan, None
        self.worlds.keep(found, world)
        answer: dict[str, Any] = {"seq": asked.seq, "world": found.key}
        if columns is not None:
            answer["passes"] = columns
        if not known:
            from resupply.report.document.geometry import geo_document
            from resupply.report.document.pass_columns import columns_along

            answer |= {"geo": geo_document(world), "along": columns_along(world)}
        turn.step()
        return 200, to_bytes(answer, plan=to_wire(plan))

    def export(self, asked: ExportRequest) -> tuple[str, str | bytes]:
        """Media type and content of a file.

        Raises
        ------
        ResupplyError
            There is no such file, or the plan cannot be made.
        """
        trip, source = self._settled(asked)
        if asked.name == _TRIP_FILE:
            sample = asked.route.removeprefix("sample:")
            route = self._sample_path(sample) if sample in SAMPLES else file_name(asked.file)
            return "application/toml", dump_trip(own_trip(trip, source, route))
        if asked.name not in MEDIA_TYPES:
            raise ResupplyError(f"there is no file {asked.name!r} to export")
        from resupply.report.document.geometry import geo_document

        found = self.worlds.find(trip, source)
        if isinstance(found, MapReading):
            prepared = prepare(trip, source.folder, route=source.route)
        else:
            prepared = found.prepared
        plan, world = self._whole_plan(prepared, trip, source, step=Turn().step)
        return MEDIA_TYPES[asked.name], make_result(asked.name, plan, geo_document(world))

    def _whole_plan(
        self, prepared: Prepared, trip: Trip, source: LoadedRoute, *, step: Callable[[], None]
    ) -> tuple[PlanDocument, Prepared]:
        """Plan, or find what was planned: a step back, or one more file, plans nothing again."""
        key = f"{source.token} {trip.model_dump_json()}"
        kept = self._plans.get(key)
        # The map may have been read again since, and the weather service has news.
        if kept and kept[1] is prepared.places and not trip.weather.forecast:
            return kept[0], prepared
        plan, _, world = make_plan(prepared, trip, source.folder, step=step)
        self._plans.put(key, (plan, world.places))
        return plan, world

    def _settled(
        self, asked: PlanRequest | ExportRequest | MapsRequest
    ) -> tuple[Trip, LoadedRoute]:
        source, own = self._source(asked.route)
        return settled_trip(asked.trip, own), source

    def _source(self, name: str) -> tuple[LoadedRoute, Trip | ServerMap]:
        """Route and map data by the name a client sent."""
        sample = name.removeprefix("sample:")
        if name.startswith("sample:") and sample in SAMPLES:
            return self._sample(sample)
        kept = self._routes.get(name)
        if kept is None:
            raise RouteGoneError("this route is not loaded any more", mend="Open its file again")
        return kept, self._own_map

    def _sample(self, name: str) -> tuple[LoadedRoute, Trip]:
        """Route and trip of a sample, read when it is first asked for."""
        if name not in self._sample_trips:
            self._sample_trips[name] = sample_trip(self._samples, name)
        trip, key = self._sample_trips[name], f"sample:{name}"
        kept = self._routes.get(key)
        if kept is None:
            kept = LoadedRoute(key, read_route(self._samples / (trip.route or "")), self._samples)
            self._routes.put(key, kept)
        return kept, trip

    def _sample_path(self, name: str) -> str:
        return str(self._samples / (self._sample(name)[1].route or ""))
