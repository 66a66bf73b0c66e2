"""The catalogue of a provider of map extracts: which regions there are, and what each covers.

In: a GeoJSON index, as it came or from a file. Out: `Region`s. Two forms are read, both as they
are published: `properties.urls.pbf` beside `id`, `parent` and `name`, and the flat one with `pbf`
and perhaps `bytes` and `bytes_date`.

References
----------
Geofabrik, "Technical details" of the download server, with its `index-v1.json`
(<https://download.geofabrik.de/technical.html>); the package pyrosm 0.25 holds a flat copy of it.
"""

from __future__ import annotations

import json
import re
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urljoin

from resupply.common.errors import MapDataError
from resupply.common.text import one_line
from resupply.common.web_client import is_web_address

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from shapely.geometry.base import BaseGeometry

__all__ = ["MOST_CATALOGUE_BYTES", "Region", "read_catalogue"]

MOST_CATALOGUE_BYTES: Final = 128_000_000
"""Unpacked: our choice, some thirty times the largest we know."""
_MOST_BYTES: Final = 1_000_000_000_000
"""Of an extract: a catalogue that tells more is not believed; our choice, ten times the planet."""
_SENSELESS: Final = (
    ValueError, TypeError, LookupError, AttributeError, ArithmeticError, RecursionError
)  # fmt: skip
_GZIP: Final = 31
"""zlib's number for gzip with the largest window."""
_MOST_ID: Final = 80
"""Characters of a region's file name: our choice, what every file system takes."""


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """An extract that can be fetched."""

    id: str
    name: str
    url: str
    shape: BaseGeometry
    """What it covers, degrees."""
    parent: str | None = None
    """Region that holds all of it, by its id; None if the catalogue names none."""
    size_bytes: int | None = None
    """As the catalogue tells; None if it doesn't."""
    date: str | None = None
    """ISO day of that size; None if the catalogue doesn't tell."""

    @property
    def file_name(self) -> str:
        """Name for the extract on this machine; two regions never share one.

        >>> Region("us/georgia", "Georgia", "", None).file_name
        'us-georgia.osm.pbf'
        """
        plain = re.sub(r"[^a-z0-9]+", "-", self.id.lower()).strip("-")
        if plain != self.id.replace("/", "-") or len(plain) > _MOST_ID:
            plain = f"{plain[:_MOST_ID]}-{zlib.crc32(self.id.encode()):08x}".strip("-")
        return f"{plain}.osm.pbf"


def read_catalogue(data: bytes, where: str) -> tuple[Region, ...]:
    """Read a catalogue, packed by gzip or not.

    Parameters
    ----------
    where
        Its address or path; addresses in it may be relative to it.

    Raises
    ------
    MapDataError
        It is no catalogue, or only half of one.
    """
    try:
        if data[:2] == b"\x1f\x8b":
            # What is longer is cut, and then no whole JSON.
            data = zlib.decompressobj(_GZIP).decompress(data, MOST_CATALOGUE_BYTES)
        rows = json.loads(data)["features"]
        regions = {region.id: region for region in _regions(rows, where)}
    except (*_SENSELESS, zlib.error):
        regions = {}
    if not regions:
        raise MapDataError(
            "this is no whole catalogue of map extracts",
            where=where,
            mend="Try again, or set map.catalogue to another one",
        )
    return tuple(regions.values())


def _regions(rows: list[Any], where: str) -> Iterator[Region]:
    """Regions with an extract; a row that makes no sense is left out."""
    import shapely

    senseless = (*_SENSELESS, shapely.errors.ShapelyError)
    for row in rows:
        try:
            about: Mapping[str, Any] = row["properties"]
            links = about.get("urls") or about
            url = urljoin(where, str(links["pbf"]))
            shape = shapely.geometry.shape(row["geometry"])
            size = about.get("bytes")
            known = isinstance(size, int) and 1 < size < _MOST_BYTES
            usable = is_web_address(url) and url.isascii() and url.isprintable()
            if not usable or shape.is_empty or not shape.bounds[3] <= 90.0:
                continue
            yield Region(
                id=str(about["id"]),
                # Some names have a second one behind a line break, as a web page has it.
                name=one_line(str(about.get("name") or about["id"]).partition("<")[0]),
                url=url,
                shape=shape,
                parent=str(about["parent"]) if about.get("parent") else None,
                size_bytes=size if known else None,
                date=one_line(str(about["bytes_date"]))[:10] if "bytes_date" in about else None,
            )
        except senseless:
            continue
