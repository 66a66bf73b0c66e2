"""Answers of the live map service: checked, kept on disk, turned into features.

An answer counts only if it is whole. A remark means that the service ran out of time or memory
and sent the half it had (github.com/drolbr/Overpass-API, issues 15 and 94).
"""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from resupply.common.kept_answers import age_s, keep, kept, kept_path
from resupply.common.text import one_line
from resupply.common.units import S_PER_DAY
from resupply.places.osm_file import Feature

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from numpy.typing import NDArray

__all__ = [
    "Answer",
    "AnswerError",
    "OnDisk",
    "age_days",
    "checked",
    "features_of",
    "roads_of",
]

# A value takes up to 100 bytes in memory; an answer about 150 km of route holds far fewer.
_MOST_VALUES = 6_000_000


class AnswerError(ValueError):
    """An answer that must not be used, and why."""

    def __init__(self, reason: str, *, too_much: bool = False) -> None:
        super().__init__(reason)
        self.too_much = too_much
        """The service gave up for want of time or memory: a shorter stretch may work."""


@dataclass(frozen=True, slots=True)
class Answer:
    """A whole answer."""

    elements: tuple[Mapping[str, Any], ...]
    data_date: str
    """ISO date of the map data behind it."""
    fetched: str
    """ISO date and time, UTC, when the service gave it."""


def checked(body: bytes | str, fetched: str) -> Answer:
    """See that a body is a whole answer.

    Raises
    ------
    AnswerError
        It is not JSON, not in the service's format, half an answer, or more than can be held.
    """
    # Counting what separates values bounds the memory before anything is built.
    raw = body.encode("utf-8", "replace") if isinstance(body, str) else body
    if sum(raw.count(mark) for mark in (b"[", b"{", b",")) > _MOST_VALUES:
        raise AnswerError("the map service sent more than we can take", too_much=True)
    try:
        document = json.loads(body)
    except (ValueError, RecursionError) as error:
        text = body if isinstance(body, str) else body[:400].decode("utf-8", "replace")
        if text.lstrip()[:1] == "<":
            raise AnswerError("the map service sent a web page instead of map data") from error
        raise AnswerError("the map service sent a broken answer") from error
    return _checked(document, fetched)


def _checked(document: Any, fetched: str) -> Answer:
    if not isinstance(document, dict) or not isinstance(document.get("elements"), list):
        raise AnswerError("the map service sent something that is not map data")
    if "remark" in document:
        remark = one_line(str(document["remark"]))[:120]
        raise AnswerError(f"the map service sent half an answer ({remark})", too_much=True)
    elements = document["elements"]
    if not all(_is_element(element) for element in elements):
        raise AnswerError("the map service sent map data that makes no sense")
    return Answer(tuple(elements), _date(document.get("osm3s")), fetched)


def _date(about: object) -> str:
    """Date of the data behind an answer: every whole answer has one."""
    try:
        stamp = about["timestamp_osm_base"]  # type: ignore[index]
        return dt.date.fromisoformat(str(stamp)[:10]).isoformat()
    except (TypeError, KeyError, ValueError):
        raise AnswerError("the map service doesn't say of what date its map data is") from None


def _is_element(element: Any) -> bool:
    if not isinstance(element, dict) or not _is_id(element.get("id")):
        return False
    tags = element.get("tags", {})
    if not isinstance(tags, dict) or not all(isinstance(value, str) for value in tags.values()):
        return False
    match element.get("type"):
        case "node":
            return _is_spot(element)
        case "way":
            nodes = element.get("nodes")
            spots = element.get("geometry", [])
            return (
                isinstance(nodes, list)
                and all(_is_id(ref) for ref in nodes)
                and isinstance(spots, list)
                and all(spot is None or _is_spot(spot) for spot in spots)
            )
        case "relation":
            members = element.get("members")
            return isinstance(members, list) and all(
                isinstance(one, dict)
                and isinstance(one.get("type"), str)
                and _is_id(one.get("ref"))
                for one in members
            )
    return False


def _is_spot(value: Any) -> bool:
    return (
        isinstance(value, dict)
        and _is_within(value.get("lon"), 180.0)
        and _is_within(value.get("lat"), 90.0)
    )


def _is_id(value: object) -> bool:
    return isinstance(value, int) and _is_within(value, 2.0**62)


def _is_within(value: object, most: float) -> bool:
    """Whether a value is a number no larger than that, either way; NaN is not."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return -most <= value <= most


def features_of(answer: Answer) -> Iterator[Feature]:
    """Features of an answer, in its order; members and plain nodes are among them."""
    spots = {
        element["id"]: np.array([[element["lon"], element["lat"]]], dtype=float)
        for element in answer.elements
        if element["type"] == "node"
    }
    nowhere = np.zeros((0, 2))
    lines: dict[int, NDArray[np.float64]] = {
        element["id"]: np.concatenate(
            [nowhere, *(spots[ref] for ref in element["nodes"] if ref in spots)]
        )
        for element in answer.elements
        if element["type"] == "way"
    }
    for element in answer.elements:
        tags = element.get("tags", {})
        if not tags:
            continue
        number = element["id"]
        match element["type"]:
            case "node":
                yield Feature(f"node/{number}", tags, spots[number])
            case "way":
                nodes = element["nodes"]
                closed = len(nodes) > 1 and nodes[0] == nodes[-1]
                yield Feature(f"way/{number}", tags, lines[number], closed)
            case "relation":
                known = {"way": lines, "node": spots}
                parts = [
                    (one["type"], known[one["type"]][one["ref"]])
                    for one in element["members"]
                    if one["ref"] in known.get(one["type"], {})
                ]
                is_area = tags.get("type") in ("multipolygon", "boundary")
                rings = [part for kind, part in parts if kind == "way" and len(part) > 1]
                yield Feature(
                    f"relation/{number}",
                    tags,
                    np.concatenate([nowhere, *(part for _, part in parts)]),
                    rings=tuple(rings) if is_area else (),
                )


def roads_of(answer: Answer) -> Iterator[NDArray[np.float64]]:
    """Lines of an answer that came with their points, (k, 2) degrees, k >= 2."""
    for element in answer.elements:
        spots = [spot for spot in element.get("geometry", ()) if spot is not None]
        if element["type"] == "way" and len(spots) > 1:
            yield np.array([[spot["lon"], spot["lat"]] for spot in spots], dtype=float)


@dataclass(frozen=True, slots=True)
class OnDisk:
    """Where the answer to a question is kept."""

    folder: Path
    question: str

    def read(self) -> Answer | None:
        """Answer kept earlier; None if there is none of use."""
        found = kept(kept_path(self.folder, "overpass", self.question), self.question)
        try:
            return None if found is None else checked(found.body, found.fetched)
        except AnswerError:
            return None

    def exists(self) -> bool:
        """Whether there is a file, whatever it is worth; a quick look."""
        return kept_path(self.folder, "overpass", self.question).is_file()

    def write(self, body: bytes, answer: Answer) -> str | None:
        """Keep an answer; say why if that can't be done."""
        path = kept_path(self.folder, "overpass", self.question)
        return keep(path, self.question, body, answer.fetched)


def age_days(answer: Answer) -> float:
    """Age of an answer; infinite if its date is no proof of freshness."""
    return age_s(answer.fetched, dt.datetime.now(tz=dt.UTC)) / S_PER_DAY
