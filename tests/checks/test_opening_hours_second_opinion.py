"""Our reading of opening hours against the npm package `opening_hours` 3.15.0 (ypid et al.).

Every value of the real extracts, of the sample region and of the table of explained
disagreements is compared minute by minute over the turn of the year, May Day and two weeks of
July, with the answers the package gave when they were kept (`second_opinion.KEPT`). Where Node
and `npm ci` in tests/node are there, it is asked again. Real hours: (c) OpenStreetMap
contributors, ODbL.
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


def hours_of_the_full_extracts() -> set[tuple[str, str]]:
    """Country and text, of the extracts beside the checkout; nothing where there are none."""
    return {
        (COUNTRY_OF[extract.name.split("-")[0]], text)
        for extract in sorted((SHARED_DATA / "osm").glob("*.osm*"))
        for text in hours_in(extract)
    }


def all_cases() -> set[tuple[str, str]]:
    """Give what is asked besides the hours of the real extracts."""
    reasons = tomllib.loads(TABLE.read_text(encoding="utf-8"))["reason"]
    texts = [*hours_in(SAMPLE_REGION), *made_up_hours(1000, seed=2027)]
    return {
        *((country, text) for reason in reasons for country, text, _ in reason["rows"]),
        *(("AT", text) for text in texts),
    }


def test_all_hours_of_the_real_extracts_agree_or_are_explained(explained):
    cases = second_opinion.real_hours()
    assert len(cases) > 700
    assert differing(cases, explained) == {}
    # Where the extracts are at hand, none of their hours has been left out.
    assert hours_of_the_full_extracts() <= cases


def kept_windows(cases):
    return [one.get("windows") for one in second_opinion.kept_answers(cases)]


def test_answers_are_kept_for_every_case():
    kept = kept_windows(sorted(second_opinion.real_hours() | all_cases()))
    assert 10 < kept.count(None) < 100
    assert len(kept) > 1_500


@pytest.mark.long
@pytest.mark.skipif(bool(second_opinion.why_not()), reason=second_opinion.why_not())
def test_the_kept_answers_are_those_of_the_package():
    cases = sorted(second_opinion.real_hours() | all_cases())
    assert kept_windows(cases) == [one.get("windows") for one in second_opinion.ask(cases)]


@pytest.mark.skipif(bool(second_opinion.why_not()), reason=second_opinion.why_not())
def test_some_kept_answers_are_those_of_the_package():
    cases = sorted(second_opinion.real_hours() | all_cases())[::25]
    assert kept_windows(cases) == [one.get("windows") for one in second_opinion.ask(cases)]


def test_all_hours_of_the_sample_region_agree_or_are_explained(explained):
    cases = {("AT", text) for text in hours_in(SAMPLE_REGION)}
    assert cases

    assert differing(cases, explained) == {}


def test_a_thousand_made_up_texts_agree():
    cases = {("AT", text) for text in made_up_hours(1000, seed=2027)}

    assert differing(cases, {}) == {}
