"""What a rider has said on the way, kept for the next `resupply here`.

In: the file `NAME.here.toml` beside the results. Out: settings by dotted key. It holds for later
runs, and a line taken out of it is taken back.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from resupply.common.files import write_atomic
from resupply.common.toml_file import dotted, inner_table, read_toml

if TYPE_CHECKING:
    from pathlib import Path

    from resupply.cli.given import Given

__all__ = ["keep_said", "put_kept", "said_path"]

_HEAD: Final = (
    "# What you said on the way with `resupply here`. It holds for the next time too.\n"
    "# Take a line out to take it back.\n"
)
_MOMENT: Final = frozenset(
    f"now.{key}" for key in ("at_km", "time", "food_meals", "ice_kg", "fuel_km", "water_l")
)
"""Position and stock are told anew each time."""


def said_path(out: Path, trip: Path) -> Path:
    """Name the file for one trip in a folder of results."""
    return out / f"{trip.stem}.here.toml"


def put_kept(given: Given, path: Path, *, without: tuple[str, ...] = ()) -> None:
    """Take what was said before; nothing where there is no such file.

    Parameters
    ----------
    without
        Keys, or tables of them, that count no more.

    Raises
    ------
    TripFileError
        The file cannot be read.
    """
    if not path.exists():
        return
    tree = read_toml(path, "file of what you said", named="Check it", large="Move it away")
    for key, value in dotted(tree).items():
        if key in _MOMENT or any(key == left or key.startswith(f"{left}.") for left in without):
            continue
        given.put(key, f"{path}: {key} =", value)


def keep_said(given: Given, path: Path) -> tuple[str, ...]:
    """Write what holds for the next time too; its keys.

    Raises
    ------
    OutputError
        The file cannot be written.
    """
    import tomli_w

    held = {key: value for key, value in given.keys.items() if key not in _MOMENT}
    if not held:
        return ()
    tree: dict[str, Any] = {}
    for key, value in sorted(held.items()):
        *tables, last = key.split(".")
        table = inner_table(tree, tables)
        if table is not None:  # no setting is a table for another
            table[last] = value
    write_atomic(path, _HEAD + tomli_w.dumps(tree))
    return tuple(sorted(held))
