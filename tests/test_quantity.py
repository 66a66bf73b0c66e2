"""Quantities read the same in Python and in the page, and as the table of cases says."""

from __future__ import annotations

import datetime as dt
import json
import shutil

import pytest
import twin
from conftest import ROOT
from hypothesis import given
from hypothesis import strategies as st

from resupply.common import quantity as q
from resupply.common.show import KINDS, Show, text, with_text

TABLE = json.loads((ROOT / "docs" / "quantities.json").read_text("utf-8"))
HOME = {"units": "metric", "clock": 24}
AWAY = {"units": "imperial", "clock": 12}
NUMBERS = {kind for kind, rows in TABLE.items() if not isinstance(rows[0][0], str)}
SIGNED = {"temp_c", "limit_c", "height_m"}
SHOWS = st.builds(
    Show, units=st.sampled_from(["metric", "imperial"]), clock=st.sampled_from([12, 24])
)


def values(kind: str) -> st.SearchStrategy:
    if kind == "name":
        return st.text()
    if kind not in NUMBERS:
        moments = st.datetimes(timezones=st.just(dt.UTC))
        return moments.map(lambda when: when.isoformat(timespec="seconds"))
    least = -1e7 if kind in SIGNED else 0
    # Every tenth as well: halves are where two languages would round apart.
    return (
        st.floats(least, 1e7)
        | st.integers(int(least), 10**7)
        | st.integers(int(least), 10**7).map(lambda n: n / 20.0)
    )


SENTENCES = st.lists(
    st.text() | st.one_of([values(kind).map(lambda v, k=kind: {k: v}) for kind in KINDS]),
    max_size=8,
)


@pytest.fixture(scope="module")
def page_texts(request):
    by_node = shutil.which("node") is not None
    with (
        twin.by_node() if by_node else twin.by_chromium(request.getfixturevalue("browser")) as texts
    ):
        yield texts


def test_every_kind_has_cases():
    assert TABLE.keys() == KINDS.keys()


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_python_shows_the_table(kind):
    for value, home, away in TABLE[kind]:
        assert text([{kind: value}], Show(**HOME)) == home
        assert text([{kind: value}], Show(**AWAY)) == away


def test_the_page_shows_the_table(page_texts):
    cases = [({kind: value}, home, away) for kind in TABLE for value, home, away in TABLE[kind]]
    for show, column in ((HOME, 1), (AWAY, 2)):
        told = page_texts(show, [[case[0]] for case in cases])
        assert told == [case[column] for case in cases]


@pytest.mark.browser
def test_the_browser_shows_the_table(browser):
    cases = [({kind: value}, away) for kind in TABLE for value, _, away in TABLE[kind]]
    with twin.by_chromium(browser) as texts:
        assert texts(AWAY, [[case[0]] for case in cases]) == [case[1] for case in cases]


@given(said=st.lists(SENTENCES, min_size=1, max_size=20), show=SHOWS)
def test_page_and_python_show_alike(page_texts, said, show):
    told = page_texts({"units": show.units, "clock": show.clock}, said)
    assert told == [text(one, show) for one in said]


@given(kind=st.sampled_from(sorted(NUMBERS - SIGNED - {"at_m", "speed_kmh"})), show=SHOWS)
@pytest.mark.parametrize("little", [0.001, 0.01, 0.5])
def test_what_is_there_is_never_shown_as_nothing(kind, show, little):
    if kind.startswith("pack_"):
        little = max(little, 0.5)
    assert not text([{kind: little}], show).startswith("0 ")


@given(st.floats(4.0001, 60.0), SHOWS)
def test_a_warmest_above_the_limit_never_reads_as_the_limit(temp_c, show):
    celsius = Show("metric", show.clock)
    assert text([q.warmest(temp_c)], celsius) != text([q.limit(4.0)], celsius)
    assert int(text([q.warmest(temp_c)], celsius).split()[0]) >= temp_c


def test_a_sentence_is_words_and_quantities():
    said = q.line("Carry {food} a person to {there}.", food=q.food(5), there=q.at(716_834.2))
    assert said == ["Carry 1⅔ days of food (5 meals) a person to ", {"at_m": 716834}, "."]
    assert json.loads(json.dumps(said)) == said
    assert text(said, Show("imperial")) == "Carry 1⅔ days of food (5 meals) a person to mile 445."


def test_a_sentence_in_a_sentence_is_spliced_in_and_none_vanishes():
    inner = q.line(" ({kg} will fit)", kg=q.mass(7.5))
    said = q.line("{n} bags{inner}{nothing}.", n=4, inner=inner, nothing=None)
    assert said == ["4 bags (", {"mass_kg": 7.5}, " will fit)."]


def test_a_field_that_is_not_in_the_sentence_is_a_fault():
    with pytest.raises(ValueError, match="shop"):
        q.line("Ice.", shop=q.name("Loja"))
    with pytest.raises(KeyError):
        q.line("Ice at {shop}.")


def test_text_of_a_map_is_no_template():
    assert q.line("At {shop}.", shop="{here} 5 km") == ["At {here} 5 km."]


def test_a_tree_is_told_with_its_other_lists_kept():
    tree = {"words": q.line("{far}", far=q.way(1500.0)), "best": ["a"], "rows": [{"m": 1.5}]}
    assert with_text(tree, Show()) == {"words": "1.5 km", "best": ["a"], "rows": [{"m": 1.5}]}


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        (q.days(0.96), "1 day"),
        (q.days(3), "3 days"),
        (q.count(1234, "shop"), "1,234 shops"),
        (q.percent(0.0), "0 %"),
        (q.percent(1.0), "100 %"),
        (q.duration(3599.0), "1 h"),
        (q.weekday(dt.date(2027, 7, 11)), "Sunday"),
        (q.date(dt.datetime(2027, 7, 11, 23, 59, tzinfo=dt.UTC)), "Sun 11 Jul"),
        (q.joined("A.", None, "B."), ["A. B."]),
    ],
)
def test_what_reads_the_same_everywhere(told, expected):
    assert told == expected
