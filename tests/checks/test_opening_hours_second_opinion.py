"""Our reading of opening hours against the npm package `opening_hours` 3.15.0 (ypid et al.).

Every value of the real extracts (where they are at hand), of the sample region and of the
table of explained disagreements is compared minute by minute over the turn of the year, May
Day and two weeks of July. Needs Node and `npm ci` in tests/node.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
import second_opinion
from conftest import ROOT, SHARED_DATA
from made_up_hours import made_up_hours

TABLE = Path(__file__).parent / "opening_hours_disagreements.toml"
SAMPLE_REGION = ROOT / "sample_routes" / "varrow.osm.pbf"
COUNTRY_OF = {
    "andorra": "AD",
    "beatty": "US",
    "columbus": "US",
    "dreieich": "DE",
    "heidelberg": "DE",
    "helsinki": "FI",
    "krems": "AT",
    "monaco": "MC",
    "north": "DE",
    "west": "US",
}

pytestmark = pytest.mark.skipif(bool(second_opinion.why_not()), reason=second_opinion.why_not())


@pytest.fixture(scope="module")
def explained() -> dict[tuple[str, str], set[tuple[str, str]]]:
    rows = {}
    for reason in tomllib.loads(TABLE.read_text(encoding="utf-8"))["reason"]:
        assert reason["why"]
        for country, text, differs in reason["rows"]:
            assert (country, text) not in rows
            rows[country, text] = {tuple(pair.split("/")) for pair in differs.split()}
    return rows


def hours_in(extract: Path) -> set[str]:
    import osmium

    tagged = osmium.FileProcessor(extract).with_filter(osmium.filter.KeyFilter("opening_hours"))
    return {thing.tags["opening_hours"] for thing in tagged}


def differing(cases, explained):
    """Symmetric difference of what differs and what is explained, over these cases."""
    found = second_opinion.compare(sorted(cases))
    expected = {case: pairs for case, pairs in explained.items() if case in cases}
    return {
        case: (found.get(case), expected.get(case))
        for case in found.keys() | expected.keys()
        if found.get(case) != expected.get(case)
    }


def test_the_package_differs_as_explained_and_nowhere_else(explained):
    assert differing(set(explained), explained) == {}


def test_open_by_us_is_open_by_the_package_or_the_package_gives_up(explained):
    against_us = {pair for pairs in explained.values() for pair in pairs if pair[0] == "open"}

    assert against_us <= {("open", "error")}


@pytest.mark.skipif(not SHARED_DATA.is_dir(), reason="the real extracts are not at hand")
def test_all_hours_of_the_real_extracts_agree_or_are_explained(explained):
    cases = {
        (COUNTRY_OF[extract.name.split("-")[0]], text)
        for extract in sorted((SHARED_DATA / "osm").iterdir())
        for text in hours_in(extract)
    }
    assert len(cases) > 700

    assert differing(cases, explained) == {}


@pytest.mark.skipif(not SAMPLE_REGION.is_file(), reason="the sample region is not built")
def test_all_hours_of_the_sample_region_agree_or_are_explained(explained):
    cases = {("AT", text) for text in hours_in(SAMPLE_REGION)}
    assert cases

    assert differing(cases, explained) == {}


def test_a_thousand_made_up_texts_agree():
    cases = {("AT", text) for text in made_up_hours(1000, seed=2027)}

    assert differing(cases, {}) == {}
