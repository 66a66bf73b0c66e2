"""Fetch a large file: with progress, from where it broke off, checked, and whole or not at all.

In: an address and the path to be. Out: the file, once its length and its published sum (MD5, in
`ADDRESS.md5`) are right. What has come lies beside it as `.NAME.part` until then, with a note of
which version of the file it is of; a later run goes on from there if the server still has it
(RFC 9110, 14 and 13.1.5: `Range` with `If-Range`), and starts anew if not.
"""

from __future__ import annotations

import email.utils
import errno
import hashlib
import json
import os
import re
import shutil
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from http import HTTPStatus
from typing import IO, TYPE_CHECKING, Any, Final

from resupply.common.errors import MapServiceError, OutputError
from resupply.common.files import write_atomic
from resupply.common.web_client import Question, WebClient, WebError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from pathlib import Path

    from resupply.common.progress import Progress

__all__ = ["Remote", "download", "in_mb", "look_up", "partial_path"]

_SLOWEST_BYTES_S: Final = 50_000.0
"""What is slower than this on the whole is given up: our choice; the next run goes on."""
_GRACE_S: Final = 300.0
"""Added to that: our choice."""
_SILENCE_S: Final = 30.0
"""Our choice, as for the other services."""
_LOOK_S: Final = 60.0
"""For asking the size of a file or its sum: our choice."""
_PAUSE_S = 1.0
"""After the first fault, then doubled: our choice; a network that is gone is told of soon."""
_ATTEMPTS: Final = 5
"""Each goes on where the one before broke off: our choice."""
_MOST_BYTES: Final = 200_000_000_000
"""Of one file: our choice, more than the whole planet's map takes."""
_SPARE_BYTES: Final = 50_000_000
"""To be left free on the disk: our choice, room for a plan and what it keeps."""
_SUM_BYTES: Final = 4_096
"""Of a file with a sum: our choice, far more than its one line."""
_TELL_BYTES: Final = 1_000_000
"""Told of once for so many, and read at once: our choice."""
_WHOLE: Final = {"Accept-Encoding": "identity"}
"""A range counts bytes as they are sent; packed ones would be others."""


@dataclass(frozen=True, slots=True)
class Remote:
    """A file as the server tells of it."""

    url: str
    size_bytes: int | None = None
    tag: str = ""
    """Its version: a strong ETag, or else the time it was changed; empty if neither is told."""
    date: str | None = None
    """ISO day on which it was changed; None if that is not told."""

    @classmethod
    def of(cls, url: str, headers: Mapping[str, str], size_bytes: int | None) -> Remote:
        """Read what the headers of an answer say."""
        changed, tag = headers.get("last-modified", ""), headers.get("etag", "")
        day = None
        with suppress(ValueError):
            day = email.utils.parsedate_to_datetime(changed).date().isoformat()
        # A weak tag is no proof that each byte is the same.
        return cls(url, size_bytes, tag if tag.startswith('"') else changed if day else "", day)


def in_mb(size_bytes: float) -> str:
    """Size in words.

    >>> in_mb(3_164_295), in_mb(157_000_000), in_mb(4_500_000_000)
    ('3.2 MB', '157 MB', '4.5 GB')
    """
    if size_bytes >= 1e9:
        return f"{size_bytes / 1e9:.1f} GB"
    return f"{size_bytes / 1e6:.1f} MB" if size_bytes < 1e7 else f"{size_bytes / 1e6:.0f} MB"


def _client(who: str, deadline_s: float, stop: Callable[[], bool], most: int) -> WebClient:
    return WebClient(
        who,
        deadline_s=deadline_s,
        timeout_s=min(_SILENCE_S, deadline_s),
        most_bytes=most,
        pause_s=_PAUSE_S,
        attempts=_ATTEMPTS,
        stop=stop,
    )


def look_up(url: str, who: str, *, stop: Callable[[], bool] = lambda: False) -> Remote:
    """Ask a server for the size and date of a file.

    Raises
    ------
    WebError
        It cannot be had.
    """
    web = _client(who, _LOOK_S, stop, _MOST_BYTES)

    def once() -> Remote:
        question = Question(url, "HEAD", {"User-Agent": web.agent, **_WHOLE})
        with web.listen(question) as (head, _):
            if head.status != HTTPStatus.OK:
                raise WebError(f"{who} doesn't have {url} (status {head.status})", final=True)
            return Remote.of(url, head.headers, _number(head.headers.get("content-length")))

    return web.patiently(once)


def download(
    remote: Remote,
    target: Path,
    who: str,
    *,
    tell: Progress,
    stop: Callable[[], bool] = lambda: False,
) -> str:
    """Fetch a file, unless the same one is there already.

    Parameters
    ----------
    who
        The server in words that begin a sentence.
    stop
        Asked all the time whether to give up; what has come is kept.

    Returns
    -------
    str
        What a rider should know: that no sum is published for it. Empty if there is nothing.

    Raises
    ------
    MapServiceError
        The file could not be had, or is not what it should be; an earlier one is untouched.
    OutputError
        It cannot be written; an earlier one is untouched.
    """
    size = remote.size_bytes
    deadline_s = _GRACE_S + (size or _MOST_BYTES) / _SLOWEST_BYTES_S
    web = _client(who, deadline_s, stop, _MOST_BYTES)
    try:
        published = web.patiently(lambda: _published_sum(remote.url, who, stop))
        if published and target.is_file() and _sum_of(target, web) == published:
            return ""
        fetching = _Fetching(web, remote, target, tell)
        with fetching.alone():
            web.patiently(fetching.go_on)
            fetching.take_name(published)
    except WebError as error:
        raise MapServiceError(
            str(error),
            where=remote.url,
            mend="What has come is kept: give the same command again to go on",
        ) from error
    except OSError as error:
        full = error.errno in (errno.ENOSPC, errno.EDQUOT)
        raise OutputError(
            f"cannot be written ({error.strerror or error})",
            where=str(target),
            mend="Make room; what has come is kept, and the same command goes on"
            if full
            else "Choose a folder you may write to",
        ) from error
    return (
        ""
        if published
        else f"no checksum is published for {target.name}: only its length was checked"
    )


def partial_path(target: Path) -> Path:
    """Where what has come of a file lies until it is whole."""
    return target.with_name(f".{target.name}.part")


class _Fetching:
    """One file on its way."""

    def __init__(self, web: WebClient, remote: Remote, target: Path, tell: Progress) -> None:
        self._web, self._remote, self._target, self._tell = web, remote, target, tell
        self._part = partial_path(target)
        self._note = target.with_name(f".{target.name}.part.json")
        self._total = remote.size_bytes

    @contextmanager
    def alone(self) -> Iterator[None]:
        """Keep two runs from writing the same part.

        Raises
        ------
        WebError
            Another one is at it.
        """
        self._part.parent.mkdir(parents=True, exist_ok=True)
        with self._part.open("ab") as stream:
            if not _locked(stream):
                raise WebError(f"another run is fetching {self._target.name}", final=True)
            yield
        # Left without a byte, it is of no use to anybody.
        with suppress(OSError):
            if self._part.stat().st_size == 0:
                self._part.unlink()

    def go_on(self) -> None:
        """Fetch what is missing.

        Raises
        ------
        WebError
            It broke off, or the server doesn't have it.
        """
        remote, have = self._remote, self._have()
        if self._total is not None and have == self._total:
            return
        headers = {"User-Agent": self._web.agent, **_WHOLE}
        if have:
            headers |= {"Range": f"bytes={have}-", "If-Range": remote.tag}
        question = Question(remote.url, "GET", headers)
        with self._web.listen(question, within_s=self._web.left_s()) as (head, parts):
            if head.status == HTTPStatus.PARTIAL_CONTENT:
                total: int | None = _range_total(head.headers.get("content-range", ""), have)
            elif head.status == HTTPStatus.OK:
                # Another version, or a server that knows no ranges: from the beginning.
                total, have = _number(head.headers.get("content-length")), 0
            elif head.status == HTTPStatus.REQUESTED_RANGE_NOT_SATISFIABLE:
                self._forget()
                raise WebError(f"{self._web.who} has another file now", again=True)
            else:
                busy = head.status in (429, 502, 503, 504)
                raise WebError(
                    f"{self._web.who} refused the file (status {head.status})", again=busy
                )
            self._total = total
            now = Remote.of(remote.url, head.headers, total)
            self._remote = now if now.tag else remote
            self._check_room(have)
            write_atomic(self._note, json.dumps(asdict(self._remote)))
            self._take(parts, have)

    def _take(self, parts: Iterator[bytes], have: int) -> None:
        total, name, told = self._total, self._target.name, have
        with self._part.open("r+b") as stream:
            stream.truncate(have)
            stream.seek(have)
            for part in parts:
                stream.write(part)
                have += len(part)
                if have - told >= _TELL_BYTES:
                    of = f" of {in_mb(total)}" if total else ""
                    self._tell(
                        f"Fetching {name}: {in_mb(have)}{of}", have / total if total else None
                    )
                    told = have
            stream.flush()
            os.fsync(stream.fileno())
        if total is not None and have != total:
            raise WebError(f"{self._web.who} broke off after {in_mb(have)}", again=True)

    def _have(self) -> int:
        """Bytes that have come of the version the server has now."""
        try:
            of = json.loads(self._note.read_text("utf-8"))
            known = of["tag"] and of["url"] == self._remote.url and of["tag"] == self._remote.tag
            return self._part.stat().st_size if known else 0
        except (OSError, ValueError, TypeError, LookupError):
            return 0

    def _check_room(self, have: int) -> None:
        free = shutil.disk_usage(self._part.parent).free
        needed = (self._total or 0) - have + _SPARE_BYTES
        if self._total is not None and needed > free:
            raise OutputError(
                f"{self._target.name} needs {in_mb(needed)} on the disk; {in_mb(free)} are free",
                where=str(self._target.parent),
                mend="Make room there, or choose another folder with --to",
            )

    def take_name(self, published: str | None) -> None:
        """Check the whole file and put it in place.

        Raises
        ------
        MapServiceError
            Its sum is not the published one.
        """
        self._tell(f"Checking {self._target.name}", None)
        if published is not None and _sum_of(self._part, self._web) != published:
            # The file may have been changed between asking for the sum and for the file.
            newer = _published_sum(self._remote.url, self._web.who, self._web.stop)
            if newer == published or _sum_of(self._part, self._web) != newer:
                self._forget()
                raise MapServiceError(
                    f"{self._target.name} came damaged: its checksum is not the published one",
                    where=self._remote.url,
                    mend="Give the same command again; if it stays so, tell those who publish it",
                )
        self._part.replace(self._target)
        self._note.unlink(missing_ok=True)

    def _forget(self) -> None:
        self._note.unlink(missing_ok=True)
        with self._part.open("r+b") as stream:
            stream.truncate(0)


def _published_sum(url: str, who: str, stop: Callable[[], bool]) -> str | None:
    """Sum that the server publishes beside a file; None if it has none."""
    web = _client(who, _LOOK_S, stop, _SUM_BYTES)
    reply = web.ask(Question(f"{url}.md5", headers={"User-Agent": web.agent}))
    if reply.status in (HTTPStatus.NOT_FOUND, HTTPStatus.FORBIDDEN, HTTPStatus.GONE):
        return None
    found = re.match(r"\s*([0-9a-fA-F]{32})\b", reply.body.decode("ascii", "replace"))
    if reply.status != HTTPStatus.OK or found is None:
        raise WebError(f"{who} sent no checksum where one should be", again=True)
    return found[1].lower()


def _sum_of(path: Path, web: WebClient) -> str:
    """MD5 of a file: what providers publish, against damage, not against forgery."""
    whole = hashlib.md5(usedforsecurity=False)
    with path.open("rb") as stream:
        while piece := stream.read(_TELL_BYTES):
            web.check()
            whole.update(piece)
    return whole.hexdigest()


def _number(text: str | None) -> int | None:
    return int(text) if text and re.fullmatch(r"\d{1,15}", text) else None


def _range_total(text: str, have: int) -> int:
    """Size of the whole file by a Content-Range header.

    Raises
    ------
    WebError
        It is not the rest of the file.
    """
    found = re.fullmatch(r"bytes (\d{1,15})-(\d{1,15})/(\d{1,15})", text.strip())
    if found is None or int(found[1]) != have or int(found[2]) + 1 != int(found[3]):
        raise WebError("the server sent another part of the file than was asked for", again=True)
    return int(found[3])


def _locked(stream: IO[Any]) -> bool:
    """Take a lock that ends with the process; whether nobody else has it."""
    try:
        import fcntl
    except ImportError:  # Windows: a file open for writing can't be replaced there anyway
        return True
    try:
        fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
