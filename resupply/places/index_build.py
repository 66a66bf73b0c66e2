"""Make a regional index from extracts, once, so that planning reads only what it needs.

In: extracts, up to a continent. Out: a folder as `resupply.places.index_parts` describes. Each
extract becomes a part of its own; a part that is finished is not made again. The table of
contents is replaced last, in one step: until then the earlier index is whole.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
import time
from contextlib import contextmanager, suppress
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Final

from resupply.common.errors import ExtractError, OutputError
from resupply.common.files import write_atomic
from resupply.common.progress import silent
from resupply.places.coverage import ROADS_WITHOUT_BOX, believable
from resupply.places.index_light_map import LAYERS, LightMapRows
from resupply.places.index_parts import (
    CONTENTS,
    SCHEMA,
    SUFFIX,
    Part,
    contents_text,
    read_contents,
    rules_mark,
)
from resupply.places.index_readers import CoverRows, PlaceRows
from resupply.places.index_roads import RoadWriter
from resupply.places.osm_file import read_header
from resupply.places.osm_scan import scan_whole

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from resupply.common.progress import Progress
    from resupply.places.osm_file import OsmHeader


__all__ = ["PartFiles", "build_index"]

_PART_FILE: Final = "part.json"
_WORK_PREFIX: Final = "unfinished-"
_IDLE_S: Final = 3_600.0
"""Nothing written for so long: the run that began it has ended. Our choice."""
_PART_PREFIX: Final = "part-"
# Nodes take 16 bytes each on disk, and an extract about 8 bytes for each.
_NODES_IN_MEMORY_BYTES: Final = 64_000_000


def build_index(
    extracts: Sequence[Path], out: Path, *, progress: Progress | None = None
) -> tuple[Part, ...]:
    """Make an index that holds exactly these extracts.

    Parameters
    ----------
    extracts
        Files (.osm.pbf, .osm, .osm.bz2, .osm.gz). One that is unchanged since its part was
        finished is not read again.
    out
        Folder of the index, its name ending in `.places`.
    progress
        Told what is being done.

    Returns
    -------
    tuple of Part
        The contents, in the order of the extracts.

    Raises
    ------
    ExtractError
        An extract is missing, empty, broken, or of an unknown kind; the earlier index stays.
    OutputError
        The folder cannot be written; the earlier index stays.
    """
    tell = progress or silent
    if not extracts:
        raise ExtractError("no map extract was given", mend="Name at least one .osm.pbf file")
    if out.suffix != SUFFIX:
        raise OutputError(
            f"the name of a regional index ends in {SUFFIX}",
            where=str(out),
            mend=f"Write --out {out.stem or 'region'}{SUFFIX}",
        )
    with _writable(out):
        out.mkdir(parents=True, exist_ok=True)
        for left in out.glob(f"{_WORK_PREFIX}*"):
            if not _at_work(left):
                shutil.rmtree(left, ignore_errors=True)
    parts = []
    for path in dict.fromkeys(path.resolve() for path in extracts):
        header = read_header(path)
        folder = out / _folder_name(path)
        if not (folder / _PART_FILE).is_file():
            with _writable(out):
                _make_part(path, header, folder, tell)
        parts.append(_read_part(folder))
    write_atomic(out / CONTENTS, contents_text(tuple(parts)))
    named = {part.folder for part in parts}
    for old in out.glob(f"{_PART_PREFIX}*"):
        if old.name not in named:
            shutil.rmtree(old, ignore_errors=True)
    return read_contents(out)


def _at_work(left: Path) -> bool:
    """Tell whether another run still writes an unfinished part; its name holds the process."""
    number = left.name.removeprefix(_WORK_PREFIX).partition("-")[0]
    if os.name != "posix" or not number.isdecimal():
        # Without a way to ask, a folder in which nothing changed for an hour is left behind.
        newest_s = max((path.stat().st_mtime for path in (left, *left.iterdir())), default=0.0)
        return time.time() - newest_s < _IDLE_S
    try:
        os.kill(int(number), 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


@contextmanager
def _writable(out: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise OutputError(
            f"the regional index cannot be written ({error.strerror or error})",
            where=str(out),
            mend="Choose a folder you may write to, with free space, using --out",
        ) from error


def _folder_name(path: Path) -> str:
    """Name of an extract's part: another one if the file or the way of reading it changes."""
    about = path.stat()
    rules = f"{SCHEMA} {rules_mark()} {' '.join(LAYERS)}"
    mark = f"{rules} {path.name} {about.st_size} {about.st_mtime_ns}"
    return f"{_PART_PREFIX}{hashlib.sha256(mark.encode()).hexdigest()[:16]}"


def _read_part(folder: Path) -> Part:
    return Part(**json.loads((folder / _PART_FILE).read_text("utf-8")))


def _make_part(path: Path, header: OsmHeader, folder: Path, tell: Progress) -> None:
    """Read one extract into a new folder, and give it its name when it is finished."""
    about = path.stat()
    prefix = f"{_WORK_PREFIX}{os.getpid()}-"
    work = Path(tempfile.mkdtemp(prefix=prefix, dir=folder.parent))
    try:
        part = PartFiles(work, tell, path.name)
        newest = part.read(path, header)
        cover = part.cover.grid
        fits = believable(header.box, cover.extent)
        part.finish(cover_least=1 if fits else ROADS_WITHOUT_BOX)
        made = Part(
            folder=folder.name,
            source=path.name,
            source_bytes=about.st_size,
            source_changed_ns=about.st_mtime_ns,
            rules=rules_mark(),
            data_date=(header.timestamp or newest or "")[:10] or None,
            box=header.box,
            extent=cover.extent,
            believable=fits,
            places=part.places.count,
            nowhere=part.places.nowhere,
            coast_points=part.light_map.coast_points,
        )
        write_atomic(work / _PART_FILE, json.dumps(asdict(made)))
        work.chmod(0o755)
        _sync(work)
        _take_name(work, folder)
    except BaseException:
        shutil.rmtree(work, ignore_errors=True)
        raise


def _take_name(work: Path, folder: Path) -> None:
    """Give a finished part its name, unless another run was quicker."""
    if not (folder / _PART_FILE).is_file():
        # A part of this name that was cut off before its last file is in the way.
        shutil.rmtree(folder, ignore_errors=True)
        with suppress(OSError):
            work.rename(folder)
            return
    shutil.rmtree(work, ignore_errors=True)
    if not (folder / _PART_FILE).is_file():
        raise OSError(f"the part {folder.name} cannot be given its name")


def _sync(work: Path) -> None:
    for path in work.iterdir():
        if path.is_file():
            with path.open("rb") as stream:
                os.fsync(stream.fileno())


class PartFiles:
    """Sorts the features of one extract into the files of its part."""

    def __init__(self, work: Path, tell: Progress, name: str) -> None:
        self._work = work
        self.places = PlaceRows(work, lambda count: tell(f"Reading {name}: {count:,} places", None))
        self.light_map = LightMapRows(work)
        self.cover = CoverRows(work)
        self.roads = RoadWriter(work)
        tell(f"Reading {name}", None)

    def read(self, path: Path, header: OsmHeader) -> str | None:
        """Read the extract; its newest edit is returned where the header has no date."""
        large = path.stat().st_size >= _NODES_IN_MEMORY_BYTES
        kept_in = f"sparse_file_array,{self._work / 'nodes'}" if large else "flex_mem"
        sees = [self.places, self.light_map, self.cover, self.roads]
        facts = scan_whole(path, header, sees, kept_in=kept_in)
        (self._work / "nodes").unlink(missing_ok=True)
        return None if facts.newest is None else facts.newest.isoformat()

    def finish(self, *, cover_least: int) -> None:
        """Write the files."""
        self.places.finish()
        self.light_map.finish()
        self.cover.finish(least=cover_least)
        self.roads.finish()
