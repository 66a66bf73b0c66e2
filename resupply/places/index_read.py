"""Read from a regional index only what lies near a route.

In: an index (`resupply.places.index_parts`) and a `Route`. Out: what each of its extracts says
about the route, as if it had been read itself. Of the files only the row groups are read whose
bounding boxes touch the ground within reach.
"""

from __future__ import annotations

import json
import re
from contextlib import contextmanager
from functools import lru_cache
from itertools import chain
from typing import TYPE_CHECKING, Any

import numpy as np

from resupply.common.distinct import distinct
from resupply.common.errors import MapDataError
from resupply.common.geodesy import to_ecef_m
from resupply.places.coverage import SIDE_M, believable, box_reaches, in_box
from resupply.places.index_columns import blobs, coded_texts, numbers, texts
from resupply.places.index_cover import cube_boxes
from resupply.places.index_light_map import read_light_map
from resupply.places.index_parts import COVER, PLACES, rules_mark
from resupply.places.index_roads import read_roads
from resupply.places.near_route import cube_keys
from resupply.places.place import Confidence, Place, Supply
from resupply.places.several_extracts import ExtractResult

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray
    from shapely import MultiPolygon, Polygon

    from resupply.places.index_parts import Part
    from resupply.places.index_roads import RoadRows
    from resupply.places.near_route import Reach
    from resupply.places.osm_file import Feature
    from resupply.places.sees import Sees

__all__ = ["Samples", "map_features", "read_source", "road_rows"]

_TEXT_COLUMNS = ("id", "name", "opening_hours", "tags")
_CODED_COLUMNS = ("kind", "supplies")
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff]")
_SPACING_M = 1_000.0
"""Between the points of a route that places are compared with first: our choice."""
_SPOTS_AT_ONCE = 64
"""Of a route compared with all places at once: our choice; more take longer."""
# What `Samples.distance_m` may be too much, and as much again for a place that is to be merged
# into an area whose own point lies farther off.
_MARGIN_M = 2_000.0


class Samples:
    """Points along a route at which coverage is judged.

    Parameters
    ----------
    lon, lat
        (n,) degrees.
    chainage_m
        (n,) metres, in order, no two neighbours more than 500 m apart.
    """

    def __init__(
        self,
        lon: NDArray[np.float64],
        lat: NDArray[np.float64],
        chainage_m: NDArray[np.float64],
    ) -> None:
        self.lon, self.lat = lon, lat
        self._ecef_m = to_ecef_m(lon, lat)
        self._chainage_m = chainage_m
        self.cubes = cube_keys(self._ecef_m, SIDE_M)

    def distance_m(
        self, lon: NDArray[np.float64], lat: NDArray[np.float64], limit_m: float
    ) -> NDArray[np.float64]:
        """Straight distance of places from the route, at most a kilometre too much.

        Parameters
        ----------
        lon, lat
            (k,) degrees.
        limit_m
            What is clearly farther is given as infinite.
        """
        place_m = to_ecef_m(lon, lat)
        # Of a dense route one point in a kilometre is enough.
        step = np.floor(self._chainage_m / _SPACING_M)
        spots_m = self._ecef_m[np.append(True, step[1:] != step[:-1])]
        found_m = np.full(lon.size, np.inf)
        _shorten(found_m, place_m, np.arange(lon.size), spots_m, limit_m + _SPACING_M)
        return found_m


def _shorten(
    found_m: NDArray[np.float64],
    place_m: NDArray[np.float64],
    rows: NDArray[np.intp],
    spots_m: NDArray[np.float64],
    limit_m: float,
) -> None:
    """Put in the distance of places to spots where it is shorter, piece by piece of the route.

    Each piece is first compared as a whole, so that most places never meet most spots.
    """
    centre = spots_m.mean(axis=0)
    spot = spots_m - centre
    size = np.einsum("ij,ij->i", spot, spot)
    away = place_m[rows] - centre
    squared = np.einsum("ij,ij->i", away, away)
    near = squared <= (np.sqrt(size.max()) + limit_m) ** 2
    rows = rows[near]
    if not rows.size:
        return
    if len(spots_m) > _SPOTS_AT_ONCE:
        for piece in np.array_split(spots_m, 8):
            _shorten(found_m, place_m, rows, piece, limit_m)
        return
    # No matrix product: for three columns its threads cost more than they do.
    table = squared[near, None] + size
    for axis in range(3):
        table -= np.multiply.outer(2.0 * away[near, axis], spot[:, axis])
    nearest_m = np.sqrt(np.maximum(table.min(axis=1), 0.0))
    found_m[rows] = np.minimum(found_m[rows], nearest_m)


def read_source(
    folder: Path,
    part: Part,
    samples: Samples,
    reach: Reach,
    of_supply_m: Mapping[Supply, float] | None,
) -> ExtractResult:
    """Read what one extract of an index says about a route.

    Parameters
    ----------
    reach
        Surroundings of the route.
    of_supply_m
        How far off a place of each supply may be, metres; None to take all in the surroundings.

    Raises
    ------
    MapDataError
        A file is missing or broken.
    """
    with _whole(folder, part):
        covered = _covered(folder / COVER, part, samples)
        places, outlines = _places(folder / PLACES, reach, samples, of_supply_m)
    old = part.rules != rules_mark()
    return ExtractResult(
        name=part.source,
        places=places,
        outlines=outlines,
        date=part.data_date,
        nowhere=part.nowhere,
        covered=covered,
        reached=box_reaches(
            samples.lon, samples.lat, part.box if part.believable else None, reach.reach_m
        ),
        box_believed=believable(part.box, part.extent),
        extent=part.box if part.believable else part.extent,
        holds_places=part.places > 0,
        warnings=(
            f"{part.source}: gathered by an older version, which knew other tags; gather it again",
        )
        * old,
    )


def _covered(path: Path, part: Part, samples: Samples) -> NDArray[np.bool_]:
    """Whether each sample is covered; only row groups that may hold its cube are read."""
    wanted = distinct(samples.cubes)
    with _opened(path) as file:
        groups = []
        for number in range(file.metadata.num_row_groups):
            about = file.metadata.row_group(number).column(0).statistics
            if about is None or np.diff(np.searchsorted(wanted, [about.min, about.max + 1])) > 0:
                groups.append(number)
        cubes = numbers(file.read_row_groups(groups).column("cube"), np.int64)
    at = np.minimum(np.searchsorted(cubes, samples.cubes), max(len(cubes) - 1, 0))
    found = cubes[at] == samples.cubes if len(cubes) else np.zeros(samples.lon.size, dtype=bool)
    return np.asarray(
        found & in_box(samples.lon, samples.lat, part.box if part.believable else None)
    )


def _places(
    path: Path, reach: Reach, samples: Samples, of_supply_m: Mapping[Supply, float] | None
) -> tuple[list[Place], dict[str, Polygon | MultiPolygon]]:
    with _opened(path, _CODED_COLUMNS) as file:
        groups = _touched(file, reach)
        first = file.read_row_groups(groups, columns=["lon", "lat", "supplies"])
        lon, lat = (numbers(first.column(name), float) for name in ("lon", "lat"))
        near = reach.near(lon, lat)
        if of_supply_m is not None:
            goods = coded_texts(first.column("supplies"), near)
            widest_m = max(of_supply_m.values())
            away_m = samples.distance_m(lon[near], lat[near], widest_m) - _MARGIN_M
            own_m = {text: max(of_supply_m[one] for one in _supplies(text)) for text in set(goods)}
            near[near] = away_m <= np.array([own_m[text] for text in goods])
        # Of the larger columns only those groups that do hold a place within reach.
        sizes = [file.metadata.row_group(group).num_rows for group in groups]
        edges = np.cumsum([0, *sizes])
        held = [
            number for number in range(len(groups)) if near[edges[number] : edges[number + 1]].any()
        ]
        if not held:
            return [], {}
        rest = file.read_row_groups(
            [groups[number] for number in held],
            columns=[*_TEXT_COLUMNS, *_CODED_COLUMNS, "geometry"],
        )
    rows = np.concatenate([np.arange(edges[number], edges[number + 1]) for number in held])
    keep = near[rows]
    lon, lat = lon[rows][keep], lat[rows][keep]
    ids, name, hours, tags = (texts(rest.column(one), keep) for one in _TEXT_COLUMNS)
    kind, supplies = (coded_texts(rest.column(one), keep) for one in _CODED_COLUMNS)
    # One document is read several times faster than one for each place.
    others = [dict(one) for one in json.loads(f"[{','.join(tags)}]")]
    pairs = chain.from_iterable(chain.from_iterable(one.items()) for one in others)
    _check_texts(ids, name, hours, kind, pairs)
    at = zip(lon.tolist(), lat.tolist(), strict=True)
    places = [
        Place(
            id=own_id,
            lon=x,
            lat=y,
            name=own_name,
            kind=sort,
            supplies=_supplies(goods),
            opening_hours=times or None,
            tags=own_tags,
        )
        for own_id, (x, y), own_name, sort, goods, times, own_tags in zip(
            ids, at, name, kind, supplies, hours, others, strict=True
        )
    ]
    return places, _outlines(ids, blobs(rest.column("geometry"), keep))


def _opened(path: Path, coded: Sequence[str] = ()) -> Any:
    """Open a file whose pages are compared with their checksums: a worn card changes bytes."""
    import pyarrow.parquet as pq

    return pq.ParquetFile(path, read_dictionary=list(coded), page_checksum_verification=True)


@lru_cache(maxsize=1024)
def _supplies(text: str) -> Mapping[Supply, Confidence]:
    pairs = (pair.split(":") for pair in text.split(";"))
    return {Supply(supply): Confidence(sure) for supply, sure in pairs}


def _outlines(ids: Sequence[str], shapes: Sequence[bytes]) -> dict[str, Polygon | MultiPolygon]:
    """Areas by place id; points are left out."""
    import shapely

    # A point takes 21 bytes, and no area as few.
    areas = [number for number, shape in enumerate(shapes) if len(shape) > 21]
    with np.errstate(invalid="ignore"):
        found = shapely.from_wkb([shapes[number] for number in areas])
    if not np.isfinite(shapely.get_coordinates(found)).all():
        raise ValueError(found)
    return {ids[number]: shape for number, shape in zip(areas, found, strict=True)}


def _touched(file: Any, reach: Reach) -> list[int]:
    """Row groups that may hold something within reach."""
    from resupply.places.index_write import BOXES_KEY

    groups = np.array(json.loads(file.metadata.metadata[BOXES_KEY])).reshape(-1, 4)
    ground = cube_boxes(reach.cubes, reach.side_m)
    touched = np.zeros(len(groups), dtype=bool)
    # A long route has thousands of boxes: the first look is at whole blocks of them.
    for block in np.array_split(ground, max(len(ground) // 64, 1)):
        low, high = block[:, :2].min(axis=0), block[:, 2:].max(axis=0)
        maybe = np.flatnonzero(
            ~touched & (groups[:, :2] <= high).all(axis=1) & (groups[:, 2:] >= low).all(axis=1)
        )
        if maybe.size:
            some = groups[maybe, None, :]
            meets = np.all(some[..., :2] <= block[:, 2:], axis=2)
            meets &= np.all(some[..., 2:] >= block[:, :2], axis=2)
            touched[maybe[meets.any(axis=1)]] = True
    return np.flatnonzero(touched).tolist()


def map_features(folder: Path, part: Part, also: Sees) -> Iterator[Feature]:
    """Features of the light map near a route, as if read from the extract.

    Raises
    ------
    MapDataError
        A file is missing or broken.
    """
    with _whole(folder, part):
        found, columns = read_light_map(_opened, folder, _touched, also.reach, part.coast_points)
        _check_texts(*columns)
    yield from found


def road_rows(folder: Path, part: Part, reach: Reach) -> RoadRows:
    """Roads and barriers of one extract near a route.

    Raises
    ------
    MapDataError
        A file is missing or broken.
    """
    with _whole(folder, part):
        return read_roads(_opened, folder, _touched, reach)


def _check_texts(*columns: Iterable[str]) -> None:
    """Refuse what gathering never writes: texts were cleaned when they were read from the map."""
    if _CONTROL.search("".join(chain.from_iterable(columns))):
        raise ValueError("control or half characters")


@contextmanager
def _whole(folder: Path, part: Part) -> Iterator[None]:
    """Say in one line that a file is damaged, whichever way reading it went wrong.

    Raises
    ------
    MapDataError
        Always when a library or the look at its result raised.
    """
    import pyarrow as pa
    from shapely.errors import ShapelyError

    wrong = (OSError, pa.ArrowException, ShapelyError, ValueError, LookupError, TypeError)
    try:
        yield
    except wrong as error:
        raise MapDataError(
            f"the regional index is broken ({part.source})",
            where=str(folder),
            mend="Make it again with: resupply gather",
        ) from error
