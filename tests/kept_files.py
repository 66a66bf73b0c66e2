"""Answers of services kept on disk, made older or damaged."""

from __future__ import annotations

import datetime as dt
import json
from typing import TYPE_CHECKING

from resupply.common.kept_answers import keep, kept

if TYPE_CHECKING:
    from pathlib import Path


def make_older(folder: Path, *, days: float) -> str:
    """Have every kept answer be of an earlier day; give that day."""
    then = ""
    for path in folder.glob("[!.]*.kept"):
        question = json.loads(path.read_bytes().partition(b"\n")[0])["question"]
        found = kept(path, question)
        assert found is not None
        then = (dt.datetime.fromisoformat(found.fetched) - dt.timedelta(days=days)).isoformat()
        assert keep(path, question, found.body, then) is None
    return then[:10]


def flip_a_bit(path: Path, at: int) -> None:
    """Change one bit of a file."""
    content = bytearray(path.read_bytes())
    content[at] ^= 1
    path.write_bytes(content)
