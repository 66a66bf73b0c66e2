"""The page as text: self-contained, the same every time, and safe against hostile names."""

from __future__ import annotations

import base64
import hashlib
import itertools
import json
import re
import zlib
from html.parser import HTMLParser

import numpy as np
import page_fixture
import pytest
from conftest import ROOT

from resupply.report import map as base_map
from resupply.report import page
from resupply.report.drawn import drawn

# Machado, Oliveira and Fernandes 2009, full severity; linear RGB to linear RGB (from memory).
SIGHT = {
    "all three cones": np.eye(3),
    "no red cones": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "no green cones": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "no blue cones": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}


class _Elements(HTMLParser):
    """Every element with its attributes, and the text of scripts and styles."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.inline: list[tuple[str, dict[str, str], str]] = []
        self._text: list[str] | None = None
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, {name: value or "" for name, value in attrs}))
        self._text = [] if tag in ("script", "style") else None

    def handle_endtag(self, tag):
        if self._text:
            self.inline.append((*self.elements[-1], "".join(self._text)))
        self._text = None

    def handle_data(self, data):
        if self._text is not None:
            self._text.append(data)


@pytest.fixture(scope="module")
def demo():
    return page_fixture.varrow()


@pytest.fixture(scope="module")
def html(demo):
    return page.render_page(demo["plan"], demo["geo"])


def test_same_plan_gives_the_same_bytes(demo, html):
    again = page_fixture.varrow()
    assert page.render_page(again["plan"], again["geo"]).encode() == html.encode()


def test_file_loads_nothing_from_outside(html):
    for tag, attributes in _Elements(html).elements:
        assert "src" not in attributes, tag
        assert "srcset" not in attributes, tag
        if tag == "link":
            assert attributes["href"].startswith("data:")
    styles = " ".join(text for tag, _, text in _Elements(html).inline if tag == "style")
    assert re.findall(r"url\((?!data:)[^)]*\)", styles) == []
    assert "@import" not in styles


DATA = {"application/json", "application/octet-stream"}


def _unpacked(attributes, text):
    return json.loads(zlib.decompress(base64.b64decode(text)))


def test_policy_names_every_script_and_style_by_its_hash(html):
    elements = _Elements(html)
    policy = next(a["content"] for t, a in elements.elements if a.get("http-equiv"))
    rules = dict(rule.split(" ", 1) for rule in policy.split("; "))
    assert rules["default-src"] == rules["connect-src"] == "'none'"
    assert "unsafe" not in policy
    for tag, attributes, text in elements.inline:
        if attributes.get("type") not in DATA:
            assert page._inline(text).hash in rules[f"{tag}-src"]


def test_only_food_gaps_are_sent_along_and_without_sentences(demo):
    plan = demo["plan"]
    gaps = drawn(plan)["gaps"]
    assert gaps["groceries"]["longest"] == plan["gaps"]["groceries"]["longest"]
    assert len(gaps["groceries"]["all"]) == len(plan["gaps"]["groceries"]["all"]) > 0
    assert "words" not in gaps["groceries"]["all"][0]
    assert all(block["all"] == [] for kind, block in gaps.items() if kind != "groceries")
    assert drawn(plan)["passes"] is plan["passes"]


def test_policy_without_tiles_allows_no_host_at_all(demo):
    html = page.render_page(demo["plan"], demo["geo"], tiles=None)
    policy = next(a["content"] for _, a in _Elements(html).elements if a.get("http-equiv"))
    assert "http" not in policy
    assert "tile_layer_online" not in base_map.map_parts(None).script


def test_no_tile_source_ends_the_script_it_stands_in():
    hostile = base_map.TileSource("https://t/{z}</script><b>", 'a"</script>')
    assert "<" not in base_map.map_parts(hostile).script


def test_hostile_names_stay_inside_the_data():
    hostile = page_fixture.hostile()
    html = page.render_page(hostile["plan"], hostile["geo"])
    plain = _Elements(page.render_page(*page_fixture.varrow().values()))
    bad = _Elements(html)
    assert [tag for tag, _ in bad.elements] == [tag for tag, _ in plain.elements]
    data = {a["id"]: (a, text) for _, a, text in bad.inline if a.get("type") in DATA}
    assert _unpacked(*data["data-plan"]) == drawn(hostile["plan"])
    assert _unpacked(*data["data-geo"]) == json.loads(json.dumps(hostile["geo"]))
    for _, text in data.values():
        assert not set(text) & set("<>&\u2028\u2029")
    assert "<title>&lt;/script&gt;" in html
    html.encode("utf-8")


def test_number_that_is_not_finite_is_refused(demo):
    with pytest.raises(ValueError, match="JSON"):
        page.render_page(demo["plan"], {**demo["geo"], "ele_m": [float("nan")]})


def test_long_trip_stays_below_a_megabyte_and_a_half():
    big = page_fixture.long_trip(km=4000, shops=2000)
    html = page.render_page(big["plan"], big["geo"])
    assert len(html.encode()) < 1_500_000
    assert len(page._packed(big["geo"]).text) < 800_000


def test_shell_has_no_inline_script_and_names_every_asset():
    html = page.render_shell(assets_url="/a/", scripts=["/live/settings_panel.js"])
    elements = _Elements(html)
    assert {a["type"] for t, a, _ in elements.inline} == {"application/json"}
    sources = [a["src"] for t, a in elements.elements if t == "script" and "src" in a]
    links = [a["href"] for t, a in elements.elements if t == "link" and a["rel"] == "stylesheet"]
    served = [f"/a/{name}" for name in page.page_assets()]
    assert [*links, *sources[:-1]] == served
    assert sources[-1] == "/live/settings_panel.js"
    assert not any(name.startswith("on") for _, a in elements.elements for name in a)


def test_file_and_live_page_share_template_and_scripts(html):
    for name, (mime, content) in page.page_assets().items():
        if mime.startswith("text/javascript"):
            assert content.decode() in html, name


def test_live_policy_allows_own_files_only():
    policy = page.live_policy()
    assert "script-src 'self';" in policy
    assert "connect-src 'self'" in policy
    assert "unsafe" not in policy


def test_scripts_never_set_html():
    scripts = [name for name in page.page_assets() if name.endswith(".js")]
    own = [name for name in scripts if name not in ("leaflet.js", "map.js")]
    assert len(own) > 10
    for name in own:
        text = page._asset(name)
        for way in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval("):
            assert way not in text, (name, way)
        assert "</script" not in text.lower()


def test_leaflet_images_travel_inside_the_style():
    style = base_map.leaflet_style()
    assert style.count("data:image/png;base64,") == 3
    assert "sourceMappingURL" not in base_map.leaflet_script()


LEAFLET_SHA256 = {
    "leaflet.js": "db49d009c841f5ca34a888c96511ae936fd9f5533e90d8b2c4d57596f4e5641a",
    "leaflet.css": "a7837102824184820dfa198d1ebcd109ff6d0ff9a2672a074b9a1b4d147d04c6",
}


@pytest.mark.parametrize("name", LEAFLET_SHA256)
def test_leaflet_is_its_published_release_byte_for_byte(name):
    """The npm package leaflet 1.9.4; its lock file carries the registry's published sum."""
    assert hashlib.sha256(base_map._leaflet_bytes(name)).hexdigest() == LEAFLET_SHA256[name]
    published = ROOT / "tests" / "node" / "node_modules" / "leaflet" / "dist" / name
    if published.exists():
        assert published.read_bytes() == base_map._leaflet_bytes(name)


def test_leaflet_travels_with_its_licence():
    licence = (ROOT / "resupply" / "report" / "assets" / "leaflet" / "LICENSE").read_text("utf-8")
    assert licence.startswith("BSD 2-Clause License")


def _colours(theme: str) -> dict[str, str]:
    text = page._asset("tokens.css")
    day, night = text.split('[data-theme="dark"]')
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", day if theme == "light" else night))


def _linear(colour: str) -> np.ndarray:
    values = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def _contrast(one: str, other: str) -> float:
    weights = [0.2126, 0.7152, 0.0722]
    dark, light = sorted(float(_linear(c) @ weights) for c in (one, other))
    return (light + 0.05) / (dark + 0.05)


def _lab(linear: np.ndarray) -> np.ndarray:
    to_xyz = np.array(
        [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    )
    xyz = to_xyz @ np.clip(linear, 0.0, 1.0) / np.array([0.95047, 1.0, 1.08883])
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16.0 / 116.0)
    return np.array([116.0 * f[1] - 16.0, 500.0 * (f[0] - f[1]), 200.0 * (f[1] - f[2])])


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("sight", SIGHT)
def test_colours_of_following_days_differ_to_any_eye(theme, sight):
    days = [_colours(theme)[f"day-{n}"] for n in range(1, 7)]
    for one, other in itertools.pairwise([*days, days[0]]):
        seen = [_lab(SIGHT[sight] @ _linear(colour)) for colour in (one, other)]
        assert np.linalg.norm(seen[0] - seen[1]) > 20.0, (one, other)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_text_and_lines_have_the_contrast_of_wcag_aa(theme):
    colours = _colours(theme)
    for ground in ("paper", "card", "sunk"):
        for text in ("ink", "muted", "accent", "caution", "alarm"):
            assert _contrast(colours[text], colours[ground]) >= 4.5, (text, ground)
    for state in ("open", "tight", "shut", "unknown", "usual"):
        assert _contrast(colours[f"state-{state}"], colours["card"]) >= 4.5, state
        assert _contrast(colours[f"state-{state}"], colours["map-land"]) >= 3.0, state
    for day in range(1, 7):
        assert _contrast(colours[f"day-{day}"], colours["on-day"]) >= 4.5, day
        assert _contrast(colours[f"day-{day}"], colours["map-land"]) >= 3.0, day


GROUNDS = ("land", "wood", "ice", "built", "water")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_names_days_and_borders_are_read_on_every_ground_of_the_map(theme):
    colours = _colours(theme)
    for ground in (colours[f"map-{one}"] for one in GROUNDS):
        assert _contrast(colours["label"], ground) >= 7.0, ground
        assert _contrast(colours["height"], ground) >= 4.5, ground
        assert _contrast(colours["map-border"], ground) >= 3.0, ground
        for day in range(1, 7):
            assert _contrast(colours[f"day-{day}"], ground) >= 3.0, (day, ground)
    assert _contrast(colours["map-shore"], colours["map-land"]) >= 3.0
    assert _contrast(colours["gap-ink"], colours["gap"]) >= 4.5
    assert _contrast(colours["pin"], colours["on-pin"]) >= 7.0
    assert _contrast(colours["accent"], colours["on-accent"]) >= 7.0
    assert _contrast(colours["accent"], colours["soft"]) >= 4.5
    assert _contrast(colours["caution"], colours["caution-ground"]) >= 4.5
    assert _contrast(colours["edge"], colours["card"]) >= 3.0
