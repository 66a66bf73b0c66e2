"""Write any number of map features as Parquet, sorted along a Hilbert curve.

In: rows in any order, a batch at a time, with a geometry (then it is GeoParquet) or with columns of
their own. Out: one file whose row groups are compact on the
ground, with a bounding box for each row (GeoParquet 1.1, `covering`) and, in the file's
metadata, for each row group. Memory is bounded: sorted runs go to disk and are merged.

References
----------
GeoParquet 1.1.0, https://geoparquet.org/releases/v1.1.0/
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from resupply.places.index_columns import blob_column, number_column, numbers, text_column

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

__all__ = ["BOXES_KEY", "ROWS_IN_GROUP", "SpatialColumns", "SpatialWriter", "hilbert_distance"]

BOXES_KEY: Final = b"row_group_boxes"
"""Key of the file's metadata: (west, south, east, north) of each row group, degrees, JSON."""
ROWS_IN_GROUP: Final = 2_048
"""Rows read at once at least: they share a bounding box."""
_ROWS_IN_RUN: Final = 8_192
"""Kept before they are sorted and set aside: our choice; bounds the memory."""
_LEVEL: Final = 16
"""Cells of 600 m at the equator: our choice."""
_BBOX: Final = pa.struct([(side, pa.float32()) for side in ("xmin", "ymin", "xmax", "ymax")])


def hilbert_distance(
    x: NDArray[np.uint64], y: NDArray[np.uint64], *, level: int
) -> NDArray[np.uint64]:
    """How far along a Hilbert curve each cell of a square lies: neighbours on it touch.

    Of our own, since the library that has it takes half a second and 70 MB to load.

    Parameters
    ----------
    x, y
        (n,) column and row, below 2 ** level.
    """
    along = np.zeros(len(x), np.uint64)
    for step in range(level - 1, -1, -1):
        bit = np.uint64(step)
        right, up = x >> bit & np.uint64(1), y >> bit & np.uint64(1)
        along = (along << np.uint64(2)) | (np.uint64(3) * right ^ up)
        # Below, the curve lies turned: its quarter is mirrored, and its sides change places.
        rest = np.uint64((1 << step) - 1)
        mirror, turn = (up == 0) & (right == 1), up == 0
        x, y = (
            np.where(mirror, rest - (x & rest), x & rest),
            np.where(mirror, rest - (y & rest), y & rest),
        )
        x, y = np.where(turn, y, x), np.where(turn, x, y)
    return along


class SpatialColumns:
    """Takes columns of many rows at a time, then writes all rows sorted.

    Parameters
    ----------
    columns
        Arrow schema without the bounding box, which is added.
    spill
        File for the sorted runs, one record batch each; deleted after the merge.
    """

    def __init__(self, columns: pa.Schema, spill: Path) -> None:
        self._columns = pa.schema([*columns, ("bbox", _BBOX)])
        self._spill = spill
        self._runs: pa.ipc.RecordBatchFileWriter | None = None
        self._keys: list[NDArray[np.uint64]] = []
        self.total = 0

    def add_columns(self, columns: Sequence[Any], bounds: NDArray[np.float64]) -> None:
        """Take rows: Arrow arrays in the order of the schema.

        Parameters
        ----------
        bounds
            (n, 4) west, south, east, north of each row, degrees.
        """
        if not len(bounds):
            return
        share = ((bounds[:, :2] + bounds[:, 2:]) / 2.0 + (180.0, 90.0)) / (360.0, 180.0)
        cell = np.clip(share * (1 << _LEVEL), 0, (1 << _LEVEL) - 1).astype(np.uint64)
        # The order of coming in makes keys different, so that equal rows sort the same way.
        number = self.total + np.arange(len(bounds), dtype=np.uint64)
        keys = (hilbert_distance(*cell.T, level=_LEVEL) << np.uint64(32)) | number
        order = np.argsort(keys)
        low = np.nextafter(bounds[:, :2].astype(np.float32), np.float32(-np.inf))
        high = np.nextafter(bounds[:, 2:].astype(np.float32), np.float32(np.inf))
        sides = [number_column(side) for side in (*low.T, *high.T)]
        boxes = pa.StructArray.from_arrays(sides, fields=list(_BBOX))
        batch = pa.record_batch([*columns, boxes], schema=self._columns)
        if self._runs is None:
            self._runs = pa.ipc.new_file(str(self._spill), batch.schema)
        self._runs.write_batch(batch.take(number_column(order)))
        self._keys.append(keys[order])
        self.total += len(bounds)

    def merge(self, path: Path, about: Mapping[str, str], **options: Any) -> NDArray[np.float64]:
        """Merge the runs into one file.

        Parameters
        ----------
        about
            For the file's metadata.
        options
            Of `pyarrow.parquet.ParquetWriter`.

        Returns
        -------
        NDArray
            (groups, 4) boxes of the row groups: west, south, east, north, degrees.
        """
        writer = pq.ParquetWriter(
            path,
            self._columns,
            compression="zstd",
            write_page_checksum=True,
            write_statistics=[f"bbox.{side.name}" for side in _BBOX],
            **options,
        )
        boxes: list[list[float]] = []
        with writer:
            for group in self._groups():
                writer.write_table(group, row_group_size=len(group))
                boxes.append(_bounds(group))
            whole = np.array(boxes).reshape(-1, 4)
            more = self.about_boxes(whole)
            writer.add_key_value_metadata({**about, **more, BOXES_KEY.decode(): json.dumps(boxes)})
        self._spill.unlink(missing_ok=True)
        return whole

    def about_boxes(self, _boxes: NDArray[np.float64]) -> Mapping[str, str]:
        """Give what the file's metadata say besides."""
        return {}

    def _groups(self) -> Iterator[pa.Table]:
        """One table after the other, each the rows of a row group in order."""
        if self._runs is None:
            return
        self._runs.close()
        keys = np.sort(np.concatenate(self._keys))
        cuts = np.append(keys[ROWS_IN_GROUP::ROWS_IN_GROUP], keys[-1] + np.uint64(1))
        # The runs stay on disk: only the slices of one group are ever copied.
        runs = pa.ipc.open_file(pa.memory_map(str(self._spill)))
        start = [0] * len(self._keys)
        for cut in cuts:
            pieces, parts = [], []
            for run, own in enumerate(self._keys):
                first = start[run]
                start[run] = last = first + int(np.searchsorted(own[first:], cut))
                if last > first:
                    pieces.append(runs.get_batch(run).slice(first, last - first))
                    parts.append(own[first:last])
            order = np.argsort(np.concatenate(parts))
            yield pa.Table.from_batches(pieces).take(number_column(order)).combine_chunks()


class SpatialWriter(SpatialColumns):
    """Takes rows with a geometry one by one, then writes them sorted as GeoParquet.

    Parameters
    ----------
    columns
        Arrow schema without geometry and bounding box; these two are added.
    spill
        As in `SpatialColumns`.
    """

    def __init__(self, columns: pa.Schema, spill: Path) -> None:
        super().__init__(pa.schema([*columns, ("geometry", pa.binary())]), spill)
        self._own = columns
        self._rows: list[tuple[Any, ...]] = []
        self._shapes: list[Any] = []
        self._types: Sequence[str] = ()

    def add(self, row: tuple[Any, ...], shape: Any) -> None:
        """Take one row: values in the order of the columns, and its geometry (shapely)."""
        self._rows.append(row)
        self._shapes.append(shape)
        if len(self._rows) >= _ROWS_IN_RUN:
            self._write_run()

    @property
    def count(self) -> int:
        """Rows taken so far."""
        return self.total + len(self._rows)

    def _write_run(self) -> None:
        import shapely

        if not self._rows:
            return
        values = [
            text_column(column)
            if field.type == pa.string()
            else number_column(np.array(column, field.type.to_pandas_dtype()))
            for column, field in zip(zip(*self._rows, strict=True), self._own, strict=True)
        ]
        shapes = blob_column(shapely.to_wkb(self._shapes).tolist())
        self.add_columns([*values, shapes], shapely.bounds(self._shapes))
        self._rows, self._shapes = [], []

    def finish(
        self, path: Path, *, geometry_types: Sequence[str], about: Mapping[str, str]
    ) -> NDArray[np.float64]:
        """Merge the runs into one file; its boxes as from `merge`."""
        self._write_run()
        self._types = geometry_types
        return self.merge(path, about)

    def about_boxes(self, boxes: NDArray[np.float64]) -> Mapping[str, str]:
        """Give what makes it GeoParquet."""
        return {"geo": json.dumps(_geo(boxes, self._types))}


def _bounds(group: pa.Table) -> list[float]:
    sides = (pa.chunked_array([side]) for side in group.column("bbox").combine_chunks().flatten())
    west, south, east, north = (numbers(side, np.float32) for side in sides)
    return [float(west.min()), float(south.min()), float(east.max()), float(north.max())]


def _geo(boxes: NDArray[np.float64], geometry_types: Sequence[str]) -> dict[str, Any]:
    column: dict[str, Any] = {
        "encoding": "WKB",
        "geometry_types": sorted(geometry_types),
        "covering": {"bbox": {side.name: ["bbox", side.name] for side in _BBOX}},
    }
    if len(boxes):
        column["bbox"] = [*boxes[:, :2].min(axis=0).tolist(), *boxes[:, 2:].max(axis=0).tolist()]
    return {"version": "1.1.0", "primary_column": "geometry", "columns": {"geometry": column}}
