"""One question over HTTP and its answer, which whoever asks can turn away from at any moment.

A socket's timeout ends a silence, no more: a server that sends a byte now and then (of a header,
of one `100 Continue` after the other, of a body) holds a reader for good, and looking up a name
can't be interrupted at all. So the exchange runs in a thread of its own and hands over what has
come; who waits for it does so as long as they like, then shuts the connection.
"""

from __future__ import annotations

import contextlib
import queue
import socket
import threading
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Mapping

    import requests

__all__ = ["Exchange", "Head", "Question"]

_PART_BYTES: Final = 65_536
"""Of the answer, read at once: our choice."""
# So many parts may lie ready, 4 MB; a file may be larger than memory.
_PARTS_AHEAD: Final = 64


@dataclass(frozen=True, slots=True)
class Question:
    """What is sent."""

    url: str
    method: str = "GET"
    headers: Mapping[str, str] = field(default_factory=dict)
    body: bytes | str | None = None


@dataclass(frozen=True, slots=True)
class Head:
    """How an answer begins."""

    status: int
    headers: Mapping[str, str]
    """Names in lower case."""


class Exchange:
    """One question under way. No redirect is followed."""

    def __init__(self, question: Question, *, silence_s: float) -> None:
        self._question, self._silence_s = question, silence_s
        self._given_up = threading.Event()
        self._lock = threading.Lock()
        self._sockets: list[socket.socket] = []
        self._come: queue.Queue[Head | bytes | Exception | None] = queue.Queue(_PARTS_AHEAD)
        threading.Thread(target=self._run, daemon=True).start()

    def take(self, wait_s: float) -> Head | bytes | None:
        """Give what has come: first the head, then parts of the body; None at its end.

        Raises
        ------
        queue.Empty
            Nothing came in that time; may be asked again.
        Exception
            Whatever broke the exchange.
        """
        come = self._come.get(timeout=max(wait_s, 0.0))
        if isinstance(come, Exception):
            raise come
        return come

    def give_up(self) -> None:
        """Shut the connection; may be called at any time, more than once."""
        self._given_up.set()
        with self._lock:
            sockets, self._sockets = self._sockets, []
        for one in sockets:
            _shut(one)

    def watch(self, connection: Any) -> None:
        """Remember a socket, so that it can be shut from another thread."""
        if not isinstance(connection, socket.socket):
            return  # through two layers of TLS; its own timeout has to do
        with self._lock:
            self._sockets.append(connection)
        if self._given_up.is_set():
            self.give_up()

    def _run(self) -> None:
        try:
            self._exchange()
        except Exception as error:  # noqa: BLE001 (handed to whoever asked)
            self._hand_over(error)

    def _exchange(self) -> None:
        asked = self._question
        with (
            _watched_session(self) as session,
            session.request(
                asked.method,
                asked.url,
                headers=dict(asked.headers),
                data=asked.body,
                timeout=self._silence_s,
                allow_redirects=False,
                stream=True,
            ) as response,
        ):
            self._hand_over(_head(response))
            # `read1` gives what is there instead of waiting for a whole part.
            while part := response.raw.read1(_PART_BYTES, decode_content=True):
                self._hand_over(part)
            self._hand_over(None)

    def _hand_over(self, come: Head | bytes | Exception | None) -> None:
        while not self._given_up.is_set():
            with contextlib.suppress(queue.Full):
                self._come.put(come, timeout=0.1)
                return


def _head(response: requests.Response) -> Head:
    return Head(
        response.status_code, {name.lower(): value for name, value in response.headers.items()}
    )


def _shut(connection: socket.socket) -> None:
    # The method of plain sockets: that of TLS would wait for the other side's farewell.
    with contextlib.suppress(OSError):
        socket.socket.shutdown(connection, socket.SHUT_RDWR)


def _watched_session(exchange: Exchange) -> requests.Session:
    """Session whose connections are told to an exchange as soon as they stand."""
    import requests
    from requests.adapters import HTTPAdapter

    class Adapter(HTTPAdapter):
        def get_connection_with_tls_context(self, *args: Any, **keys: Any) -> Any:
            pool = super().get_connection_with_tls_context(*args, **keys)
            usual = pool.ConnectionCls

            class Connection(usual):  # type: ignore[misc, valid-type]
                def connect(self) -> None:
                    super().connect()
                    exchange.watch(self.sock)

            pool.ConnectionCls = Connection
            return pool

    class Session(requests.Session):
        def get_redirect_target(self, resp: requests.Response) -> None:
            """Keep requests from reading the page of a redirect, which may have no end."""

    session = Session()
    for scheme in ("http://", "https://"):
        session.mount(scheme, Adapter())
    return session
