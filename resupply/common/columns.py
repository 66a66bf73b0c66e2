"""Facts and columns of numbers in one compressed body, as kept files hold them.

In: what goes into JSON, and arrays by name. Out: bytes, and back. A body may come from somewhere
else: no more is unpacked than a bound, and nothing in it is executed.
"""

from __future__ import annotations

import io
import json
import struct
import zipfile
import zlib
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

__all__ = ["UNREADABLE", "columns", "facts", "pack"]

_ABOUT: Final = "about.json"
_MOST_UNPACKED_BYTES: Final = 2_000_000_000
"""A file from somewhere else may be made to unpack without end; our choice, some ten times the
roads and places of the longest route tried."""
UNREADABLE: Final = (
    OSError, EOFError, ValueError, TypeError, LookupError, AttributeError, ArithmeticError,
    RuntimeError, MemoryError, zipfile.BadZipFile, zlib.error, struct.error,
)  # fmt: skip
"""Raised for a body that is damaged or of another form, here and by what reads its facts: nested
without end, packed another way, or with columns longer than the memory."""


def pack(about: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> bytes:
    """Facts and columns as one body."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as packed:
        packed.writestr(_ABOUT, json.dumps(about, ensure_ascii=False))
        for name, array in arrays.items():
            with packed.open(f"{name}.npy", "w", force_zip64=True) as stream:
                np.lib.format.write_array(stream, array, allow_pickle=False)
    return out.getvalue()


def facts(body: bytes) -> dict[str, Any]:
    """Read what a body says in JSON.

    Raises
    ------
    UNREADABLE
        It cannot be used.
    """
    with _opened(body) as packed:
        about: dict[str, Any] = json.loads(packed.read(_ABOUT))
    return about


def columns(body: bytes, *names: str) -> dict[str, NDArray[Any]]:
    """Read-only columns of a body: those named, or all.

    Raises
    ------
    UNREADABLE
        It cannot be used, or lacks one.
    """
    arrays = {}
    with _opened(body) as packed:
        for name in names or (one[:-4] for one in packed.namelist() if one.endswith(".npy")):
            with packed.open(f"{name}.npy") as stream:
                array: NDArray[Any] = np.lib.format.read_array(stream, allow_pickle=False)
            array.flags.writeable = False
            arrays[name] = array
    return arrays


def _opened(body: bytes) -> zipfile.ZipFile:
    packed = zipfile.ZipFile(io.BytesIO(body))
    if sum(one.file_size for one in packed.infolist()) > _MOST_UNPACKED_BYTES:
        raise ValueError("too large")
    return packed
