"""The log of a trip under way: one line for each time the rider planned again."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from resupply.errors import OutputError
from resupply.files import write_atomic

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

__all__ = ["add_to_log"]

_COLUMNS = ("time", "at_km", "food_meals", "ice_kg")


def add_to_log(path: Path, time: dt.datetime, at_km: float, food_meals: int, ice_kg: float) -> None:
    """Add a line; earlier ones are kept, also if writing fails.

    Raises
    ------
    OutputError
        The log cannot be read or written.
    """
    try:
        earlier = path.read_text("utf-8") if path.exists() else ",".join(_COLUMNS) + "\n"
    except (OSError, UnicodeDecodeError) as error:
        raise OutputError(
            "the log cannot be read", where=str(path), mend="Move the file away"
        ) from error
    line = io.StringIO()
    csv.writer(line, lineterminator="\n").writerow(
        [time.isoformat(timespec="minutes"), f"{at_km:g}", food_meals, f"{ice_kg:g}"]
    )
    write_atomic(path, earlier + line.getvalue())
