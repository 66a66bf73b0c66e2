"""Ask the live map service one question at a time, politely, through osmnx.

osmnx builds the question and sends it; a response hook (a documented feature of requests) sees
the raw answer first. That settles what osmnx leaves open: a remark, a page that is no data,
status 429 and 504 (which it would retry without end), a slow drip.
"""

from __future__ import annotations

import datetime as dt
import email.utils
import io
import re
import socket
import threading
import time
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from resupply import __version__
from resupply.places.overpass_answers import Answer, AnswerError, checked

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    import requests
    from shapely import Polygon

__all__ = ["Client", "ServiceError"]

_MOST_BYTES: Final = 64_000_000
_STATUS_TIMEOUT_S: Final = 10.0
_BUSY: Final = frozenset((429, 502, 503, 504))
# osmnx keeps its settings for the whole process, and the service wants one question at a time.
_ONE_AT_A_TIME: Final = threading.Lock()


_UNREACHED_S = 2.0


class ServiceError(Exception):
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
        """How long the service asked us to wait, seconds."""
        self.too_much = too_much
        """A shorter stretch may work."""
        self.final = final
        """No use asking anything else in this run."""


@dataclass(slots=True)
class Client:
    """Questions to one service, within one deadline."""

    endpoint: str
    """Address without `/interpreter`."""
    contact: str
    stop: Callable[[], bool]
    deadline_s: float
    timeout_s: float
    """Seconds without a byte after which an attempt is given up."""
    pause_s: float
    """First pause after a failed attempt where the service names none, seconds; then doubled."""
    attempts: int
    _until: float = field(init=False)
    _status_answers: bool = field(init=False, default=True)

    def __post_init__(self) -> None:
        self._until = time.monotonic() + self.deadline_s

    def ask(
        self, polygon: Polygon, tags: dict[str, bool | str | list[str]]
    ) -> tuple[bytes, Answer]:
        """Ask for all features with some of the tags in a polygon (degrees).

        Returns
        -------
        tuple
            The answer as sent, and checked.

        Raises
        ------
        ServiceError
            No whole answer could be had.
        """
        for attempt in range(self.attempts):
            self._await_slot()
            try:
                return self._ask_once(polygon, tags)
            except ServiceError as fault:
                if not fault.again or attempt + 1 == self.attempts:
                    raise
                wait_s = self.pause_s * 2.0**attempt if fault.wait_s is None else fault.wait_s
                self._wait(wait_s, fault.reason)
        raise AssertionError  # attempts >= 1

    def _wait(self, seconds: float, why: str) -> None:
        if seconds > self._left_s():
            raise ServiceError(f"{why}; there was no time left to try again", final=True)
        end = time.monotonic() + seconds
        while (left_s := end - time.monotonic()) > 0.0:
            self._check_stop()
            time.sleep(min(left_s, 0.1))

    def _left_s(self) -> float:
        return self._until - time.monotonic()

    def _check_stop(self) -> None:
        if self.stop():
            raise ServiceError("asking the map service was stopped", final=True)
        if self._left_s() <= 0.0:
            raise ServiceError("the time for asking the map service ran out", final=True)

    def _await_slot(self) -> None:
        """Wait as long as the service's status page says; go ahead if it has none."""
        import requests

        self._check_stop()
        if not self._status_answers:
            return
        try:
            answer = requests.get(
                f"{self.endpoint}/status",
                headers={"User-Agent": self._user_agent()},
                timeout=min(_STATUS_TIMEOUT_S, self.timeout_s),
                stream=True,
            )
            with answer:
                text = answer.raw.read(10_000, decode_content=True).decode("utf-8", "replace")
        except (requests.RequestException, OSError, ValueError):
            self._status_answers = False
            return
        self._status_answers = answer.ok and "Rate limit" in text
        waits = [float(found) for found in re.findall(r"in (-?\d{1,6}) seconds", text)]
        if self._status_answers and waits and not re.search(r"\d+ slots? available now", text):
            self._wait(max(min(waits), 0.0), "the map service has no free slot for us")

    def _user_agent(self) -> str:
        contact = re.sub(r"[^\x20-\x7e]", "?", self.contact.strip()) or "no contact given"
        return f"resupply/{__version__} (trip planning on one's own machine; {contact})"

    def _ask_once(
        self, polygon: Polygon, tags: dict[str, bool | str | list[str]]
    ) -> tuple[bytes, Answer]:
        import osmnx
        import requests
        import urllib3

        got: list[tuple[bytes, Answer]] = []

        def see(response: requests.Response, *_: Any, **__: Any) -> requests.Response:
            if response.is_redirect or response.url.endswith("/status"):
                return response
            got.append(self._whole(response))
            # osmnx only needs something to go on with; it stops before it builds features.
            stand_in = requests.Response()
            stand_in.status_code, stand_in.url = 200, response.url
            stand_in.raw = io.BytesIO(b'{"elements": []}')
            return stand_in

        try:
            with self._osmnx_settings(see):
                osmnx.features.features_from_polygon(polygon, tags)
        except InterruptedError:
            pass
        except (requests.exceptions.InvalidURL, UnicodeError) as error:
            raise ServiceError("the address of the map service is wrong", final=True) from error
        except requests.Timeout as error:
            raise ServiceError("the map service didn't answer in time", again=True) from error
        except (requests.RequestException, urllib3.exceptions.HTTPError, OSError) as error:
            # Often there is no network at all: do not keep the rider waiting for long.
            raise ServiceError(
                "the map service can't be reached", again=True, wait_s=_UNREACHED_S
            ) from error
        if not got:
            raise ServiceError("the map service sent us elsewhere", final=True)
        return got[-1]

    @contextmanager
    def _osmnx_settings(self, hook: Callable[..., requests.Response]) -> Iterator[None]:
        """Give osmnx our settings for one question, and take them back."""
        from osmnx import settings

        left_s = max(int(min(self.timeout_s, self._left_s())), 1)
        ours: dict[str, Any] = {
            "cache_only_mode": True,
            "doh_url_template": None,
            "http_referer": "",
            "http_user_agent": self._user_agent(),
            "log_console": False,
            "log_file": False,
            "max_query_area_size": float("inf"),
            "overpass_memory": None,
            "overpass_rate_limit": False,
            # The service must give up before we do, so that it can say so.
            "overpass_settings": f"[out:json][timeout:{max(left_s * 3 // 4, 1)}]",
            "overpass_url": self.endpoint,
            "requests_kwargs": {"hooks": {"response": hook}, "stream": True},
            "requests_timeout": left_s,
            "use_cache": False,
        }
        while not _ONE_AT_A_TIME.acquire(timeout=0.2):
            self._check_stop()
        before = {name: getattr(settings, name) for name in ours}
        # osmnx also swaps this function and never puts it back.
        resolve = socket.getaddrinfo
        try:
            for name, value in ours.items():
                setattr(settings, name, value)
            yield
        finally:
            socket.getaddrinfo = resolve
            for name, value in before.items():
                setattr(settings, name, value)
            _ONE_AT_A_TIME.release()

    def _whole(self, response: requests.Response) -> tuple[bytes, Answer]:
        """Read an answer to its end and see that it is whole.

        Raises
        ------
        ServiceError
            It is not.
        """
        with response:
            if response.status_code in _BUSY:
                raise ServiceError(
                    f"the map service is busy (status {response.status_code})",
                    again=True,
                    wait_s=_retry_after_s(response.headers.get("Retry-After")),
                )
            if not response.ok:
                raise ServiceError(
                    f"the map service refused the question (status {response.status_code})",
                    final=response.status_code in (401, 403, 404),
                )
            body = self._body(response)
        fetched = dt.datetime.now(tz=dt.UTC).isoformat(timespec="seconds")
        try:
            return body, checked(body, fetched)
        except AnswerError as fault:
            raise ServiceError(
                str(fault), again=not fault.too_much, too_much=fault.too_much
            ) from fault

    def _body(self, response: requests.Response) -> bytes:
        """Body of an answer, read as it trickles in, so that a slow drip can't hold us."""
        parts, size, until = [], 0, time.monotonic() + 2.0 * self.timeout_s
        while part := response.raw.read1(65_536, decode_content=True):
            parts.append(part)
            size += len(part)
            self._check_stop()
            if time.monotonic() > until:
                raise ServiceError("the map service was too slow", again=True)
            if size > _MOST_BYTES:
                raise ServiceError("the map service sent more than we can take", too_much=True)
        return b"".join(parts)


def _retry_after_s(header: str | None) -> float | None:
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
