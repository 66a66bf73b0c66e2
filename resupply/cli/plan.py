"""`resupply plan` and `resupply demo`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from typer import Argument, Option

from resupply.cli import pocket
from resupply.cli.given import Given, read_trip
from resupply.common.errors import ResupplyError
from resupply.trip.samples import SAMPLES, samples_folder

if TYPE_CHECKING:
    from resupply.api import Plan
    from resupply.api.calls import MapRead

__all__ = ["Site", "demo", "plan", "plan_and_write"]

Site = Annotated[
    Path | None,
    Option(help="Folder for a web host as well: a page that any phone can install."),
]
"""Option of every command that plans one trip."""


def plan(
    trip: Annotated[
        Path,
        Argument(help="A trip file (.toml), or a route (GPX, KML, KMZ, GeoJSON, FIT)."),
    ],
    route: Annotated[Path | None, Option(help="Route file. Key: route")] = None,
    daily_km: Annotated[float | None, Option(help="Distance a day. Key: pace.daily_km")] = None,
    daily_mi: Annotated[float | None, Option(help="The same in miles.")] = None,
    even_days: Annotated[
        bool | None,
        Option("--even-days/--full-days", help="Spread the days evenly. Key: pace.even_days"),
    ] = None,
    start: Annotated[
        str | None,
        Option(help="First riding day, 2027-07-09. Key: start.date"),
    ] = None,
    depart: Annotated[
        str | None,
        Option(help="Departure each morning, 08:30. Key: pace.depart"),
    ] = None,
    speed_kmh: Annotated[float | None, Option(help="Moving speed. Key: pace.speed_kmh")] = None,
    people: Annotated[int | None, Option(help="How many eat. Key: party.people")] = None,
    carry_limit_days: Annotated[
        float | None,
        Option(help="Most days of food on board. Key: food.carry_limit_days"),
    ] = None,
    menu: Annotated[
        str | None,
        Option(help="quick, or best for a longer search for a menu without waste. Key: food.menu"),
    ] = None,
    corridor_km: Annotated[
        float | None,
        Option(help="How far from the route a shop may be. Key: map.corridor_km"),
    ] = None,
    extract: Annotated[
        list[Path] | None,
        Option(help="OpenStreetMap extract; may be repeated. Key: map.extracts"),
    ] = None,
    service: Annotated[
        bool | None,
        Option("--service/--no-service", help="Ask the live map service. Key: map.service"),
    ] = None,
    units: Annotated[str | None, Option(help="metric or imperial. Key: show.units")] = None,
    set_: Annotated[
        list[str] | None,
        Option("--set", help="Any other key: --set cooler.kind=\"'soft'\". May be repeated."),
    ] = None,
    out: Annotated[Path, Option(help="Folder for the results.")] = Path("out"),
    site: Site = None,
) -> None:
    """Plan a trip: writes an offline map, lists of the stops and data files."""
    given = Given()
    given.put("route", "--route", str(route.resolve()) if route else None, shown=route)
    for key, value in {
        "pace.daily_km": daily_km,
        "pace.daily_mi": daily_mi,
        "pace.even_days": even_days,
        "start.date": start,
        "pace.depart": depart,
        "pace.speed_kmh": speed_kmh,
        "party.people": people,
        "food.carry_limit_days": carry_limit_days,
        "food.menu": menu,
        "map.corridor_km": corridor_km,
        "map.service": service,
        "show.units": units,
    }.items():
        given.put(key, _OPTIONS.get(key) or _option(key), value)
    given.put_files(extract)
    given.put_pairs(set_)
    pocket.add_pocket(plan_and_write(trip, given, out, site), out, site)


_OPTIONS = {"start.date": "--start"}


def _option(key: str) -> str:
    return "--" + key.rpartition(".")[2].replace("_", "-")


def demo(
    name: Annotated[str, Argument(help=f"One of {', '.join(SAMPLES)}.")] = SAMPLES[0],
    daily_km: Annotated[float | None, Option(help="Distance a day. Key: pace.daily_km")] = None,
    out: Annotated[Path, Option(help="Folder for the results.")] = Path("out"),
    site: Site = None,
) -> None:
    """Plan an invented trip on an invented island; needs no network."""
    if name not in SAMPLES:
        raise ResupplyError(
            f"there is no sample trip {name!r}", mend=f"Choose one of {', '.join(SAMPLES)}"
        )
    given = Given()
    given.put("pace.daily_km", "--daily-km", daily_km)
    planned = plan_and_write(samples_folder() / f"{name}.toml", given, out, site)
    pocket.add_pocket(planned, out, site)


def plan_and_write(
    path: Path, given: Given, out: Path, site: Path | None = None, *, read: MapRead | None = None
) -> Plan:
    """Plan a trip file or a bare route, write the results and sum them up on the terminal.

    Parameters
    ----------
    site
        Folder for a web host; None for none.
    read
        The map, where it was read already.
    """
    from rich.console import Console

    from resupply.cli.terminal import print_summary, progress_bar

    trip, folder = read_trip(path, given)
    with progress_bar(Console(stderr=True)) as progress, given.blamed():
        from resupply.api import plan_trip_at

        planned = plan_trip_at(trip, folder, read=read, progress=progress)
        progress("Planning ice and meals", None)
        document = planned.document
        progress("Writing the map", None)
        written = planned.write(out)
        page = planned.to_site(site) if site else None
    print_summary(document, Console(), written)
    if page:
        print(f"For a phone: serve the folder {page.parent} over https (docs/on-the-road.md)")
    if not trip.map.extracts and not trip.map.service:
        print(f"Without map data no shop is known. Find and fetch it: resupply fetch {path}")
    return planned
