"""The plan for a web host: a page that any phone opens once, installs, and opens without a signal.

In: the plan document and its geometry. Out: a folder of files with fixed names, which any static
host can serve over https. The page is the one file of `report/page`, allowed to load what lies
beside it; the worker keeps it under a name made of its content, so that a newer plan never mixes
with an older one.
"""

from __future__ import annotations

import hashlib
import json
from importlib import resources
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from resupply.common.files import write_together
from resupply.report.document.model.as_json import to_dict
from resupply.report.icon import BASKET, GROUND, icon_png
from resupply.report.page import page_title, render_page
from resupply.report.write import make_result

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from resupply.report.document.model.plan import PlanDocument
    from resupply.report.pocket import Pocket

__all__ = ["site_files", "write_site"]

_WORKER = "worker.js"
_RESULTS = ("stops.gpx", "stops.ics", "shopping.txt", "stops.csv")
"""What is taken along on a phone or handed on from it; the rest is for programs, and long."""
_ICON_SIDES_PX = (180, 192, 512)
"""Safari's home screen, then the two that a web app manifest is asked for (from memory)."""
_SHORT_NAME = 12
"""Characters under an icon that a phone shows whole (from memory)."""
_VERSION_DIGITS = 16
"""Of the hash: 64 bits, far more than there will be plans."""


def site_files(
    plan: Mapping[str, Any],
    geo: Mapping[str, Any],
    *,
    results: Mapping[str, bytes] = MappingProxyType({}),
    pocket: Pocket | None = None,
) -> dict[str, bytes]:
    """Make every file of the folder by name, the worker last.

    The same plan gives the same bytes; any change of any file gives another worker, which is how a
    browser sees that there is something new.

    Parameters
    ----------
    plan, geo
        A plan document, JSON values only, and the geometry it is drawn on.
    results
        Other results of the plan by name; they lie beside the page, which links them.
    pocket
        Plans for the way.
    """
    beside = {f"icon-{side}.png": icon_png(side) for side in _ICON_SIDES_PX}
    beside["manifest.webmanifest"] = _manifest(plan)
    beside |= results
    page = render_page(plan, geo, hosted=True, beside=tuple(results), pocket=pocket).encode()
    script = resources.files("resupply.report").joinpath("assets", "site_worker.js").read_bytes()
    version = _version(page, script, *beside.values())
    # At the end of the page: a file cut short, or of another version, lacks it.
    mark = f"<!-- {version} -->"
    kept = {"version": version, "mark": mark, "files": ["./", *beside]}
    return {
        **beside,
        "index.html": page + f"{mark}\n".encode(),
        _WORKER: f"self.SITE = {json.dumps(kept)};\n".encode() + script,
    }


def write_site(
    document: PlanDocument, geo: dict[str, Any], folder: Path, *, pocket: Pocket | None = None
) -> Path:
    """Write the folder for a web host; gives the page's path.

    All files are on the disk before the first takes its name, and the worker takes it last: a
    browser never learns of a plan that is not there yet.

    Raises
    ------
    OutputError
        The folder or a file cannot be written.
    """
    made = {name: make_result(name, document, geo) for name in _RESULTS}
    results = {
        name: one.encode("utf-8") if isinstance(one, str) else one for name, one in made.items()
    }
    files = site_files(to_dict(document), geo, results=results, pocket=pocket)
    write_together({folder / name: content for name, content in files.items()})
    return folder / "index.html"


def _version(*contents: bytes) -> str:
    whole = hashlib.sha256()
    for content in contents:
        whole.update(hashlib.sha256(content).digest())
    return whole.hexdigest()[:_VERSION_DIGITS]


def _manifest(plan: Mapping[str, Any]) -> bytes:
    """Web app manifest (W3C); addresses are relative, so that the folder may lie anywhere."""
    name = page_title(plan)
    ground, paper = ("#" + bytes(colour).hex() for colour in (GROUND, BASKET))
    icons = [
        {
            "src": f"icon-{side}.png",
            "sizes": f"{side}x{side}",
            "type": "image/png",
            "purpose": purpose,
        }
        for side in _ICON_SIDES_PX[1:]
        for purpose in ("any", "maskable")
    ]
    manifest = {
        "name": name,
        "short_name": name if len(name) <= _SHORT_NAME else name[: _SHORT_NAME - 1].rstrip() + "…",
        "lang": "en",
        "id": "./",
        "start_url": "./",
        "scope": "./",
        "display": "standalone",
        "theme_color": ground,
        "background_color": paper,
        "icons": icons,
    }
    return json.dumps(manifest, indent=1).encode()
