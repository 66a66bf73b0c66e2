"""The sign of the page as PNG: a basket whose front is a road, for a phone's home screen."""

from __future__ import annotations

import struct
import zlib
from functools import cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["BASKET", "GROUND", "icon_png"]

GROUND = (0x0D, 0x54, 0x46)
"""Colour of the ground, RGB: the accent of the page by day."""
BASKET = (0xFB, 0xFC, 0xF9)
"""Colour of the basket, RGB: the page's paper."""

_FINE = 4
"""Points looked at in each direction of a pixel: enough for smooth edges, our choice."""
_BOX = 16.0
"""Side of the drawing: the same numbers as the small sign in a browser's tab."""
_SHARE = 0.8
"""Share of the side that the drawing's box takes. All of the basket then lies in the circle of 0.8
of the side that a phone leaves when it cuts the edges off ("maskable", W3C Web App Manifest)."""

Mask = NDArray[np.bool_]


@cache
def icon_png(side_px: int) -> bytes:
    """Draw the sign, filled to its edge; the same size gives the same bytes.

    Parameters
    ----------
    side_px
        Width and height, pixels.
    """
    line = (np.arange(side_px * _FINE) + 0.5) / (side_px * _FINE) - 0.5
    x, y = np.meshgrid(line * _BOX / _SHARE + 8.0, line * _BOX / _SHARE + 8.5)
    covered = _basket(x, y).reshape(side_px, _FINE, side_px, _FINE).mean(axis=(1, 3))
    ground, basket = np.array(GROUND), np.array(BASKET)
    pixels = np.rint(ground + covered[..., None] * (basket - ground)).astype(np.uint8)
    return _png(pixels)


def _basket(x: NDArray[np.float64], y: NDArray[np.float64]) -> Mask:
    """Tell which points lie on the basket or its handle."""
    down = (y - 6.0) / 8.0
    body = (down >= 0.0) & (down <= 1.0) & (np.abs(x - 8.0) <= 6.0 - 1.4 * down)
    # The road widens towards the rider; its middle line is broken once.
    road = np.abs(x - 8.0) <= 0.7 + 1.9 * down
    dashes = ((down > 0.18) & (down < 0.42)) | (down > 0.62)
    middle = (np.abs(x - 8.0) <= 0.18 + 0.3 * down) & dashes
    handle = (np.abs(np.hypot(x - 8.0, y - 6.0) - 3.2) <= 0.8) & (y < 6.0)
    return (body & (~road | middle)) | handle


def _png(pixels: NDArray[np.uint8]) -> bytes:
    """Write RGB pixels (rows, columns, 3) as PNG (ISO/IEC 15948), rows unfiltered."""
    rows, columns = pixels.shape[:2]
    raw = np.zeros((rows, 1 + 3 * columns), np.uint8)
    raw[:, 1:] = pixels.reshape(rows, -1)
    head = struct.pack(">IIBBBBB", columns, rows, 8, 2, 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(raw.tobytes(), 9)), (b"IEND", b""))
    chunks = (
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        for kind, data in parts
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunks)
