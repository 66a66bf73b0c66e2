"""Plan many routes over the same map data: a club's season, an operator's catalogue.

In: route files (or trip files) and settings common to all. Out: one GeoParquet of key figures
and lines, and a page that sums them up. Each route goes through the same functions as a single
one, on all cores of this machine; dask spreads them over a cluster by its address.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import json
import os
import re
import signal
from collections import Counter
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict, dataclass, replace
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from resupply.common.errors import OutputError, ResupplyError, TripFileError
from resupply.common.files import write_atomic
from resupply.common.kept_answers import keep, kept, kept_path
from resupply.common.progress import silent
from resupply.common.text import one_line
from resupply.common.version import __version__
from resupply.report.club import ClubRow, outcome_of, render_club
from resupply.trip.read_file import load_trip, make_trip
from resupply.trip.start import started

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from distributed import Client

    from resupply.common.progress import Progress
    from resupply.trip.settings import Trip


__all__ = ["Job", "jobs_of", "plan_many", "plan_one"]

DONE: Final = "routes"
TABLE: Final = "routes.parquet"
PAGE: Final = "index.html"
_FOLDERS: Final = re.compile(r"(?<![\w.:/])(?:[A-Za-z]:\\(?:[^\\\n:]+\\)+|/(?:[^/\n:]+/)+)")
"""Folders of an absolute path in an error, those of a web address not."""


@dataclass(frozen=True, slots=True)
class Job:
    """One route to plan. The files it names must be where the worker sees them too."""

    file: str
    """The route or trip file as it was named."""
    trip: Trip
    folder: Path
    """File names of the trip are relative to it."""
    key: str
    """Changes whenever the result might: settings, route, map data, version."""


def jobs_of(
    paths: Sequence[Path],
    overrides: Mapping[str, object],
    *,
    start: dt.date,
    spelled: Mapping[str, str] | None = None,
) -> tuple[tuple[Job, ...], tuple[ClubRow, ...]]:
    """Read the settings of each route.

    Parameters
    ----------
    paths
        Route files, or trip files (.toml).
    overrides
        Keys that hold for all of them; file names in them are absolute.
    start
        First riding day of those that have none.
    spelled
        Key to the option that has set it, for errors.

    Returns
    -------
    tuple
        Jobs, and the failures of those whose trip file cannot be used; both in order of file.
    """
    jobs, failures = [], []
    for path in sorted(set(paths)):
        try:
            if path.suffix.lower() == ".toml":
                trip, folder = load_trip(path, overrides), path.parent.resolve()
            else:
                own = {**overrides, "route": str(path.resolve())}
                trip, folder = make_trip({}, where="command line", overrides=own), Path.cwd()
            trip = started(trip, start)
        except TripFileError as error:
            failures.append(ClubRow(str(path), error=str(error.named(spelled or {}))))
            continue
        jobs.append(Job(str(path), trip, folder, _key(trip, folder)))
    return tuple(jobs), tuple(failures)


def _key(trip: Trip, folder: Path) -> str:
    """Mark of everything a result depends on; the route by content, map data by size and time."""
    mark = hashlib.sha256(f"{__version__} {trip.model_dump_json()}".encode())
    for own in (trip.route, trip.food.dishes, trip.region.usual_hours):
        if own and (folder / own).is_file():
            mark.update((folder / own).read_bytes())
    for name in trip.map.extracts:
        path = folder / name
        for file in sorted(path.glob("*.json")) if path.is_dir() else [path]:
            if file.is_file():
                mark.update(f"{file} {file.stat().st_size} {file.stat().st_mtime_ns}".encode())
    return mark.hexdigest()[:24]


def plan_one(job: Job) -> ClubRow:
    """Plan one route; a fault of its files is its outcome, not an error."""
    from resupply.api import plan_trip_at

    try:
        planned = plan_trip_at(job.trip, job.folder)
        document, geo = planned.document, planned.geometry
    except ResupplyError as error:
        return ClubRow(job.file, error=str(error))
    return outcome_of(job.file, document, geo)


def plan_many(
    jobs: Sequence[Job],
    out: Path,
    *,
    failures: Sequence[ClubRow] = (),
    cluster: str | None = None,
    progress: Progress | None = None,
) -> tuple[ClubRow, ...]:
    """Plan every job that has no result yet, and write the table and the page of all.

    Parameters
    ----------
    out
        Folder of the results. A route is written there as soon as it is done, so that a run
        that was stopped goes on where it was; failed ones are tried again.
    failures
        Outcomes to list without planning.
    cluster
        Address of a dask scheduler, such as `tcp://host:8786`; None for this machine's cores.

    Returns
    -------
    tuple of Outcome
        In order of file.

    Raises
    ------
    OutputError
        The folder cannot be written.
    ResupplyError
        The cluster cannot be reached.
    """
    tell = progress or silent
    found = {job.key: done for job in jobs if (done := _read_done(out, job)) is not None}
    waiting = [job for job in jobs if job.key not in found]
    what = f"Planning {len(waiting)} route{'' if len(waiting) == 1 else 's'}"
    tell(what, 0.0)
    for number, (job, done) in enumerate(_planned(waiting, cluster)):
        found[job.key] = done
        if not done.error:
            _keep_done(out, job, done)
        tell(what, (number + 1) / len(waiting))
    outcomes = tuple(
        sorted((*failures, *(found[job.key] for job in jobs)), key=lambda one: one.file)
    )
    told = without_folders(outcomes)
    _write_table(told, out / TABLE)
    write_atomic(out / PAGE, render_club(told))
    return outcomes


def _planned(waiting: Sequence[Job], cluster: str | None) -> Iterator[tuple[Job, ClubRow]]:
    """Plan the jobs, on this machine or a cluster; each as soon as it is done."""
    if len(waiting) == 1 and cluster is None:
        # Starting other processes for one route takes longer than to plan it.
        yield waiting[0], _outcome(waiting[0], partial(plan_one, waiting[0]))
    elif waiting and cluster is None:
        yield from _on_this_machine(waiting)
    elif waiting and cluster is not None:
        from distributed import as_completed as next_done

        by_key = {job.key: job for job in waiting}
        with _client(cluster) as client:
            futures = client.map(plan_one, waiting, pure=False, key=[job.key for job in waiting])
            for future in next_done(futures):
                job = by_key[future.key]
                yield job, _outcome(job, future.result)
                future.release()


def _on_this_machine(waiting: Sequence[Job]) -> Iterator[tuple[Job, ClubRow]]:
    """Plan in one process for each core."""
    pool = ProcessPoolExecutor(
        min(len(waiting), os.cpu_count() or 1),
        mp_context=get_context("spawn"),
        # Ctrl-C is for the run as a whole; a worker has nothing to say to it.
        initializer=signal.signal,
        initargs=(signal.SIGINT, signal.SIG_IGN),
    )
    try:
        running = {pool.submit(plan_one, job): job for job in waiting}
        for future in as_completed(running):
            yield running[future], _outcome(running[future], future.result)
    finally:
        pool.shutdown(cancel_futures=True)


def _outcome(job: Job, result: Callable[[], ClubRow]) -> ClubRow:
    """Give the result of a job; a fault of the program ends that job alone."""
    try:
        return result()
    except Exception as fault:  # noqa: BLE001
        return ClubRow(job.file, error=one_line(f"fault of the program: {fault!r}"))


def _keep_done(out: Path, job: Job, done: ClubRow) -> None:
    """Keep a result with a checksum, without its folder: what is kept is shared."""
    body = json.dumps(asdict(replace(done, file=Path(done.file).name))).encode()
    now = dt.datetime.now(dt.UTC).isoformat(timespec="seconds")
    path = kept_path(out / DONE, "route", job.key)
    if why := keep(path, job.key, body, now):
        mend = "Choose a folder you may write to, with free space, using --out"
        raise OutputError(why, where=str(path), mend=mend)


def _read_done(out: Path, job: Job) -> ClubRow | None:
    """Take the result of an earlier run; one that is damaged is made again."""
    found = kept(kept_path(out / DONE, "route", job.key), job.key)
    if found is None:
        return None
    try:
        row = json.loads(found.body)
        lines = tuple(tuple((lon, lat) for lon, lat in line) for line in row["lines"])
        return ClubRow(**{**row, "file": job.file, "lines": lines})
    except (ValueError, TypeError, KeyError):
        return None


def _client(cluster: str) -> Client:
    from distributed import Client

    try:
        return Client(cluster, timeout=10)
    except (OSError, ValueError) as error:
        raise ResupplyError(
            "the cluster cannot be reached",
            where=cluster,
            mend="Give the address of a running dask scheduler, e.g. tcp://host:8786",
        ) from error


def without_folders(outcomes: Sequence[ClubRow]) -> tuple[ClubRow, ...]:
    """Name files without their folders: what is shared tells nobody's. Like names keep the last."""
    paths = [Path(one.file).resolve() for one in outcomes]
    named = Counter(path.name for path in paths)
    return tuple(
        replace(
            one,
            file=path.name if named[path.name] == 1 else f"{path.parent.name}/{path.name}",
            error=_FOLDERS.sub("", one.error).removeprefix(f"{path.name}: "),
        )
        for one, path in zip(outcomes, paths, strict=True)
    )


def _write_table(outcomes: Sequence[ClubRow], path: Path) -> None:
    import geopandas
    import shapely

    rows = [asdict(outcome) for outcome in outcomes]
    lines: list[Any] = [
        shapely.MultiLineString(row.pop("lines")) if row["lines"] else row.pop("lines") or None
        for row in rows
    ]
    frame = geopandas.GeoDataFrame(rows, geometry=lines, crs="OGC:CRS84")
    table = io.BytesIO()
    frame.to_parquet(table, compression="zstd", schema_version="1.1.0", write_covering_bbox=True)
    write_atomic(path, table.getvalue())
