"""Places from the live map service, against a local one that can be told to misbehave."""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import re
import socket
import threading
import time
from pathlib import Path

import numpy as np
import pytest
import shapely
from examples import examples
from extract_files import Drawing, straight_route
from hypothesis import given, settings
from hypothesis import strategies as st
from kept_files import flip_a_bit, make_older
from overpass_server import DATA_DATE, FAULTS, OverpassServer, node
from test_roads_graph import elements_of

from resupply.common.errors import MapServiceError
from resupply.common.geodesy import geod
from resupply.common.web_client import retry_after_s
from resupply.places import overpass
from resupply.places.corridor_polygons import corridor_polygons
from resupply.places.near_route import samples_along
from resupply.places.overpass import make_client, places_from_service
from resupply.places.overpass_answers import AnswerError, checked, features_of, roads_of
from resupply.plan.prepare import prepare
from resupply.route.route import make_route
from resupply.trip.read_file import make_trip

ROUTE = straight_route()
DATED = {"osm3s": {"timestamp_osm_base": "2027-06-20T10:00:00Z"}}
LEGS = ((0.0, 30_000.0), (30_000.0, ROUTE.length_m))
WEST = node(11, -25.8, 46.5, shop="supermarket", name="Teal & Sons")
EAST = node(12, -25.2, 46.51, shop="bakery", name="Ada's Oven")


@pytest.fixture(autouse=True)
def _quick_projection(request, monkeypatch):
    """Spare osmnx its search for a map projection, 0.2 s for each question."""
    if "real_projection" not in request.fixturenames:
        import geopandas

        monkeypatch.setattr(
            geopandas.GeoDataFrame, "estimate_utm_crs", lambda *_, **__: "EPSG:32626"
        )


@pytest.fixture
def real_projection():
    """Ask for osmnx as it is."""


def ask(server, cache_dir, **keys):
    own = {name: keys.pop(name) for name in ("reach_m", "progress") if name in keys}
    route, legs = keys.pop("route", ROUTE), keys.pop("legs", LEGS)
    quick = {"timeout_s": 0.4, "pause_s": 0.01, "attempts": 2, "deadline_s": 20.0}
    client = make_client(
        server.endpoint, keys.pop("contact", "rider@example.org"), **{**quick, **keys}
    )
    return places_from_service(
        route, legs, client=client, cache_dir=cache_dir, **{"reach_m": 5_000.0, **own}
    )


def ids(places):
    return [place.id for place in places.places]


def unknown_km(found):
    return [(round(one.start_m / 1000), round(one.end_m / 1000)) for one in found.coverage.unknown]


# ---- whole answers ---------------------------------------------------------------------------


def test_places_of_all_legs_come_back_with_their_date(tmp_path, real_projection):
    with OverpassServer([WEST, EAST]) as server:
        found = ask(server, tmp_path)
    assert ids(found) == ["node/11", "node/12"]
    assert found.places[0].name == "Teal & Sons"
    assert found.coverage.source == "live map service 127.0.0.1"
    assert found.coverage.data_date == DATA_DATE
    assert found.coverage.unknown == ()
    assert found.warnings == ()
    assert len(server.questions) == 2


def test_ways_and_relations_are_places_as_they_are_in_an_extract(tmp_path):
    corners = [(-25.5, 46.5), (-25.499, 46.5), (-25.499, 46.501), (-25.5, 46.501)]
    nodes = [{**node(n, *at), "tags": {}} for n, at in enumerate(corners, start=1)]
    way = {"type": "way", "id": 5, "nodes": [1, 2, 3, 4, 1], "tags": {"shop": "supermarket"}}
    own = node(6, -25.4995, 46.5005, shop="supermarket", name="Blue Gate")
    site = {
        "type": "relation", "id": 7, "tags": {"type": "site", "amenity": "fuel"},
        "members": [{"type": "way", "ref": 5, "role": ""}, {"type": "node", "ref": 6, "role": ""}],
    }  # fmt: skip
    with OverpassServer([*nodes, own, way, site]) as server:
        found = ask(server, tmp_path)
    assert ids(found) == ["relation/7", "way/5"]
    assert found.places[1].merged_ids == ("node/6",)
    assert -25.5 < found.places[1].lon < -25.499


def test_no_places_in_a_whole_answer_is_really_none(tmp_path):
    with OverpassServer() as server:
        found = ask(server, tmp_path)
    assert found.places == ()
    assert found.coverage.unknown == ()


def test_only_the_stretches_asked_for_are_known_or_unknown(tmp_path):
    with OverpassServer([WEST, EAST]) as server:
        found = ask(server, tmp_path, legs=[LEGS[1]])
    assert ids(found) == ["node/12"]
    assert found.coverage.unknown == ()


def test_a_long_stretch_is_asked_in_pieces_after_it_was_told_how_many(tmp_path, real_projection):
    route = straight_route((-30.0, 46.5), (-25.0, 46.5), 200)
    seen = []
    with OverpassServer([WEST]) as server:
        found = ask(
            server, tmp_path, route=route, legs=[(0.0, route.length_m)],
            progress=lambda *step: seen.append(step),
        )  # fmt: skip
    assert len(server.questions) == 4
    left = ("about a minute left",) * 4
    assert [what for what, _ in seen] == [
        "Asking the map service: 4 questions for 384 km, about a minute",
        *(f"Asking the map service, part {n + 1} of 4, {left[n]}" for n in range(4)),
    ]
    assert [share for _, share in seen] == sorted(share for _, share in seen)
    assert ids(found) == ["node/11"]


def test_another_pace_asks_nothing_again_and_the_light_map_comes_with_the_answers(
    tmp_path, monkeypatch
):
    monkeypatch.setattr(overpass, "STRETCH_M", 30_000.0)
    shop = node(9_011, -25.8, 46.5, shop="supermarket", name="Teal & Sons")
    town = node(9_041, -25.4, 46.51, place="town", name="Skerry")
    drawing = Drawing()
    drawing.road()
    with OverpassServer([shop, town, *elements_of(drawing)]) as server:
        keys = {"service": True, "service_url": server.endpoint, "contact": "rider@example.org"}
        asked, found = [], []
        for daily_km in (20, 47):
            trip = make_trip(
                {
                    "start": {"date": "2027-07-09"},
                    "pace": {"daily_km": daily_km},
                    "map": keys,
                }
            )
            found.append(prepare(trip, tmp_path, route=ROUTE))
            asked.append(len(server.questions))
    assert asked[0] == asked[1] > 3
    first, second = found
    assert first.places.places == second.places.places
    assert first.roads is not None
    assert [one["name"] for one in first.backdrop["towns"]] == ["Skerry"]
    assert first.backdrop["roads"]
    assert second.backdrop == first.backdrop


# ---- manners ---------------------------------------------------------------------------------


def test_it_names_itself_and_the_rider_s_contact(tmp_path):
    with OverpassServer() as server:
        ask(server, tmp_path, contact="rider@example.org\r\nX-Evil: 1")
        assert all(
            re.fullmatch(r"resupply/\S+ \(.*rider@example\.org\?\?X-Evil: 1\)", agent)
            for agent in server.agents
        )


def test_without_a_contact_the_rider_is_asked_for_one(tmp_path):
    with OverpassServer() as server:
        found = ask(server, tmp_path, contact="")
    assert any("mail address" in text for text in found.warnings)


def test_one_question_at_a_time_even_from_several_plans(tmp_path):
    with OverpassServer([WEST, EAST]) as server:
        threads = [threading.Thread(target=ask, args=(server, tmp_path / str(n))) for n in range(3)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert len(server.questions) == 6
        assert server.most_at_once == 1


def test_two_runs_at_once_on_one_cache_leave_it_whole(tmp_path):
    found = []
    with OverpassServer([WEST, EAST]) as server:
        threads = [
            threading.Thread(target=lambda: found.append(ask(server, tmp_path))) for _ in range(3)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        asked = len(server.questions)
        second = ask(server, tmp_path)
        assert len(server.questions) == asked
    assert [ids(one) for one in found] == [["node/11", "node/12"]] * 3
    assert "2 of 2 answers" in second.warnings[0]
    assert len(list(tmp_path.iterdir())) == 2


def test_the_retry_after_header_is_obeyed(tmp_path):
    with OverpassServer([WEST], faults=["busy"], retry_after="1") as server:
        start = time.monotonic()
        found = ask(server, tmp_path)
        assert time.monotonic() - start >= 1.0
    assert ids(found) == ["node/11"]
    assert found.coverage.unknown == ()


def test_a_wait_longer_than_the_time_left_is_not_waited(tmp_path):
    with OverpassServer([WEST], faults=["busy"], retry_after="3600") as server:
        start = time.monotonic()
        with pytest.raises(MapServiceError, match="no time left"):
            ask(server, tmp_path)
        assert time.monotonic() - start < 5.0
        assert len(server.questions) == 1


def test_retry_after_may_be_a_date():
    soon = dt.datetime.now(tz=dt.UTC) + dt.timedelta(seconds=30)
    header = soon.strftime("%a, %d %b %Y %H:%M:%S GMT")
    assert 25.0 < retry_after_s(header) <= 30.0
    assert retry_after_s("Thu, 01 Jan 2015 00:00:00 GMT") == 0.0
    assert retry_after_s("soon") is None
    assert retry_after_s(None) is None


STATUS = "Connected as: 1\nCurrent time: 2027-07-01T00:00:00Z\nRate limit: 2\n"


def test_a_free_slot_is_awaited_as_the_status_page_says(tmp_path):
    pages = [f"{STATUS}Slot available after: 2027-07-01T00:00:01Z, in 1 seconds.\n"]
    free = f"{STATUS}2 slots available now.\n"
    with OverpassServer([WEST], status_page=lambda: pages.pop() if pages else free) as server:
        start = time.monotonic()
        found = ask(server, tmp_path)
        assert 1.0 <= time.monotonic() - start < 5.0
    assert ids(found) == ["node/11"]


@pytest.mark.parametrize("page", ["<html>status</html>", "", "Rate limit: 0\n", "\x00" * 50])
def test_a_strange_status_page_holds_nothing_up(tmp_path, page):
    with OverpassServer([WEST], status_page=page) as server:
        assert ids(ask(server, tmp_path)) == ["node/11"]


@pytest.mark.parametrize("page", ["dripping headers", "continue"])
def test_a_status_page_that_never_ends_holds_nothing_up(tmp_path, page):
    with OverpassServer([WEST, EAST], status_page=page) as server:
        start = time.monotonic()
        found = ask(server, tmp_path)
        assert time.monotonic() - start < 2.0
    assert ids(found) == ["node/11", "node/12"]


def test_a_status_page_that_never_ends_does_not_outlast_the_deadline(tmp_path):
    with OverpassServer([WEST], status_page="dripping headers") as server:
        start = time.monotonic()
        with pytest.raises(MapServiceError, match="ran out"):
            ask(server, tmp_path, timeout_s=9.0, deadline_s=0.4)
        assert time.monotonic() - start < 1.5
        assert server.questions == []


def test_a_service_may_send_a_question_on_within_its_own_host(tmp_path):
    with OverpassServer([WEST, EAST], faults=["same host"]) as server:
        assert ids(ask(server, tmp_path)) == ["node/11", "node/12"]


def test_osmnx_gets_its_settings_back_whatever_happens(tmp_path):
    from osmnx import settings as theirs

    def snapshot():
        values = {k: v for k, v in vars(theirs).items() if not k.startswith("_")}
        return {**values, "resolver": socket.getaddrinfo}

    before = snapshot()
    with OverpassServer([WEST], faults=["remark", "reset", "cut off"]) as server:
        ask(server, tmp_path, attempts=4)
    assert snapshot() == before
    with pytest.raises(MapServiceError):
        nobody = make_client("http://127.0.0.1:9", attempts=1)
        places_from_service(ROUTE, LEGS, client=nobody, cache_dir=tmp_path, reach_m=5e3)
    assert snapshot() == before


# ---- faults ----------------------------------------------------------------------------------

# What the rider reads of a stretch for which every attempt fails; None: the half that fails is
# asked for again in two shorter stretches, which here get their answer.
OUTCOMES = {
    "busy": "the map service is busy (status 429)",
    "overloaded": "the map service is busy (status 504)",
    "silent": "the map service didn't answer in time",
    "reset": "the map service can't be reached",
    "web page": "the map service sent a web page instead of map data",
    "remark": None,
    "cut off": "the map service sent a broken answer",
    "drip": "the map service was too slow",
    "nothing": "the map service sent a broken answer",
    "refused": "the map service refused the question (status 400)",
    "blocked": "the map service refused the question (status 403)",
    "nonsense": "the map service sent something that is not map data",
    "odd data": "the map service sent map data that makes no sense",
    "undated": "the map service doesn't say of what date its map data is",
    "no date": "the map service doesn't say of what date its map data is",
    "dripping headers": "the map service didn't answer in time",
    "continue": "the map service didn't answer in time",
    "moved": "the map service sent our question elsewhere (status 302)",
    "see other": "the map service sent our question elsewhere (status 303)",
    "other host": "the map service sent us to another host",
}
ENDS_THE_RUN = {"blocked", "moved", "see other", "other host"}
NO_SECOND_TRY = {"refused", *ENDS_THE_RUN}


def fault_table():
    """The table of faults and outcomes as it stands in the documentation."""
    lines = ["| the service … | tried again | then the stretch is |", "| --- | --- | --- |"]
    for fault, what in FAULTS.items():
        again = "no" if fault in NO_SECOND_TRY else "yes"
        outcome = OUTCOMES[fault]
        if outcome is None:
            again, outcome = "in two halves", "known if both halves are, else not known"
        else:
            outcome = f"not known: “{outcome}”"
        if fault in ENDS_THE_RUN:
            outcome += "; nothing more is asked"
        lines.append(f"| {what} | {again} | {outcome} |")
    return "\n".join(lines) + "\n"


def test_the_documented_faults_are_the_tested_ones():
    page = Path(__file__).parents[1] / "docs" / "how" / "places.md"
    assert fault_table() in page.read_text(encoding="utf-8")


@pytest.mark.parametrize("fault", [one for one in FAULTS if one not in NO_SECOND_TRY])
def test_one_fault_is_got_over(tmp_path, fault):
    with OverpassServer([WEST, EAST], faults=[None, fault]) as server:
        found = ask(server, tmp_path)
    assert ids(found) == ["node/11", "node/12"]
    assert found.coverage.unknown == ()


@pytest.mark.parametrize("fault", [one for one, text in OUTCOMES.items() if text is not None])
def test_a_lasting_fault_makes_that_leg_unknown_and_only_that(tmp_path, fault):
    with OverpassServer([WEST, EAST], faults=[None, fault]) as server:
        found = ask(server, tmp_path, attempts=1)
    assert ids(found) == ["node/11"]
    assert unknown_km(found) == [(30, 77)]
    assert found.coverage.unknown[0].reason == OUTCOMES[fault]


@pytest.mark.parametrize("fault", [one for one in FAULTS if one not in ENDS_THE_RUN])
def test_a_rerun_after_a_fault_asks_only_for_what_is_missing(tmp_path, fault):
    with OverpassServer([WEST, EAST], faults=[None, fault]) as server:
        ask(server, tmp_path, attempts=1)
        asked = len(server.questions)
        again = ask(server, tmp_path)
        assert len(server.questions) == asked + (fault != "remark")
    assert ids(again) == ["node/11", "node/12"]
    assert again.coverage.unknown == ()


def test_a_first_leg_that_fails_does_not_stop_the_second(tmp_path):
    with OverpassServer([WEST, EAST], faults=["overloaded", "overloaded"]) as server:
        found = ask(server, tmp_path)
    assert ids(found) == ["node/12"]
    assert unknown_km(found) == [(0, 30)]


def test_a_remark_that_stays_makes_the_stretch_unknown_and_keeps_no_half(tmp_path):
    with OverpassServer([WEST, EAST], faults=[None] + ["remark"] * 9) as server:
        found = ask(server, tmp_path)
    assert ids(found) == ["node/11"]
    assert unknown_km(found) == [(30, 77)]
    assert "half an answer" in found.coverage.unknown[0].reason
    assert len(list(tmp_path.iterdir())) == 1


def test_a_service_that_always_fails_is_left_in_peace_after_three_stretches(tmp_path):
    legs = [(at * 10_000.0, (at + 1) * 10_000.0) for at in range(7)]
    with OverpassServer([WEST], faults=["overloaded"] * 99) as server:
        with pytest.raises(MapServiceError, match="busy"):
            ask(server, tmp_path, legs=legs)
        assert len(server.questions) == 6


def test_nothing_at_all_is_an_error_in_one_line(tmp_path):
    with OverpassServer([WEST], faults=["blocked"]) as server:
        with pytest.raises(MapServiceError) as error:
            ask(server, tmp_path)
        assert len(server.questions) == 1
    assert "\n" not in str(error.value)
    assert "local map extract" in str(error.value)


def test_no_network_is_said_so(tmp_path):
    with pytest.raises(MapServiceError, match="can't be reached"):
        nobody = make_client("http://127.0.0.1:9", pause_s=0.01)
        places_from_service(ROUTE, LEGS, client=nobody, cache_dir=tmp_path, reach_m=5e3)


@pytest.mark.parametrize("address", ["", "overpass", "ftp://a.example", "http://", "http://[x"])
def test_an_address_that_is_none_is_refused_at_once(address):
    with pytest.raises(MapServiceError, match="not a web address"):
        make_client(address)


def test_the_address_of_the_interpreter_itself_will_do(tmp_path):
    with OverpassServer([WEST]) as server:
        server.endpoint += "/interpreter/"
        assert ids(ask(server, tmp_path)) == ["node/11"]


def test_the_deadline_ends_the_asking_and_what_is_there_is_kept(tmp_path):
    with OverpassServer([WEST, EAST], faults=[None, "drip"]) as server:
        start = time.monotonic()
        found = ask(server, tmp_path, deadline_s=1.5, timeout_s=30.0)
        assert time.monotonic() - start < 4.0
    assert ids(found) == ["node/11"]
    assert unknown_km(found) == [(30, 77)]
    assert "ran out" in found.coverage.unknown[0].reason


def test_stopping_returns_what_is_there_and_a_rerun_goes_on(tmp_path):
    with OverpassServer([WEST, EAST]) as server:
        found = ask(server, tmp_path, stop=lambda: any(tmp_path.glob("overpass-*")))
        assert unknown_km(found) == [(30, 77)]
        assert all("stopped" in one.reason for one in found.coverage.unknown)
        again = ask(server, tmp_path)
    assert ids(again) == ["node/11", "node/12"]
    assert again.coverage.unknown == ()


# ---- answers kept on disk --------------------------------------------------------------------


def test_a_second_run_asks_nothing_and_says_how_old_its_answers_are(tmp_path):
    with OverpassServer([WEST, EAST]) as server:
        first = ask(server, tmp_path)
        second = ask(server, tmp_path)
        assert len(server.questions) == 2
    assert second.places == first.places
    assert second.coverage == first.coverage
    today = dt.datetime.now(tz=dt.UTC).date().isoformat()
    assert second.warnings == (
        f"2 of 2 answers of the map service were kept from earlier runs, the oldest from {today}",
    )


def test_without_the_network_kept_answers_still_serve(tmp_path):
    with OverpassServer([WEST, EAST]) as server:
        first = ask(server, tmp_path)
    second = ask(server, tmp_path)
    assert second.places == first.places
    assert second.coverage.unknown == ()


def test_an_old_answer_is_asked_for_again(tmp_path):
    with OverpassServer([WEST]) as server:
        ask(server, tmp_path)
        make_older(tmp_path, days=31)
        server.elements.append(EAST)
        assert ids(ask(server, tmp_path)) == ["node/11", "node/12"]


def test_an_old_answer_serves_if_nothing_newer_can_be_had_and_says_so(tmp_path):
    with OverpassServer([WEST]) as server:
        ask(server, tmp_path)
        oldest = make_older(tmp_path, days=90)
        server.faults = ["overloaded"] * 99
        found = ask(server, tmp_path)
    assert ids(found) == ["node/11"]
    assert found.coverage.unknown == ()
    assert any("busy (status 504); older map data had to do" in text for text in found.warnings)
    assert any(f"the oldest from {oldest}" in text for text in found.warnings)


def test_an_answer_from_the_future_is_not_trusted_to_be_fresh(tmp_path):
    with OverpassServer([WEST]) as server:
        ask(server, tmp_path)
        make_older(tmp_path, days=-400)
        ask(server, tmp_path)
        assert len(server.questions) == 4


@pytest.mark.parametrize(
    "damage",
    [
        lambda raw: b"",
        lambda raw: raw[: len(raw) // 2],
        lambda raw: b"\x00" * len(raw),
        lambda raw: raw.replace(b'"lon": -25', b'"lon": -24'),
        lambda raw: raw.replace(b'"format": 2', b'"format": 1'),
        lambda raw: raw.replace(b'"fetched": "2', b'"fetched": "3'),
        lambda raw: b"[" * 100_000,
        lambda raw: b"null",
        lambda raw: b"\xff\xfe{}",
    ],
)
def test_a_damaged_answer_on_disk_is_asked_for_again(tmp_path, damage):
    with OverpassServer([WEST, EAST]) as server:
        first = ask(server, tmp_path)
        for file in tmp_path.iterdir():
            file.write_bytes(damage(file.read_bytes()))
        second = ask(server, tmp_path)
        assert len(server.questions) == 4
    assert second.places == first.places


def test_an_answer_to_another_question_is_not_used(tmp_path):
    with OverpassServer([WEST, EAST]) as server:
        ask(server, tmp_path)
        ask(server, tmp_path, reach_m=4_000.0)
        assert len(server.questions) == 4


def test_a_folder_that_can_not_be_written_is_told_and_the_places_come_all_the_same(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with OverpassServer([WEST]) as server:
        found = ask(server, tmp_path / "file" / "cache")
    assert ids(found) == ["node/11"]
    assert any("can't be kept" in text for text in found.warnings)


def test_a_flipped_bit_in_a_kept_answer_is_noticed_and_asked_again(tmp_path):
    with OverpassServer([WEST, EAST]) as server:
        first = ask(server, tmp_path)
        for file in tmp_path.iterdir():
            # Still whole JSON: a 6 of 46.5 becomes a 7.
            flip_a_bit(file, file.read_bytes().rindex(b"46.5") + 1)
        second = ask(server, tmp_path)
        assert len(server.questions) == 4
    assert second.places == first.places


# ---- answers that prove something ------------------------------------------------------------


def shop_of(number, *corners):
    return {"type": "way", "id": number, "nodes": list(corners), "tags": {"shop": "supermarket"}}


def test_shops_without_a_position_make_their_stretch_not_known_and_are_counted(tmp_path):
    nodes = [{**node(n, -25.2 + 0.001 * n, 46.5), "tags": {}} for n in range(1, 5)]
    elements = [WEST, EAST, *nodes, shop_of(5, 1, 2, 1), shop_of(6, 3, 4, 3)]
    with OverpassServer(elements, left_out=[1, 2, 3, 4]) as server:
        found = ask(server, tmp_path)
        assert ids(found) == ["node/11", "node/12"]
        assert unknown_km(found) == [(30, 77)]
        assert found.coverage.unknown[0].reason == "the map service doesn't say where 2 places are"
        server.left_out = {3, 4}
        one = ask(server, tmp_path)
        assert one.coverage.unknown[0].reason == "the map service doesn't say where 1 place is"
        # Such an answer is not kept: the stretch is asked for again, and no other.
        assert len(server.questions) == 3
        server.left_out = set()
        again = ask(server, tmp_path)
    assert ids(again) == ["node/11", "node/12", "way/5", "way/6"]
    assert again.coverage.unknown == ()


def test_where_the_service_shows_no_road_nothing_is_known(tmp_path):
    land = shapely.box(-27.0, 46.0, -25.4, 47.0)
    with OverpassServer([WEST, EAST], land=land) as server:
        found = ask(server, tmp_path)
        again = ask(server, tmp_path)
    assert ids(found) == ["node/11", "node/12"]
    (unknown,) = found.coverage.unknown
    # Land ends at km 46; a road counts for some kilometres around it.
    assert 46_000.0 < unknown.start_m < 55_000.0
    assert unknown.end_m == ROUTE.length_m
    assert unknown.reason.startswith("the map service shows no road here")
    assert again.coverage == found.coverage


def test_a_service_that_knows_nothing_is_never_no_shop(tmp_path):
    with OverpassServer(land=shapely.Polygon()) as server:
        found = ask(server, tmp_path, legs=[(0.0, 20_000.0), (40_000.0, 60_000.0)])
    assert unknown_km(found) == [(0, 20), (40, 60)]


def test_stretches_not_known_for_two_reasons_do_not_overlap(tmp_path):
    land = shapely.box(-27.0, 46.0, -25.4, 47.0)
    elements = [EAST, {**node(1, -25.2, 46.5), "tags": {}}, shop_of(5, 1, 1)]
    with OverpassServer(elements, left_out=[1], land=land) as server:
        found = ask(server, tmp_path)
    ends = [at for one in found.coverage.unknown for at in (one.start_m, one.end_m)]
    assert ends == sorted(ends)
    assert unknown_km(found) == [(30, 77)]


# ---- answers that lie ------------------------------------------------------------------------


@pytest.mark.parametrize(
    "element",
    [
        {"type": "node", "id": 1, "lon": "2", "lat": 1},
        {"type": "node", "id": 1, "lon": float("nan"), "lat": 1},
        {"type": "node", "id": 1, "lon": 2, "lat": 91},
        {"type": "node", "id": True, "lon": 2, "lat": 1},
        {"type": "node", "id": 10**400, "lon": 2, "lat": 1},
        {"type": "node", "lon": 2, "lat": 1},
        {"type": "node", "id": 1, "lon": 2, "lat": 1, "tags": {"shop": 7}},
        {"type": "node", "id": 1, "lon": 2, "lat": 1, "tags": []},
        {"type": "way", "id": 1},
        {"type": "way", "id": 1, "nodes": ["a"]},
        {"type": "way", "id": 1, "nodes": [1], "geometry": {"lon": 2}},
        {"type": "way", "id": 1, "nodes": [1], "geometry": [{"lon": 2}]},
        {"type": "relation", "id": 1, "members": [{"type": [], "ref": 1}]},
        {"type": "area", "id": 1},
        "node",
    ],
)
def test_an_element_that_makes_no_sense_spoils_the_answer(element):
    with pytest.raises(AnswerError):
        checked(json.dumps({**DATED, "elements": [element]}), "2027-07-01T00:00:00+00:00")


@settings(max_examples=examples(68))
@given(st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=6)
    | st.sampled_from(["node", "way", "relation", "elements", "remark"]),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(
        st.sampled_from(["elements", "type", "id", "lon", "lat", "nodes", "members", "tags",
                         "ref", "role", "osm3s", "remark", "geometry"]), inner, max_size=6),
    max_leaves=25,
))  # fmt: skip
def test_any_json_is_taken_or_refused_and_never_crashes(document):
    try:
        dated = {**document, **DATED} if isinstance(document, dict) else document
        answer = checked(json.dumps(dated), "2027-07-01T00:00:00+00:00")
    except AnswerError as error:
        assert "\n" not in str(error)
    else:
        list(features_of(answer))
        list(roads_of(answer))


@given(st.binary(max_size=200))
def test_any_bytes_are_refused_or_taken_and_never_crash(body):
    with contextlib.suppress(AnswerError):
        checked(body, "2027-07-01T00:00:00+00:00")


def test_deep_nesting_is_refused():
    with pytest.raises(AnswerError):
        checked(b'{"elements":' + b"[" * 200_000, "2027-07-01T00:00:00+00:00")


# ---- the ground asked for --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("start", "end"),
    [
        ((-26.0, 46.5), (-25.0, 46.5)),
        ((179.3, -17.0), (-179.4, -16.0)),
        ((25.0, 71.0), (28.0, 70.2)),
        ((10.0, -0.5), (11.0, 0.5)),
    ],
)
def test_the_polygons_hold_all_ground_within_reach_and_little_more(start, end):
    steps = np.linspace(0.0, 1.0, 30)
    lon = start[0] + steps * ((end[0] - start[0] + 180.0) % 360.0 - 180.0)
    route = make_route(
        [((lon + 180.0) % 360.0 - 180.0, start[1] + steps * (end[1] - start[1]), None)]
    )
    polygons = corridor_polygons(route, 0.0, route.length_m, 5_000.0)
    for polygon in polygons:
        assert polygon.is_valid
        assert polygon.bounds[0] >= -180.0
        assert polygon.bounds[2] <= 180.0
        assert polygon.bounds[2] - polygon.bounds[0] < 10.0
    ground = shapely.union_all(list(polygons)).buffer(1e-9)
    rng = np.random.default_rng(2)
    on_lon, on_lat, _ = samples_along(route, 500.0)
    pick = rng.integers(0, on_lon.size, 500)
    out = geod().fwd(
        on_lon[pick], on_lat[pick], rng.uniform(0, 360, 500), rng.uniform(0, 5_000.0, 500)
    )
    assert shapely.contains_xy(ground, out[0], out[1]).all()
    far = geod().fwd(on_lon[pick], on_lat[pick], rng.uniform(0, 360, 500), np.full(500, 5_800.0))
    apart = [geod().inv(on_lon, on_lat, np.full_like(on_lon, x), np.full_like(on_lat, y))[2].min()
             for x, y in zip(far[0], far[1], strict=True)]  # fmt: skip
    beyond = np.array(apart) > 5_700.0
    assert beyond.any()
    assert not shapely.contains_xy(ground, far[0][beyond], far[1][beyond]).any()


def test_the_ground_beside_a_break_is_not_bridged():
    route = make_route([([-26.0, -25.9], [46.5, 46.5], None), ([-25.0, -24.9], [46.5, 46.5], None)])
    polygons = corridor_polygons(route, 0.0, route.length_m, 3_000.0)
    assert len(polygons) == 2
    assert not any(polygon.contains(shapely.Point(-25.45, 46.5)) for polygon in polygons)


def test_a_route_at_the_pole_is_not_known_rather_than_empty(tmp_path):
    route = straight_route((0.0, 88.0), (0.0, 89.0), 20)
    with OverpassServer() as server, pytest.raises(MapServiceError, match="pole"):
        ask(server, tmp_path, route=route, legs=[(0.0, route.length_m)])
