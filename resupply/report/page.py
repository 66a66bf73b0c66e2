"""The page: one HTML file that opens with no network, and the same parts for the live page.

In: the plan document (`resupply-plan/2`) and the `geo` block. Out: text. Nothing is planned
or computed here or in the page's scripts: they draw the document. The file carries every
script and style inside it and a Content-Security-Policy that names each one by its hash, so
that a name from map data could not run as script even if it reached the page unescaped.
"""

from __future__ import annotations

import base64
import hashlib
import json
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

from resupply.common.text import one_line
from resupply.report.drawn import drawn
from resupply.report.map import OSM_TILES, TileSource, leaflet_script, leaflet_style, map_parts
from resupply.report.pocket import Packed, Pocket, deflated
from resupply.say.states import STATES

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import jinja2

__all__ = ["live_policy", "page_assets", "page_title", "render_page", "render_shell"]

# In the order they are loaded; each one hangs its part on the global `Resupply`.
_SCRIPTS = (
    "elements.js",
    "unpack.js",
    "differences.js",
    "quantity.js",
    "lookup.js",
    "format.js",
    "signs.js",
    "card.js",
    "place_card.js",
    "shared_roads.js",
    "map_draw.js",
    "visits.js",
    "map_labels.js",
    "map_view.js",
    "strip_rows.js",
    "strip.js",
    "charts.js",
    "answers.js",
    "days.js",
    "stops.js",
    "coolers.js",
    "menu_and_lists.js",
    "packing.js",
    "daily_distance.js",
    "cautions_and_sources.js",
    "ticks.js",
    "result_files.js",
    "on_board.js",
    "hand_over.js",
    "riding.js",
    "on_the_road.js",
    "print_sheet.js",
    "pocket.js",
    "what_has_changed.js",
    "page.js",
)
_HOSTED_SCRIPTS = ("on_this_phone.js",)
_STYLES = ("tokens.css", "layout.css", "parts.css", "map.css", "print.css")


@dataclass(frozen=True, slots=True)
class _Inline:
    """One script or style of the file, and the hash its policy names it by."""

    text: str
    hash: str


def render_page(
    plan: Mapping[str, Any],
    geo: Mapping[str, Any],
    *,
    tiles: TileSource | None = OSM_TILES,
    hosted: bool = False,
    beside: Sequence[str] = (),
    pocket: Pocket | None = None,
) -> str:
    """Put a plan into one self-contained HTML file.

    Parameters
    ----------
    plan
        A plan document, schema `resupply-plan/2`, JSON values only.
    geo
        Route line and backdrop, as documented beside the schema.
    tiles
        The online background the rider may switch on; None for none at all.
    hosted
        For a web host: it may load the worker, manifest and icons beside it, see `report/site`.
    beside
        Names of the results that lie beside the page of a web host; it links them.
    pocket
        Plans for the way, told against this one.

    Returns
    -------
    str
        HTML; the same arguments give the same text.

    Raises
    ------
    ValueError
        If a number in the document is not finite: JSON has no such value.
    """
    parts = map_parts(tiles)
    scripts = [
        _inline(text)
        for text in (
            leaflet_script(),
            parts.script,
            *(_asset(name) for name in (*_SCRIPTS, *(_HOSTED_SCRIPTS if hosted else ()))),
        )
    ]
    styles = [_inline(text) for text in (leaflet_style(), *(_asset(name) for name in _STYLES))]
    policy = _policy(
        scripts=" ".join(script.hash for script in scripts),
        styles=" ".join(style.hash for style in styles),
        images=f"'self' {_tile_origin(tiles)}" if hosted else _tile_origin(tiles),
    )
    if hosted:
        policy += "; worker-src 'self'; manifest-src 'self'"
    return _template().render(
        title=page_title(plan),
        policy=policy,
        hosted=hosted,
        styles=[style.text for style in styles],
        style_links=[],
        scripts=[script.text for script in scripts],
        script_links=[],
        map_html=parts.html,
        data={
            "page": _json(_settings(tiles)),
            **({"files": _json(list(beside))} if beside else {}),
            **({"pocket": _json(pocket.index)} if pocket else {}),
        },
        packed={
            "plan": _packed(drawn(plan)),
            "geo": _packed(geo),
            **{f"pocket-{key}": one for key, one in (pocket.plans if pocket else {}).items()},
        },
    )


def render_shell(
    *,
    assets_url: str = "/assets/",
    scripts: Sequence[str] = (),
    styles: Sequence[str] = (),
    tiles: TileSource | None = OSM_TILES,
) -> str:
    """Give the live page: the same template, its scripts and styles by address, no plan yet.

    The server sends a plan later; the page draws it with `Resupply.show(plan, geo)`.

    Parameters
    ----------
    assets_url
        Where the names of `page_assets` are served, ending in a slash.
    scripts, styles
        Addresses of further files of the server's own, loaded last.
    """
    names = page_assets(tiles)
    links = [assets_url + name for name in names]
    return _template().render(
        title="resupply",
        policy=None,
        hosted=False,
        styles=[],
        style_links=[*(link for link in links if link.endswith(".css")), *styles],
        scripts=[],
        script_links=[*(link for link in links if link.endswith(".js")), *scripts],
        map_html=map_parts(tiles).html,
        data={"page": _json(_settings(tiles))},
        packed={},
    )


def page_assets(tiles: TileSource | None = OSM_TILES) -> dict[str, tuple[str, bytes]]:
    """Every script and style of the page by name: media type and content, in loading order."""
    script, style = "text/javascript; charset=utf-8", "text/css; charset=utf-8"
    assets = {"leaflet.css": (style, leaflet_style().encode())}
    assets |= {name: (style, _asset(name).encode()) for name in _STYLES}
    assets["leaflet.js"] = (script, leaflet_script().encode())
    assets["map.js"] = (script, map_parts(tiles).script.encode())
    assets |= {name: (script, _asset(name).encode()) for name in _SCRIPTS}
    return assets


def live_policy(tiles: TileSource | None = OSM_TILES) -> str:
    """Content-Security-Policy header for the live page: own files only, plus the tiles."""
    own = _policy(scripts="'self'", styles="'self'", images=f"'self' {_tile_origin(tiles)}")
    return own.replace("connect-src 'none'", "connect-src 'self'") + "; frame-ancestors 'none'"


def _policy(*, scripts: str, styles: str, images: str) -> str:
    return "; ".join(
        (
            "default-src 'none'",
            f"script-src {scripts}",
            f"style-src {styles}",
            f"img-src data: {images}".strip(),
            "connect-src 'none'",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )


def _tile_origin(tiles: TileSource | None) -> str:
    return "" if tiles is None else "/".join(tiles.url.split("/", 3)[:3])


def _settings(tiles: TileSource | None) -> dict[str, Any]:
    states = {
        told.key: {"word": told.word, "meaning": told.meaning, "doubt": told.doubt}
        for told in STATES.values()
    }
    if tiles is None:
        return {"tiles": None, "states": states}
    told = {"attribution": tiles.attribution, "needs_referer": tiles.needs_referer}
    return {"tiles": told, "states": states}


def page_title(plan: Mapping[str, Any]) -> str:
    """Name of a trip on its page: one line, still hostile."""
    return one_line(str(plan.get("trip", {}).get("name") or ""), None) or "Trip"


def _json(value: object) -> str:
    """JSON that cannot end its script element or open a comment, and survives any encoding."""
    text = json.dumps(value, separators=(",", ":"), allow_nan=False)
    for character in "<>&":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return text


def _packed(value: object) -> Packed:
    return deflated(json.dumps(value, separators=(",", ":"), allow_nan=False))


def _inline(text: str) -> _Inline:
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode("ascii")
    return _Inline(text, f"'sha256-{digest}'")


@cache
def _asset(name: str) -> str:
    file = resources.files("resupply.report").joinpath("assets", name)
    return file.read_text(encoding="utf-8").replace("\r\n", "\n")


@cache
def _template() -> jinja2.Template:
    import jinja2

    source = resources.files("resupply.report").joinpath("templates", "page.html.j2")
    environment = jinja2.Environment(
        autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return environment.from_string(source.read_text(encoding="utf-8"))
