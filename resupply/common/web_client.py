"""Ask a service on the web politely, within one deadline, and take nothing on trust.

In: a `Question`. Out: a `Reply`, or a `WebError` with the reason in the rider's words. The map
service, the weather service and whatever downloads files share this client: its manners
(attempts, pauses, `Retry-After`) and its limits (time, size, where it lets itself be sent).
"""

from __future__ import annotations

import datetime as dt
import email.utils
import queue
import re
import time
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final, TypeVar, cast
from urllib.parse import urljoin, urlsplit

from resupply.common.version import __version__
from resupply.common.web_exchange import Exchange, Question

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from resupply.common.web_exchange import Head

__all__ = ["Question", "Reply", "WebClient", "WebError", "is_web_address", "retry_after_s"]

T = TypeVar("T")

_BUSY: Final = frozenset((429, 502, 503, 504))
"""RFC 9110 and RFC 6585: may be answered later, so the question is asked again."""
_MOVED: Final = frozenset((301, 302, 303, 307, 308))
"""RFC 9110, 15.4: the statuses that name another address."""
# RFC 9110, 15.4: only these two keep a POST a POST; the others turn it into a GET, without
# the question. Whoever asks for a head alone goes on doing so.
_SAME_METHOD: Final = frozenset((307, 308))
_MOST_HOPS: Final = 3
# Often there is no network at all: do not keep the rider waiting for long.
_UNREACHED_S: Final = 2.0
_LISTEN_S: Final = 0.05


class WebError(Exception):
    """Why a question got no whole answer."""

    def __init__(
        self,
        reason: str,
        *,
        again: bool = False,
        wait_s: float | None = None,
        too_much: bool = False,
        final: bool = False,
    ) -> None:
        super().__init__(reason)
        self.reason = reason
        self.again = again
        """Worth another attempt."""
        self.wait_s = wait_s
        """How long to wait before it, seconds, if that is known."""
        self.too_much = too_much
        """A smaller question may work."""
        self.final = final
        """No use asking anything else in this run."""


@dataclass(frozen=True, slots=True)
class Reply:
    """A whole answer."""

    status: int
    headers: Mapping[str, str]
    """Names in lower case."""
    body: bytes


@dataclass(slots=True)
class WebClient:
    """Questions to one service, within one deadline that begins when this is made."""

    who: str
    """The service in words that begin a sentence: "the map service"."""
    deadline_s: float
    """Seconds for everything: names, connections, headers, bodies, pauses, all attempts."""
    timeout_s: float
    """Seconds of silence after which an attempt is given up; it may last twice as long."""
    most_bytes: int
    """Of one answer, unpacked."""
    pause_s: float = 5.0
    """First pause after a failed attempt where the service names none, seconds; then doubled."""
    attempts: int = 1
    stop: Callable[[], bool] = lambda: False
    """Asked all the time whether to give up."""
    contact: str = ""
    """The rider's mail address or page, for those who run the service."""
    _until: float = field(init=False)

    def __post_init__(self) -> None:
        self._until = time.monotonic() + self.deadline_s

    @property
    def agent(self) -> str:
        """What the client calls itself."""
        contact = re.sub(r"[^\x20-\x7e]", "?", self.contact.strip()) or "no contact given"
        return f"resupply/{__version__} (trip planning on one's own machine; {contact})"

    def left_s(self) -> float:
        """Seconds to the deadline."""
        return self._until - time.monotonic()

    def check(self) -> None:
        """See that there is time left and that somebody waits.

        Raises
        ------
        WebError
            It is over.
        """
        if self.stop():
            raise WebError(f"asking {self.who} was stopped", final=True)
        if self.left_s() <= 0.0:
            raise WebError(f"the time for asking {self.who} ran out", final=True)

    def wait(self, seconds: float, why: str) -> None:
        """Pause.

        Raises
        ------
        WebError
            There is not so much time left, or somebody stops it.
        """
        if seconds > self.left_s():
            raise WebError(f"{why}; there was no time left to try again", final=True)
        end = time.monotonic() + seconds
        while (left_s := end - time.monotonic()) > 0.0:
            self.check()
            time.sleep(min(left_s, _LISTEN_S))

    def patiently(self, once: Callable[[], T]) -> T:
        """Do something that asks, again and again while that may help.

        Raises
        ------
        WebError
            It did not help.
        """
        for attempt in range(1, self.attempts + 1):
            self.check()
            try:
                return once()
            except WebError as fault:
                if not fault.again or attempt == self.attempts:
                    raise
                pause_s = self.pause_s * 2.0 ** (attempt - 1)
                self.wait(pause_s if fault.wait_s is None else fault.wait_s, fault.reason)
        raise AssertionError  # attempts >= 1

    def ask(self, question: Question, *, within_s: float | None = None) -> Reply:
        """Ask once.

        Parameters
        ----------
        within_s
            Seconds for the whole of it; None for twice the client's timeout.

        Raises
        ------
        WebError
            No whole answer could be had, or the service is busy. Other states are the caller's
            to judge.
        """
        with self.listen(question, within_s=within_s) as (head, parts):
            if head.status in _BUSY:
                raise WebError(
                    f"{self.who} is busy (status {head.status})",
                    again=True,
                    wait_s=retry_after_s(head.headers.get("retry-after")),
                )
            return Reply(head.status, head.headers, b"".join(parts))

    @contextmanager
    def listen(
        self, question: Question, *, within_s: float | None = None
    ) -> Iterator[tuple[Head, Iterator[bytes]]]:
        """Ask once, and take the answer as it comes, for what is larger than memory.

        Raises
        ------
        WebError
            As for `ask`; also while the parts are read.
        """
        until = time.monotonic() + (2.0 * self.timeout_s if within_s is None else within_s)
        for _ in range(_MOST_HOPS):
            exchange = Exchange(question, silence_s=self.timeout_s)
            try:
                head = self._head(exchange, until)
                if head.status not in _MOVED:
                    yield head, self._parts(exchange, head, until)
                    return
                question = self._onward(question, head)
            finally:
                exchange.give_up()
        raise WebError(f"{self.who} sent us round in circles", final=True)

    def _head(self, exchange: Exchange, until: float) -> Head:
        head = self._take(exchange, until, f"{self.who} didn't answer in time")
        return cast("Head", head)

    def _parts(self, exchange: Exchange, head: Head, until: float) -> Iterator[bytes]:
        too_large = WebError(f"{self.who} sent more than we can take", too_much=True)
        length = head.headers.get("content-length", "")
        size = 0
        if re.fullmatch(r"\d{1,18}", length) and int(length) > self.most_bytes:
            raise too_large
        while part := cast("bytes | None", self._take(exchange, until, f"{self.who} was too slow")):
            size += len(part)
            if size > self.most_bytes:
                raise too_large
            yield part

    def _take(self, exchange: Exchange, until: float, too_late: str) -> Head | bytes | None:
        """Wait for the next part of an answer, until the attempt or the whole run is over."""
        while True:
            self.check()
            left_s = until - time.monotonic()
            if left_s <= 0.0:
                raise WebError(too_late, again=True)
            try:
                return exchange.take(min(left_s, self.left_s(), _LISTEN_S))
            except queue.Empty:
                continue
            except Exception as error:
                raise self._told(error, too_late) from error

    def _told(self, error: Exception, too_late: str) -> WebError:
        """Say what broke an exchange; an error that no network makes is raised as it is."""
        import requests
        import urllib3

        if isinstance(
            error,
            requests.exceptions.InvalidURL
            | requests.exceptions.MissingSchema
            | requests.exceptions.InvalidSchema
            | urllib3.exceptions.LocationParseError
            | UnicodeError,
        ):
            return WebError(f"the address of {self.who} is wrong", final=True)
        if isinstance(error, requests.Timeout | urllib3.exceptions.TimeoutError | TimeoutError):
            return WebError(too_late, again=True)
        if isinstance(error, requests.RequestException | urllib3.exceptions.HTTPError | OSError):
            return WebError(
                f"{self.who} can't be reached",
                again=True,
                wait_s=min(_UNREACHED_S, self.pause_s),
            )
        raise error

    def _onward(self, question: Question, head: Head) -> Question:
        """Follow a redirect on the same host that keeps the question whole.

        Raises
        ------
        WebError
            It leads elsewhere, or the question would be lost on the way.
        """
        if head.status not in _SAME_METHOD and question.method not in ("GET", "HEAD"):
            raise WebError(
                f"{self.who} sent our question elsewhere (status {head.status})", final=True
            )
        try:
            target = urljoin(question.url, head.headers.get("location", ""))
        except ValueError:
            target = ""
        if not _is_same_place(question.url, target):
            raise WebError(f"{self.who} sent us to another host", final=True)
        return replace(question, url=target)


def is_web_address(text: str) -> bool:
    """Whether a text is an address of the web, with a host."""
    try:
        parts = urlsplit(text)
        return parts.scheme in ("http", "https") and bool(parts.hostname)
    except ValueError:
        return False


def _is_same_place(before: str, after: str) -> bool:
    """Whether two addresses are of one host and port; from http to https is no other place."""
    if not is_web_address(after):
        return False
    try:
        old, new = urlsplit(before), urlsplit(after)
        usual = {"http": 80, "https": 443}
        ports = (old.port or usual[old.scheme], new.port or usual[new.scheme])
    except ValueError:
        return False
    if old.hostname != new.hostname:
        return False
    if old.scheme == new.scheme:
        return ports[0] == ports[1]
    return old.scheme == "http" and ports == (80, 443)


def retry_after_s(header: str | None) -> float | None:
    """Seconds named by a Retry-After header: a number or a date (RFC 9110, 10.2.3)."""
    if header is None:
        return None
    if re.fullmatch(r"\d{1,9}", header.strip()):
        return float(header)
    try:
        when = email.utils.parsedate_to_datetime(header)
    except ValueError:
        return None
    if when.tzinfo is None:
        when = when.replace(tzinfo=dt.UTC)
    return max((when - dt.datetime.now(tz=dt.UTC)).total_seconds(), 0.0)
