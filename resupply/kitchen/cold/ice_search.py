"""Search for the fewest ice stops, then the least ice, that keep the cooler cold.

In: a `CoolerSteps`, where ice can be had, and how cold it must be. Out: bags per stop. Two facts
make the search small and exact (for bags of one size):

* More ice never makes it warmer, so filling up everywhere shows what can be kept at all, and
  filling up at one stop shows how far it can reach.
* A bag bought earlier than needed is worth at most a bag bought later (a warmer cooler gains
  less heat), so at each stop only the smallest load that reaches a given next stop matters,
  and, if that one arrives without ice, the larger ones up to the first that arrives with some.

Ice goes in only as far as everything still fits at every later moment, food of the next stops
included: by then so much has melted (see `room_for_ice_kg`).

Meltwater counts as drained here, whatever the cooler does; that is the cautious side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from resupply.common.errors import TripFileError
from resupply.kitchen.cold.balance import State, add_ice, advance, apply_moves, first_state, step
from resupply.kitchen.cold.heat import LATENT_KJ_PER_KG
from resupply.kitchen.cold.steps import kept_by_frost
from resupply.places.place import Confidence

if TYPE_CHECKING:
    from collections.abc import Sequence

    from resupply.kitchen.cold.balance import IceLoad
    from resupply.kitchen.cold.cooler import IceForm
    from resupply.kitchen.cold.steps import CoolerSteps

__all__ = [
    "IceChance",
    "IceChoice",
    "Problem",
    "choose",
    "excuse",
    "fit_loads",
    "make_problem",
    "room_for_ice_kg",
]

_MIN_BAG_KG = 0.25
"""Our choice: less is no bag, but a slip of the pen."""
_ROUNDING_KJ = 1e-9
"""Less is the rounding of floats, not warmth."""
_SLACK_KG = 0.25
"""Our choice: so much less may be left where even full loads fail (`excuse`)."""
_PLENTY_KG = 1e4
"""More ice than melts on any trip."""


@dataclass(frozen=True, slots=True)
class IceChance:
    """One occasion on which ice can be bought."""

    at_s: float
    """UTC seconds since 1970."""
    label: str
    """Name of the place; map text, hostile."""
    confidence: Confidence
    bag_kg: float = 2.0
    form: IceForm = "cube"
    counts: bool = True
    """False for the freezer at home: it is no stop on the way."""
    key: str = ""
    """The caller's own mark of the occasion, handed through."""
    anyway: bool = False
    """The rider stops there for food in any case."""


@dataclass(frozen=True, slots=True)
class IceChoice:
    """Bags from one stop."""

    stop_ix: int
    bags: int
    loaded_kg: float
    """What fits; the rest of the last bag is left behind."""


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """What has to be kept, ready for quick trials. n steps, k stops."""

    line: CoolerSteps
    stops: tuple[IceChance, ...]
    """Sorted by time."""
    stop_at: tuple[int, ...]
    """(k,) grid point of each stop."""
    stops_here: dict[int, tuple[int, ...]]
    fixed_kg: dict[int, float]
    """Ice put in whatever the plan, by grid point."""
    ceiling_kj: tuple[float, ...]
    """(n,) highest heat content allowed during each step; infinite without a need."""
    keep_kg: float
    limit_c: float
    melt_kj: tuple[float, ...]
    """(n,) heat gain with the inside at 0 °C."""


def make_problem(
    line: CoolerSteps,
    stops: Sequence[IceChance],
    *,
    fixed: Sequence[IceLoad],
    keep_kg: float,
    limit_c: float,
) -> Problem:
    """Prepare a search. Stops and fixed loads must be marks of the timeline.

    Raises
    ------
    TripFileError
        A bag too small to be one.
    """
    for stop in stops:
        if not stop.bag_kg >= _MIN_BAG_KG:
            raise TripFileError(
                f"a bag of {stop.bag_kg:g} kg of ice is too small to plan with",
                where="cooler bag_kg",
                mend=f"Give at least {_MIN_BAG_KG:g} kg",
            )
    ordered = tuple(sorted(stops, key=lambda s: (s.at_s, s.label)))
    stop_at = tuple(line.index(s.at_s) for s in ordered)
    stops_here: dict[int, tuple[int, ...]] = {}
    for j, at in enumerate(stop_at):
        stops_here[at] = (*stops_here.get(at, ()), j)
    fixed_kg: dict[int, float] = {}
    for load in fixed:
        at = line.index(load.at_s)
        fixed_kg[at] = fixed_kg.get(at, 0.0) + load.kg
    reserve_kj = -keep_kg * LATENT_KJ_PER_KG
    frost = kept_by_frost(line)
    return Problem(
        line=line,
        stops=ordered,
        stop_at=stop_at,
        stops_here=stops_here,
        fixed_kg=fixed_kg,
        ceiling_kj=tuple(
            (reserve_kj if keep_kg > 0.0 and not cold else capacity * limit_c)
            if needed
            else math.inf
            for needed, cold, capacity in zip(
                line.needed, frost, line.capacity_kj_per_k, strict=True
            )
        ),
        keep_kg=keep_kg,
        limit_c=limit_c,
        melt_kj=tuple(
            leak * out for leak, out in zip(line.leak_kj_per_k, line.outside_c, strict=True)
        ),
    )


def fit_loads(line: CoolerSteps, loads: Sequence[IceLoad]) -> tuple[IceLoad, ...]:
    """Cut loads to the room there is from then on, each in its turn.

    Their times must be marks of the timeline. Past the known weather nobody can tell how much ice
    is left, and a load is cut to the room beside food and packs alone.
    """
    fitted = [replace(load, kg=min(load.kg, line.room_kg(line.index(load.at_s)))) for load in loads]
    if math.isinf(line.cooler.ua_w_per_k):
        return tuple(fitted)
    waiting = sorted(range(len(fitted)), key=lambda k: fitted[k].at_s)
    state = first_state(line)
    for n in range(line.steps_known):
        state = apply_moves(state, line.moves.get(n, ()))
        while waiting and line.index(fitted[waiting[0]].at_s) <= n:
            k = waiting.pop(0)
            room_kg = room_for_ice_kg(line, n, state)
            fitted[k] = replace(fitted[k], kg=min(fitted[k].kg, room_kg))
            state = add_ice(state, fitted[k].kg, line.capacity_kj_per_k[n])
        state = step(line, n, state)
    return tuple(fitted)


def room_for_ice_kg(line: CoolerSteps, at: int, state: State) -> float:
    """How much ice may be put in so that everything fits from then on, kg.

    Ice in hand falls by what melts, so it is followed with plenty of ice inside: the load may be
    at most the room at any later moment and what has melted by then. More ice bought later is
    judged at its own time.

    Parameters
    ----------
    at
        Grid point of the load.
    state
        There, with the food of the same moment already in.
    """
    in_hand_kg = state.ice_kg + _PLENTY_KG
    most_kg = line.room_kg(at)
    state = add_ice(state, _PLENTY_KG, line.capacity_kj_per_k[min(at, line.steps - 1)])
    heat_kj, loose_kg = state.heat_kj, state.loose_kg
    for n in range(at, line.steps_known):
        if n > at and n in line.moves:
            state = apply_moves(State(heat_kj, loose_kg), line.moves[n])
            heat_kj, loose_kg = state.heat_kj, state.loose_kg
        # As `State.ice_kg` has it; asked for hundreds of thousands of times.
        melted_kg = in_hand_kg - min(loose_kg, max(-heat_kj, 0.0) / LATENT_KJ_PER_KG)
        if melted_kg >= most_kg:
            break
        most_kg = min(most_kg, line.room_kg(n) + melted_kg)
        heat_kj += line.leak_kj_per_k[n] * line.outside_c[n]
    return max(most_kg - in_hand_kg + _PLENTY_KG, 0.0)


def excuse(problem: Problem, slack_c: float = 0.5) -> Problem:
    """Allow what cannot be kept even by filling up everywhere, and no more than that.

    Where full loads fail, `slack_c` more than they reach is allowed, and a quarter of a kilogram
    less of the ice that should be left, so that a plan need not stop everywhere for nothing; the
    limit itself is given up only where full loads break it.
    """
    line = problem.line
    ceiling_kj = list(problem.ceiling_kj)
    state = first_state(line)
    for n in range(line.steps_known):
        capacity = line.capacity_kj_per_k[n]
        state = _at_grid_point(problem, state, n)
        if n in problem.stops_here:
            state = add_ice(state, room_for_ice_kg(line, n, state), capacity)
        after_kj = advance(state.heat_kj, capacity, line.outside_c[n], line.leak_kj_per_k[n])
        highest_kj = max(state.heat_kj, after_kj)
        if highest_kj > ceiling_kj[n] + _ROUNDING_KJ:
            limit_kj = capacity * problem.limit_c
            ceiling_kj[n] = highest_kj + capacity * slack_c
            if highest_kj <= limit_kj:
                spare_kj = max(capacity * slack_c, _SLACK_KG * LATENT_KJ_PER_KG)
                ceiling_kj[n] = min(highest_kj + spare_kj, limit_kj)
        state = State(after_kj, state.ice_kg)
    return replace(problem, ceiling_kj=tuple(ceiling_kj))


def choose(problem: Problem) -> tuple[IceChoice, ...] | None:
    """Find the fewest stops, then the fewest "likely" ones, then the least ice.

    Returns
    -------
    tuple of Choice or None
        In time order; None if it cannot be done (it always can after `excuse`).
    """
    start = _at_grid_point(problem, first_state(problem.line), 0)
    arrivals, kept = _run(problem, start, 0)
    arrivals |= dict.fromkeys(problem.stops_here.get(0, ()), start)
    if kept:
        return ()
    further = _least_further(problem)
    fewest = min((_cost(problem, j) + further[j] for j in arrivals), default=math.inf)
    if fewest == math.inf:
        return None
    for most in range(int(fewest), len(problem.stops) + 1):
        found = _within(problem, arrivals, further, most)
        if found is not None:
            return found
    return None


@dataclass(frozen=True, slots=True)
class _Label:
    """A partial plan arriving at a stop where it will buy."""

    stops: int
    likely: int
    kg: float
    state: State
    path: tuple[IceChoice, ...]

    def rank(self) -> tuple[int, int, float]:
        return (self.stops, self.likely, self.kg)


def _within(
    problem: Problem, arrivals: dict[int, State], further: Sequence[float], most: int
) -> tuple[IceChoice, ...] | None:
    """Best plan of at most so many stops."""
    waiting: list[list[_Label]] = [[] for _ in problem.stops]
    for j, state in arrivals.items():
        waiting[j].append(_Label(0, 0, 0.0, state, ()))
    best: _Label | None = None
    for j, stop in enumerate(problem.stops):
        for label in _undominated(waiting[j]):
            stops = label.stops + _cost(problem, j)
            if stops + further[j] > most:
                continue
            likely = label.likely + (stop.counts and stop.confidence is not Confidence.STATED)
            room_kg = room_for_ice_kg(problem.line, problem.stop_at[j], label.state)
            settled: set[int] = set()
            for bags in range(1, math.ceil(room_kg / stop.bag_kg - 1e-9) + 1):
                choice = IceChoice(j, bags, min(bags * stop.bag_kg, room_kg))
                after = _Label(
                    stops,
                    likely,
                    label.kg + bags * stop.bag_kg,
                    add_ice(label.state, choice.loaded_kg, _capacity(problem, j)),
                    (*label.path, choice),
                )
                onward, kept = _run(problem, after.state, problem.stop_at[j])
                for k, state in onward.items():
                    if k not in settled:
                        waiting[k].append(replace(after, state=state))
                    if state.ice_kg > 0.0:
                        settled.add(k)
                if kept:
                    if best is None or after.rank() < best.rank():
                        best = after
                    break
    return None if best is None else best.path


def _undominated(labels: Sequence[_Label]) -> list[_Label]:
    kept: list[_Label] = []
    for label in sorted(labels, key=lambda x: (*x.rank(), x.state.heat_kj)):
        if not any(
            k.likely <= label.likely
            and k.kg <= label.kg + 1e-9
            and k.state.heat_kj <= label.state.heat_kj + 1e-9
            and k.state.store_kg - k.state.ice_kg
            >= label.state.store_kg - label.state.ice_kg - 1e-9
            for k in kept
        ):
            kept.append(label)
    return kept


def _least_further(problem: Problem) -> list[float]:
    """Fewest stops still needed after filling up at each stop; a lower bound."""
    further = [math.inf] * len(problem.stops)
    line = problem.line
    # Everything that is ever put in frozen, as if it were all there: a bound, not a plan.
    moves = [move for here in line.moves.values() for move in here]
    frozen_kg = line.cooler.frozen_packs_kg + sum(m.frozen_kg for m in moves if m.sign > 0)
    for j in reversed(range(len(problem.stops))):
        at = problem.stop_at[j]
        most_kg = line.room_kg(at) + frozen_kg
        onward, kept = _run(problem, State(-most_kg * LATENT_KJ_PER_KG, most_kg), at)
        further[j] = (
            0.0 if kept else min((_cost(problem, k) + further[k] for k in onward), default=math.inf)
        )
    return further


def _run(problem: Problem, state: State, start: int) -> tuple[dict[int, State], bool]:
    """Follow a state from a grid point, its purchase made, until it fails or the trip ends.

    Returns the states on arrival at each later stop, and whether all was kept to the end.
    """
    line = problem.line
    heat_kj, loose_kg = state.heat_kj, state.loose_kg
    arrivals: dict[int, State] = {}
    for n in range(start, line.steps_known):
        ceiling_kj = problem.ceiling_kj[n] + _ROUNDING_KJ
        if heat_kj > ceiling_kj:
            return arrivals, False
        melted_kj = heat_kj + problem.melt_kj[n]
        heat_kj = (
            melted_kj
            if melted_kj <= 0.0
            else advance(
                heat_kj, line.capacity_kj_per_k[n], line.outside_c[n], line.leak_kj_per_k[n]
            )
        )
        if heat_kj > ceiling_kj:
            return arrivals, False
        at = n + 1
        if at in line.moves or at in problem.fixed_kg:
            state = _at_grid_point(problem, State(heat_kj, loose_kg), at)
            heat_kj, loose_kg = state.heat_kj, state.loose_kg
        for j in problem.stops_here.get(at, ()):
            arrivals[j] = State(heat_kj, loose_kg)
    return arrivals, True


def _at_grid_point(problem: Problem, state: State, at: int) -> State:
    """Food in and out, then ice that is put in whatever the plan, as far as it fits."""
    line = problem.line
    state = apply_moves(state, line.moves.get(at, ()))
    if at in problem.fixed_kg:
        kg = min(problem.fixed_kg[at], room_for_ice_kg(line, at, state))
        state = add_ice(state, kg, line.capacity_kj_per_k[min(at, line.steps - 1)])
    return state


def _capacity(problem: Problem, j: int) -> float:
    return problem.line.capacity_kj_per_k[min(problem.stop_at[j], problem.line.steps - 1)]


def _cost(problem: Problem, j: int) -> int:
    return int(problem.stops[j].counts)
