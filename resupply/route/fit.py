"""Read the line and the points of a FIT course or recording.

In: the bytes of a file. Out: `GpxContent`: one part of all records that have a position, and a
mark for each course point. Decoding is the fitdecode library's.
"""

from __future__ import annotations

import math
import struct
from array import array
from typing import TYPE_CHECKING, Any, Final

from resupply.common.errors import RouteError
from resupply.common.text import one_line
from resupply.route.content import GpxContent
from resupply.route.line_parts import add_mark, add_part

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["MAX_FIT_BYTES", "read_fit"]

MAX_FIT_BYTES: Final = 8_000_000
"""Some 300,000 records. Decoding takes longer for its size than any other format."""

_MAX_MESSAGES: Final = 1_000_000
"""Three times the records of the largest file that is read."""
# Positions are stored as signed 32 bit fractions of half a turn.
_DEG_PER_SEMICIRCLE: Final = 180.0 / 2**31
_REPAIR: Final = "Copy or download the file again, or export the route as GPX"


def read_fit(data: bytes, shown: str) -> GpxContent:
    """Read a FIT file.

    Parameters
    ----------
    data
        At most `MAX_FIT_BYTES`.
    shown
        The file's name, for errors.

    Raises
    ------
    RouteError
        The file is damaged, or too large.
    """
    if len(data) > MAX_FIT_BYTES:
        raise RouteError(
            f"the file is {len(data) / 1e6:,.0f} MB, more than the "
            f"{MAX_FIT_BYTES / 1e6:,.0f} MB of FIT that are read",
            where=shown,
            mend="Export the route as GPX",
        )
    content = GpxContent()
    lon, lat, ele_m = array("d"), array("d"), array("d")
    for count, message in enumerate(_messages(data, shown)):
        if count >= _MAX_MESSAGES:
            raise RouteError(
                f"the file holds more than {_MAX_MESSAGES:,} messages",
                where=shown,
                mend="Export the route as GPX",
            )
        if message.name == "record":
            position = _position(message)
            if position is not None:
                lon.append(position[0])
                lat.append(position[1])
                ele_m.append(_height_m(message))
        elif message.name == "course_point":
            position = _position(message)
            if position is not None:
                name = _text(message, "name")
                add_mark(content, name, *position, where=f"{shown}, course point")
        elif message.name == "course" and not content.title:
            content.title = _text(message, "name")
    add_part(content, lon, lat, ele_m, where=f"{shown}, records")
    return content


def _messages(data: bytes, shown: str) -> Iterator[Any]:
    import fitdecode

    try:
        with fitdecode.FitReader(
            data,
            processor=None,
            check_crc=fitdecode.CrcCheck.RAISE,
            error_handling=fitdecode.ErrorHandling.IGNORE,
        ) as reader:
            for frame in reader:
                if frame.frame_type == fitdecode.FIT_FRAME_DATA:
                    yield frame
    except fitdecode.FitEOFError as error:
        raise RouteError("the file ends in the middle", where=shown, mend=_REPAIR) from error
    except fitdecode.FitCRCError as error:
        raise RouteError(
            "the file is damaged: its checksum is wrong", where=shown, mend=_REPAIR
        ) from error
    # fitdecode trusts what the checksum covers: nonsense meets assertions and bare look-ups.
    except (
        fitdecode.FitError,
        ArithmeticError,
        AssertionError,
        AttributeError,
        LookupError,
        TypeError,
        ValueError,
        struct.error,
    ) as error:
        raise RouteError("the FIT data make no sense", where=shown, mend=_REPAIR) from error


def _position(message: Any) -> tuple[float, float] | None:
    lat, lon = (_number(message, key) for key in ("position_lat", "position_long"))
    if math.isnan(lon) or math.isnan(lat):
        return None
    return lon * _DEG_PER_SEMICIRCLE, lat * _DEG_PER_SEMICIRCLE


def _height_m(message: Any) -> float:
    fine = _number(message, "enhanced_altitude")
    return fine if not math.isnan(fine) else _number(message, "altitude")


def _number(message: Any, key: str) -> float:
    value = message.get_value(key, fallback=None)
    return float(value) if isinstance(value, (int, float)) else math.nan


def _text(message: Any, key: str) -> str:
    value = message.get_value(key, fallback=None)
    return one_line(value) if isinstance(value, str) else ""
