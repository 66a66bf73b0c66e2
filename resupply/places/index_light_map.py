"""The light map of whole extracts in a regional index: all that is drawn is kept, little read.

In: features as the scanner shows them, wherever they lie. Out: `map.parquet`, one row a line or a
point; and near a route its rows as features again, as if read from the extract.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from resupply.common.geodesy import on_earth, rough_area_m2
from resupply.common.text import one_line
from resupply.places.base_map import thinned, town_kind
from resupply.places.extract import outline_of
from resupply.places.index_columns import blobs, coded_texts, texts
from resupply.places.index_parts import LIGHT_MAP, SCHEMA
from resupply.places.land_cover import is_border, is_peak, is_summit
from resupply.places.osm_file import Feature
from resupply.places.sees import Sees

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray
    from shapely import LineString

    from resupply.places.near_route import Reach
    from resupply.places.osm_file import TagLookup

__all__ = ["LAYERS", "LightMapRows", "read_light_map"]

_ROADS: Final = ("motorway", "trunk", "primary", "secondary", "tertiary")
_TOWNS: Final = ("city", "town", "village", "hamlet")
_TAGS_OF: Final[Mapping[str, Mapping[str, str]]] = {
    **{kind: {"highway": kind} for kind in _ROADS},
    "river": {"waterway": "river"},
    "coastline": {"natural": "coastline"},
    "water": {"natural": "water"},
    "border": {"boundary": "administrative", "admin_level": "2"},
}
"""What is drawn without a name, and tags by which it is drawn so."""
_SUMMITS: Final[Mapping[str, Mapping[str, str]]] = {
    "peak": {"natural": "peak"},
    "pass": {"mountain_pass": "yes"},
}
LAYERS: Final = (*_TAGS_OF, *_SUMMITS, *_TOWNS)
"""Layers of the light map, as its reader knows them."""
_LINE_TOLERANCE_M: Final = 10.0
"""Our choice: half of what the drawing of a plan leaves out."""
_LEAST_LAKE_M2: Final = 200_000.0
"""Our choice, as in `base_map`."""
_LINES_AT_ONCE: Final = 4_096
"""Handled together for speed: our choice; bounds the memory."""
_WHOLE_COAST_POINTS: Final = 60_000
"""Our choice: a coast of more points is not land drawn around a route, and only what is near is
read."""


class LightMapRows(Sees):
    """Writes the light map of an extract: main roads, water, towns, borders, heights."""

    # As `base_map.BackdropCollector`, but for woods.
    node_keys = ("place", "ele")
    way_keys = ("highway", "waterway", "natural", "boundary")

    def __init__(self, folder: Path) -> None:
        import pyarrow as pa

        from resupply.places.index_write import SpatialWriter

        columns = pa.schema([(name, pa.string()) for name in ("layer", "id", "name", "people")])
        self._folder = folder
        self.rows: SpatialWriter = SpatialWriter(columns, folder / "map.runs")
        self._lines: list[tuple[str, NDArray[np.float64]]] = []
        self.coast_points = 0

    def wants(self, tags: TagLookup, /) -> bool:
        """Whether it is drawn."""
        return bool(_way_layer(tags)) or tags.get("place") in _TOWNS or is_summit(tags)

    def wants_relation(self, tags: Mapping[str, str], /) -> bool:
        """Tell whether a relation is drawn: a lake of several pieces."""
        return tags.get("natural") == "water" and tags.get("type") == "multipolygon"

    def see(self, feature: Feature, /) -> None:
        """Take what is drawn of a feature; the rest is passed over."""
        if not len(feature.lonlat):
            return
        if feature.id.startswith("node/"):
            self._see_point(feature)
        elif layer := _way_layer(feature.tags):
            lines = _lake_shores(feature) if layer == "water" else [feature.lonlat]
            self._lines += [(layer, line) for line in lines if len(line) > 1]
            if len(self._lines) > _LINES_AT_ONCE:
                self._add_lines()

    def _see_point(self, feature: Feature) -> None:
        import shapely

        tags = feature.tags
        if not tags.get("name"):
            return
        if tags.get("place") in _TOWNS:
            layer, number = town_kind(tags), tags.get("population", "")
        elif is_summit(tags) and tags.get("ele"):
            layer, number = "peak" if is_peak(tags) else "pass", tags["ele"]
        else:
            return
        row = (layer, feature.id, one_line(tags["name"]), one_line(number))
        self.rows.add(row, shapely.Point(feature.lonlat[0]))

    def _add_lines(self) -> None:
        """Thin the lines that wait, all at once for speed, and put them on the light map."""
        layers = [layer for layer, _ in self._lines]
        thin = thinned([line for _, line in self._lines], _LINE_TOLERANCE_M)
        for layer, line, shape in zip(layers, thin, _shapes(thin), strict=True):
            if layer == "coastline":
                self.coast_points += len(line)
            self.rows.add((layer, "", "", ""), shape)
        self._lines = []

    def finish(self) -> None:
        """Write the file."""
        self._add_lines()
        self.rows.finish(
            self._folder / LIGHT_MAP,
            geometry_types=("LineString", "Point"),
            about={"schema": SCHEMA},
        )


def _way_layer(tags: TagLookup) -> str:
    """Layer of the light map a way or relation belongs to, "" if none."""
    natural = tags.get("natural")
    if natural in ("water", "coastline"):
        return str(natural)
    kind = tags.get("highway")
    if kind in _ROADS:
        return str(kind)
    if kind is None and tags.get("waterway") == "river":
        return "river"
    # Woods would take a fifth of the time of gathering: they are not kept.
    return "border" if is_border(tags) else ""


def _lake_shores(feature: Feature) -> list[NDArray[np.float64]]:
    """Outer shores of a lake's parts that are large enough to draw, each (k, 2) degrees."""
    import shapely

    low, high = feature.lonlat.min(axis=0), feature.lonlat.max(axis=0)
    lat = float(low[1] + high[1]) / 2.0
    if rough_area_m2(float(np.prod(high - low)), lat) < _LEAST_LAKE_M2:
        return []
    outline = outline_of(feature)
    if outline is None:
        return []
    return [
        shapely.get_coordinates(part.exterior)
        for part in shapely.get_parts(outline)
        if rough_area_m2(part.area, lat) >= _LEAST_LAKE_M2
    ]


def _shapes(lines: Sequence[NDArray[np.float64]]) -> Sequence[LineString]:
    """Lines as the library has them, all at once for speed."""
    import shapely

    if not lines:
        return []
    number = np.repeat(np.arange(len(lines)), [len(line) for line in lines])
    return list(np.asarray(shapely.linestrings(np.concatenate(lines), indices=number)))


def read_light_map(
    opened: Any, folder: Path, touched: Any, reach: Reach, coast_points: int
) -> tuple[list[Feature], list[list[str]]]:
    """Read the light map of an index near a route.

    Parameters
    ----------
    opened, touched
        Open a file of the index, and give its row groups that may hold something within reach.
    coast_points
        Points of all coastlines: a short coast is wanted as a whole.

    Returns
    -------
    tuple
        Features as if read from the extract, and columns of texts, to be looked at for what
        gathering never writes.
    """
    import shapely

    with opened(folder / LIGHT_MAP, ("layer",)) as file:
        whole = 0 < coast_points <= _WHOLE_COAST_POINTS
        groups = list(range(file.metadata.num_row_groups)) if whole else touched(file, reach)
        table = file.read_row_groups(groups, columns=["layer", "id", "name", "people", "geometry"])
    every = np.ones(len(table), dtype=bool)
    with np.errstate(invalid="ignore"):  # damaged numbers are looked for below
        shapes = shapely.from_wkb(blobs(table.column("geometry"), every))
    lonlat, at = shapely.get_coordinates(shapes, return_index=True)
    # Nothing split is one piece, too.
    ends = np.searchsorted(at, np.arange(1, len(shapes) + 1))
    lines = np.split(lonlat, ends)[:-1]
    if not on_earth(*lonlat.T).all() or not all(len(line) for line in lines):
        raise ValueError(lonlat)
    ids, names, people = (texts(table.column(name), every) for name in ("id", "name", "people"))
    layers = coded_texts(table.column("layer"), every)
    spots = np.array([line[0] for line in lines]).reshape(-1, 2)
    near = reach.near(*spots.T).tolist()
    rows = zip(layers, ids, names, people, lines, near, strict=True)
    found = [_feature(*row) for *row, here in rows if here or not row[1]]
    return found, [layers, ids, names, people]


def _feature(layer: str, own_id: str, name: str, number: str, line: NDArray[np.float64]) -> Feature:
    """Make a row of the light map what it was."""
    if own_id and layer in _SUMMITS:
        return Feature(own_id, {**_SUMMITS[layer], "name": name, "ele": number}, line)
    if own_id:
        return Feature(own_id, {"place": layer, "name": name, "population": number}, line)
    return Feature("way/0", _TAGS_OF.get(layer, {}), line, layer == "water")
