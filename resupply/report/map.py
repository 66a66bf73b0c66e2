"""The empty map of the page, and the Leaflet files it needs.

Out: the map's element, its script, and Leaflet's script and style with their images inside,
so that nothing is fetched. What is drawn on the map (route, legs, stops) is drawn by the
page's own scripts from the plan document, in the file and on the live page alike.

Leaflet's files (`assets/leaflet`, with its licence) are those of its own release 1.9.4, byte for
byte: a test compares them with the published package.
"""

from __future__ import annotations

import base64
import json
import re
from dataclasses import dataclass
from functools import cache
from importlib import resources

__all__ = ["OSM_TILES", "MapParts", "TileSource", "leaflet_script", "leaflet_style", "map_parts"]

_IMAGE = re.compile(r"url\((['\"]?)(images/[\w.-]+)\1\)")
_SOURCE_MAP = re.compile(r"^//# sourceMappingURL=.*$", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class TileSource:
    """An online background, shown only when the rider switches it on."""

    url: str
    """Leaflet's template with `{z}`, `{x}` and `{y}`."""
    attribution: str
    """Plain text."""
    max_zoom: int = 19
    needs_referer: bool = False
    """Whether the server refuses pages that cannot say where they are, as a file cannot."""


# Refuses requests without a Referer (wiki.openstreetmap.org/wiki/Referer), so the page offers
# it only where one can be sent: not from a file. Nothing is fetched ahead (tile usage policy).
OSM_TILES = TileSource(
    "https://tile.openstreetmap.org/{z}/{x}/{y}.png",
    "© OpenStreetMap contributors",
    needs_referer=True,
)


@dataclass(frozen=True, slots=True)
class MapParts:
    """An empty map."""

    html: str
    """The element the map is drawn into."""
    script: str
    """Makes the global `map_resupply` and, with tiles, `tile_layer_online`."""


def map_parts(tiles: TileSource | None = OSM_TILES) -> MapParts:
    """Build the map without any outside file; the same arguments give the same text.

    Parameters
    ----------
    tiles
        The online background, off until it is asked for; None leaves it out altogether.
    """
    options = {"center": [0.0, 0.0], "zoom": 2, "zoomControl": False, "preferCanvas": True}
    script = f'var map_resupply = L.map("map_resupply", {_in_script(options)});\n'
    if tiles is not None:
        shown = {"maxZoom": tiles.max_zoom, "attribution": tiles.attribution}
        url = _in_script(tiles.url)
        script += f"var tile_layer_online = L.tileLayer({url}, {_in_script(shown)});\n"
    return MapParts('<div class="folium-map" id="map_resupply"></div>\n', script)


def _in_script(value: object) -> str:
    """JSON that ends no script element, whatever is in it."""
    return json.dumps(value).replace("<", "\\u003c")


@cache
def leaflet_script() -> str:
    """Leaflet's script, without the pointer to its source map (a request offline)."""
    return _SOURCE_MAP.sub("", _leaflet_bytes("leaflet.js").decode("utf-8")).strip() + "\n"


@cache
def leaflet_style() -> str:
    """Leaflet's style, its images as data URIs."""
    style = _leaflet_bytes("leaflet.css").decode("utf-8").replace("\r\n", "\n")
    # A rule for a browser of the nineties; to a checker it looks like an outside file.
    style = re.sub(r"^.*behavior: url\(#default#VML\);\n", "", style, flags=re.MULTILINE)
    return _IMAGE.sub(lambda match: f"url({_data_uri(match[2])})", style)


def _data_uri(name: str) -> str:
    text = base64.b64encode(_leaflet_bytes(name)).decode("ascii")
    return f"data:image/png;base64,{text}"


def _leaflet_bytes(name: str) -> bytes:
    return resources.files("resupply.report").joinpath("assets", "leaflet", name).read_bytes()
