"""Distinct whole numbers of an array, in order: by sorting.

`numpy.unique` looks whole numbers up in a table since its version 2.3, which takes ten to thirty
times as long for the hundreds of thousands of keys that a map has.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from typing import Any

    from numpy.typing import NDArray

__all__ = ["distinct", "distinct_pairs"]


def distinct(values: NDArray[Any]) -> NDArray[Any]:
    """Each value once, sorted, (k,); as `numpy.unique` gives it.

    Parameters
    ----------
    values
        Whole numbers, of any shape.
    """
    every = np.sort(values, axis=None)
    return every[np.append(True, every[1:] != every[:-1])] if every.size else every


def distinct_pairs(pairs: NDArray[Any]) -> NDArray[Any]:
    """Each row of (n, 2) whole numbers once, sorted by the first column, then the second."""
    if not len(pairs):
        return pairs
    every = pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]
    return np.asarray(every[np.append(True, (every[1:] != every[:-1]).any(axis=1))])
