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

import numpy as np

from resupply.common.errors import ExtractError, OutputError
from resupply.common.files import write_atomic
from resupply.common.geodesy import M_PER_DEGREE
from resupply.common.progress import silent
from resupply.common.text import one_line
from resupply.places.coverage import ROADS_WITHOUT_BOX, believable
from resupply.places.extract import outline_of, place_of
from resupply.places.index_cover import CoverGrid
from resupply.places.index_parts import (
    CONTENTS,
    COVER,
    LIGHT_MAP,
    PLACES,
    SCHEMA,
    SUFFIX,
    Part,
    contents_text,
    read_contents,
    rules_mark,
)
from resupply.places.index_scan import NEVER, RoadBatch, layer_of, scan
from resupply.places.osm_file import read_header

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray
    from shapely import LineString, MultiPolygon, Polygon

    from resupply.common.progress import Progress
    from resupply.places.index_write import SpatialWriter
    from resupply.places.osm_file import Feature, OsmHeader
    from resupply.places.place import Place


__all__ = ["PartFiles", "build_index"]

_PART_FILE: Final = "part.json"
_WORK_PREFIX: Final = "unfinished-"
_IDLE_S: Final = 3_600.0
"""Nothing written for so long: the run that began it has ended. Our choice."""
_PART_PREFIX: Final = "part-"
# Nodes take 16 bytes each on disk, and an extract about 8 bytes for each.
_NODES_IN_MEMORY_BYTES: Final = 64_000_000
_LINE_TOLERANCE_M: Final = 10.0
_LEAST_LAKE_M2: Final = 200_000.0
_LINES_AT_ONCE: Final = 4_096
_FEATURES_PER_TELL: Final = 20_000


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
    mark = f"{SCHEMA} {rules_mark()} {path.name} {about.st_size} {about.st_mtime_ns}"
    return f"{_PART_PREFIX}{hashlib.sha256(mark.encode()).hexdigest()[:16]}"


def _read_part(folder: Path) -> Part:
    return Part(**json.loads((folder / _PART_FILE).read_text("utf-8")))


def _make_part(path: Path, header: OsmHeader, folder: Path, tell: Progress) -> None:
    """Read one extract into a new folder, and give it its name when it is finished."""
    about = path.stat()
    prefix = f"{_WORK_PREFIX}{os.getpid()}-"
    work = Path(tempfile.mkdtemp(prefix=prefix, dir=folder.parent))
    try:
        part = PartFiles(work)
        newest = part.read(path, header, tell)
        cover, fits = part.cover, believable(header.box, part.cover.extent)
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
            places=part.places.total,
            nowhere=part.nowhere,
            coast_points=part.coast_points,
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

    def __init__(self, work: Path) -> None:
        import pyarrow as pa

        from resupply.places.index_write import SpatialWriter

        self._work = work
        place_columns = pa.schema(
            [
                ("id", pa.string()),
                ("lon", pa.float64()),
                ("lat", pa.float64()),
                ("name", pa.string()),
                ("kind", pa.string()),
                ("supplies", pa.string()),
                ("opening_hours", pa.string()),
                ("tags", pa.string()),
            ]
        )
        map_columns = pa.schema(
            [
                ("layer", pa.string()),
                ("id", pa.string()),
                ("name", pa.string()),
                ("people", pa.string()),
            ]
        )
        self.places = self._writer("places", place_columns, SpatialWriter)
        self.light_map = self._writer("map", map_columns, SpatialWriter)
        self.cover = CoverGrid()
        self.nowhere = 0
        self.coast_points = 0
        self._lines: list[tuple[str, NDArray[np.float64]]] = []

    def _writer(self, name: str, columns: object, kind: type[SpatialWriter]) -> SpatialWriter:
        return kind(columns, self._work / f"{name}.runs")

    def read(self, path: Path, header: OsmHeader, tell: Progress) -> str | None:
        """Read the extract; its newest edit is returned where the header has no date."""
        large = path.stat().st_size >= _NODES_IN_MEMORY_BYTES
        locations = f"sparse_file_array,{self._work / 'nodes'}" if large else "flex_mem"
        roads = RoadBatch(self.cover.take)
        features = scan(
            path, roads=roads, locations=locations, with_timestamps=header.timestamp is None
        )
        tell(f"Reading {path.name}", None)
        for number, feature in enumerate(features):
            if number % _FEATURES_PER_TELL == 0:
                tell(f"Reading {path.name}: {self.places.total:,} places so far", None)
            self.cover.see(feature.lonlat)
            self._see_map(feature)
            if (made := place_of(feature)) is None:
                continue
            place, outline = made
            if place is None:
                self.nowhere += 1
            else:
                self._add_place(place, outline)
        return roads.newest.isoformat() if roads.newest > NEVER else None

    def _add_place(self, place: Place, outline: Polygon | MultiPolygon | None) -> None:
        import shapely

        supplies = ";".join(f"{supply}:{sure}" for supply, sure in place.supplies.items())
        self.places.add(
            (
                place.id,
                place.lon,
                place.lat,
                place.name,
                place.kind,
                supplies,
                place.opening_hours or "",
                json.dumps(place.tags, ensure_ascii=False),
            ),
            outline if outline is not None else shapely.Point(place.lon, place.lat),
        )

    def _see_map(self, feature: Feature) -> None:
        import shapely

        layer = layer_of(feature)
        if not layer or not len(feature.lonlat):
            return
        if feature.id.startswith("node/"):
            name, people = (one_line(feature.tags.get(key, "")) for key in ("name", "population"))
            self.light_map.add((layer, feature.id, name, people), shapely.Point(feature.lonlat[0]))
            return
        lines = _lake_shores(feature) if layer == "water" else [feature.lonlat]
        self._lines += [(layer, line) for line in lines if len(line) > 1]
        if len(self._lines) > _LINES_AT_ONCE:
            self._add_lines()

    def _add_lines(self) -> None:
        """Thin the lines that wait, all at once for speed, and put them on the light map."""
        for (layer, _), thin in zip(
            self._lines, _thinned([line for _, line in self._lines]), strict=True
        ):
            if layer == "coastline":
                self.coast_points += len(thin.coords)
            self.light_map.add((layer, "", "", ""), thin)
        self._lines = []

    def finish(self, *, cover_least: int) -> None:
        """Write the three files."""
        import pyarrow as pa
        import pyarrow.parquet as pq

        self._add_lines()
        about = {"schema": SCHEMA}
        areas_too = ("MultiPolygon", "Point", "Polygon")
        self.places.finish(self._work / PLACES, geometry_types=areas_too, about=about)
        lines_too = ("LineString", "Point")
        self.light_map.finish(self._work / LIGHT_MAP, geometry_types=lines_too, about=about)
        cubes = pa.table({"cube": self.cover.covered(cover_least)})
        pq.write_table(
            cubes.replace_schema_metadata(about),
            self._work / COVER,
            compression="zstd",
            write_page_checksum=True,
            use_dictionary=False,
            column_encoding={"cube": "DELTA_BINARY_PACKED"},
            row_group_size=65_536,
        )
        (self._work / "nodes").unlink(missing_ok=True)


def _lake_shores(feature: Feature) -> list[NDArray[np.float64]]:
    """Outer shores of a lake's parts that are large enough to draw, each (k, 2) degrees."""
    import shapely

    low, high = feature.lonlat.min(axis=0), feature.lonlat.max(axis=0)
    shrink = float(np.cos(np.radians((low[1] + high[1]) / 2.0)))
    if float(np.prod(high - low)) * M_PER_DEGREE**2 * shrink < _LEAST_LAKE_M2:
        return []
    outline = outline_of(feature)
    if outline is None:
        return []
    least = _LEAST_LAKE_M2 / (M_PER_DEGREE**2 * max(shrink, 1e-6))
    return [
        shapely.get_coordinates(part.exterior)
        for part in shapely.get_parts(outline)
        if part.area >= least
    ]


def _thinned(lines: Sequence[NDArray[np.float64]]) -> Sequence[LineString]:
    """Leave out points that move a line by less than the tolerance; both ends stay."""
    import shapely

    if not lines:
        return []
    size = [len(line) for line in lines]
    by = np.ones((len(lines), 2))
    by[:, 0] = np.cos(np.radians([line[0, 1] for line in lines]))
    number = np.repeat(np.arange(len(lines)), size)
    level = shapely.linestrings(np.concatenate(lines) * by[number], indices=number)
    thin = shapely.simplify(level, _LINE_TOLERANCE_M / M_PER_DEGREE, preserve_topology=False)
    lonlat, number = shapely.get_coordinates(thin, return_index=True)
    return list(np.asarray(shapely.linestrings(np.round(lonlat / by[number], 7), indices=number)))
