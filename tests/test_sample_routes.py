"""The invented island is sound map data, comes out the same every time, and tells its story.

Everything is worked out here from the committed files with pyosmium, pyproj, shapely, networkx
and the hours library alone; none of the project's own geometry is trusted.
"""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
import tomllib
from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from pathlib import Path

import gpxpy
import networkx as nx
import numpy as np
import opening_hours
import osmium
import pytest
from pyproj import Geod
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import polygonize, unary_union

SAMPLES = Path(__file__).parents[1] / "sample_routes"
GEOD = Geod(ellps="WGS84")
ROUTES = {"coast_loop": (900, 1100), "there_and_back": (560, 660), "long_moor": (1600, 1800)}
FULL = ("supermarket", "general")


@dataclass
class Feature:
    id: str
    tags: dict[str, str]
    lon: float
    lat: float

    @property
    def name(self) -> str:
        return self.tags.get("name", "")


class World:
    """The committed extract, read once."""

    def __init__(self) -> None:
        self.nodes: dict[int, tuple[float, float]] = {}
        self.ways: list[tuple[int, dict[str, str], list[int]]] = []
        self.relations: list[tuple[int, dict[str, str], list[tuple[str, int, str]]]] = []
        self.order: list[tuple[int, int]] = []
        self.features: list[Feature] = []
        for o in osmium.FileProcessor(str(SAMPLES / "varrow.osm.pbf")):
            tags = dict(o.tags)
            self.order.append(("nwr".index(o.type_str()), o.id))
            if o.is_node():
                self.nodes[o.id] = (o.lon, o.lat)
                if tags:
                    self.features.append(Feature(f"node/{o.id}", tags, o.lon, o.lat))
            elif o.is_way():
                self.ways.append((o.id, tags, [n.ref for n in o.nodes]))
            else:
                members = [(m.type, m.ref, m.role) for m in o.members]
                self.relations.append((o.id, tags, members))
        refs = {number: nodes for number, _, nodes in self.ways}
        for number, tags, nodes in self.ways:
            if tags and not {"highway", "waterway", "natural", "route"} & set(tags):
                self.features.append(Feature(f"way/{number}", tags, *self._middle(nodes)))
        for number, tags, members in self.relations:
            nodes = [n for _, ref, role in members if role == "outer" for n in refs[ref]]
            self.features.append(Feature(f"relation/{number}", tags, *self._middle(nodes)))

    def _middle(self, nodes: list[int]) -> tuple[float, float]:
        lon, lat = np.array([self.nodes[n] for n in nodes[:-1]]).mean(axis=0)
        return float(lon), float(lat)

    def line(self, nodes: list[int]) -> list[tuple[float, float]]:
        return [self.nodes[n] for n in nodes]

    @cached_property
    def land(self) -> list[Polygon]:
        pieces = [
            LineString(self.line(nodes))
            for _, tags, nodes in self.ways
            if tags.get("natural") == "coastline"
        ]
        return sorted(polygonize(pieces), key=lambda p: -p.area)

    @cached_property
    def lakes(self) -> list[Polygon]:
        return [
            Polygon(self.line(nodes))
            for _, tags, nodes in self.ways
            if tags.get("natural") == "water"
        ]

    @cached_property
    def roads(self) -> nx.Graph:
        graph = nx.Graph()
        pairs = [
            pair for _, tags, nodes in self.ways if "highway" in tags for pair in pairwise(nodes)
        ]
        ends = np.array([[*self.nodes[a], *self.nodes[b]] for a, b in pairs]).T
        length_m = GEOD.inv(*ends)[2]
        for (a, b), metres in zip(pairs, length_m, strict=True):
            graph.add_edge(a, b, m=metres)
        return graph

    def named(self, name: str) -> Feature:
        (found,) = [f for f in self.features if f.name == name and "place" not in f.tags]
        return found


@dataclass
class Ride:
    """A GPX route as arrays; chainage leaves out the jumps between segments."""

    lon: np.ndarray
    lat: np.ndarray
    km: np.ndarray
    step_m: np.ndarray
    jumps_km: list[float]

    @classmethod
    def read(cls, key: str) -> Ride:
        track = gpxpy.parse((SAMPLES / f"{key}.gpx").read_text("utf-8")).tracks[0]
        lon = np.array([p.longitude for s in track.segments for p in s.points])
        lat = np.array([p.latitude for s in track.segments for p in s.points])
        step_m = GEOD.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])[2]
        ends = np.cumsum([len(s.points) for s in track.segments])[:-1] - 1
        jumps_km = [float(step_m[i]) / 1000 for i in ends]
        ridden = step_m.copy()
        ridden[ends] = 0
        km = np.concatenate([[0], np.cumsum(ridden)]) / 1000
        return cls(lon, lat, km, np.delete(step_m, ends), jumps_km)

    def passes(self, feature: Feature, within_km: float = 5.0) -> list[tuple[float, float]]:
        """(km along, km off) wherever the route comes within reach."""
        # A fifth of a degree is more than 15 km here: whatever is farther is not measured.
        maybe = np.flatnonzero(
            (np.abs(self.lon - feature.lon) < 0.2) & (np.abs(self.lat - feature.lat) < 0.2)
        )
        there = np.full(maybe.size, feature.lon), np.full(maybe.size, feature.lat)
        off_km = np.full(self.lon.size, np.inf)
        off_km[maybe] = GEOD.inv(self.lon[maybe], self.lat[maybe], *there)[2] / 1000
        near = np.flatnonzero(off_km <= within_km)
        groups = np.split(near, np.flatnonzero(np.diff(near) > 1) + 1) if near.size else []
        best = [g[np.argmin(off_km[g])] for g in groups]
        return [(float(self.km[i]), float(off_km[i])) for i in best]


@pytest.fixture(scope="module")
def world() -> World:
    return World()


@pytest.fixture(scope="module")
def rides() -> dict[str, Ride]:
    return {key: Ride.read(key) for key in ROUTES}


@pytest.fixture(scope="module")
def trip() -> dict:
    return tomllib.loads((SAMPLES / "coast_loop.toml").read_text("utf-8"))


@pytest.fixture(scope="module")
def story():
    sys.path.insert(0, str(SAMPLES))
    try:
        from varrow import story
    finally:
        sys.path.pop(0)
    return story


def eta(km: float, trip: dict) -> dt.datetime:
    """Plain arithmetic: depart each morning, ride, rest a quarter of an hour every two hours."""
    day, today_km = divmod(km, trip["pace"]["daily_km"])
    hours = today_km / trip["pace"]["speed_kmh"]
    minutes = hours * 60 + 15 * int(hours / 2)
    date = trip["start"]["date"] + dt.timedelta(days=int(day))
    return dt.datetime.combine(date, trip["pace"]["depart"]) + dt.timedelta(minutes=minutes)


def local(july: int, hour: int = 0, minute: int = 0) -> dt.datetime:
    """A moment of July 2027 on the island's own clock."""
    return dt.datetime(2027, 7, july, hour, minute)  # noqa: DTZ001


def is_open(feature: Feature, at: dt.datetime) -> bool | None:
    """Open, shut, or None where no hours are stated or they cannot be read."""
    text = feature.tags.get("opening_hours")
    if text is None:
        return None
    try:
        hours = opening_hours.OpeningHours(text, country="AT", auto_timezone=False)
    except opening_hours.ParserError:
        return None
    state, comment = hours.state(at)
    if state == opening_hours.State.UNKNOWN or "appointment" in comment:
        return None
    return state == opening_hours.State.OPEN


def full_shops(world: World) -> list[Feature]:
    return [
        f
        for f in world.features
        if f.tags.get("shop") in FULL
        and f.tags.get("access") != "private"
        and "membership" not in f.tags
    ]


def visits(world: World, ride: Ride, trip: dict) -> list[tuple[float, dt.datetime, Feature]]:
    """Every pass of a full shop, in riding order."""
    found = [(km, eta(km, trip), shop) for shop in full_shops(world) for km, _ in ride.passes(shop)]
    return sorted(found, key=lambda v: (v[0], v[2].id))


def gaps_km(ride: Ride, features: list[Feature], within_km: float) -> list[float]:
    at = sorted(km for f in features for km, _ in ride.passes(f, within_km))
    return [b - a for a, b in pairwise([0.0, *at, float(ride.km[-1])])]


# --- the files -----------------------------------------------------------------------------


@pytest.mark.long
def test_making_the_region_again_gives_the_same_bytes(tmp_path):
    subprocess.run([sys.executable, SAMPLES / "make_region.py", tmp_path], check=True)
    made = sorted(p.name for p in tmp_path.iterdir())
    assert made == ["coast_loop.gpx", "long_moor.gpx", "there_and_back.gpx", "varrow.osm.pbf"]
    for name in made:
        assert (tmp_path / name).read_bytes() == (SAMPLES / name).read_bytes(), name


def test_extract_is_small_dated_and_says_what_it_covers(world):
    path = SAMPLES / "varrow.osm.pbf"
    assert path.stat().st_size < 2_000_000
    header = osmium.io.Reader(str(path)).header()
    assert header.get("generator") == "resupply sample region"
    assert header.get("osmosis_replication_timestamp") == "2027-06-01T00:00:00Z"
    box = header.box()
    for lon, lat in world.nodes.values():
        assert box.contains(osmium.osm.Location(lon, lat))
        assert -29.0 < lon < -24.0
        assert 45.5 < lat < 48.5


def test_ids_are_positive_unique_and_sorted(world):
    assert all(number > 0 for _, number in world.order)
    assert world.order == sorted(set(world.order))


def test_every_reference_is_there(world):
    ways = {number for number, _, _ in world.ways}
    for number, _, nodes in world.ways:
        assert len(nodes) >= 2, number
        assert all(n in world.nodes for n in nodes), number
        assert all(a != b for a, b in pairwise(nodes)), number
    for _, _, members in world.relations:
        assert all(kind == "w" and ref in ways for kind, ref, _ in members)


def test_coastlines_close_with_land_on_the_left(world):
    following = {
        nodes[0]: nodes for _, tags, nodes in world.ways if tags.get("natural") == "coastline"
    }
    rings = 0
    while following:
        _, ring = following.popitem()
        while ring[-1] != ring[0]:
            ring = [*ring, *following.pop(ring[-1])[1:]]
        polygon = Polygon(world.line(ring))
        assert polygon.is_valid
        assert polygon.exterior.is_ccw
        rings += 1
    assert rings == len(world.land)
    assert rings >= 5


def test_roads_and_places_stand_on_dry_land(world):
    land, water = unary_union(world.land), unary_union(world.lakes)
    assert all(lake.is_valid for lake in world.lakes)
    for number, tags, nodes in world.ways:
        if "highway" in tags:
            line = LineString(world.line(nodes))
            assert line.within(land), number
            assert not line.intersects(water), number
    for feature in world.features:
        point = Point(feature.lon, feature.lat)
        assert land.contains(point), feature
        assert not water.contains(point), feature


def test_each_island_is_one_road_network(world):
    main, second = world.land[:2]
    parts = list(nx.connected_components(world.roads))
    assert len(parts) == 2
    for part in parts:
        points = [Point(world.nodes[n]) for n in part]
        assert all(main.contains(p) for p in points) or all(second.contains(p) for p in points)


def test_roads_have_classes_surfaces_limits_and_one_ways(world):
    roads = [tags for _, tags, _ in world.ways if "highway" in tags]
    classes = {tags["highway"] for tags in roads}
    assert classes >= {"trunk", "primary", "secondary", "tertiary", "unclassified", "track"}
    assert {tags.get("surface") for tags in roads} >= {"asphalt", "gravel", "dirt", None}
    assert {tags.get("maxspeed") for tags in roads} >= {"30", "50", "70", None}
    assert any(tags.get("oneway") == "yes" for tags in roads)


def test_settlements_have_names_of_their_own(world):
    names = [f.name for f in world.features if "place" in f.tags]
    assert 45 <= len(names) <= 70
    assert len(set(names)) == len(names)
    kinds = Counter(f.tags["place"] for f in world.features if "place" in f.tags)
    assert min(kinds["town"], kinds["village"], kinds["hamlet"]) >= 10


# --- the routes ----------------------------------------------------------------------------


@pytest.mark.parametrize("key", ROUTES)
def test_route_has_its_length_and_points_close_together(rides, key):
    ride = rides[key]
    low, high = ROUTES[key]
    assert low <= ride.km[-1] <= high
    assert 50 <= np.median(ride.step_m) <= 300
    assert ride.step_m.max() <= 300


@pytest.mark.parametrize("key", ROUTES)
def test_route_is_made_of_roads(world, rides, key):
    at = {point: number for number, point in world.nodes.items() if number in world.roads}
    ride = rides[key]
    numbers = [at[round(x, 6), round(y, 6)] for x, y in zip(ride.lon, ride.lat, strict=True)]
    off_road = [pair for pair in pairwise(numbers) if not world.roads.has_edge(*pair)]
    by_water = [pair for pair in off_road if not nx.has_path(world.roads, *pair)]
    assert len(by_water) == len(ride.jumps_km)
    assert off_road == by_water


def test_route_files_have_heights_and_named_points():
    for key in ROUTES:
        gpx = gpxpy.parse((SAMPLES / f"{key}.gpx").read_text("utf-8"))
        assert gpx.version == "1.1"
        assert len(gpx.waypoints) >= 2
        assert all(w.name for w in gpx.waypoints)
        heights = [p.elevation for p in gpx.tracks[0].segments[0].points]
        assert max(heights) - min(heights) > 200


def test_loop_ends_where_it_began(rides):
    ride = rides["coast_loop"]
    assert (ride.lon[0], ride.lat[0]) == (ride.lon[-1], ride.lat[-1])


def test_way_back_is_the_way_out(rides):
    ride = rides["there_and_back"]
    assert ride.lon.tolist() == ride.lon[::-1].tolist()
    assert ride.lat.tolist() == ride.lat[::-1].tolist()


def test_long_route_has_one_ferry(rides):
    (jump_km,) = rides["long_moor"].jumps_km
    assert 15 < jump_km < 60
    assert rides["coast_loop"].jumps_km == rides["there_and_back"].jumps_km == []


@pytest.mark.parametrize("key", ROUTES)
def test_trip_file_is_accepted(key):
    from resupply.trip.read_file import load_trip

    trip = load_trip(SAMPLES / f"{key}.toml")
    assert trip.route == f"{key}.gpx"
    assert [(SAMPLES / name).is_file() for name in trip.map.extracts] == [True]
    assert trip.region.country == "AT"
    assert trip.region.time_zone == "Atlantic/Azores"
    assert trip.party.people == 2


# --- what stands on the island -------------------------------------------------------------


def test_shops_are_mapped_in_every_way(world):
    shops = [f for f in world.features if "shop" in f.tags]
    kinds = Counter(f.id.split("/")[0] for f in shops)
    assert kinds["relation"] == 1
    assert kinds["way"] >= 15
    assert kinds["node"] >= 30
    doubles = [
        (a, b)
        for a in shops
        for b in shops
        if a.id.startswith("node") and b.id.startswith("way") and a.name and a.name == b.name
    ]
    assert len(doubles) == 3
    for a, b in doubles:
        assert GEOD.inv(a.lon, a.lat, b.lon, b.lat)[2] < 10


def test_some_shops_do_not_count(world):
    tags = [f.tags for f in world.features]
    assert any("disused:shop" in t for t in tags)
    assert any(t.get("shop") == "vacant" for t in tags)
    assert any(t.get("shop") and t.get("access") == "private" for t in tags)
    assert any(t.get("shop") and t.get("membership") == "required" for t in tags)


def test_hours_are_mixed_and_a_third_are_missing(world):
    kinds = (*FULL, "convenience", "bakery", "butcher", "farm", "kiosk", "seafood")
    food = [f for f in world.features if f.tags.get("shop") in kinds]
    stated = [f.tags["opening_hours"] for f in food if "opening_hours" in f.tags]
    assert len(food) >= 70
    assert 0.25 <= 1 - len(stated) / len(food) <= 0.40
    assert "Mo-Fr 9-17" in stated
    assert '"by appointment"' in stated
    assert any("PH off" in text for text in stated)
    assert sum("12:30,15:00" in text for text in stated) >= 4
    assert any(text.startswith(("May-", "Apr-")) for text in stated)
    with pytest.raises(opening_hours.ParserError):
        opening_hours.OpeningHours("Mo-Fr 9-17")


def test_island_has_every_supply(world):
    tags = [f.tags for f in world.features]
    assert sum(t.get("vending") == "ice_cubes" for t in tags) >= 6
    assert sum(t.get("amenity") == "drinking_water" for t in tags) >= 15
    assert sum(t.get("natural") == "spring" for t in tags) >= 8
    assert sum(t.get("tourism") == "camp_site" for t in tags) >= 20
    assert sum(t.get("amenity") in ("restaurant", "cafe") for t in tags) >= 25
    fuel = [t for t in tags if t.get("amenity") == "fuel"]
    assert sum(t.get("shop") == "no" for t in fuel) >= 5
    assert sum(t.get("shop", "no") != "no" for t in fuel) >= 5
    assert any(t.get("amenity") == "marketplace" for t in tags)


def test_some_names_are_hostile(world, rides):
    names = "\n".join(f.name for f in world.features)
    assert "<b>" in names
    assert '"' in names
    assert "☕" in names
    assert any("\u0600" <= letter <= "\u06ff" for letter in names)
    marks = (SAMPLES / "coast_loop.gpx").read_text("utf-8")
    assert "&lt;i&gt;" in marks


# --- the story -----------------------------------------------------------------------------


def test_start_is_friday_with_a_sunday_to_cross(trip, story):
    assert dt.datetime.combine(trip["start"]["date"], trip["pace"]["depart"]) == story.START
    assert f"{story.START:%A %d %B %Y %H:%M}" == "Friday 09 July 2027 08:30"
    assert story.DAILY_KM == trip["pace"]["daily_km"] == 230
    assert trip["pace"]["speed_kmh"] == story.SPEED_KMH


def test_naive_choice_is_shut_on_sunday(world, rides, trip, story):
    # Two days of food from Friday morning: the sixth meal is Sunday's breakfast.
    until = local(11, 12, 30)
    reach = [v for v in visits(world, rides["coast_loop"], trip) if v[1] <= until]
    farthest = reach[-1]
    assert farthest[2].name in story.SUNDAY_SHOPS
    assert farthest[1].date() == dt.date(2027, 7, 11)
    assert is_open(farthest[2], farthest[1]) is False


def test_no_full_shop_of_sundays_leg_opens_all_day(world, rides, trip, story):
    sunday = [
        v for v in visits(world, rides["coast_loop"], trip) if v[1].date() == dt.date(2027, 7, 11)
    ]
    assert {v[2].name for v in sunday} == set(story.SUNDAY_SHOPS)
    midnight = local(11)
    for _, _, shop in sunday:
        assert [is_open(shop, midnight + dt.timedelta(hours=h)) for h in range(24)] == [False] * 24


def test_one_full_shop_is_open_on_saturday_and_it_saves_the_plan(world, rides, trip, story):
    saturday = [
        v for v in visits(world, rides["coast_loop"], trip) if v[1].date() == dt.date(2027, 7, 10)
    ]
    assert len(saturday) >= 4
    assert [v[2].name for v in saturday if is_open(v[2], v[1]) is not False] == [
        story.SATURDAY_SHOP
    ]
    _, at, shop = next(v for v in saturday if v[2].name == story.SATURDAY_SHOP)
    assert dt.time(12) < at.time() < dt.time(15)
    assert is_open(shop, at.replace(hour=17, minute=55)) is True
    assert is_open(shop, at.replace(hour=18, minute=5)) is False


def test_on_monday_two_full_shops_are_open_and_the_feast_shuts_the_rest(world, rides, trip, story):
    monday = [
        v for v in visits(world, rides["coast_loop"], trip) if v[1].date() == dt.date(2027, 7, 12)
    ]
    opened = [v[2].name for v in monday if is_open(v[2], v[1])]
    assert opened == [story.GORGE_SHOP, story.MONDAY_SHOP]
    assert len(monday) >= 6
    assert all(is_open(v[2], v[1]) is not None for v in monday)


def _detour_km(world: World, ride: Ride, shop: Feature) -> float:
    """Least extra road to the shop, leaving and rejoining within 25 km of the pass."""
    ((pass_km, _),) = ride.passes(shop, 3.99)
    roads = np.array(sorted(world.roads))
    lon, lat = np.array([world.nodes[n] for n in roads]).T
    off_m = GEOD.inv(lon, lat, np.full_like(lon, shop.lon), np.full_like(lat, shop.lat))[2]
    door = int(roads[np.argmin(off_m)])
    assert off_m.min() < 150
    far_m = nx.single_source_dijkstra_path_length(world.roads, door, cutoff=60_000, weight="m")
    at = {world.nodes[n]: m / 1000 for n, m in far_m.items()}
    legs = [
        (km, at[round(x, 6), round(y, 6)])
        for km, x, y in zip(ride.km, ride.lon, ride.lat, strict=True)
        if abs(km - pass_km) <= 25 and (round(x, 6), round(y, 6)) in at
    ]
    km, away = np.array(legs).T
    extra = away[:, None] + away[None, :] - (km[None, :] - km[:, None])
    return float(extra[km[None, :] >= km[:, None]].min())


def test_shop_across_the_gorge_is_near_in_the_air_and_far_by_road(world, rides, story):
    ride, shop = rides["coast_loop"], world.named(story.GORGE_SHOP)
    ((_, off_km),) = ride.passes(shop)
    assert 1.5 <= off_km <= 2.0
    assert 35 <= _detour_km(world, ride, shop) <= 45


def test_other_shop_is_farther_in_the_air_and_nearer_by_road(world, rides, story):
    ride, shop = rides["coast_loop"], world.named(story.MONDAY_SHOP)
    ((_, off_km),) = ride.passes(shop)
    assert 3.5 <= off_km <= 4.2
    assert _detour_km(world, ride, shop) <= 10


def test_a_river_lies_between_the_route_and_the_gorge_shop(world, rides, story):
    ride, shop = rides["coast_loop"], world.named(story.GORGE_SHOP)
    ((pass_km, _),) = ride.passes(shop)
    nearest = int(np.argmin(np.abs(ride.km - pass_km)))
    sight = LineString([(shop.lon, shop.lat), (ride.lon[nearest], ride.lat[nearest])])
    river = [LineString(world.line(nodes)) for _, tags, nodes in world.ways if "waterway" in tags]
    assert any(sight.crosses(line) for line in river)


def test_third_day_is_hot_and_crosses_the_inland_valley(world, rides, trip):
    days = {row["day"]: row for row in trip["weather"]["days"]}
    assert (days[3]["low_c"], days[3]["high_c"]) == (21, 37)
    assert all(12 <= r["low_c"] <= r["high_c"] <= 23 for d, r in days.items() if d != 3)
    ride = rides["coast_loop"]
    shore = [polygon.exterior for polygon in world.land]
    inland = [
        min(line.distance(Point(x, y)) for line in shore) * 76
        for x, y in zip(ride.lon, ride.lat, strict=True)
    ]
    deepest_km = float(ride.km[int(np.argmax(inland))])
    assert max(inland) > 25
    assert deepest_km // 230 + 1 == 3


def test_stated_ice_is_more_than_a_day_apart_over_the_hot_sunday(world, rides, trip):
    ride = rides["coast_loop"]
    ice = [f for f in world.features if f.tags.get("vending") == "ice_cubes"]
    at = sorted(km for f in ice for km, _ in ride.passes(f))
    assert len(at) >= 4
    longest = max(pairwise(at), key=lambda pair: pair[1] - pair[0])
    before, after = (eta(km, trip) for km in longest)
    assert after - before > dt.timedelta(hours=36)
    assert before < local(11) < local(12) < after


def test_camps_lie_near_most_day_ends_but_not_all(world, rides):
    ride = rides["coast_loop"]
    camps = [
        f
        for f in world.features
        if f.tags.get("tourism") == "camp_site"
        and f.tags.get("access") != "members"
        and "group_only" not in f.tags
    ]
    at = [km for f in camps for km, _ in ride.passes(f)]
    near = [min(abs(km - day * 230) for km in at) for day in (1, 2, 3, 4)]
    assert [km <= 25 for km in near] == [True, True, True, False]


def test_taps_and_springs_to_treat_lie_on_the_way(world, rides):
    ride = rides["coast_loop"]
    near = [f.tags for f in world.features if ride.passes(f, 2.0)]
    taps = [t for t in near if t.get("amenity") == "drinking_water"]
    springs = [t for t in near if t.get("natural") == "spring" and "drinking_water" not in t]
    assert len(taps) >= 10
    assert len(springs) >= 3


def test_a_meal_out_stands_by_for_saturdays_shop(world, rides, trip, story):
    ride = rides["coast_loop"]
    ((shop_km, _),) = ride.passes(world.named(story.SATURDAY_SHOP))
    meals = [
        f
        for f in world.features
        if f.tags.get("amenity") in ("restaurant", "cafe")
        for km, _ in ride.passes(f, 3.0)
        if 0 <= km - shop_km <= 30 and is_open(f, eta(km, trip))
    ]
    assert meals


def test_moor_has_no_full_shop_for_more_than_three_days(world, rides):
    trip = tomllib.loads((SAMPLES / "long_moor.toml").read_text("utf-8"))
    daily_km = trip["pace"]["daily_km"]
    gaps = sorted(gaps_km(rides["long_moor"], full_shops(world), 5.0))
    assert gaps[-1] > 3.2 * daily_km
    assert gaps[-2] > 2.0 * daily_km
    assert trip["food"]["carry_limit_days"] == 3


def test_moor_has_no_shop_of_any_kind_on_its_longest_stretch(world, rides):
    trip = tomllib.loads((SAMPLES / "long_moor.toml").read_text("utf-8"))
    shops = [
        f for f in world.features if "shop" in f.tags and f.tags["shop"] not in ("no", "vacant")
    ]
    assert max(gaps_km(rides["long_moor"], shops, 5.0)) > 3.2 * trip["pace"]["daily_km"]


def test_moor_has_more_than_250_km_without_fuel(world, rides):
    fuel = [f for f in world.features if f.tags.get("amenity") == "fuel"]
    assert 250 < max(gaps_km(rides["long_moor"], fuel, 5.0)) < 320
