"""How much ice to buy where, and when that is not enough.

In: a cooler, the weather, what is stored, where ice can be had. Out: an `IcePlan` checked by
simulating it. What cannot be kept is said, with the time it fails; it is never an exception.

Published guidance discards perishables once no ice is left, so the plan keeps a little ice
(`keep_kg`) for as long as perishables are inside, not only the temperature.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from resupply.kitchen.cold.balance import IceLoad
from resupply.kitchen.cold.ice_search import IceChance, choose, excuse, fit_loads, make_problem
from resupply.kitchen.cold.simulate import LIMIT_C, ColdTrace, simulate
from resupply.kitchen.cold.steps import kept_by_frost, make_timeline, needs_of
from resupply.places.place import Confidence

if TYPE_CHECKING:
    from collections.abc import Sequence

    from resupply.kitchen.cold.cooler import Cooler
    from resupply.kitchen.cold.ice_search import Problem
    from resupply.kitchen.cold.steps import Need, Stored
    from resupply.kitchen.cold.weather import Span, Surroundings

__all__ = [
    "KEEP_KG",
    "IceChance",
    "IceGoal",
    "IcePlan",
    "IceState",
    "Purchase",
    "Stated",
    "Without",
    "plan_ice",
]

_ROUNDING_L = 1e-6
"""Less is the rounding of floats, not a lack of room."""
KEEP_KG = 0.5
"""Ice that must still be there while perishables are inside (our margin, no source)."""

_EARLY_S = 6 * 3600.0
"""Ice bought longer before there is anything to cool is bought in vain where it can be had later:
our choice."""


class IceState(StrEnum):
    """Outcome of an ice plan."""

    HOLDS = "holds"
    FAILS = "fails"
    TOO_FULL = "too full"
    """Food and packs do not fit at some moment; what lies outside is not cold."""
    UNKNOWN = "not known"
    """It holds as far as the weather is known, which is not to the end of the need."""
    NO_NEED = "no need"
    NO_COOLER = "no cooler"


@dataclass(frozen=True, slots=True)
class Purchase:
    """Ice to buy at one stop."""

    stop: IceChance
    bags: int
    kg: float
    """Bought: whole bags."""
    loaded_kg: float
    """Put in; less than bought if the last bag does not all fit, food put in later included."""


@dataclass(frozen=True, slots=True)
class Stated:
    """Ice put in whatever the plan, such as a stated load from home."""

    load: IceLoad
    loaded_kg: float
    """What fits."""


@dataclass(frozen=True, slots=True)
class Without:
    """What happens if a likely ice stop has none, found out on arrival."""

    stop: IceChance
    fails_at_s: float | None
    """First time above the limit from then on, buying later as well as can be; None: never."""
    then: tuple[Purchase, ...]
    """What to buy next instead."""


@dataclass(frozen=True, slots=True, eq=False)
class IcePlan:
    """Ice to buy, and what the inside of the cooler does with it."""

    cooler: Cooler
    state: IceState
    limit_c: float
    keep_kg: float
    needs: tuple[Need, ...]
    need_spans: tuple[Span, ...]
    """The needs within the trip, merged."""
    stated: tuple[Stated, ...]
    """Ice put in whatever the plan."""
    purchases: tuple[Purchase, ...]
    trace: ColdTrace
    above: tuple[Span, ...]
    """Known times above the limit with something inside that must stay cold."""
    worst_c: float
    """Warmest the inside gets during a known need; NaN without one."""
    no_ice_from_s: float | None
    """First time during a need at which no ice, pack or frozen food is left."""
    unknown_from_s: float | None
    """From when a need is not covered by known weather."""
    without: tuple[Without, ...]
    """One for each purchase at a stop that only likely has ice."""

    @property
    def cold_kg(self) -> float:
        """Food that must stay cold, all of the trip together."""
        return sum(need.kg for need in self.needs)

    @property
    def fails_at_s(self) -> float | None:
        """First time above the limit during a need; None if never, as far as is known."""
        return self.above[0][0] if self.above else None

    @property
    def fullest(self) -> tuple[float, float]:
        """When food, packs and ice take most room, UTC seconds, and how much, litres."""
        at = int(np.argmax(self.trace.room_l))
        return float(self.trace.times_s[at]), float(self.trace.room_l[at])

    @property
    def over_l(self) -> float:
        """How much more than the cooler takes that is; 0 if all fits, or without a cooler."""
        over_l = self.fullest[1] - self.cooler.usable_l
        return over_l if over_l > _ROUNDING_L and self.cooler.kind != "none" else 0.0

    @property
    def fit_known(self) -> bool:
        """Whether the ice left is known to the end; where it is not, it is not counted above."""
        return self.trace.known_until_s >= float(self.trace.times_s[-1])

    @property
    def coldest_c(self) -> float:
        """Coldest known air while something must stay cold; NaN without any."""
        times_s, air_c = self.trace.times_s, self.trace.ambient_c
        inside = np.isfinite(air_c)
        inside &= np.any([(times_s >= a) & (times_s <= b) for a, b in self.need_spans], axis=0)
        return float(air_c[inside].min()) if inside.any() else math.nan

    @property
    def stops(self) -> int:
        """Ice stops on the way."""
        return sum(p.stop.counts for p in self.purchases)

    @property
    def bought_kg(self) -> float:
        """All ice bought, home included."""
        return sum(p.kg for p in self.purchases)


@dataclass(frozen=True, slots=True)
class IceGoal:
    """How cold is cold enough."""

    limit_c: float = LIMIT_C
    """Highest temperature during a need."""
    keep_kg: float = KEEP_KG
    """Ice, packs or frozen food that must be left during a need; 0 plans on the limit alone."""
    slack_c: float = 0.5
    """Where even full loads fail, so much warmer than they would be is good enough."""


FOOD_GOAL = IceGoal()
"""The goal for food that spoils."""


def plan_ice(
    cooler: Cooler,
    around: Surroundings,
    *,
    stored: Sequence[Stored],
    stops: Sequence[IceChance],
    needs: Sequence[Need] | None = None,
    fixed: Sequence[IceLoad] = (),
    goal: IceGoal = FOOD_GOAL,
) -> IcePlan:
    """Plan the ice of one cooler.

    Parameters
    ----------
    stops
        Where ice can be had, each at the time of being there. Stops outside the trip are
        ignored. Food put in at the same time goes in first.
    needs
        When the inside must stay cold; None: while anything perishable is inside.
    fixed
        Ice put in whatever the plan, such as a stated load from home; as much as fits.

    Returns
    -------
    IcePlan
        Fewest stops, then fewest stops that only likely have ice, then least ice. Where even
        full loads fail, the plan keeps everything that can be kept and says when it fails. No ice
        long before the first thing to cool, unless without it more fails, or it takes a stop that
        the rider would not make anyway.
    """
    wanted = tuple(needs_of(stored) if needs is None else needs)
    usable = [s for s in stops if around.start_s <= s.at_s < around.end_s]

    def plan(stops: Sequence[IceChance], fixed: Sequence[IceLoad], until_s: float) -> IcePlan:
        line = make_timeline(
            cooler,
            replace(around, end_s=until_s),
            stored=stored,
            needs=wanted,
            marks_s=[*(s.at_s for s in stops), *(load.at_s for load in fixed)],
            forms=[*(s.form for s in stops), *(load.form for load in fixed)],
        )
        problem = make_problem(line, stops, fixed=fixed, keep_kg=goal.keep_kg, limit_c=goal.limit_c)
        return _checked(problem, wanted, fixed, goal.slack_c)

    from_s = min((need.start_s for need in wanted), default=around.start_s) - _EARLY_S
    in_time = [s for s in usable if s.at_s >= from_s]
    first = plan(in_time, fixed, around.end_s)
    if len(in_time) < len(usable) and _costs(first) > _AS_WELL:
        first = min(first, plan(usable, fixed, around.end_s), key=_costs)
    without = []
    for k, doubted in enumerate(first.purchases):
        if doubted.stop.confidence is Confidence.STATED:
            continue
        at_s = doubted.stop.at_s
        loads = [IceLoad(p.stop.at_s, p.loaded_kg, p.stop.form) for p in first.purchases[:k]]
        # Past the next two purchases, topped up there, things go on as planned.
        after = first.purchases[k + 3 :]
        until_s = after[0].stop.at_s if after else around.end_s
        later = [s for s in usable if at_s < s.at_s < until_s]
        rest = plan(later, [*fixed, *loads], until_s)
        warm = [a for a, b in rest.above if b > at_s]
        fails_at_s = max(warm[0], at_s) if warm else None
        without.append(Without(doubted.stop, fails_at_s, rest.purchases))
    return replace(first, without=tuple(without))


def _costs(plan: IcePlan) -> tuple[float, bool, int]:
    """Compare plans: seconds too warm, whether ice runs out or does not fit, stops for ice."""
    warm_s = sum(b - a for a, b in plan.above)
    short = plan.no_ice_from_s is not None or plan.state is IceState.TOO_FULL
    own_stops = sum(p.stop.counts and not p.stop.anyway for p in plan.purchases)
    return warm_s, short, own_stops


_AS_WELL = (0.0, False, 0)
"""Costs of a plan than which none is better."""


def _checked(
    problem: Problem, needs: tuple[Need, ...], fixed: Sequence[IceLoad], slack_c: float
) -> IcePlan:
    """Search, then simulate what was found, as far as it fits; that has the last word."""
    line = problem.line
    purchases: tuple[Purchase, ...] = ()
    if math.isfinite(line.cooler.ua_w_per_k) and any(line.needed):
        chosen = choose(excuse(problem, slack_c)) or ()
        purchases = tuple(
            Purchase(
                problem.stops[c.stop_ix],
                c.bags,
                c.bags * problem.stops[c.stop_ix].bag_kg,
                c.loaded_kg,
            )
            for c in chosen
        )
    bought = [IceLoad(p.stop.at_s, p.loaded_kg, p.stop.form) for p in purchases]
    fitted = fit_loads(line, [*fixed, *bought])
    purchases = tuple(
        replace(p, loaded_kg=load.kg)
        for p, load in zip(purchases, fitted[len(fixed) :], strict=True)
    )
    trace = simulate(line, fitted)
    spans = _merged(needs, line.times_s[0], line.times_s[-1])
    until_s = trace.known_until_s
    known = [(a, min(b, until_s)) for a, b in spans if a < until_s]
    above = [s for a, b in known for s in trace.spans_above(problem.limit_c + 1e-6, a, b)]
    unknown = [max(a, until_s) for a, b in spans if b > until_s]
    if not spans:
        state = IceState.NO_NEED
    elif line.cooler.kind == "none":
        state = IceState.NO_COOLER
    elif above:
        state = IceState.FAILS
    else:
        state = IceState.UNKNOWN if unknown else IceState.HOLDS
    frost = kept_by_frost(line)
    bare = [trace.no_store_from(a, b) for a, b in known if not frost[line.index(a)]]
    no_ice = [at for at in bare if at is not None]
    found = IcePlan(
        cooler=line.cooler,
        state=state,
        limit_c=problem.limit_c,
        keep_kg=problem.keep_kg,
        needs=needs,
        need_spans=tuple(spans),
        stated=tuple(Stated(a, b.kg) for a, b in zip(fixed, fitted, strict=False)),
        purchases=purchases,
        trace=trace,
        above=tuple(above),
        worst_c=max((trace.warmest_c(a, b) for a, b in known), default=math.nan),
        no_ice_from_s=no_ice[0] if no_ice else None,
        unknown_from_s=unknown[0] if unknown else None,
        without=(),
    )
    if found.over_l and state in (IceState.HOLDS, IceState.UNKNOWN):
        return replace(found, state=IceState.TOO_FULL)
    return found


def _merged(needs: Sequence[Need], start_s: float, end_s: float) -> list[Span]:
    """Needs within the trip as spans that do not overlap."""
    spans: list[Span] = []
    for need in sorted(needs, key=lambda n: n.start_s):
        a, b = max(need.start_s, start_s), min(need.end_s, end_s)
        if b <= a:
            continue
        if spans and a <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(b, spans[-1][1]))
        else:
            spans.append((a, b))
    return spans
