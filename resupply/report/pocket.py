"""The plans for the way as the page's file carries them: differences from the plan, compressed.

In: plan documents. Out: a `Pocket`: text for the page, and what each plan comes to, so that the
page tells it before the plan is chosen.
"""

from __future__ import annotations

import base64
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from resupply.report.differences import Against
from resupply.report.drawn import drawn

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from resupply.plan.pocket import PocketChange

__all__ = [
    "LOOKED_THROUGH",
    "Packed",
    "Pocket",
    "PocketPacker",
    "deflated",
    "facts_of",
    "in_pocket",
]

ROOM: Final = 1_500_000
"""Bytes of the file for all plans for the way: a goal of the project."""
LOOKED_THROUGH: Final = ("menu", "shopping", "packing", "care", "legs", "stops", "load", "cold")
"""Parts of the plan of which much stands elsewhere in other plans."""

_Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Packed:
    """Data of the file, packed; `unpack.js` reads it."""

    text: str
    """DEFLATE with a checksum (RFC 1950), in base64: nothing in it can end its script element."""
    size: int
    """Bytes when unpacked."""


def deflated(plain: str) -> Packed:
    """Pack text that is all ASCII."""
    packed = zlib.compress(plain.encode("ascii"), level=9)
    return Packed(base64.b64encode(packed).decode("ascii"), len(plain))


@dataclass(frozen=True, slots=True)
class Pocket:
    """What a page's file holds of the plans for the way."""

    index: _Json
    """`plan`: what the plan as made comes to; `plans`: each plan on board, what it is about and
    what it comes to; `left_out`: what is not on board; `looked_through`: see `LOOKED_THROUGH`."""
    plans: dict[str, Packed]
    """By key."""

    def __len__(self) -> int:
        return len(self.plans)


class PocketPacker:
    """Packs plans one after the other, against the plan of the page.

    Parameters
    ----------
    plan
        The plan document of the page, JSON values only.
    room
        Bytes that all of them may take.
    """

    def __init__(self, plan: _Json, *, room: int = ROOM) -> None:
        self._plan, self._room = drawn(plan), room
        self._against = Against(
            self._plan, [key for key in LOOKED_THROUGH if self._plan.get(key) is not None]
        )
        self._told: list[tuple[PocketChange, _Json, Packed]] = []

    def pack(self, document: _Json) -> tuple[_Json, Packed]:
        """Give what a plan comes to, and the plan packed."""
        other = in_pocket(document, self._plan)
        facts = {**facts_of(other), "from_m": _differs_from_m(self._plan, other)}
        return facts, deflated(self._against.differences(other))

    def add(self, change: PocketChange, facts: _Json, packed: Packed) -> None:
        """Take a packed plan on board; the most needed come first."""
        self._told.append((change, facts, packed))

    def packed(self, left_out: Sequence[PocketChange] = ()) -> Pocket:
        """Give what there is room for, and tell what there is none for.

        Parameters
        ----------
        left_out
            What is not on board for other reasons.
        """
        room, on_board, over = self._room, [], []
        for change, facts, packed in self._told:
            room -= len(packed.text)
            # What comes after one that has no room is needed less.
            if room < 0:
                over.append(change)
            else:
                on_board.append((change, facts, packed))
        index = {
            "plan": facts_of(self._plan),
            "plans": [{**_named(change), **facts} for change, facts, _ in on_board],
            "left_out": [_named(change) for change in (*over, *left_out)],
            "looked_through": list(self._against.looked_through),
        }
        return Pocket(index, {change.key: packed for change, _, packed in on_board})


def _named(change: PocketChange) -> _Json:
    return {"key": change.key, "kind": change.kind, **change.about}


def in_pocket(document: _Json, plan: _Json) -> _Json:
    """Give a plan for the way as the page reads it back.

    The lists of gaps and the comparison of distances are those of the plan as made; the page
    says so.
    """
    told = drawn(document)
    gaps = {
        kind: {**block, "all": plan["gaps"][kind]["all"]} for kind, block in told["gaps"].items()
    }
    sweep = {"sweep": plan["sweep"]} if "sweep" in plan else {}
    return {**told, "gaps": gaps, **sweep}


def facts_of(plan: _Json) -> _Json:
    """Tell what a plan comes to, as the page shows it before it is chosen."""
    stretch = plan["answers"]["stretch"]
    carried = [plan["start_carry"]["meals"], *(stop["carry_meals"] for stop in plan["stops"])]
    chosen = next((row for row in plan["styles"] if row["chosen"]), None)
    ice = [stop for stop in plan["ice"]["stops"] if stop["buy"]]
    place_of = {row["id"]: row["place"] for row in plan["passes"]}
    return {
        "stops_m": [stop["chainage_m"] for stop in plan["stops"]],
        "stops_at": [stop["place"] for stop in plan["stops"]],
        "most_meals": max(carried),
        "spare_meals": plan["spare"]["meals"],
        "excess_meals": max((short["excess_meals"] for short in plan["shortfalls"]), default=0),
        "last_date": plan["legs"][-1]["date"],
        "ice_kg": round(sum(kg for _, kg in _ice(plan)), 2) if plan.get("cold") else None,
        "ice_m": [stop["chainage_m"] for stop in ice],
        "ice_at": [place_of[stop["pass"]] for stop in ice],
        "minutes": chosen and chosen["minutes"],
        "longest_m": stretch["end_m"] - stretch["start_m"] if "end_m" in stretch else None,
    }


def _ice(plan: _Json) -> Iterator[tuple[int, float]]:
    for stop in plan["ice"]["stops"]:
        for buy in stop["buy"]:
            yield stop["chainage_m"], buy["kg"]


def _differs_from_m(plan: _Json, other: _Json) -> int | None:
    """Chainage from which a rider does otherwise than in the plan, metres; None if nowhere.

    Shops, what is carried from them, ice and nights count.
    """
    one, two = sorted(_done(plan)), sorted(_done(other))
    for here, there in zip(one, two, strict=False):
        if here != there:
            return min(here[0], there[0])
    longer = (one if len(one) > len(two) else two)[min(len(one), len(two)) :]
    return longer[0][0] if longer else None


def _done(plan: _Json) -> Iterable[tuple[int, str, float]]:
    yield plan["legs"][0]["start_m"], "start", plan["start_carry"]["meals"]
    for stop in plan["stops"]:
        yield stop["chainage_m"], stop["place"], stop["carry_meals"]
    for at_m, kg in _ice(plan):
        yield at_m, "ice", kg
    for leg in plan["legs"]:
        yield leg["start_m"], "rest", leg["rest_days_before"]
        yield leg["end_m"], "night", 0
