"""What tags mean to a motorcycle."""

import re
from pathlib import Path

import pytest

from resupply.common.errors import TripFileError
from resupply.roads.speeds import Surface, load_speeds
from resupply.roads.ways import barrier_closed, max_speed_kmh, road_of

SPEEDS = load_speeds()


def judged(**tags):
    return road_of({key.replace("__", ":"): value for key, value in tags.items()}, SPEEDS)


def directions(**tags):
    road = judged(**{"highway": "secondary", **tags})
    return (False, False) if road is None else (road.forward_kmh > 0, road.backward_kmh > 0)


@pytest.mark.parametrize(
    "tags",
    [
        {"highway": "footway"},
        {"highway": "cycleway"},
        {"highway": "path", "access": "yes"},
        {"highway": "steps", "motorcycle": "yes"},
        {"highway": "construction"},
        {"highway": "primary", "access": "private"},
        {"highway": "track", "motor_vehicle": "agricultural;forestry"},
        {"highway": "primary", "motorcycle": "no"},
        {"highway": "service", "service": "emergency_access"},
        {"highway": "pedestrian", "area": "yes", "motorcycle": "yes"},
        {"highway": "track", "smoothness": "impassable"},
        {"highway": "primary", "oneway": "reversible"},
        {"building": "yes"},
    ],
)
def test_closed_to_motorcycles(tags):
    assert road_of(tags, SPEEDS) is None


@pytest.mark.parametrize(
    "tags",
    [
        {"highway": "track"},
        {"highway": "path", "motorcycle": "designated"},
        {"highway": "primary", "access": "no", "motor_vehicle": "yes"},
        {"highway": "primary", "motor_vehicle": "no", "motorcycle": "yes"},
        {"highway": "primary", "vehicle": "no", "motor_vehicle": "destination"},
        {"highway": "service", "access": "customers"},
        {"highway": "primary", "access": "no_such_value"},
        {"highway": "primary", "foot": "no", "bicycle": "no", "hgv": "no"},
    ],
)
def test_open_to_motorcycles(tags):
    assert road_of(tags, SPEEDS) is not None


def test_more_specific_access_wins_whatever_the_order():
    assert judged(highway="primary", motorcycle="no", access="yes", motor_vehicle="yes") is None


def test_oneway_values():
    assert directions() == (True, True)
    assert directions(oneway="yes") == (True, False)
    assert directions(oneway="1") == (True, False)
    assert directions(oneway="-1") == (False, True)
    assert directions(oneway="no", junction="roundabout") == (True, True)
    assert directions(junction="roundabout") == (True, False)
    assert directions(highway="motorway") == (True, False)
    assert directions(highway="motorway_link") == (True, True)
    assert directions(oneway="yes", oneway__motorcycle="no") == (True, True)
    assert directions(oneway="yes", oneway__bicycle="no") == (True, False)
    assert directions(oneway__motorcycle="-1") == (False, True)


def test_access_by_direction():
    assert directions(motor_vehicle__backward="no") == (True, False)
    assert directions(motor_vehicle="no", motorcycle__forward="yes") == (True, False)


def test_surface_groups():
    assert judged(highway="tertiary", surface="asphalt").surface is Surface.PAVED
    assert judged(highway="tertiary", surface="compacted").surface is Surface.GRAVEL
    assert judged(highway="tertiary", surface="sand").surface is Surface.TRACK
    assert judged(highway="tertiary", surface="asphalt;gravel").surface is Surface.GRAVEL
    assert judged(highway="tertiary", surface="moon_dust").surface is Surface.UNKNOWN


def test_no_surface_tag_is_not_taken_for_asphalt():
    assert judged(highway="primary").surface is Surface.UNKNOWN


def test_tracktype_speaks_where_surface_does_not():
    assert judged(highway="track", tracktype="grade2").surface is Surface.GRAVEL
    assert judged(highway="track", tracktype="grade5").surface is Surface.TRACK
    assert judged(highway="track", tracktype="grade5", surface="asphalt").surface is Surface.PAVED


def test_a_track_without_tags_counts_as_track():
    assert judged(highway="track").surface is Surface.TRACK


def test_worse_surface_is_never_faster():
    for row in SPEEDS.table_kmh:
        assert row[0] >= row[1] >= row[2]
        assert row[2] <= row[3] <= row[0]


def test_speed_limit_caps_the_table_and_never_raises_it():
    assert judged(highway="primary", surface="asphalt", maxspeed="50").forward_kmh == 50.0
    assert judged(highway="primary", surface="asphalt", maxspeed="130").forward_kmh == 70.0
    one = judged(highway="primary", surface="asphalt", maxspeed="60", maxspeed__backward="40")
    assert (one.forward_kmh, one.backward_kmh) == (60.0, 40.0)


@pytest.mark.parametrize(
    ("value", "kmh"),
    [
        ("50", 50.0),
        ("30 mph", 48.28032),
        ("30mph", 48.28032),
        ("walk", 7.0),
        ("none", float("inf")),
        ("DE:urban", float("inf")),
        ("0", float("inf")),
        ("50;30", float("inf")),
    ],
)
def test_speed_limit_values(value, kmh):
    assert max_speed_kmh({"maxspeed": value}, "forward") == pytest.approx(kmh)


def test_rough_road_is_capped():
    assert judged(highway="primary", surface="asphalt", smoothness="very_bad").forward_kmh == 25.0
    assert judged(highway="primary", surface="unhewn_cobblestone").forward_kmh == 20.0


def test_factor_scales_the_table_but_not_the_limits():
    slow = load_speeds(factor=0.5)
    assert road_of({"highway": "primary", "surface": "asphalt"}, slow).forward_kmh == 35.0
    tags = {"highway": "primary", "surface": "asphalt", "maxspeed": "30"}
    assert road_of(tags, slow).forward_kmh == 30.0


def test_barriers():
    assert barrier_closed({"barrier": "bollard"})
    assert not barrier_closed({"barrier": "bollard", "motorcycle": "yes"})
    assert not barrier_closed({"barrier": "gate"})
    assert barrier_closed({"barrier": "gate", "access": "private"})
    assert not barrier_closed({"barrier": "cattle_grid"})
    assert not barrier_closed({"highway": "crossing", "access": "no"})


def test_shops_have_no_door_on_motorways_bridges_and_tunnels():
    assert not judged(highway="motorway").frontage
    assert not judged(highway="trunk", motorroad="yes").frontage
    assert not judged(highway="primary", tunnel="yes").frontage
    assert not judged(highway="primary", bridge="viaduct").frontage
    assert judged(highway="primary", bridge="no").frontage


def test_own_speed_table_is_read(tmp_path):
    text = (
        "[classes]\nprimary = [50, 40, 30, 45]\n[stated_only]\nclasses = []\n"
        '[surface]\nasphalt = { group = "paved" }\n[tracktype]\n[smoothness]\n'
    )
    path = tmp_path / "mine.toml"
    path.write_text(text)
    own = load_speeds(path)
    assert road_of({"highway": "primary", "surface": "asphalt"}, own).forward_kmh == 50.0
    assert road_of({"highway": "secondary"}, own) is None


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("[classes]\nprimary = [50, 40, 30]\n", "wrong entry"),
        ("[classes]\nprimary = [50, 40, 30, -1]\n", "primary"),
        ("not toml", "is no valid TOML"),
        ("[classes]\n", "stated_only"),
    ],
)
def test_broken_speed_table_is_named(tmp_path, text, word):
    path = tmp_path / "mine.toml"
    path.write_text(text)
    with pytest.raises(TripFileError, match=word):
        load_speeds(path)


@pytest.mark.parametrize(
    ("text", "word"),
    [("# " + "x" * 1_000_000, "larger than 1 MB"), ("a = " + "[" * 50_000, "is no valid TOML")],
)
def test_a_speed_table_that_is_huge_or_endlessly_nested_is_refused(tmp_path, text, word):
    path = tmp_path / "mine.toml"
    path.write_text(text)
    with pytest.raises(TripFileError, match=word):
        load_speeds(path)


def test_speed_factor_out_of_range_is_refused():
    with pytest.raises(TripFileError, match="factor"):
        load_speeds(factor=0.0)


def test_the_table_in_the_documentation_is_the_one_used():
    text = (Path(__file__).parents[1] / "docs/how/roads.md").read_text("utf-8")
    rows = re.findall(r"^\| `(\w+)` \| (\d+) \| (\d+) \| (\d+) \| (\d+) \|$", text, re.MULTILINE)
    shown = {name: tuple(float(speed) for speed in speeds) for name, *speeds in rows}
    assert shown == dict(zip(SPEEDS.classes, SPEEDS.table_kmh, strict=True))
