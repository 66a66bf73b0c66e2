"""What the phone handed over: the file that is named, or the newest that lies at hand."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from resupply.common.errors import ResupplyError
from resupply.common.toml_file import read_text
from resupply.trip.hand_over import is_link, read_hand_over

if TYPE_CHECKING:
    from collections.abc import Iterable

    from resupply.trip.hand_over import HandOver

__all__ = ["phone_of"]

_NAMES: Final = "on-the-road*.json"
"""What the page calls the file it saves; browsers number the next ones."""


def phone_of(given: str | None, folders: Iterable[Path], *, placed: bool) -> HandOver | None:
    """Read what the phone handed over.

    Parameters
    ----------
    given
        Name of the file, or the link itself, if one is given.
    folders
        Where else one may lie.
    placed
        Whether the rider has said where they are: then a file is read only if it is named.

    Raises
    ------
    ResupplyError
        The file is none, or nothing says where the rider is.
    """
    if given is None and placed:
        return None
    if given is not None and is_link(given):
        return read_hand_over(given, where="the link of --from-phone")
    if given is not None:
        path = Path(given)
    else:
        found = {one.resolve() for folder in folders for one in folder.glob(_NAMES)}
        if not found:
            raise ResupplyError(
                "where you are is not given, and no file from the phone lies here",
                mend="Give either --at-km or --position, or --from-phone FILE",
            )
        path = max(found, key=lambda one: (one.stat().st_mtime_ns, str(one)))
        print(f"From the phone: {path}")
    text = read_text(
        path,
        "file from the phone",
        named="Check its name, or hand over again",
        large="Give the file that the phone handed over",
    )
    return read_hand_over(text, where=str(path))
