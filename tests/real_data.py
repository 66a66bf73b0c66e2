"""Real map data and recorded lines: the cuts in `data/`, and the full files where they lie.

The cuts are there in every clone (credits in `data/README.md`); the full extracts of
`../shared/data` beside a checkout are an extra.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import SHARED_DATA

CUTS = Path(__file__).with_name("data")
# Supermarkets, convenience shops and fuel in each cut, counted by `osmium tags-filter`.
CUT_COUNTS = {
    "andorra-2025-01.osm.pbf": (19, 6, 26),
    "beatty-nevada-2017-08.osm": (0, 0, 2),
    "columbus-ohio.osm.pbf": (4, 3, 0),
    "dreieich-2022-10.osm.pbf": (4, 1, 0),
    "krems-2013-12.osm.gz": (9, 1, 7),
    "monaco-2023-12.osm.pbf": (7, 4, 1),
    "north-bayreuth-2014-11.osm.gz": (2, 0, 1),
    "west-oakland.osm.bz2": (0, 1, 0),
}


def extracts(*names: str) -> list[object]:
    """Parameters for a test of real extracts: the cut of each name, and the full file if there.

    Full files are read by `pytest -m long` only.
    """
    found = []
    for name in names:
        for what, path in (("cut", CUTS / "osm" / name), ("full", SHARED_DATA / "osm" / name)):
            if path.is_file():
                marks = [pytest.mark.long] if what == "full" else []
                known = f"{what}-{name.partition('.')[0]}"
                found.append(pytest.param(path, id=known, marks=marks))
    return found


def gpx_files() -> list[Path]:
    """Recorded lines: those kept here, and what else lies beside the checkout."""
    kept = sorted((CUTS / "gpx").glob("*.gpx"))
    names = {path.name for path in kept}
    more = sorted((SHARED_DATA / "gpx").glob("*.gpx"))
    return [*kept, *(path for path in more if path.name not in names)]
