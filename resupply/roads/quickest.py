"""How much of the route may be left out: only what is itself the quickest way.

In: the matched route. Out: for every node of it, the last node up to which the route is the
quickest way there. A loop, a spur or a slow scenic road is then never cut short by a stop.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.roads.match import MatchedRoute
    from resupply.roads.search import Roads

__all__ = ["SAVING_S", "quickest_until"]

SAVING_S: Final = 30.0
"""Another way counts as quicker if it saves more than this, seconds. Common practice, no source."""


def quickest_until(roads: Roads, matched: MatchedRoute, *, window_m: float) -> NDArray[np.int64]:
    """Find for every route node the last one that may be joined with all between left out.

    Parameters
    ----------
    roads, matched
        The roads and the route's k nodes on them.
    window_m
        Farther on than this is never asked for, metres.

    Returns
    -------
    NDArray
        (k,) positions in `matched.node`, each at least its own, non-decreasing.

    Notes
    -----
    What another way saves between two nodes can only grow if the stretch grows. So one search
    from a node over two windows proves all stretches within them, and where a stretch is
    quicker elsewhere, one search back from its end tells for which starts that holds.
    """
    from scipy.sparse.csgraph import dijkstra

    node, at_m, ride_s = matched.node, matched.chainage_m, matched.ride_s
    in_window = np.searchsorted(at_m, at_m + window_m, "right") - 1
    backwards = roads.matrix.T.tocsr()
    until = np.arange(len(node))
    start = 0
    while start < len(node):
        stop = int(np.searchsorted(at_m, at_m[start] + 2.0 * window_m, "right"))
        here = slice(start, stop)
        limit_s = float(ride_s[stop - 1] - ride_s[start]) + 1.0
        quickest_s = dijkstra(roads.matrix, indices=node[start], limit=limit_s)[node[here]]
        saved = np.flatnonzero(ride_s[here] - ride_s[start] - quickest_s > SAVING_S)
        if saved.size == 0:
            proven = int(in_window[start]) + 1
            until[start:proven] = in_window[start:proven]
            start = proven
            continue
        end = start + int(saved[0])
        back_s = dijkstra(backwards, indices=node[end], limit=limit_s)[node[start:end]]
        also = np.flatnonzero(ride_s[end] - ride_s[start:end] - back_s > SAVING_S)
        last = start + (int(also[-1]) if also.size else 0)
        until[start : last + 1] = np.minimum(in_window[start : last + 1], end - 1)
        start = last + 1
    return np.maximum.accumulate(until) if until.size else until
