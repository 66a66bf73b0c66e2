"""Ask the live map service one question at a time, politely, with questions that osmnx writes.

osmnx writes the question and prepares the request; before it would send it, requests hands the
request to an `auth` callable (a documented feature), and from there it goes out through the
client that all services share. That settles what osmnx leaves open: a deadline over everything,
redirects, a remark, a page that is no data, status 429 and 504 (which it would retry without
end).
"""

from __future__ import annotations

import datetime as dt
import re
import socket
import threading
from contextlib import contextmanager
from dataclasses import dataclass, field
from http import HTTPStatus
from typing import TYPE_CHECKING, Any, Final, NoReturn

from resupply.common.web_client import Question, WebClient, WebError
from resupply.places.overpass_answers import Answer, AnswerError, checked

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import requests
    from shapely import Polygon

__all__ = ["Client", "road_question"]

_STATUS_TIMEOUT_S: Final = 10.0
"""Our choice: the status page says only how long to wait, and may be left out."""
_STATUS_BYTES: Final = 10_000
"""Of the status page: our choice, far more than its few lines."""
_USELESS: Final = frozenset((401, 403, 404))
"""RFC 9110: asking the same address again gets the same answer."""
# A number needs no name server, which osmnx would wait for with no end.
_NOWHERE: Final = "http://127.0.0.1"
# What a route may follow. Streets of towns are left out: no town is without one of these.
_PROOF: Final = ("motorway", "trunk", "primary", "secondary", "tertiary", "unclassified", "road",
                 "track")  # fmt: skip
# osmnx keeps its settings for the whole process, and the service wants one question at a time.
_ONE_AT_A_TIME: Final = threading.Lock()


class _Prepared(Exception):  # noqa: N818 (no fault: it carries the request out of osmnx)
    def __init__(self, request: requests.PreparedRequest) -> None:
        self.request = request


def _carry_out(request: requests.PreparedRequest) -> NoReturn:
    raise _Prepared(request)


@dataclass(slots=True)
class Client:
    """Questions to one map service."""

    endpoint: str
    """Address without `/interpreter`."""
    web: WebClient
    _status_answers: bool = field(init=False, default=True)

    def ask(
        self,
        polygon: Polygon,
        tags: dict[str, bool | str | list[str]],
        *,
        roads_in: Sequence[Polygon] = (),
    ) -> tuple[bytes, Answer]:
        """Ask for all features with some of the tags in a polygon (degrees).

        Parameters
        ----------
        roads_in
            Ground whose roads are wanted too, as bare lines: the proof that the service knows it.

        Returns
        -------
        tuple
            The answer as sent, and checked.

        Raises
        ------
        WebError
            No whole answer could be had.
        """

        def once() -> tuple[bytes, Answer]:
            self._await_slot()
            while not _ONE_AT_A_TIME.acquire(timeout=0.2):
                self.web.check()
            try:
                return self._ask_once(self._question(polygon, tags, roads_in))
            finally:
                _ONE_AT_A_TIME.release()

        return self.web.patiently(once)

    def _await_slot(self) -> None:
        """Wait as long as the service's status page says; go ahead if it has none."""
        if not self._status_answers:
            return
        try:
            text = self._status()
        except WebError:
            self.web.check()
            text = ""
        self._status_answers = "Rate limit" in text
        waits = [float(found) for found in re.findall(r"in (-?\d{1,6}) seconds", text)]
        if self._status_answers and waits and not re.search(r"\d+ slots? available now", text):
            self.web.wait(max(min(waits), 0.0), f"{self.web.who} has no free slot for us")

    def _status(self) -> str:
        page = Question(f"{self.endpoint}/status", headers={"User-Agent": self.web.agent})
        within_s = min(_STATUS_TIMEOUT_S, self.web.timeout_s)
        text = b""
        with self.web.listen(page, within_s=within_s) as (head, parts):
            if head.status == HTTPStatus.OK:
                for part in parts:
                    text += part
                    if len(text) > _STATUS_BYTES:
                        break
        return text.decode("utf-8", "replace")

    def _question(
        self,
        polygon: Polygon,
        tags: dict[str, bool | str | list[str]],
        roads_in: Sequence[Polygon],
    ) -> Question:
        import osmnx

        with self._osmnx_settings(road_question(roads_in)):
            try:
                osmnx.features.features_from_polygon(polygon, tags)
            except _Prepared as made:
                request = made.request
        headers = {
            name: str(value)
            for name, value in request.headers.items()
            if name.lower() != "content-length"
        }
        return Question(f"{self.endpoint}/interpreter", "POST", headers, str(request.body))

    @contextmanager
    def _osmnx_settings(self, first: str) -> Iterator[None]:
        """Give osmnx our settings for one question, and take them back."""
        from osmnx import settings

        left_s = max(int(min(self.web.timeout_s, self.web.left_s())), 1)
        ours: dict[str, Any] = {
            "doh_url_template": None,
            "http_referer": "",
            "http_user_agent": self.web.agent,
            "log_console": False,
            "log_file": False,
            "max_query_area_size": float("inf"),
            "overpass_memory": None,
            "overpass_rate_limit": False,
            # The service must give up before we do, so that it can say so.
            "overpass_settings": f"[out:json][timeout:{max(left_s * 3 // 4, 1)}]{first}",
            "overpass_url": _NOWHERE,
            "requests_kwargs": {"auth": _carry_out},
            "requests_timeout": left_s,
            "use_cache": False,
        }
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

    def _ask_once(self, question: Question) -> tuple[bytes, Answer]:
        reply = self.web.ask(question)
        if reply.status != HTTPStatus.OK:
            raise WebError(
                f"{self.web.who} refused the question (status {reply.status})",
                final=reply.status in _USELESS,
            )
        fetched = dt.datetime.now(tz=dt.UTC).isoformat(timespec="seconds")
        try:
            return reply.body, checked(reply.body, fetched)
        except AnswerError as fault:
            raise WebError(str(fault), again=not fault.too_much, too_much=fault.too_much) from fault


def road_question(ground: Sequence[Polygon]) -> str:
    """Overpass QL that prints the roads and ferries of some ground as bare lines.

    It stands between the settings of a question and osmnx's own part; empty for no ground.
    """
    asked = []
    for polygon in ground:
        spots = " ".join(f"{lat:.5f} {lon:.5f}" for lon, lat in polygon.exterior.coords)
        asked += [
            f'way["highway"~"^({"|".join(_PROOF)})$"](poly:"{spots}");',
            f'way["route"="ferry"](poly:"{spots}");',
        ]
    return f";({''.join(asked)});out skel geom" if asked else ""
