"""What stands at one spot: one visit serves all that is sold within a short walk."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.spatial import cKDTree

from resupply.common.geodesy import geod, to_ecef_m

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from resupply.places.place import Place

__all__ = ["SPOT_M", "apart_m", "beside"]

SPOT_M: Final = 150.0
"""A rider walks so far from the parked motorcycle with a bag of ice (our choice)."""


def apart_m(one: Place, other: Place) -> float:
    """Distance of two places, metres."""
    return float(geod().inv(one.lon, one.lat, other.lon, other.lat)[2])


def beside(
    places: Sequence[Place], here_ix: NDArray[np.int64], there_ix: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Which places have any of others within a short walk, or are one of them.

    Parameters
    ----------
    places
        All of them.
    here_ix, there_ix
        (n,) and (k,) indices of `places`.

    Returns
    -------
    NDArray
        (n,) True where one of `there_ix` is within `SPOT_M`.
    """
    if not here_ix.size or not there_ix.size:
        return np.zeros(here_ix.size, dtype=bool)

    def at(rows: NDArray[np.int64]) -> NDArray[np.float64]:
        return to_ecef_m([places[ix].lon for ix in rows], [places[ix].lat for ix in rows])

    apart_m, _ = cKDTree(at(there_ix)).query(at(here_ix), distance_upper_bound=SPOT_M)
    return np.asarray(apart_m <= SPOT_M)
