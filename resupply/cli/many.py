"""`resupply gather` and `resupply club`: many files at once."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

from typer import Argument, Exit, Option

from resupply.cli.given import Given, needs_package

__all__ = ["club", "gather"]


def gather(
    extracts: Annotated[list[Path], Argument(help="OpenStreetMap extracts (.osm.pbf, …).")],
    out: Annotated[Path, Option(help="Folder of the index.")] = Path("region.places"),
) -> None:
    """Gather extracts into a regional index, once, so that later plans are fast."""
    from rich.console import Console

    from resupply.cli.terminal import progress_bar

    try:
        from resupply.places.index import build_index
    except ModuleNotFoundError as error:
        raise needs_package("a regional index", error, "index") from error
    with progress_bar(Console(stderr=True)) as progress:
        parts = build_index(extracts, out, progress=progress)
    for part in parts:
        print(f"{part.source}: {part.places:,} places, data of {part.data_date or 'unknown date'}")
    print(f"The index is in {out}; plan with --extract {out}")


def club(
    routes: Annotated[list[Path], Argument(help="Routes (.gpx, …) or trip files (.toml).")],
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

    from resupply.cli.terminal import progress_bar
    from resupply.common.text import clean

    try:
        if cluster is not None:
            import distributed  # noqa: F401
        import pyarrow as pa  # noqa: F401
    except ModuleNotFoundError as error:
        raise needs_package("planning many routes", error, "many") from error
    from resupply.cli.club import PAGE, jobs_of, plan_many
    from resupply.trip.start import tomorrow

    given = Given()
    given.put("pace.daily_km", "--daily-km", daily_km)
    given.put("start.date", "--start", start)
    given.put_files(extract)
    given.put_pairs(set_)
    jobs, failures = jobs_of(routes, given.keys, spelled=given.blamable(), start=tomorrow())
    with progress_bar(Console(stderr=True)) as progress:
        outcomes = plan_many(jobs, out, failures=failures, cluster=cluster, progress=progress)
    failed = [one for one in outcomes if one.error]
    for one in failed:
        print(clean(f"{one.file}: not planned: {one.error}"), file=sys.stderr)
    print(f"{len(outcomes) - len(failed)} of {len(outcomes)} routes planned: {out / PAGE}")
    if failed:
        raise Exit(1)
