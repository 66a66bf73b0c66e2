"""The client that all services share, against local servers that misbehave."""

from __future__ import annotations

import datetime as dt
import re
import socket
import threading
import time
from contextlib import contextmanager

import pytest
from kept_files import flip_a_bit

from resupply.common import web_client
from resupply.common.kept_answers import age_s, keep, kept
from resupply.common.web_client import Question, WebClient, WebError

HELLO = b"HTTP/1.1 200 OK\r\nContent-Length: 5\r\n\r\nhello"
NOW = "2027-07-09T08:00:00+00:00"


def _question(connection):
    """Read a question to its end."""
    come = b""
    while part := connection.recv(65_536):
        come += part
        head, blank, body = come.partition(b"\r\n\r\n")
        length = re.search(rb"Content-Length: (\d+)", head)
        if blank and len(body) >= (int(length[1]) if length else 0):
            break
    return come


@contextmanager
def serving(*scripts):
    """Answer each connection with a script: bytes to send, seconds to wait; the last one stays."""
    listener = socket.create_server(("127.0.0.1", 0))
    asked, over = [], threading.Event()

    def serve():
        while not over.is_set():
            try:
                connection, _ = listener.accept()
            except OSError:
                return
            script = scripts[min(len(asked), len(scripts) - 1)]
            with connection:
                asked.append(_question(connection))
                try:
                    for step in script:
                        if isinstance(step, bytes):
                            connection.sendall(step)
                        elif over.wait(step):
                            return
                except OSError:
                    continue

    threading.Thread(target=serve, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{listener.getsockname()[1]}", asked
    finally:
        over.set()
        # A blocked `accept` is woken by a shutdown, not by a close.
        listener.shutdown(socket.SHUT_RDWR)
        listener.close()


def client(**keys):
    quick = {"deadline_s": 0.4, "timeout_s": 0.3, "most_bytes": 1_000, "pause_s": 0.01}
    return WebClient(who="the service", **{**quick, **keys})


def refused(url, question=None, **keys):
    """Reason for which an answer is refused, and the seconds until then."""
    start = time.monotonic()
    with pytest.raises(WebError) as error:
        client(**keys).ask(question or Question(url))
    return error.value, time.monotonic() - start


def redirect(status, to):
    return [f"HTTP/1.1 {status} Moved\r\nLocation: {to}\r\nContent-Length: 0\r\n\r\n".encode()]


def test_a_whole_answer_comes_with_its_status_and_headers():
    with serving([HELLO]) as (url, asked):
        reply = client().ask(Question(url, headers={"X-Own": "1"}))
    assert (reply.status, reply.body, reply.headers["content-length"]) == (200, b"hello", "5")
    assert b"X-Own: 1" in asked[0]


@pytest.mark.parametrize(
    "script",
    [
        [3.0],
        [b"HTTP/1.1 200 OK\r\n", *[0.05, b"X-Wait: 1\r\n"] * 60],
        [0.05, b"HTTP/1.1 100 Continue\r\n\r\n"] * 60,
        [b"HTTP/1.1 200 OK\r\nContent-Length: 500\r\n\r\n", *[0.05, b"x"] * 60],
        [b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n", *[0.05, b"1\r\nx\r\n"] * 60],
        [*[0.05, b"H"] * 60],
    ],
    ids=["silence", "headers", "continue", "body", "chunks", "status line"],
)
@pytest.mark.parametrize("limit", ["attempt", "run"])
def test_no_drip_outlasts_the_deadline(script, limit):
    keys = {"deadline_s": 9.0, "timeout_s": 0.15} if limit == "attempt" else {"timeout_s": 9.0}
    with serving(script) as (url, _):
        fault, took_s = refused(url, **keys)
    assert took_s < 0.9
    assert fault.again == (limit == "attempt")
    assert fault.final == (limit == "run")


def test_a_name_server_that_never_answers_does_not_outlast_the_deadline(monkeypatch):
    release = threading.Event()
    monkeypatch.setattr(socket, "getaddrinfo", lambda *_, **__: release.wait(5.0))
    _, took_s = refused("http://service.example")
    release.set()
    assert took_s < 0.9


def test_a_stop_ends_a_silence_at_once_and_shuts_the_connection():
    shut = threading.Event()
    listener = socket.create_server(("127.0.0.1", 0))

    def serve():
        connection, _ = listener.accept()
        with connection:
            _question(connection)
            if connection.recv(10) == b"":
                shut.set()

    threading.Thread(target=serve, daemon=True).start()
    url = f"http://127.0.0.1:{listener.getsockname()[1]}"
    since = time.monotonic()
    fault, took_s = refused(
        url, deadline_s=9.0, timeout_s=9.0, stop=lambda: time.monotonic() - since > 0.2
    )
    assert fault.reason == "asking the service was stopped"
    assert took_s < 0.9
    assert shut.wait(0.9)
    listener.close()


@pytest.mark.parametrize(
    "head", [b"Content-Length: 2000\r\n\r\n", b"Transfer-Encoding: chunked\r\n\r\n7d0\r\n"]
)
def test_an_answer_larger_than_the_limit_is_refused(head):
    with serving([b"HTTP/1.1 200 OK\r\n" + head + b"x" * 2_000, 0.2]) as (url, _):
        fault, _ = refused(url)
    assert fault.reason == "the service sent more than we can take"
    assert fault.too_much


def test_an_answer_cut_off_is_none():
    with serving([HELLO[:-2]]) as (url, _):
        fault, _ = refused(url)
    assert fault.reason == "the service can't be reached"


# ---- redirects -------------------------------------------------------------------------------


@pytest.mark.parametrize("status", [301, 302, 303, 307, 308])
def test_a_page_of_the_same_host_may_have_moved(status):
    with serving(redirect(status, "/there"), [HELLO]) as (url, asked):
        assert client().ask(Question(f"{url}/here")).body == b"hello"
    assert asked[1].startswith(b"GET /there ")


@pytest.mark.parametrize("status", [307, 308])
def test_a_question_that_stays_whole_is_sent_on_within_the_host(status):
    with serving(redirect(status, "/there"), [HELLO]) as (url, asked):
        client().ask(Question(url, "POST", body="what?"))
    assert asked[1].startswith(b"POST /there ")
    assert asked[1].endswith(b"what?")


@pytest.mark.parametrize("status", [301, 302, 303])
def test_a_redirect_that_would_lose_the_question_is_refused(status):
    with serving(redirect(status, "/there"), [HELLO]) as (url, asked):
        fault, _ = refused(url, Question(url, "POST", body="what?"))
        assert len(asked) == 1
    assert fault.reason == f"the service sent our question elsewhere (status {status})"
    assert fault.final


@pytest.mark.parametrize(
    "to", ["http://localhost:9/", "http://127.0.0.1:9/", "//a.example/", "ftp://127.0.0.1/", "http://["]
)  # fmt: skip
def test_a_redirect_to_another_host_is_refused(to):
    with serving(redirect(307, to), [HELLO]) as (url, asked):
        fault, _ = refused(url)
        assert len(asked) == 1
    assert fault.reason == "the service sent us to another host"


def test_a_circle_of_redirects_ends():
    with serving(redirect(302, "/")) as (url, asked):
        fault, _ = refused(url)
    assert "round in circles" in fault.reason
    assert len(asked) == 3


def test_the_same_place_may_be_reached_more_safely_and_never_less():
    same = web_client._is_same_place
    assert same("http://a.example/x", "https://a.example/y")
    assert not same("https://a.example/x", "http://a.example/x")
    assert not same("http://a.example:8080/x", "https://a.example/x")
    assert not same("http://a.example/x", "http://a.example:x/")


# ---- patience --------------------------------------------------------------------------------


def test_a_busy_service_is_asked_again_after_the_time_it_names():
    busy = b"HTTP/1.1 503 Busy\r\nRetry-After: 0\r\nContent-Length: 0\r\n\r\n"
    with serving([busy], [HELLO]) as (url, asked):
        patient = client(attempts=2, pause_s=9.0)
        assert patient.patiently(lambda: patient.ask(Question(url))).body == b"hello"
        assert len(asked) == 2


def test_pauses_grow_and_end_with_the_attempts(monkeypatch):
    pauses = []
    patient = client(attempts=3, pause_s=2.0)
    monkeypatch.setattr(WebClient, "wait", lambda _, seconds, why: pauses.append(seconds))

    def once():
        raise WebError("busy", again=True)

    with pytest.raises(WebError, match="busy"):
        patient.patiently(once)
    assert pauses == [2.0, 4.0]


# ---- answers kept ----------------------------------------------------------------------------


def test_a_kept_answer_with_any_bit_flipped_is_none(tmp_path):
    path = tmp_path / "a.kept"
    assert keep(path, "what?", b'{"shop": 1}', NOW) is None
    whole = kept(path, "what?")
    assert whole.body == b'{"shop": 1}'
    content = path.read_bytes()
    for at in range(len(content)):
        path.write_bytes(content)
        flip_a_bit(path, at)
        assert kept(path, "what?") is None, content[at : at + 1]


def test_a_kept_answer_without_a_zone_or_to_another_question_is_none(tmp_path):
    path = tmp_path / "a.kept"
    keep(path, "what?", b"{}", "2027-07-09T08:00:00")
    assert kept(path, "what?") is None
    keep(path, "what?", b"{}", NOW)
    assert kept(path, "who?") is None


def test_an_answer_of_tomorrow_has_no_age():
    now = dt.datetime.fromisoformat(NOW)
    assert age_s("2027-07-09T07:00:00+00:00", now) == 3_600.0
    assert age_s("2027-07-11T07:00:00+00:00", now) == float("inf")
