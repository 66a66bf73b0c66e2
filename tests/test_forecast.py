"""The forecast reader against a local server, with the faults a real one shows."""

from __future__ import annotations

import datetime as dt
import http.server
import json
import threading
import time
import urllib.parse

import pytest
from kept_files import flip_a_bit
from worlds import prepared_world, shops_along, trip_of, winding_route

from resupply.api import cook
from resupply.kitchen.cold.forecast import ForecastPoint, fetch_forecast
from resupply.plan.pipeline import plan_trip

NOW = dt.datetime(2027, 7, 8, 18, tzinfo=dt.UTC)
FIRST = dt.date(2027, 7, 8)


def point(day, lon=-27.0, lat=46.5):
    return ForecastPoint(FIRST + dt.timedelta(days=day), lon, lat)


def answer_for(latitudes, *, days=16, high=30.0, **change):
    def one(lat):
        daily = {
            "time": [(FIRST + dt.timedelta(days=i)).isoformat() for i in range(days)],
            "temperature_2m_max": [high + i * 0.1 for i in range(days)],
            "temperature_2m_min": [15.0 + i * 0.1 for i in range(days)],
        }
        daily.update(change)
        return {
            "latitude": lat,
            "daily_units": {"temperature_2m_max": "°C", "temperature_2m_min": "°C"},
            "daily": daily,
        }

    places = [one(lat) for lat in latitudes]
    return places[0] if len(places) == 1 else places


class Service:
    """A weather service whose answers a test sets."""

    def __init__(self):
        self.asked = []
        self.respond = lambda handler, query: self.send(
            handler, answer_for(query["latitude"][0].split(","))
        )
        service = self

        class Handler(http.server.BaseHTTPRequestHandler):
            def do_GET(self):
                query = urllib.parse.parse_qs(urllib.parse.urlparse(self.path).query)
                service.asked.append(query)
                service.respond(self, query)

            def log_message(self, *_args):
                pass

        self.server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.url = f"http://127.0.0.1:{self.server.server_port}/v1/forecast"
        threading.Thread(target=self.server.serve_forever, args=(0.02,), daemon=True).start()

    @staticmethod
    def send(handler, body, status=200, kind="application/json"):
        data = body if isinstance(body, bytes) else json.dumps(body).encode()
        handler.send_response(status)
        handler.send_header("Content-Type", kind)
        handler.send_header("Content-Length", str(len(data)))
        handler.end_headers()
        handler.wfile.write(data)

    def always(self, body, status=200):
        self.respond = lambda handler, _query: self.send(handler, body, status)


@pytest.fixture
def service():
    made = Service()
    yield made
    made.server.shutdown()
    made.server.server_close()


def ask(service, points, **more):
    return fetch_forecast(points, endpoint=service.url, now=NOW, **{"pause_s": 0.01, **more})


def test_lows_and_highs_of_the_dates_asked_for(service):
    answer = ask(service, [point(1), point(2)])
    assert [(d.date.day, d.low_c, d.high_c) for d in answer.days] == [
        (9, 15.1, 30.1),
        (10, 15.2, 30.2),
    ]
    assert answer.problems == ()
    assert "forecast of 2027-07-08 18:00 UTC" in answer.days[0].source
    assert "CC BY 4.0" in answer.days[0].source


def test_request_speaks_the_open_format(service):
    ask(service, [point(1), point(2, lon=-26.123, lat=46.789)])
    (query,) = service.asked
    assert query["latitude"] == ["46.50,46.79"]
    assert query["longitude"] == ["-27.00,-26.12"]
    assert query["daily"] == ["temperature_2m_max,temperature_2m_min"]
    assert query["timezone"] == ["auto"]


def test_warmest_of_several_points_on_a_date_counts(service):
    def respond(handler, query):
        places = answer_for(query["latitude"][0].split(","))
        places[1]["daily"]["temperature_2m_max"][1] = 37.5
        service.send(handler, places)

    service.respond = respond
    answer = ask(service, [point(1), point(1, lat=47.0)])
    assert answer.days[0].high_c == 37.5


def test_date_beyond_the_forecast_is_not_known(service):
    answer = ask(service, [point(1), point(40)])
    assert answer.days[0].known
    assert not answer.days[1].known
    assert "not known" in answer.days[1].source
    assert "2027-08-17" in answer.problems[0]


def test_date_known_at_only_one_of_its_points_is_not_known(service):
    def respond(handler, query):
        places = answer_for(query["latitude"][0].split(","))
        places[1]["daily"]["temperature_2m_max"][1] = None
        service.send(handler, places)

    service.respond = respond
    answer = ask(service, [point(1), point(1, lat=47.0)])
    assert not answer.days[0].known


@pytest.mark.parametrize(
    "broken", [None, "hot", True, 999.0, -300.0, float("nan"), float("inf"), [1], {"c": 3}]
)
def test_null_or_absurd_figure_is_not_known(service, broken):
    highs = [30.0] * 16
    highs[1] = broken
    service.always(json.dumps(answer_for(["46.5"], temperature_2m_max=highs)).encode())
    answer = ask(service, [point(1), point(2)])
    assert [d.known for d in answer.days] == [False, True]


@pytest.mark.parametrize(
    ("body", "status", "said"),
    [
        (b"<html>Bad gateway</html>", 200, "not a forecast"),
        (b"<html>Bad gateway</html>", 502, "busy (status 502)"),
        (b"<html>What?</html>", 400, "not a forecast"),
        (b"", 200, "not a forecast"),
        (b'{"daily": {"time": ["2027', 200, "not a forecast"),
        (b"[" * 100_000, 200, "not a forecast"),
        ({"error": True, "reason": "slow down"}, 429, "the weather service is busy (status 429)"),
        ({"error": True, "reason": "Latitude <b>wrong</b>"}, 400, "Latitude <b>wrong</b>"),
        ({"hourly": {}}, 200, "not a daily forecast"),
        ({"daily": {"time": ["2027-07-09"]}}, 200, "not a daily forecast"),
        ([], 200, "0 places instead of 1"),
        (["x"], 200, "not a daily forecast"),
        ("nothing", 200, "not a daily forecast"),
        (17, 200, "not a daily forecast"),
    ],
)
def test_useless_answer_leaves_the_days_not_known_and_says_why(service, body, status, said):
    service.always(body, status)
    answer = ask(service, [point(1)])
    assert not answer.days[0].known
    assert said in answer.problems[0]


def test_unequal_columns_are_refused(service):
    service.always(answer_for(["46.5"], temperature_2m_max=[30.0]))
    assert "not a daily forecast" in ask(service, [point(1)]).problems[0]


def test_fahrenheit_is_refused(service):
    body = answer_for(["46.5"])
    body["daily_units"]["temperature_2m_max"] = "°F"
    service.always(body)
    answer = ask(service, [point(1)])
    assert not answer.days[0].known
    assert "not in °C" in answer.problems[0]


def test_silent_service_times_out(service):
    release = threading.Event()
    service.respond = lambda _handler, _query: release.wait(5)
    began = time.monotonic()
    answer = ask(service, [point(1)], timeout_s=0.3)
    release.set()
    assert time.monotonic() - began < 3.0
    assert "ran out" in answer.problems[0]


def test_dripping_service_cannot_outlast_the_deadline(service):
    release = threading.Event()

    def drip(handler, _query):
        handler.send_response(200)
        handler.send_header("Content-Length", "100000")
        handler.end_headers()
        while not release.wait(0.05):
            handler.wfile.write(b" ")

    service.respond = drip
    began = time.monotonic()
    answer = ask(service, [point(1)], timeout_s=0.4)
    release.set()
    assert time.monotonic() - began < 3.0
    assert "ran out" in answer.problems[0]


@pytest.mark.parametrize("again", [b"X-Wait: 1\r\n", b"HTTP/1.1 100 Continue\r\n\r\n"])
def test_headers_without_end_cannot_outlast_the_deadline(service, again):
    def drip(handler, _query):
        handler.close_connection = True
        if again.startswith(b"X"):
            handler.wfile.write(b"HTTP/1.1 200 OK\r\n")
        for _ in range(60):
            try:
                handler.wfile.write(again)
            except OSError:
                return
            time.sleep(0.05)

    service.respond = drip
    began = time.monotonic()
    answer = ask(
        service, [point(1), *(point(1, lat=40 + n / 10) for n in range(100))], timeout_s=0.4
    )
    assert time.monotonic() - began < 1.5
    assert answer.problems[0] == "forecast: the time for asking the weather service ran out"
    assert len(answer.problems) == 2


def test_a_fault_that_passes_is_got_over(service):
    answers = [(b"", 503)]

    def respond(handler, query):
        body, status = answers.pop() if answers else (answer_for(query["latitude"]), 200)
        service.send(handler, body, status)

    service.respond = respond
    assert ask(service, [point(1)]).days[0].known
    assert len(service.asked) == 2


def test_a_redirect_to_another_host_is_refused(service):
    def respond(handler, _query):
        handler.send_response(302)
        handler.send_header("Location", "http://localhost:9/")
        handler.end_headers()

    service.respond = respond
    assert "sent us to another host" in ask(service, [point(1)]).problems[0]


def test_a_flipped_bit_in_a_kept_forecast_is_noticed_and_asked_again(service, tmp_path):
    ask(service, [point(1)], cache=tmp_path)
    (kept,) = tmp_path.iterdir()
    flip_a_bit(kept, kept.read_bytes().rindex(b"15.1") + 1)
    assert ask(service, [point(1)], cache=tmp_path).days[0].low_c == 15.1
    assert len(service.asked) == 2


def test_cut_answer_is_no_forecast(service):
    def cut(handler, query):
        data = json.dumps(answer_for(query["latitude"][0].split(","))).encode()
        handler.send_response(200)
        handler.send_header("Content-Length", str(len(data)))
        handler.end_headers()
        handler.wfile.write(data[: len(data) // 2])

    service.respond = cut
    assert not ask(service, [point(1)]).days[0].known


def test_endless_answer_is_cut_off(service):
    service.always(b" " * 6_000_000)
    assert "sent more than we can take" in ask(service, [point(1)]).problems[0]


def test_no_service_at_all_is_an_answer(service):
    service.server.shutdown()
    service.server.server_close()
    answer = ask(service, [point(1)])
    assert "can't be reached" in answer.problems[0]


@pytest.mark.parametrize("endpoint", ["file:///etc/passwd", "ftp://127.0.0.1/x", "nonsense", ""])
def test_only_web_addresses_are_asked(endpoint):
    answer = fetch_forecast([point(1)], endpoint=endpoint, now=NOW)
    assert not answer.days[0].known
    assert "http" in answer.problems[0]


def test_fresh_answer_is_kept_and_not_asked_again(service, tmp_path):
    first = ask(service, [point(1)], cache=tmp_path)
    again = ask(service, [point(1)], cache=tmp_path)
    assert len(service.asked) == 1
    assert again == first


def test_old_answer_is_asked_anew(service, tmp_path):
    ask(service, [point(1)], cache=tmp_path)
    later = NOW + dt.timedelta(hours=7)
    fetch_forecast([point(1)], endpoint=service.url, now=later, cache=tmp_path)
    assert len(service.asked) == 2


def test_old_answer_serves_when_the_service_fails_and_its_age_is_said(service, tmp_path):
    ask(service, [point(1)], cache=tmp_path)
    service.always({"error": True}, 503)
    later = NOW + dt.timedelta(hours=30)
    answer = fetch_forecast([point(1)], endpoint=service.url, now=later, cache=tmp_path)
    assert answer.days[0].known
    assert "forecast of 2027-07-08 18:00 UTC" in answer.days[0].source
    assert "2027-07-08 18:00" in answer.problems[0]


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b'{"taken": 3, "body": {}}', b"\xff\xfe"])
def test_broken_kept_answer_is_asked_anew(service, tmp_path, content):
    ask(service, [point(1)], cache=tmp_path)
    (kept,) = tmp_path.iterdir()
    kept.write_bytes(content)
    assert ask(service, [point(1)], cache=tmp_path).days[0].known
    assert len(service.asked) == 2


def test_failure_is_not_kept(service, tmp_path):
    service.always({"error": True}, 500)
    ask(service, [point(1)], cache=tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_unwritable_cache_is_told_and_the_forecast_still_used(service, tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    answer = ask(service, [point(1)], cache=blocked)
    assert answer.days[0].known
    assert "not kept" in answer.problems[0]


def test_many_points_are_asked_in_groups(service):
    points = [point(1, lat=40.0 + i * 0.1) for i in range(120)]
    answer = ask(service, points)
    assert len(service.asked) == 3
    assert answer.days[0].known


def test_no_points_ask_nothing(service):
    answer = ask(service, [])
    assert answer.days == ()
    assert service.asked == []


@pytest.fixture
def forecast_trip(service):
    """A trip of three days from the day after tomorrow, the first of them with its own weather."""
    first = dt.datetime.now().astimezone().date() + dt.timedelta(days=2)
    trip = trip_of(
        start={"date": first.isoformat()},
        pace={"daily_km": 100},
        cooler={"kind": "hard", "volume_l": 20},
        weather={
            "forecast": True,
            "forecast_url": service.url,
            "days": [{"day": 1, "low_c": 3, "high_c": 9}],
        },
    )
    route = winding_route(250)
    return plan_trip(prepared_world(route, shops_along(route, [20, 90, 160, 220]), trip), trip)


def test_a_trip_takes_the_forecast_for_days_without_a_row(service, forecast_trip, tmp_path):
    first = forecast_trip.legs[0].date

    def respond(handler, query):
        days = [(first + dt.timedelta(days=n)).isoformat() for n in range(-2, 14)]
        service.send(handler, answer_for(query["latitude"][0].split(","), time=days))

    service.respond = respond
    kitchen = cook(forecast_trip, tmp_path)
    weather = {day.date: day for day in kitchen.weather}
    assert (weather[first].low_c, weather[first].high_c) == (3, 9)
    second = weather[first + dt.timedelta(days=1)]
    assert second.high_c > 29
    assert "forecast" in second.source
    assert kitchen.problems == ()


def test_a_trip_without_an_answer_has_days_not_known_and_says_so(service, forecast_trip, tmp_path):
    service.always(b"", status=400)
    kitchen = cook(forecast_trip, tmp_path)
    assert kitchen.weather[0].known
    assert not any(day.known for day in kitchen.weather[1:])
    assert any("status 400" in problem for problem in kitchen.problems)
    assert any("no forecast for" in problem for problem in kitchen.problems)
