"""The slow truth about passes: the whole line sampled, every distance a pyproj geodesic.

It shares no code with the corridor: no chunks, no earth-centred coordinates, no bounds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pyproj

if TYPE_CHECKING:
    from resupply.passes.find import Passes
    from resupply.route.route import Route

GEOD = pyproj.Geod(ellps="WGS84")


@dataclass(frozen=True)
class TruePass:
    place: int
    chainage_m: float
    offset_m: float
    vague_m: float
    """How far along the route another point is just as near; 0 where the nearest is clear."""


@dataclass(frozen=True)
class Samples:
    lon: np.ndarray
    lat: np.ndarray
    chainage_m: np.ndarray
    step_m: float


def sample(route: Route, step_m: float) -> Samples:
    """Points at most `step_m` apart along each geodesic, every point of the route included."""
    jumps = {jump.index for jump in route.breaks}
    lon, lat, chainage_m = [], [], []
    for i in range(len(route.lon) - 1):
        start = (route.lon[i], route.lat[i])
        azimuth, _, length_m = GEOD.inv(*start, route.lon[i + 1], route.lat[i + 1])
        count = 0 if i in jumps else int(length_m / step_m)
        along_m = np.arange(count + 1) * (length_m / (count + 1))
        x, y, _ = GEOD.fwd(*(np.full(count + 1, v) for v in (*start, azimuth)), along_m)
        lon.append(x)
        lat.append(y)
        chainage_m.append(route.chainage_m[i] + along_m)
    lon.append(route.lon[-1:])
    lat.append(route.lat[-1:])
    chainage_m.append(route.chainage_m[-1:])
    return Samples(*(np.concatenate(v) for v in (lon, lat, chainage_m)), step_m)


def distances_m(samples: Samples, lon: float, lat: float) -> np.ndarray:
    size = len(samples.lon)
    return GEOD.inv(np.full(size, lon), np.full(size, lat), samples.lon, samples.lat)[2]


def true_passes(
    samples: Samples, lon: np.ndarray, lat: np.ndarray, *, reach_m: float, rise_m: float
) -> list[TruePass]:
    """Minima within reach, parted by a rise over the higher of the two."""
    found = []
    for place, position in enumerate(zip(lon, lat, strict=True)):
        d = distances_m(samples, *position)
        found += [_refined(samples, d, at, place, position) for at in _minima(d, rise_m)]
    return [true for true in found if true.offset_m <= reach_m]


def _minima(d: np.ndarray, rise_m: float) -> list[int]:
    """Persistence by merging valleys from below, lowest first; ties to the first."""
    turns = np.flatnonzero(np.diff(np.sign(np.diff(d)), prepend=2.0, append=2.0))
    return [int(turns[i]) for i in _persistent(d[turns], rise_m)]


def _persistent(d: np.ndarray, rise_m: float) -> list[int]:
    # Each valley keeps its lowest index; two meet at a pass and the higher dies if too shallow.
    owner = np.full(len(d), -1)
    parent: dict[int, int] = {}
    alive: set[int] = set()

    def root(i: int) -> int:
        while parent[i] != i:
            i = parent[i]
        return i

    for i in np.argsort(d, kind="stable").tolist():
        near = {root(owner[j]) for j in (i - 1, i + 1) if 0 <= j < len(d) and owner[j] >= 0}
        if not near:
            parent[i] = owner[i] = i
            alive.add(i)
            continue
        low = min(near, key=lambda j: (d[j], j))
        for other in near - {low}:
            # From here on the two act as one valley, as deep as the lower.
            parent[other] = low
            if d[i] - d[other] < rise_m:
                alive.discard(other)
        owner[i] = low
    return sorted(alive)


def _refined(
    samples: Samples, d: np.ndarray, at: int, place: int, position: tuple[float, float]
) -> TruePass:
    """Zoom in between the neighbouring samples, to the millimetre."""
    best = (float(d[at]), float(samples.chainage_m[at]))
    for a, b in ((at - 1, at), (at, at + 1)):
        if a < 0 or b >= len(d):
            continue
        length_m = samples.chainage_m[b] - samples.chainage_m[a]
        if not 0.0 < length_m <= samples.step_m * 1.001:
            continue
        start = (samples.lon[a], samples.lat[a])
        azimuth = GEOD.inv(*start, samples.lon[b], samples.lat[b])[0]
        low, high = 0.0, length_m
        for _ in range(4):
            along_m = np.linspace(low, high, 41)
            x, y, _ = GEOD.fwd(*(np.full(41, v) for v in (*start, azimuth)), along_m)
            fine = GEOD.inv(*(np.full(41, v) for v in position), x, y)[2]
            k = int(np.argmin(fine))
            low, high = along_m[max(k - 1, 0)], along_m[min(k + 1, 40)]
            best = min(best, (float(fine[k]), float(samples.chainage_m[a] + along_m[k])))
    offset_m, chainage_m = best
    # A rival's sample may be half a step beside its own minimum, and so much too far.
    slack_m = 1e-4 + np.hypot(offset_m, samples.step_m / 2.0) - offset_m
    apart_m = np.abs(samples.chainage_m[d <= offset_m + slack_m] - chainage_m).max(initial=0.0)
    vague_m = apart_m + samples.step_m if apart_m > samples.step_m else 0.0
    return TruePass(place, chainage_m, offset_m, float(vague_m))


def settled_passes(
    samples: Samples, lon: np.ndarray, lat: np.ndarray, *, reach_m: float, rise_m: float
) -> list[TruePass] | None:
    """The true passes, or None where a hair's breadth decides whether there is one more."""
    found = [
        true_passes(samples, lon, lat, reach_m=1.01 * reach_m + samples.step_m, rise_m=rise_m + h)
        for h in (-samples.step_m, samples.step_m)
    ]
    if [(p.place, p.chainage_m) for p in found[0]] != [(p.place, p.chainage_m) for p in found[1]]:
        return None
    if any(abs(p.offset_m - reach_m) < 0.1 for p in found[0]):
        return None
    return [p for p in found[0] if p.offset_m <= reach_m]


def assert_true(passes: Passes, truth: list[TruePass]) -> None:
    """Offsets within 2 cm; chainages within 1 m where the nearest point is clear."""
    order = np.lexsort((passes.chainage_m, passes.place_ix))
    assert passes.place_ix[order].tolist() == [p.place for p in truth]
    for row, true in zip(order.tolist(), truth, strict=True):
        # Of two nearly equal points the samples, half a step beside, may favour the farther.
        assert -0.02 - 5.0 * (true.vague_m > 0.0) < passes.offset_m[row] - true.offset_m < 0.02
        assert abs(passes.chainage_m[row] - true.chainage_m) < 1.0 + true.vague_m
