"""`resupply fetch`: find and get the map data a route needs, then plan with it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from typer import Argument, Option

from resupply.cli import pocket
from resupply.cli.given import Given, read_trip
from resupply.cli.plan import plan_and_write
from resupply.common.errors import ResupplyError

if TYPE_CHECKING:
    from resupply.places.fetch import Offer
    from resupply.trip.settings import Trip

__all__ = ["fetch"]


def fetch(
    trip: Annotated[
        Path,
        Argument(help="A route (GPX, KML, KMZ, GeoJSON, FIT), or a trip file (.toml)."),
    ],
    yes: Annotated[bool, Option("--yes", help="Fetch without asking.")] = False,
    to: Annotated[
        Path | None, Option(help="Folder for the map data; left out: maps, beside the trip file.")
    ] = None,
    catalogue: Annotated[
        str | None,
        Option(help="Address or file of the list of map extracts. Key: map.catalogue"),
    ] = None,
    all_around: Annotated[
        bool,
        Option(
            "--all-around",
            help="Fetch all ground beside the route too, however large its map data is.",
        ),
    ] = False,
    only: Annotated[bool, Option("--no-plan", help="Fetch, and plan nothing.")] = False,
    daily_km: Annotated[float | None, Option(help="Distance a day. Key: pace.daily_km")] = None,
    start: Annotated[str | None, Option(help="First riding day. Key: start.date")] = None,
    people: Annotated[int | None, Option(help="How many eat. Key: party.people")] = None,
    set_: Annotated[
        list[str] | None, Option("--set", help="Any other key. May be repeated.")
    ] = None,
    out: Annotated[Path, Option(help="Folder for the results.")] = Path("out"),
) -> None:
    """Find the map data a route needs, fetch it if you agree, and plan."""
    from rich.console import Console

    from resupply.cli.terminal import progress_bar
    from resupply.places.fetch import FOLDER, fetch_maps, find_maps
    from resupply.route.read import read_route

    given = Given()
    # A path is meant from here, not from the folder of the trip.
    local = catalogue is not None and Path(catalogue).is_file()
    given.put(
        "map.catalogue", "--catalogue", str(Path(catalogue or "").resolve()) if local else catalogue
    )
    given.put("pace.daily_km", "--daily-km", daily_km)
    given.put("start.date", "--start", start)
    given.put("party.people", "--people", people)
    given.put_pairs(set_)
    asked, folder = read_trip(trip, given)
    if not asked.route:
        raise ResupplyError("no route is given", mend="Name a route file as the key route")
    maps = to or folder / FOLDER
    with progress_bar(Console(stderr=True)) as progress:
        offer = find_maps(
            asked, folder, read_route(folder / asked.route), progress, all_around=all_around
        )
    _tell(offer, maps, asked)
    if not (yes or offer.problem or _agrees()):
        raise ResupplyError("nothing was fetched: that needs your consent", mend="Add --yes")
    with progress_bar(Console(stderr=True)) as progress:
        paths, told = fetch_maps(offer, maps, progress)
    for line in told:
        print(f"! {line}")
    words = " ".join(f"--extract {path}" for path in paths)
    print(
        f"The map data is in {maps}. Plan again, with nothing fetched: resupply plan {trip} {words}"
    )
    if not only:
        given.put_files(paths)
        pocket.add_pocket(plan_and_write(trip, given, out), out)


def _tell(offer: Offer, maps: Path, trip: Trip) -> None:
    """Say what would be fetched, from where, and what that leaves out."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from resupply.common.download import in_mb
    from resupply.common.quantity import way
    from resupply.common.show import Show, shown

    show = Show(trip.show.units)
    console = Console()
    table = Table(title=f"Map data for this route, by {offer.server}", title_justify="left")
    for column in ("Region", "Size", "Of", "Route in it", "Address"):
        table.add_column(column, overflow="fold")
    for one in offer.maps:
        size, on_m = one.remote.size_bytes, one.on_route_m
        table.add_row(
            Text(one.name),
            "not known" if size is None else in_mb(size),
            one.remote.date or "not known",
            shown(way(on_m), show) if on_m > 0.0 else "ground beside it",
            Text(one.remote.url),
        )
    console.print(table)
    size = offer.size_bytes
    together = "a size not known" if size is None else in_mb(size)
    print(f"Together {together}, into {maps}. Map data (c) OpenStreetMap contributors, ODbL.")
    if offer.beside_lacks:
        print(
            "Some ground beside the route lies in large neighbours; it is left out, and the plan "
            "says where the map ends. Fetch it too with --all-around."
        )
    if offer.lacking_m > 0.0:
        lacking = shown(way(offer.lacking_m), show)
        print(f"None of these holds {lacking} of the route (at sea, perhaps): not known there.")
    if offer.problem:
        print(f"Sizes and dates are as known before, because {offer.problem}.")


def _agrees() -> bool:
    """Ask on a terminal; nobody else agrees."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        return False
    try:
        return input("Fetch it? [y/N] ").strip().lower() in ("y", "yes")
    except EOFError:
        return False
