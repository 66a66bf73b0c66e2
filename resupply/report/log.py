"""The log of a trip under way: one line for each time the rider planned again."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from resupply.common.errors import OutputError
from resupply.common.files import write_atomic

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

__all__ = ["add_to_log"]


def add_to_log(path: Path, row: Mapping[str, str | float | None], *, once: bool = False) -> None:
    """Add a line; earlier ones are kept, also if writing fails.

    Parameters
    ----------
    row
        By column; empty where not known. Columns of an earlier log stay, a rider's own as well.
    once
        Leave it out if the log has a line with these values already.

    Raises
    ------
    OutputError
        The log cannot be read or written.
    """
    try:
        earlier = path.read_text("utf-8-sig") if path.exists() else ""
        rows = [line for line in csv.reader(io.StringIO(earlier)) if line]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise OutputError(
            "the log cannot be read", where=str(path), mend="Move the file away"
        ) from error
    columns = list(dict.fromkeys([*(rows[0] if rows else ()), *row]))
    told = {key: f"{v:g}" if isinstance(v, float) else v for key, v in row.items()}
    if once:
        wanted = {columns.index(key): str(value or "") for key, value in told.items()}
        width = max(wanted) + 1
        padded = (line + [""] * (width - len(line)) for line in rows[1:])
        if any(all(line[ix] == value for ix, value in wanted.items()) for line in padded):
            return
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(line + [""] * (len(columns) - len(line)) for line in rows[1:])
    writer.writerow([told.get(key, "") for key in columns])
    write_atomic(path, text.getvalue())
