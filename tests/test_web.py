"""The live page's server: who may ask, what it takes, what it answers, and in what order."""

from __future__ import annotations

import concurrent.futures
import itertools
import json
import re
import sys
import threading
import time

import httpx
import pytest
from gpx_text import gpx, track
from live_world import SAMPLES, pass_rows, serving, write_world
from overpass_server import OverpassServer, node
from route_files import every_format

from resupply.api import plan_files
from resupply.places import overpass
from resupply.report.document.model.as_json import to_dict
from resupply.trip.read_file import load_trip, make_trip
from resupply.web import answers as desk
from resupply.web import app
from resupply.web import kept_maps as worlds
from resupply.web.newest_first import Stale
from resupply.web.settings import ServerMap, client_tree

SAMPLE = "sample:coast_loop"
# Other days, remedies and the menu are asked for where a test is about them.
PLAIN = {"show.sweep": False, "show.remedies": False, "food.plan_menu": False}
TREE = client_tree(load_trip(SAMPLES / "coast_loop.toml", PLAIN))
RIDE = [(-26.0 + k / 100, 46.5) for k in range(101)]
FAR = "http://elsewhere.example"


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    folder = tmp_path_factory.mktemp("served")
    with serving(ServerMap((str(SAMPLES / "varrow.osm.pbf"),)), folder) as address:
        yield address


@pytest.fixture
def client(server):
    with client_of(server) as found:
        yield found


def client_of(address: str) -> httpx.Client:
    return httpx.Client(base_url=address, headers={"origin": address}, timeout=60.0, verify=False)


COUNT = itertools.count(1)


def asked(seq=None, *, page="p", route=SAMPLE, trip=TREE, **options):
    number = next(COUNT) if seq is None else seq
    return {"page": page, "seq": number, "route": route, "trip": trip, **options}


def answered(client, body):
    """Ask for a plan, waiting for whatever has to be loaded first."""
    for _ in range(20):
        answer = client.post("/api/plan", content=json.dumps(body))
        if answer.status_code != 202:
            return answer
        events(client, answer.json()["load"])
    raise AssertionError("the load never ends")


def planned(client, body):
    answer = answered(client, body)
    assert answer.status_code == 200, answer.text
    return answer.json()


def events(client, key):
    with client.stream("GET", f"/api/load/{key}") as stream:
        assert stream.headers["content-type"].startswith("text/event-stream")
        return [json.loads(row.removeprefix("data: ")) for row in stream.iter_lines() if row]


def own_ride(client, **options):
    """Ask about a short route of the rider's own, for which no sample has to be read."""
    token = client.post("/api/route", content=gpx(track(RIDE))).json()["route"]
    return asked(route=token, trip={"start": {"date": "2027-07-09"}}, **options)


def refused(answer, *, says=""):
    assert answer.status_code == 422, answer.text
    (line,) = answer.json()["error"].splitlines()
    assert says in line
    assert "Traceback" not in line
    return line


# ---- Who may ask -------------------------------------------------------------------------------


@pytest.mark.parametrize("host", ["elsewhere.example", "127.0.0.1", "127.0.0.1:1", ""])
def test_other_host_names_are_not_served(server, host):
    answer = httpx.get(server, headers={"host": host})
    assert answer.status_code in (400, 403)
    assert "<html" not in answer.text


@pytest.mark.parametrize("origin", [FAR, "null", "http://127.0.0.1", None])
def test_other_pages_cannot_make_this_one_work(server, origin):
    headers = {} if origin is None else {"origin": origin}
    for path in ("/api/plan", "/api/route", "/api/trip", "/api/export", "/api/load/x/cancel"):
        assert httpx.post(server + path, headers=headers, content=b"{}").status_code == 403


def test_other_sites_read_nothing_but_may_link_here(server):
    across = {"sec-fetch-site": "cross-site"}
    assert httpx.get(f"{server}/api/samples", headers=across).status_code == 403
    followed = {**across, "sec-fetch-mode": "navigate"}
    assert httpx.get(f"{server}/api/map", headers=followed).status_code == 403
    assert httpx.get(f"{server}/", headers=followed).status_code == 200
    assert "access-control-allow-origin" not in httpx.get(f"{server}/").headers


def test_policy_allows_own_files_only_and_no_inline_script(client):
    answer = client.get("/")
    policy = dict(
        part.strip().split(" ", 1)
        for part in answer.headers["content-security-policy"].split(";")
        if " " in part.strip()
    )
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == "'self'"
    assert policy["frame-ancestors"] == "'none'"
    assert "unsafe" not in answer.headers["content-security-policy"]
    assert answer.headers["referrer-policy"] == "strict-origin-when-cross-origin"
    assert answer.headers["x-content-type-options"] == "nosniff"
    for attributes, text in re.findall(r"<script([^>]*)>(.*?)</script>", answer.text, re.DOTALL):
        assert ('type="application/json"' in attributes) or (text == "" and "src=" in attributes)
    assert not re.search(r"\son\w+=|<style|\sstyle=", answer.text)
    links = re.findall(r'(?:src|href)="([^"]+)"', answer.text)
    served = [link for link in links if not link.startswith(("data:", "#", "https://leafletjs"))]
    assert len(served) > 20
    for link in served:
        assert link.startswith("/assets/"), link
        assert client.get(link).status_code == 200


def test_files_of_the_server_are_not_reached_by_name(client):
    for name in ("../app.py", "..%2fapp.py", "%2e%2e/%2e%2e/trip.py", "nothing.js", "/etc/passwd"):
        assert client.get(f"/assets/{name}").status_code == 404


# ---- What it takes -----------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["gpx", "kml", "kmz", "geojson", "fit"])
def test_a_route_is_taken_in_every_format(client, kind):
    answer = client.post("/api/route", content=every_format(RIDE)[kind])
    assert answer.status_code == 200, answer.text
    assert 76_000 < answer.json()["length_m"] < 77_500


BOMB = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">' + b"".join(
    b'<!ENTITY %c "%s">' % (97 + k, b"&%c;" % (96 + k) * 10) for k in range(1, 9)
)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\0" * 1000,
        b"GIF89a",
        b"<gpx>" * 50_000,
        BOMB + b"]><gpx><trk><name>&i;</name></trk></gpx>",
        b'<!DOCTYPE g [<!ENTITY f SYSTEM "file:///etc/passwd">]><gpx><name>&f;</name></gpx>',
        b"[" * 100_000,
        b'{"type":"FeatureCollection","features":' + b"[" * 5000,
        b"PK\x03\x04" + b"\xff" * 500,
        gpx(track([(-26.0, 46.5)])),
        gpx(track([(float("nan"), 46.5), (999.0, 99.0)])),
    ],
    ids=lambda data: repr(data[:12]),
)
def test_hostile_routes_are_one_line(client, data):
    refused(client.post("/api/route", content=data))


def test_uploads_and_questions_end_at_their_limit(server, monkeypatch):
    monkeypatch.setattr(app, "_MOST_UPLOAD", 10_000)
    with client_of(server) as client:
        stream = (b" " * 5_000 for _ in range(200))
        refused(client.post("/api/route", content=stream), says="larger than")
        refused(client.post("/api/plan", content=b" " * 300_000), says="larger than")
        refused(client.post("/api/trip", content=b"#" * 300_000), says="larger than")


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"not json",
        b"[]",
        b"null",
        b'{"page":' + b"[" * 100_000,
        b'{"page":"p","seq":0,"route":"sample:coast_loop","trip":{},"else":1}',
        b'{"page":"p","seq":-1,"route":"sample:coast_loop","trip":{}}',
        b'{"page":"","seq":0,"route":"sample:coast_loop","trip":{}}',
        b'{"page":"p","seq":1e400,"route":"sample:coast_loop","trip":{}}',
        b'{"page":"p","seq":0,"route":"' + b"a" * 1000 + b'","trip":{}}',
        b'{"page":"p","seq":0,"route":"sample:coast_loop","trip":[]}',
        b"\xff\xfe",
    ],
    ids=lambda body: repr(body[:40]),
)
def test_malformed_questions_are_one_line(client, body):
    refused(client.post("/api/plan", content=body))


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ({"pace": {"daily_km": "far"}}, "pace.daily_km"),
        ({"pace": {"daily_km": float("nan")}}, "pace.daily_km"),
        ({"pace": {"daily_km": 1e309}}, "pace.daily_km"),
        ({"pace": 3}, "pace"),
        ({"pace": {"own_km": {"0": 100}}}, "own_km"),
        ({"pace": {"rest_days": {str(k): 60 for k in range(1, 50)}}}, "longer than a year"),
        ({"start": {"date": "9999-12-31"}}, "start.date"),
        ({"start": {"date": "0001-01-01"}}, "start.date"),
        ({"region": {"time_zone": "../../etc/passwd"}}, "time zone"),
        ({"food": {"breakfast": "25:00"}}, "food.breakfast"),
        ({"nothing": {"like": "it"}}, "nothing"),
        ({"__proto__": {"x": 1}}, "__proto__"),
    ],
)
def test_wrong_settings_name_their_key(client, table, says):
    refused(answered(client, asked(trip={**TREE, **table}, quick=True)), says=says)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (b"pace = [", "TOML"),
        (b"\xff\xfe\x00", "UTF-8"),
        (b"[pace]\ndaily = 3\n", "line 2"),
        (b"a = " + b"[" * 20_000, "TOML"),
    ],
)
def test_a_bad_trip_file_is_one_line(client, text, says):
    refused(client.post("/api/trip", content=text), says=says)


@pytest.fixture
def opened():
    """Names of all files that are opened from now on; a hook stays, so it is told when to end."""
    names: list[str] | None = []

    def note(event, args):
        if event == "open" and names is not None:
            names.append(str(args[0]))

    sys.addaudithook(note)
    yield names
    names = None


def test_no_path_from_the_page_is_opened(client, opened):
    planned(client, asked())
    marker = "/tmp/never-opened"
    tree = {
        **TREE,
        "route": f"{marker}/route.gpx",
        "map": {"extracts": [f"{marker}.osm.pbf"], "service_url": f"file://{marker}"},
        "food": {"dishes": f"{marker}.toml"},
        "region": {**TREE["region"], "usual_hours": f"{marker}.toml"},
        "weather": {**TREE["weather"], "forecast": True, "forecast_url": f"file://{marker}"},
    }
    opened.clear()
    assert planned(client, asked(trip=tree))["plan"]["stops"]
    for name in ("plan.json", "trip.toml"):
        body = {"route": SAMPLE, "trip": tree, "name": name, "file": f"{marker}/x.gpx"}
        assert client.post("/api/export", json=body).status_code == 200
    toml = f"route = '{marker}/r.gpx'\n[map]\nextracts = ['{marker}.osm.pbf']\n"
    told = client.post("/api/trip", content=toml.encode()).json()
    assert told == {"trip": {}, "route": None, "file": "r.gpx"}
    for route in ("sample:../../etc/passwd", f"{marker}/route.gpx", "sample:"):
        assert client.post("/api/plan", json=asked(route=route)).status_code == 410
    name = {"route": SAMPLE, "trip": tree, "name": f"../..{marker}"}
    refused(client.post("/api/export", json=name), says="no file")
    assert opened
    assert not [path for path in opened if marker in path]


# ---- What it answers ---------------------------------------------------------------------------


def test_the_page_plans_what_the_command_line_plans(client):
    first = planned(client, asked())["plan"]
    gone = [first["stops"][0]["place"]]
    keys = {
        "pace.daily_km": 205.0,
        "pace.rest_days": {"2": 1},
        "pace.own_km": {"1": 180.0},
        "shops.gone": gone,
        "map.corridor_km": 3.0,
    }
    trip = load_trip(SAMPLES / "coast_loop.toml", keys)
    made, geo = plan_files(trip, SAMPLES)
    document = to_dict(made)
    # A world already read with other corridors and shops has to give the very same plan.
    answer = planned(client, asked(trip=client_tree(trip)))
    assert answer["plan"] == json.loads(json.dumps(document))
    assert answer["geo"] == json.loads(json.dumps(geo))
    assert gone[0] not in answer["plan"]["places"]


def test_a_quick_answer_agrees_with_the_whole_one(client):
    tree = {**cooking(whole_trip(260)), "show": {**TREE["show"], "sweep": True}}
    whole = planned(client, asked(trip=tree))
    answer = planned(client, asked(trip=tree, quick=True))
    quick = answer["plan"]
    for block in ("stops", "carry_profile", "start_carry", "spare"):
        left_out = {"carry_kg", "kg", "words", "carry_kg_words", "kg_words", "ice"}
        assert pruned(quick[block], left_out) == pruned(whole["plan"][block], left_out)
    assert [leg["end_m"] for leg in quick["legs"]] == [
        leg["end_m"] for leg in whole["plan"]["legs"]
    ]
    rows = pass_rows(answer["along"], answer["passes"], quick["passes"])
    assert len(quick["passes"]) < len(rows)
    for short, full in zip(rows, whole["plan"]["passes"], strict=True):
        assert {key: full[key] for key in ("id", "eta", "state")} == {
            key: short[key] for key in ("id", "eta", "state")
        }
    assert "passes" not in whole
    assert "menu" in whole["plan"]
    assert "menu" not in quick
    assert "sweep" in whole["plan"]
    assert "sweep" not in quick


def test_a_days_own_distance_counts_from_where_the_night_is_spent(client):
    plain = planned(client, asked(quick=True))["plan"]["legs"]
    # Day 1 ends at a camp, not where its distance would end it.
    assert plain[0]["length_m"] != 230_000
    own = {**TREE, "pace": {**TREE["pace"], "own_km": {"2": 200.0}}}
    legs = planned(client, asked(trip=own, quick=True))["plan"]["legs"]
    assert legs[0]["end_m"] == plain[0]["end_m"]
    assert legs[1]["length_m"] == 200_000
    assert legs[2]["start_m"] == legs[1]["end_m"]


def whole_trip(daily_km):
    return {**TREE, "pace": {**TREE["pace"], "daily_km": daily_km}}


def cooking(tree):
    return {**tree, "food": {**tree["food"], "plan_menu": True}}


def pruned(value, names):
    if isinstance(value, dict):
        return {k: pruned(v, names) for k, v in value.items() if k not in names}
    return [pruned(one, names) for one in value] if isinstance(value, list) else value


def test_geometry_and_places_are_sent_once_for_each_world(client):
    first = planned(client, asked())
    assert first["geo"]["lon"]
    assert first["plan"]["places"]
    again = planned(client, asked(trip=whole_trip(180), have=first["world"]))
    assert again["world"] == first["world"]
    assert "geo" not in again
    assert "along" not in again
    assert again["plan"]["places"] == {}
    narrow = {**TREE, "map": {"corridor_km": 1.0}}
    other = planned(client, asked(trip=narrow, have=first["world"], quick=True))
    assert other["world"] != first["world"]
    assert other["geo"]
    assert other["plan"]["places"]
    assert len(other["along"]["place"]) < len(first["along"]["place"])
    assert len(first["along"]["place"]) == len(first["plan"]["passes"])


def test_a_forgotten_route_can_be_sent_again(server, monkeypatch):
    with client_of(server) as client:
        data = gpx(track(RIDE))
        token = client.post("/api/route", content=data).json()["route"]
        ride = {"route": token, "trip": {"start": {"date": "2027-07-09"}}, "quick": True}
        assert planned(client, asked(**ride))["plan"]["stops"] == []
        for k in range(desk._ROUTES_KEPT):
            client.post("/api/route", content=gpx(track(RIDE, name=f"ride {k}")))
        assert client.post("/api/plan", json=asked(**ride)).status_code == 410
        assert client.post("/api/route", content=data).json()["route"] == token
        assert planned(client, asked(**ride))["plan"]["legs"]


def test_without_map_data_nothing_is_known(tmp_path):
    with serving(ServerMap(), tmp_path) as address, client_of(address) as client:
        assert client.get("/api/map").json()["extracts"] == []
        token = client.post("/api/route", content=gpx(track(RIDE))).json()["route"]
        plan = planned(client, asked(route=token, trip={"start": {"date": "2027-07-09"}}))["plan"]
        (hole,) = plan["coverage"]["unknown"]
        assert (hole["start_m"], hole["end_m"]) == (0, plan["route"]["length_m"])


# ---- In what order -----------------------------------------------------------------------------


# Asked for by no other test: what was planned once is not planned again.
OTHER = {**TREE, "pace": {**TREE["pace"], "daily_km": 151.0}}


class SlowPlans:
    """Stands in for the planner: a whole plan goes on until it is told to stop."""

    def __init__(self, monkeypatch):
        self.begun, self.at_once, self.most = threading.Event(), 0, 0
        self.stopped, self.lock = [], threading.Lock()
        self.real = desk.make_plan
        monkeypatch.setattr(desk, "make_plan", self.plan)

    def plan(self, world, trip, folder, *, quick=False, with_places=True, step):
        if quick:
            return self.real(world, trip, folder, quick=True, with_places=with_places, step=step)
        with self.lock:
            self.at_once += 1
            self.most = max(self.most, self.at_once)
        self.begun.set()
        try:
            for _ in range(1000):
                time.sleep(0.005)
                step()
        except Stale:
            self.stopped.append(time.monotonic())
            raise
        finally:
            with self.lock:
                self.at_once -= 1
        raise AssertionError("nobody stopped this plan")


def test_a_newer_question_stops_the_plan_under_way(server, monkeypatch):
    with client_of(server) as client, concurrent.futures.ThreadPoolExecutor() as pool:
        planned(client, asked(0, page="drag"))
        slow = SlowPlans(monkeypatch)
        whole = pool.submit(client.post, "/api/plan", json=asked(1, page="drag", trip=OTHER))
        assert slow.begun.wait(5.0)
        quick = client.post("/api/plan", json=asked(2, page="drag", quick=True))
        assert quick.status_code == 200
        assert quick.json()["seq"] == 2
        assert whole.result(5.0).status_code == 409
        late = client.post("/api/plan", json=asked(1, page="drag", quick=True))
        assert late.status_code == 409


def test_a_slow_question_does_not_hold_up_another_page(server, monkeypatch):
    with client_of(server) as client, concurrent.futures.ThreadPoolExecutor() as pool:
        planned(client, asked(page="slow"))
        slow = SlowPlans(monkeypatch)
        whole = pool.submit(client.post, "/api/plan", json=asked(page="slow", trip=OTHER))
        assert slow.begun.wait(5.0)
        began = time.monotonic()
        assert client.get("/").status_code == 200
        assert client.post("/api/plan", json=asked(page="other", quick=True)).status_code == 200
        assert time.monotonic() - began < 2.0
        assert not whole.done()
        client.post("/api/plan", json=asked(page="slow", quick=True))
        assert whole.result(5.0).status_code == 409


def test_questions_of_one_page_never_pile_up(server, monkeypatch):
    with client_of(server) as client, concurrent.futures.ThreadPoolExecutor(12) as pool:
        planned(client, asked(0, page="many"))
        slow = SlowPlans(monkeypatch)
        bodies = [asked(seq, page="many", trip=OTHER) for seq in range(1, 12)]
        sent = []
        for body in bodies:
            sent.append(pool.submit(client.post, "/api/plan", json=body))
            time.sleep(0.01)
        time.sleep(0.3)
        assert slow.most == 1
        assert [one.done() for one in sent] == [True] * 10 + [False]
        client.post("/api/plan", json=asked(99, page="many", quick=True))
        assert {one.result(5.0).status_code for one in sent} == {409}


def test_a_plan_nobody_waits_for_is_stopped(server, monkeypatch):
    with client_of(server) as client:
        planned(client, asked(page="left"))
        slow = SlowPlans(monkeypatch)
        with pytest.raises(httpx.ReadTimeout):
            client.post("/api/plan", json=asked(page="left", trip=OTHER), timeout=0.5)
        deadline = time.monotonic() + 5.0
        while not slow.stopped and time.monotonic() < deadline:
            time.sleep(0.02)
        assert slow.stopped


# ---- Loading -----------------------------------------------------------------------------------


class SlowService(OverpassServer):
    """Answers one question each time it is let."""

    def __init__(self, elements=()):
        super().__init__(elements)
        self.let = threading.Semaphore(0)

    def answer_to(self, query):
        self.let.acquire(timeout=20.0)
        return super().answer_to(query)


@pytest.fixture
def _quick_projection(monkeypatch):
    import geopandas

    monkeypatch.setattr(geopandas.GeoDataFrame, "estimate_utm_crs", lambda *_, **__: "EPSG:32626")
    monkeypatch.setattr(overpass, "STRETCH_M", 30_000.0)


@pytest.mark.usefixtures("_quick_projection")
def test_loading_tells_its_parts_is_stopped_and_goes_on(tmp_path):
    shop = node(11, -25.5, 46.51, shop="supermarket", name="Teal & Sons")
    with (
        SlowService([shop]) as service,
        serving(ServerMap(service=True, service_url=service.endpoint), tmp_path) as address,
        client_of(address) as client,
        concurrent.futures.ThreadPoolExecutor() as pool,
    ):
        token = client.post("/api/route", content=gpx(track(RIDE))).json()["route"]
        trip = {"start": {"date": "2027-07-09"}, "pace": {"daily_km": 30.0}}
        answer = client.post("/api/plan", json=asked(route=token, trip=trip, quick=True))
        key = answer.json()["load"]
        told = pool.submit(events, client, key)
        service.let.release(2)
        until(lambda: len(service.questions) == 3)
        assert client.post(f"/api/load/{key}/cancel").json() == {"cancelled": True}
        service.let.release()
        rows = told.result(10.0)
        shares = [row["share"] for row in rows if row["share"] is not None]
        assert shares == sorted(shares)
        assert any("part 3 of" in row["what"] for row in rows)
        assert rows[-1]["done"]
        assert "stopped" in rows[-1]["error"]
        before = len(service.questions)
        service.let.release(20)
        # What came before the stop is not asked again, though the pace has changed meanwhile.
        trip = {**trip, "pace": {"daily_km": 47.0}}
        plan = planned(client, asked(route=token, trip=trip))["plan"]
        assert plan["coverage"]["unknown"] == []
        assert [place["name"] for place in plan["places"].values()] == ["Teal & Sons"]
        # Only the one under way at the stop may be asked a second time.
        assert len(service.questions) - len(set(service.questions)) <= 1
        assert len(service.questions) - before <= 3


def until(holds, seconds=10.0):
    deadline = time.monotonic() + seconds
    while not holds() and time.monotonic() < deadline:
        time.sleep(0.02)
    assert holds()


@pytest.mark.usefixtures("_quick_projection")
def test_what_the_service_did_not_give_is_unknown_and_can_be_asked_again(tmp_path):
    with (
        OverpassServer(faults=[None, "blocked"]) as service,
        serving(ServerMap(service=True, service_url=service.endpoint), tmp_path) as address,
        client_of(address) as client,
    ):
        token = client.post("/api/route", content=gpx(track(RIDE))).json()["route"]
        trip = {"start": {"date": "2027-07-09"}, "pace": {"daily_km": 40.0}}
        plan = planned(client, asked(route=token, trip=trip, quick=True))["plan"]
        (hole,) = plan["coverage"]["unknown"]
        assert hole["start_m"] >= 30_000
        assert hole["reason"]
        plan = planned(client, asked(route=token, trip=trip, quick=True, again=True))["plan"]
        assert plan["coverage"]["unknown"] == []


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
@pytest.mark.parametrize(
    ("fault", "says"),
    [(RuntimeError("a fault of ours"), "own window"), (MemoryError(), "out of memory")],
)
def test_a_load_that_breaks_is_told_and_the_server_goes_on(tmp_path, monkeypatch, fault, says):
    def broken(*_, **__):
        raise fault

    with serving(ServerMap(), tmp_path) as address, client_of(address) as client:
        with monkeypatch.context() as patched:
            patched.setattr(worlds, "prepare", broken)
            refused(client.post("/api/plan", json=own_ride(client)), says=says)
        assert planned(client, own_ride(client))["plan"]["legs"]


def test_unknown_loads_are_said_so(client):
    assert client.get("/api/load/nothing").status_code == 404
    assert client.post("/api/load/nothing/cancel").json() == {"cancelled": False}


# ---- Taking along ------------------------------------------------------------------------------


def export(client, name, trip=TREE, **options):
    body = {"route": SAMPLE, "trip": trip, "name": name, **options}
    answer = client.post("/api/export", json=body)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-disposition"] == f'attachment; filename="{name}"'
    return answer


def test_a_saved_trip_plans_the_same_on_the_command_line(client, tmp_path):
    tree = {**cooking(whole_trip(205)), "shops": {"pinned": ["node/1"]}}
    saved = tmp_path / "trip.toml"
    saved.write_bytes(export(client, "trip.toml", tree).content)
    made, _ = plan_files(load_trip(saved), tmp_path)
    document = to_dict(made)
    shown = planned(client, asked(trip=tree))["plan"]
    for block in ("legs", "stops", "passes", "menu", "cold"):
        assert json.loads(json.dumps(document[block])) == shown[block]
    told = client.post("/api/trip", content=saved.read_bytes()).json()
    assert told["route"] == SAMPLE
    assert make_trip(told["trip"]) == make_trip(tree)


def test_a_saved_trip_of_an_own_route_names_its_file_only(client):
    token = client.post("/api/route", content=gpx(track(RIDE))).json()["route"]
    trip = {"start": {"date": "2027-07-09"}}
    saved = export(client, "trip.toml", trip, route=token, file="C:\\rides\\..\\moor.gpx").text
    assert 'route = "moor.gpx"' in saved
    assert str(SAMPLES / "varrow.osm.pbf") in saved
    told = client.post("/api/trip", content=saved.encode()).json()
    assert told["file"] == "moor.gpx"
    assert told["route"] is None
    assert "map" not in told["trip"]


def test_what_was_planned_is_not_planned_again(server, monkeypatch):
    made = []
    real = desk.make_plan
    monkeypatch.setattr(
        desk, "make_plan", lambda *args, **more: made.append(args[1]) or real(*args, **more)
    )
    with client_of(server) as client:
        tree = whole_trip(143)
        first = planned(client, asked(trip=tree))
        again = planned(client, asked(trip=tree, have=first["world"]))
        assert again["plan"] == {**first["plan"], "places": {}}
        for name in ("stops.csv", "stops.ics"):
            export(client, name, tree)
        assert [trip.pace.daily_km for trip in made] == [143]
        # Another shop is gone: another plan.
        gone = {**tree, "shops": {"gone": [first["plan"]["stops"][0]["place"]]}}
        assert planned(client, asked(trip=gone))["plan"]["stops"] != first["plan"]["stops"]
        assert len(made) == 2


def test_map_data_that_is_read_again_is_planned_on_again(tmp_path, monkeypatch):
    made = []
    real = desk.make_plan
    monkeypatch.setattr(
        desk, "make_plan", lambda *args, **more: made.append(args[1]) or real(*args, **more)
    )
    with serving(ServerMap(), tmp_path) as address, client_of(address) as client:
        before = planned(client, own_ride(client))
        answer = client.post("/api/plan", json=own_ride(client, again=True))
        if answer.status_code == 202:
            events(client, answer.json()["load"])
        assert planned(client, own_ride(client))["plan"] == before["plan"]
        assert len(made) == 2


def test_every_result_can_be_exported(client):
    assert export(client, "plan.json").json()["schema"] == "resupply-plan/2"
    assert b"<gpx" in export(client, "stops.gpx").content
    html = export(client, "plan.html").text
    assert html.startswith("<!doctype html>")
    assert "Round Varrow" in html
    for name in ("plan.geojson", "stops.csv", "stops.ics"):
        assert export(client, name).content


def test_a_long_own_route_is_loaded_from_an_extract(tmp_path):
    path, extract = write_world(tmp_path, length_km=300, shops=40, points=1200)
    own = ServerMap((str(extract),))
    with serving(own, tmp_path) as address, client_of(address) as client:
        token = client.post("/api/route", content=path.read_bytes()).json()["route"]
        trip = {"start": {"date": "2027-07-09"}, "pace": {"daily_km": 100.0}}
        plan = planned(client, asked(route=token, trip=trip))["plan"]
        assert plan["coverage"]["unknown"] == []
        assert sum(p["detour_source"] == "by road" for p in plan["passes"]) > 30
