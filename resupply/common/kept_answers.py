"""Answers of services kept on disk, each with the question, the time and a checksum.

A file is one line of JSON about the answer and then the answer as it was sent. Whatever is
damaged, be it one bit, counts as not kept: it is asked for again.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from resupply.common.errors import OutputError
from resupply.common.files import write_atomic
from resupply.common.units import S_PER_DAY

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["KeptAnswer", "age_s", "keep", "kept", "kept_path", "make_room"]

_FORMAT: Final = 2
"""Raised when what is kept changes its form: older answers are asked for anew."""
_MOST_DAYS: Final = 90
"""What nobody used for so long is thrown away, our choice."""


@dataclass(frozen=True, slots=True)
class KeptAnswer:
    """An answer as it was sent, and when."""

    fetched: str
    """ISO date and time with its zone."""
    body: bytes


def kept_path(folder: Path, service: str, question: str) -> Path:
    """File in which the answer to a question is kept."""
    return folder / f"{service}-{hashlib.sha256(question.encode()).hexdigest()[:32]}.kept"


def kept(path: Path, question: str) -> KeptAnswer | None:
    """Answer kept earlier; None if there is none, or if the file is damaged or another's."""
    try:
        line, _, body = path.read_bytes().partition(b"\n")
        about = json.loads(line)
        fetched = about["fetched"]
        if about["format"] != _FORMAT or about["question"] != question:
            return None
        if about["sha256"] != _sum(question, fetched, body):
            return None
        if dt.datetime.fromisoformat(fetched).tzinfo is None:
            return None
        return KeptAnswer(fetched, body)
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None


def keep(path: Path, question: str, body: bytes, fetched: str) -> str | None:
    """Keep an answer, whole or not at all; say why if that can't be done.

    Parameters
    ----------
    fetched
        ISO date and time with its zone.
    """
    about = {
        "format": _FORMAT,
        "question": question,
        "fetched": fetched,
        "sha256": _sum(question, fetched, body),
    }
    try:
        write_atomic(path, json.dumps(about).encode() + b"\n" + body)
    except OutputError as error:
        return error.what
    return None


def _sum(question: str, fetched: str, body: bytes) -> str:
    parts = (question.encode(), fetched.encode(), body)
    whole = hashlib.sha256()
    for part in parts:
        whole.update(len(part).to_bytes(8, "big") + part)
    return whole.hexdigest()


def age_s(fetched: str, now: dt.datetime) -> float:
    """Age of an answer, seconds; infinite if its date is no proof of freshness."""
    age = (now - dt.datetime.fromisoformat(fetched)).total_seconds()
    # A date to come is a wrong clock, then or now; a day is left for zones set wrongly.
    return age if age >= -S_PER_DAY else float("inf")


def make_room(folder: Path, service: str, *, most_bytes: int) -> None:
    """Throw away what was not used for long, and what was used longest ago, down to a bound.

    Parameters
    ----------
    most_bytes
        Of all that is kept for this service in the folder.
    """
    files = []
    for path in folder.glob(f"{service}-*.kept"):
        with suppress(OSError):
            about = path.stat()
            files.append((about.st_mtime, about.st_size, path))
    oldest_s = dt.datetime.now(dt.UTC).timestamp() - _MOST_DAYS * S_PER_DAY
    total = 0
    for used_s, size, path in sorted(files, reverse=True):
        total += size
        if used_s < oldest_s or total > most_bytes:
            with suppress(OSError):
                path.unlink()
