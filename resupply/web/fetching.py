"""Map data found and fetched for the page, once the rider has agreed to what it showed.

In: a trip and its route. Out: what would be fetched, as the page shows it; then a load that fetches
it, with progress. The extracts that have come are the server's from then on.
"""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any, Final

from resupply.common.download import in_mb
from resupply.common.errors import ResupplyError
from resupply.common.progress import silent
from resupply.places.fetch import FOLDER, fetch_maps, find_maps
from resupply.web.kept_routes import MapReading, RecentlyUsed

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from resupply.places.fetch import Offer
    from resupply.trip.settings import Trip
    from resupply.web.kept_routes import LoadedRoute

__all__ = ["Fetching"]

_OFFERS_KEPT: Final = 8
"""Our choice: as many as routes are."""


def _in_words(size_bytes: int | None) -> str | None:
    return None if size_bytes is None else in_mb(size_bytes)


class Fetching:
    """Offers made to the page, and the one fetch that runs. Safe for threads."""

    def __init__(self, folder: Path, came: Callable[[tuple[Path, ...]], None]) -> None:
        self._folder, self._came = folder, came
        self._offers: RecentlyUsed[Offer] = RecentlyUsed(_OFFERS_KEPT)
        self._lock = threading.Lock()
        self._load: MapReading | None = None

    def find(self, trip: Trip, source: LoadedRoute) -> dict[str, Any]:
        """Look for the extracts of a route, and tell what they are.

        Raises
        ------
        MapDataError
            There is no catalogue, or it has nothing for the route.
        """
        offer = find_maps(trip, self._folder, source.route, silent)
        self._offers.put(source.token, offer)
        return {
            "server": offer.server,
            "maps": [
                {
                    "name": one.name,
                    "bytes": one.remote.size_bytes,
                    "size": _in_words(one.remote.size_bytes),
                    "date": one.remote.date,
                    "url": one.remote.url,
                    "route_m": round(one.on_route_m),
                }
                for one in offer.maps
            ],
            "bytes": offer.size_bytes,
            "size": _in_words(offer.size_bytes),
            "beside_lacks": offer.beside_lacks,
            "lacking_m": round(offer.lacking_m),
            "problem": offer.problem,
        }

    def start(self, source: LoadedRoute) -> str:
        """Fetch what was offered for a route; give the key of the load.

        Raises
        ------
        ResupplyError
            Nothing was offered for it.
        """
        offer = self._offers.get(source.token)
        if offer is None:
            raise ResupplyError(
                "nothing was offered for this route", mend="Look for map data first"
            )
        key = f"maps-{source.token}"
        with self._lock:
            running = self._load
            if running is not None and not running.done:
                if running.key == key and running.go_on():
                    return key
                raise ResupplyError(
                    "other map data is being fetched", mend="Wait for it, or stop it"
                )
            load = self._load = MapReading(key, "Fetching the map data")

        def fetch(load: MapReading) -> None:
            paths, _ = fetch_maps(offer, self._folder / FOLDER, load.tell, stop=load.is_in_vain)
            self._came(paths)

        threading.Thread(target=load.run, args=(fetch,), daemon=True).start()
        return key

    def load(self, key: str) -> MapReading | None:
        """Load of that key, running or ended."""
        load = self._load
        return load if load is not None and load.key == key else None
