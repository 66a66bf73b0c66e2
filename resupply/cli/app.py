"""The command line: read a trip, plan it, write the map and the lists.

Every option is also a key of the trip file. Errors come out as one line, never a traceback.
Heavy imports happen inside the commands, so that `--help` is quick.
"""

from __future__ import annotations

import gc
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from resupply.common.errors import ResupplyError
from resupply.trip.samples import SAMPLES, samples_folder

if TYPE_CHECKING:
    from collections.abc import Mapping

    from resupply.trip.settings import Trip

__all__ = ["app", "main"]

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="Plan food, ice, water and fuel along a motorcycle camping route.",
)

Option = typer.Option


def main() -> None:
    """Run the command line.

    Exit code 0 done, 1 cannot be done, 2 wrong use, 70 a fault of the program, 130 interrupted.
    """
    # Places, passes and legs live to the end: looking for rubbish after every 700 new objects
    # takes a tenth of the time and finds none.
    gc.set_threshold(50_000)
    try:
        app([word for word in sys.argv[1:] if word != "--debug"])
    except ResupplyError as error:
        _say_error(str(error))
        sys.exit(1)
    except KeyboardInterrupt:
        _say_error("stopped; nothing was written. Start again to go on where map data was left")
        sys.exit(130)
    except MemoryError:
        _say_error("out of memory. Use a smaller map extract, cut to the region you ride")
        sys.exit(1)
    except Exception as fault:
        # The last edge: no traceback reaches a rider.
        if "--debug" in sys.argv:
            raise
        _say_error(
            f"a fault of the program itself ({type(fault).__name__}: {fault}). Nothing was "
            "written. Run it again with --debug at the end and report what it prints"
        )
        sys.exit(70)


def _say_error(text: str) -> None:
    from resupply.cli.terminal import plain

    print(f"resupply: {plain(text)}", file=sys.stderr)


@app.command()
def plan(
    trip: Annotated[
        Path,
        typer.Argument(help="A trip file (.toml), or a route (GPX, KML, KMZ, GeoJSON, FIT)."),
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
) -> None:
    """Plan a trip: writes a map that needs no network, plan.json and a GPX of the stops."""
    given: dict[str, object] = {
        "route": str(route.resolve()) if route else None,
        "pace.daily_km": daily_km,
        "pace.daily_mi": daily_mi,
        "pace.even_days": even_days,
        "start.date": start,
        "pace.depart": depart,
        "pace.speed_kmh": speed_kmh,
        "party.people": people,
        "food.carry_limit_days": carry_limit_days,
        "map.corridor_km": corridor_km,
        "map.extracts": [str(path.resolve()) for path in extract] if extract else None,
        "map.service": service,
        "show.units": units,
    }
    overrides = {key: value for key, value in given.items() if value is not None}
    overrides |= _assignments(set_ or [])
    _plan(trip, overrides, out)


@app.command()
def here(
    trip: Annotated[Path, typer.Argument(help="The trip file (.toml).")],
    at_km: Annotated[float | None, Option(help="Kilometre of the route. Key: now.at_km")] = None,
    at_mi: Annotated[float | None, Option(help="Or mile of the route.")] = None,
    position: Annotated[
        str | None,
        Option(help="Or latitude,longitude as your phone shows them: 46.61,-27.13."),
    ] = None,
    time: Annotated[
        str | None,
        Option(help="Local time there, 2027-07-12T14:10; left out, what it is now."),
    ] = None,
    food_meals: Annotated[
        int | None, Option(help="Meals a person still on board. Key: now.food_meals")
    ] = None,
    food_days: Annotated[float | None, Option(help="Or days of food, of three meals each.")] = None,
    ice_kg: Annotated[float | None, Option(help="Ice left in the cooler. Key: now.ice_kg")] = None,
    ice_lb: Annotated[float | None, Option(help="Or in pounds.")] = None,
    fuel_km: Annotated[
        float | None,
        Option(help="How far the fuel in the tank still goes. Key: now.fuel_km"),
    ] = None,
    fuel_mi: Annotated[float | None, Option(help="Or in miles.")] = None,
    water_l: Annotated[
        float | None, Option(help="Drinking water on board, for all. Key: now.water_l")
    ] = None,
    water_gal: Annotated[float | None, Option(help="Or in US gallons.")] = None,
    daily_km: Annotated[float | None, Option(help="Distance a day. Key: pace.daily_km")] = None,
    daily_mi: Annotated[float | None, Option(help="Or in miles.")] = None,
    out: Annotated[Path, Option(help="Folder for the results.")] = Path("out"),
) -> None:
    """Plan again from where you are, with what is left on board; keeps a log."""
    import datetime as dt

    from resupply.common.units import KG_PER_LB, L_PER_GAL, M_PER_KM, M_PER_MI
    from resupply.passes.position import at_km_given, local_now
    from resupply.route.clock import MEALS_PER_DAY

    km_per_mi = M_PER_MI / M_PER_KM
    at_km = _either("at-km", at_km, "at-mi", at_mi, km_per_mi)
    ice_kg = _either("ice-kg", ice_kg, "ice-lb", ice_lb, KG_PER_LB) or 0.0
    fuel_km = _either("fuel-km", fuel_km, "fuel-mi", fuel_mi, km_per_mi)
    water_l = _either("water-l", water_l, "water-gal", water_gal, L_PER_GAL)
    daily_km = _either("daily-km", daily_km, "daily-mi", daily_mi, km_per_mi)
    # Part of a meal feeds nobody.
    meals = int(
        _either("food-meals", food_meals, "food-days", food_days, float(MEALS_PER_DAY)) or 0.0
    )
    keys, folder = _read(trip, {})
    at_km = at_km_given(keys, folder, at_km, position)
    when = time or local_now(keys.region.time_zone).isoformat(timespec="minutes")
    try:
        moment = dt.datetime.fromisoformat(when)
    except ValueError:
        raise ResupplyError(
            f"--time {when}: that is no date and time", mend="Write it like 2027-07-12T14:10"
        ) from None
    overrides: dict[str, object] = {
        "now.at_km": at_km,
        "now.time": moment,
        "now.food_meals": meals,
        "now.ice_kg": ice_kg,
        "now.fuel_km": fuel_km,
        "now.water_l": water_l,
    }
    if daily_km is not None:
        overrides["pace.daily_km"] = daily_km
    _plan(trip, overrides, out)
    from resupply.report.log import add_to_log

    row: dict[str, str | float | None] = {
        "time": moment.isoformat(timespec="minutes"),
        "at_km": at_km,
        "food_meals": meals,
        "ice_kg": ice_kg,
        "fuel_km": fuel_km,
        "water_l": water_l,
    }
    add_to_log(out / "log.csv", row)
    print(f"The log is in {out / 'log.csv'}")


def _either(
    name: str, own: float | None, other_name: str, other: float | None, factor: float
) -> float | None:
    """Give what one of two options says, the other one converted."""
    if own is not None and other is not None:
        raise ResupplyError(f"--{name} and --{other_name} say the same", mend="Give one of them")
    return own if other is None else other * factor


@app.command()
def demo(
    name: Annotated[str, typer.Argument(help=f"One of {', '.join(SAMPLES)}.")] = SAMPLES[0],
    daily_km: Annotated[float | None, Option(help="Distance a day. Key: pace.daily_km")] = None,
    out: Annotated[Path, Option(help="Folder for the results.")] = Path("out"),
) -> None:
    """Plan an invented trip on an invented island; needs no network."""
    if name not in SAMPLES:
        raise ResupplyError(
            f"there is no sample trip {name!r}", mend=f"Choose one of {', '.join(SAMPLES)}"
        )
    overrides = {"pace.daily_km": daily_km} if daily_km is not None else {}
    _plan(samples_folder() / f"{name}.toml", overrides, out)


@app.command()
def page(
    extract: Annotated[
        list[Path] | None, Option(help="OpenStreetMap extract; may be repeated.")
    ] = None,
    service: Annotated[bool, Option(help="Ask the live map service.")] = False,
    contact: Annotated[
        str, Option(help="Your mail address or web page, told to the live map service.")
    ] = "",
    port: Annotated[int, Option(min=1, max=65535, help="Port on this machine.")] = 8327,
) -> None:
    """Open the live page: drop a route on it, drag the daily distance, watch the plan follow."""
    try:
        import uvicorn

        from resupply.web.app import make_app
        from resupply.web.settings import ServerMap
    except ModuleNotFoundError as error:
        raise ResupplyError(
            f"the live page needs the package {error.name}",
            mend="Install it with: pip install 'resupply[page]'",
        ) from error
    missing = [path for path in extract or [] if not path.exists()]
    if missing:
        raise ResupplyError("there is no such map extract", where=str(missing[0]))
    extracts = tuple(str(path.resolve()) for path in extract or [])
    own = ServerMap(extracts, service=service, contact=contact)
    print(f"The page is at http://127.0.0.1:{port}/ (stop it with Ctrl+C)", flush=True)
    application = make_app(samples=samples_folder(), own_map=own, folder=Path.cwd(), port=port)
    try:
        # A page that listens for progress must not keep the program from stopping.
        uvicorn.run(
            application,
            host="127.0.0.1",
            port=port,
            log_level="warning",
            timeout_graceful_shutdown=2,
        )
    except SystemExit as error:
        if error.code:
            raise ResupplyError(
                f"port {port} cannot be used", mend="Choose another one with --port"
            ) from error
        raise


@app.command()
def gather(
    extracts: Annotated[list[Path], typer.Argument(help="OpenStreetMap extracts (.osm.pbf, …).")],
    out: Annotated[Path, Option(help="Folder of the index.")] = Path("region.places"),
) -> None:
    """Gather extracts into a regional index, once, so that planning takes a moment."""
    from rich.console import Console

    from resupply.cli.terminal import progress_bar

    try:
        from resupply.places.index import build_index
    except ModuleNotFoundError as error:
        raise ResupplyError(
            f"a regional index needs the package {error.name}",
            mend="Install it with: pip install 'resupply[index]'",
        ) from error
    with progress_bar(Console(stderr=True)) as progress:
        parts = build_index(extracts, out, progress=progress)
    for part in parts:
        print(f"{part.source}: {part.places:,} places, data of {part.data_date or 'unknown date'}")
    print(f"The index is in {out}; plan with --extract {out}")


@app.command()
def club(
    routes: Annotated[list[Path], typer.Argument(help="Routes (.gpx, …) or trip files (.toml).")],
    extract: Annotated[
        list[Path] | None,
        Option(help="OpenStreetMap extract or regional index. Key: map.extracts"),
    ] = None,
    daily_km: Annotated[float | None, Option(help="Distance a day. Key: pace.daily_km")] = None,
    start: Annotated[str | None, Option(help="First riding day. Key: start.date")] = None,
    set_: Annotated[
        list[str] | None, Option("--set", help="Any other key, for all. May be repeated.")
    ] = None,
    cluster: Annotated[
        str | None, Option(help="Address of a dask scheduler; else this machine plans.")
    ] = None,
    out: Annotated[Path, Option(help="Folder for the results.")] = Path("club"),
) -> None:
    """Plan many routes: writes one table of all and a page that sums them up."""
    from rich.console import Console

    from resupply.cli.terminal import plain, progress_bar

    try:
        import distributed  # noqa: F401
        import pyarrow as pa  # noqa: F401
    except ModuleNotFoundError as error:
        raise ResupplyError(
            f"planning many routes needs the package {error.name}",
            mend="Install it with: pip install 'resupply[many]'",
        ) from error
    from resupply.cli.club import PAGE, jobs_of, plan_many

    given: dict[str, object] = {
        "pace.daily_km": daily_km,
        "start.date": start,
        "map.extracts": [str(path.resolve()) for path in extract] if extract else None,
    }
    overrides = {key: value for key, value in given.items() if value is not None}
    overrides |= _assignments(set_ or [])
    from resupply.trip.start import tomorrow

    jobs, failures = jobs_of(routes, overrides, start=tomorrow())
    with progress_bar(Console(stderr=True)) as progress:
        outcomes = plan_many(jobs, out, failures=failures, cluster=cluster, progress=progress)
    failed = [one for one in outcomes if one.error]
    for one in failed:
        print(plain(f"{one.file}: not planned: {one.error}"), file=sys.stderr)
    print(f"{len(outcomes) - len(failed)} of {len(outcomes)} routes planned: {out / PAGE}")
    if failed:
        raise typer.Exit(1)


def _read(path: Path, overrides: Mapping[str, object]) -> tuple[Trip, Path]:
    """Trip of a trip file or of a bare route, and the folder its file names are relative to."""
    from resupply.trip.settings import load_trip, make_trip

    if path.suffix.lower() == ".toml":
        return load_trip(path, overrides), path.parent
    given = {"route": str(path), **overrides}
    return make_trip({}, where="command line", overrides=given), Path()


def _assignments(pairs: list[str]) -> dict[str, object]:
    import tomllib

    found: dict[str, object] = {}
    for pair in pairs:
        key, equals, value = pair.partition("=")
        if not equals or not key.strip():
            raise ResupplyError(
                f"--set {pair}: a key and a value are needed", mend="Write --set key=value"
            )
        try:
            found[key.strip()] = tomllib.loads(f"value = {value}")["value"]
        except ValueError:
            # A bare word is meant as text.
            found[key.strip()] = value.strip()
    return found


def _plan(path: Path, overrides: Mapping[str, object], out: Path) -> None:

    from rich.console import Console

    from resupply.cli.terminal import print_summary, progress_bar
    from resupply.trip.start import started

    trip, folder = _read(path, overrides)
    notes = []
    if trip.start.date is None:
        trip = started(trip)
        notes.append(f"No start date was given: planned from tomorrow, {trip.start.date}.")
    errors = Console(stderr=True)
    with progress_bar(errors) as progress:
        from resupply.api import plan_files
        from resupply.report.write import write_results

        document, geo = plan_files(trip, folder, notes=notes, progress=progress)
        progress("Writing the map", None)
        written = write_results(document, geo, out)
    print_summary(document, Console(), written)
