"""Geodesic arithmetic on WGS84, in one place.

One ellipsoid, one library: every length in the project comes from `pyproj.Geod`
(C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87, 2013). Nearness is judged on
earth-centred coordinates (ECEF, metres), where the antimeridian and the poles are
ordinary places.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import pyproj
    from numpy.typing import ArrayLike, NDArray

__all__ = [
    "M_PER_DEGREE",
    "WGS84_A_M",
    "WGS84_F",
    "geod",
    "margins_deg",
    "on_earth",
    "rough_area_m2",
    "segment_lengths_m",
    "to_ecef_m",
]

# EPSG:7030, NIMA TR8350.2.
WGS84_A_M = 6_378_137.0
"""Equatorial radius, metres."""
WGS84_F = 1.0 / 298.257223563
"""Flattening."""

M_PER_DEGREE = 111_200.0
"""A degree of latitude, metres, on average; for sizes that need not be exact (a lake's area, the
tolerance of a drawn line), never for a length that is told."""
_LEAST_M_PER_DEGREE = 110_500.0
"""A degree of latitude is at least this long on WGS84 (110,574 m at the equator)."""
_NEAR_POLE = 0.01
"""Cosine of the latitude below which a margin goes all the way round."""


@cache
def geod() -> pyproj.Geod:
    """WGS84 geodesic calculator (pyproj is imported on first use to keep start-up fast)."""
    import pyproj

    return pyproj.Geod(ellps="WGS84")


def on_earth(lon: ArrayLike, lat: ArrayLike) -> NDArray[np.bool_]:
    """Whether each of (n,) positions in degrees is one on the earth; what is no number is not."""
    return np.asarray((np.abs(lon) <= 180.0) & (np.abs(lat) <= 90.0))


def segment_lengths_m(lon: ArrayLike, lat: ArrayLike) -> NDArray[np.float64]:
    """Geodesic length of each piece of a line.

    Parameters
    ----------
    lon, lat
        (n,) degrees, WGS84, n >= 1.

    Returns
    -------
    NDArray
        (n-1,) metres.
    """
    lon_deg, lat_deg = np.asarray(lon, dtype=float), np.asarray(lat, dtype=float)
    if lon_deg.size < 2:
        return np.zeros(0)
    _, _, length_m = geod().inv(lon_deg[:-1], lat_deg[:-1], lon_deg[1:], lat_deg[1:])
    return np.asarray(length_m, dtype=float)


def to_ecef_m(lon: ArrayLike, lat: ArrayLike) -> NDArray[np.float64]:
    """Earth-centred coordinates of points on the ellipsoid (height 0).

    Parameters
    ----------
    lon, lat
        (n,) degrees, WGS84.

    Returns
    -------
    NDArray
        (n, 3) metres.

    References
    ----------
    Standard geodetic-to-Cartesian formula, e.g. IOGP Guidance Note 373-7-2, 4.1.1.
    """
    lon_rad, lat_rad = np.radians(np.asarray(lon, float)), np.radians(np.asarray(lat, float))
    e2 = WGS84_F * (2.0 - WGS84_F)
    prime_vertical_m = WGS84_A_M / np.sqrt(1.0 - e2 * np.sin(lat_rad) ** 2)
    return np.stack(
        [
            prime_vertical_m * np.cos(lat_rad) * np.cos(lon_rad),
            prime_vertical_m * np.cos(lat_rad) * np.sin(lon_rad),
            prime_vertical_m * (1.0 - e2) * np.sin(lat_rad),
        ],
        axis=-1,
    )


def margins_deg(lat: ArrayLike, margin_m: float) -> tuple[float, NDArray[np.float64]]:
    """Degrees that are surely not less than a margin, for boxes around points.

    Parameters
    ----------
    lat
        (n,) degrees, WGS84.
    margin_m
        Metres.

    Returns
    -------
    float, NDArray
        Degrees of latitude; (n,) degrees of longitude, 360 where the margin may hold the pole.
    """
    margin_lat = margin_m / _LEAST_M_PER_DEGREE
    widest = np.minimum(np.abs(np.asarray(lat, dtype=float)) + margin_lat, 90.0)
    shrink = np.cos(np.radians(widest))
    return margin_lat, np.where(
        shrink > _NEAR_POLE, margin_lat / np.maximum(shrink, _NEAR_POLE), 360.0
    )


def rough_area_m2(square_degrees: float, lat: float) -> float:
    """Tell roughly how large an area is, for choosing what is drawn.

    Parameters
    ----------
    square_degrees
        Its size as if degrees were lengths.
    lat
        Of its middle, degrees.
    """
    return square_degrees * M_PER_DEGREE**2 * float(np.cos(np.radians(lat)))
