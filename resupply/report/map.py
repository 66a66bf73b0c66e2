"""The empty map of the page: folium's map object and the Leaflet files it needs.

Out: the map's element, its script, and Leaflet's script and style with their images inside,
so that nothing is fetched. What is drawn on the map (route, legs, stops) is drawn by the
page's own scripts from the plan document, in the file and on the live page alike.

Leaflet's files (`assets/leaflet`, with its licence) are those of its own release 1.9.4, byte for
byte: a test compares them with the published package.
"""

from __future__ import annotations

import base64
import re
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, cast

if TYPE_CHECKING:
    from branca.element import Figure

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
    """What folium makes of an empty map."""

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
    import folium

    drawn = folium.Map(
        location=(0.0, 0.0), zoom_start=2, tiles=None, prefer_canvas=True, zoom_control=False
    )
    drawn.default_js = []
    drawn.default_css = []
    # folium names elements at random; fixed names keep the page the same byte for byte.
    drawn._id = "resupply"  # noqa: SLF001
    if tiles is not None:
        layer = folium.TileLayer(
            tiles=tiles.url,
            attr=tiles.attribution,
            name="online",
            overlay=True,
            show=False,
            max_zoom=tiles.max_zoom,
        )
        layer._id = "online"  # noqa: SLF001
        layer.add_to(drawn)
    figure = cast("Figure", drawn.get_root())
    figure.render()
    return MapParts(html=_tidy(figure.html.render()), script=_tidy(figure.script.render()))


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


def _tidy(text: str) -> str:
    """Without folium's indentation and blank lines."""
    lines = (line.strip() for line in text.splitlines())
    return "\n".join(line for line in lines if line) + "\n"
