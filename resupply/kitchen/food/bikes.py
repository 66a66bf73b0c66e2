"""Who carries what: parcels of food and gear shared out over several bikes.

In: parcels and what each bike may take, and who carried what until now. Out: a bike for each
parcel. What must stay together is one parcel (the cooler with all that is in it; without one, raw
meat in its bags; pots, stove and fuel, apart from food). What lies on a bike stays there; the rest
goes largest first to the bike that is least full with it, and then moves as long as that evens out
the fullest. The same parcels always give the same answer.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from resupply.kitchen.food.load import ROUNDING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["Bike", "Carried", "Parcel", "ParcelKind", "share_out"]

ParcelKind = Literal["cooler", "drinks", "raw", "kitchen", "food", "spare"]
"""What is in a parcel: it must stay together, but for food and spare meals, one kind each."""


@dataclass(frozen=True, slots=True)
class Bike:
    """What one bike may take."""

    name: str
    """The rider's own text."""
    load_kg: float
    room_l: float
    """Without the cooler, which is strapped on top."""


@dataclass(frozen=True, slots=True)
class Parcel:
    """What lies on one bike."""

    key: str
    kind: ParcelKind
    mass_kg: float
    room_l: float
    foods: tuple[str, ...] = ()
    """Ids of the ingredients in it; empty for gear."""


@dataclass(frozen=True, slots=True)
class Carried:
    """One bike, loaded."""

    bike: Bike
    parcels: tuple[Parcel, ...]
    mass_kg: float
    """Its share of the water included."""
    room_l: float
    water_kg: float

    @property
    def over_kg(self) -> float:
        """By how much it is over its load; 0 if within."""
        over = self.mass_kg - self.bike.load_kg
        return over if over > ROUNDING else 0.0

    @property
    def over_l(self) -> float:
        """By how much more it has than room for."""
        over = self.room_l - self.bike.room_l
        return over if over > ROUNDING else 0.0


def share_out(
    bikes: Sequence[Bike],
    parcels: Sequence[Parcel],
    *,
    water_kg: float = 0.0,
    before: Mapping[str, int] | None = None,
) -> tuple[Carried, ...]:
    """Load the bikes.

    Parameters
    ----------
    water_kg
        Of all of them, shared evenly: each rider needs it within reach.
    before
        Number of the bike, from 0, that carried a parcel until now, by the parcel's key. Where a
        bike would be over its load or room by that, all is shared out anew.
    """
    each_kg = water_kg / len(bikes)
    kept = _shared(bikes, parcels, each_kg, before or {})
    if before and any(one.over_kg or one.over_l for one in kept):
        anew = _shared(bikes, parcels, each_kg, {})
        if _worst(anew) < _worst(kept) - ROUNDING:
            return anew
    return kept


def _shared(
    bikes: Sequence[Bike], parcels: Sequence[Parcel], water_kg: float, before: Mapping[str, int]
) -> tuple[Carried, ...]:
    ordered = sorted(parcels, key=lambda p: (-_share(p, bikes), p.key))
    held: list[list[Parcel]] = [
        [p for p in ordered if before.get(p.key) == n] for n in range(len(bikes))
    ]
    fresh = [p for p in ordered if not 0 <= before.get(p.key, -1) < len(bikes)]
    for parcel in fresh:
        if parcel.kind == "cooler":
            # It stays where it is strapped: on the bike that may carry most.
            n = max(range(len(bikes)), key=lambda k: (bikes[k].load_kg, -k))
        else:
            n = min(
                range(len(bikes)), key=lambda k: (_full(bikes[k], [*held[k], parcel], water_kg), k)
            )
        held[n].append(parcel)
    _even_out(bikes, held, [p for p in fresh if p.kind != "cooler"], water_kg)
    return tuple(
        Carried(
            bike,
            tuple(mine),
            sum(p.mass_kg for p in mine) + water_kg,
            sum(p.room_l for p in mine),
            water_kg,
        )
        for bike, mine in zip(bikes, held, strict=True)
    )


def _even_out(
    bikes: Sequence[Bike], held: Sequence[list[Parcel]], movable: Sequence[Parcel], water_kg: float
) -> None:
    """Move parcels off the fullest bike as long as the fuller of the two gets less full."""
    for _ in range(len(movable)):
        fulls = [_full(bike, mine, water_kg) for bike, mine in zip(bikes, held, strict=True)]
        top = fulls.index(max(fulls))
        best: tuple[float, int, Parcel] | None = None
        for parcel in (p for p in held[top] if p in movable):
            less = _full(bikes[top], [p for p in held[top] if p is not parcel], water_kg)
            for k in range(len(bikes)):
                if k == top:
                    continue
                full = max(less, _full(bikes[k], [*held[k], parcel], water_kg))
                if full < fulls[top] - ROUNDING and (best is None or full < best[0] - ROUNDING):
                    best = (full, k, parcel)
        if best is None:
            return
        held[top].remove(best[2])
        held[best[1]].append(best[2])


def _full(bike: Bike, parcels: Sequence[Parcel], water_kg: float) -> float:
    """How full a bike is by mass or by room, whichever is more; 1 is full."""
    mass_kg = sum(p.mass_kg for p in parcels) + water_kg
    return max(mass_kg / bike.load_kg, sum(p.room_l for p in parcels) / bike.room_l)


def _share(parcel: Parcel, bikes: Sequence[Bike]) -> float:
    """How large a parcel is beside what all bikes may take."""
    return max(
        parcel.mass_kg / sum(bike.load_kg for bike in bikes),
        parcel.room_l / sum(bike.room_l for bike in bikes),
    )


def _worst(loaded: Sequence[Carried]) -> float:
    return max(max(one.mass_kg / one.bike.load_kg, one.room_l / one.bike.room_l) for one in loaded)
