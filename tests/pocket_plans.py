"""Plans for the way of the sample trip, one of each kind, made once for all tests of a run."""

from __future__ import annotations

import base64
import json
import zlib
from functools import cache
from typing import TYPE_CHECKING, Any

from demo_plans import demo_read
from made_once import made_once

from resupply.api.in_the_pocket import changed, changes_of
from resupply.report.document.model.as_json import to_dict
from resupply.report.pocket import PocketPacker

if TYPE_CHECKING:
    from resupply.plan.pocket import PocketChange
    from resupply.report.pocket import Packed, Pocket

KINDS = ("shut", "rest", "style", "distance", "no_ice")


@cache
def all_changes() -> tuple[PocketChange, ...]:
    """Everything that may change on the sample trip."""
    return changes_of(demo_read())


@cache
def changes() -> dict[str, PocketChange]:
    """The first change of each kind; of the distances the next shorter one."""
    return {kind: next(one for one in all_changes() if one.kind == kind) for kind in KINDS}


@cache
@made_once
def replanned(kind: str) -> dict[str, Any]:
    """The plan document of the first change of a kind, by the planner."""
    return to_dict(changed(demo_read(), changes()[kind]).pocket_document())


@cache
@made_once
def demo_pocket() -> Pocket:
    """One plan of each kind on board; all other changes are left out."""
    packer = PocketPacker(to_dict(demo_read().document))
    for kind, change in changes().items():
        packer.add(change, *packer.pack(replanned(kind)))
    return packer.packed([one for one in all_changes() if one not in changes().values()])


def unpacked(packed: Packed) -> Any:
    """Read packed JSON back."""
    text = zlib.decompress(base64.b64decode(packed.text))
    assert len(text) == packed.size
    return json.loads(text)
