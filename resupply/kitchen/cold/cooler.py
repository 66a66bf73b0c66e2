"""What the cooler is: its volume, how fast heat leaks in, and where that figure comes from.

The leak (UA, W/K) is the owner's own ice test where there is one, else a labelled default
from the kind of cooler. A simple closed form ties leak and ice life together.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from resupply.common.errors import TripFileError
from resupply.common.toml_file import packaged_toml
from resupply.common.units import S_PER_DAY
from resupply.kitchen.cold.heat import (
    LATENT_KJ_PER_KG,
    box_area_m2,
    wall_ua_w_per_k,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = [
    "Colour",
    "Cooler",
    "IceForm",
    "IceTest",
    "Kind",
    "Meltwater",
    "cooler_data",
    "make_cooler",
    "stowage_l_per_kg",
    "ua_from_ice_test",
]

Kind = Literal["hard", "soft", "bag", "none"]
"""Hard-sided, soft-sided, insulated bag, or none."""
Colour = Literal["light", "middle", "dark"]
"""Of the outside: how much sun it takes in."""
IceForm = Literal["block", "cube"]
"""Ice as sold; cubes take more room."""
Meltwater = Literal["drained", "kept"]
"""What is done with it each time ice is put in."""

_AIR_KJ_PER_L_K = 1.2e-3 * 1.005
"""Heat capacity of air: density 1.2 kg/m³ times 1.005 kJ/(kg K), at 20 °C (from memory)."""
_LEAST_UA_W_PER_K = 0.02
"""Below it an ice test is in error: a 5 litre box of 25 mm vacuum panels leaks 0.028 W/K
(0.175 m², 0.004 W/(m K), from memory). Our choice, so that no slip keeps ice for ever."""


@dataclass(frozen=True, slots=True)
class IceTest:
    """The owner's own test: so much ice lasted so long at such a temperature."""

    ice_kg: float
    hours: float
    ambient_c: float


@dataclass(frozen=True, slots=True)
class Cooler:
    """One cooler, ready for the heat balance."""

    name: str
    """What it holds: "food" or "drinks"."""
    kind: Kind
    volume_l: float
    """Inner volume."""
    ua_w_per_k: float
    """Heat leak through the walls in still air, lid shut; infinite without a cooler."""
    ua_source: str
    liner_kj_per_k: float
    """Heat capacity of the inner wall, which warms and cools with the contents."""
    pre_chilled: bool = True
    """Inside starts at refrigerator temperature rather than at air temperature."""
    packs_kg: float = 0.0
    """Reusable packs, frozen at the start; on the road only while they are away."""
    packs_away: tuple[tuple[float, float], ...] = ()
    """When the packs lie in a camp's freezer instead, UTC seconds: in order, apart from each other.
    They come back frozen."""
    under_way: bool = False
    """The trip is going on: packs have thawed, and what is inside may have been warm before."""
    openings_per_day: float = 8.0
    wind_factor: float = 1.0
    """How much more leaks in while riding than in still air."""
    sun_excess_k: float = 24.0
    """How much hotter than the air the outside is while parked in the sun."""
    sun_riding_k: float = 6.0
    """The same while riding: the wind cools it."""
    meltwater: Meltwater = "drained"
    """Drained as it melts, or kept until the next ice is bought."""

    @property
    def usable_l(self) -> float:
        """Room for food, packs and ice together; never all of the volume."""
        return self.volume_l * float(cooler_data()["room"]["usable_share"])

    @property
    def packs_l(self) -> float:
        """Room the packs take, frozen or thawed."""
        return self.packs_kg * float(cooler_data()["stowage"]["pack_l_per_kg"])

    @property
    def frozen_packs_kg(self) -> float:
        """Packs that are frozen at the start."""
        return 0.0 if self.under_way else self.packs_kg

    @property
    def lid_w_per_k(self) -> float:
        """Mean heat gain per kelvin from lid openings, spread over the day."""
        lid = cooler_data()["lid"]
        # The cautious choice: all of the inner volume is air, and swapped.
        air_l = self.volume_l * lid["volumes_of_air"]
        per_opening_kj_per_k = air_l * _AIR_KJ_PER_L_K * lid["moisture_factor"]
        return float(self.openings_per_day * per_opening_kj_per_k * 1000.0 / S_PER_DAY)


def make_cooler(
    kind: Kind,
    volume_l: float,
    *,
    name: str = "food",
    ice_test: IceTest | None = None,
    pre_chilled: bool = True,
    packs_kg: float = 0.0,
    openings_per_day: float = 8.0,
    colour: Colour = "middle",
) -> Cooler:
    """Describe a cooler from what its owner knows.

    Parameters
    ----------
    kind
        hard, soft, bag or none. "none" has no insulation at all: food is as warm as the air.
    volume_l
        Inner volume, > 0.
    ice_test
        The owner's own test; without it the leak is a labelled default of the kind.
    colour
        Of its outside: a dark one takes in three times the sun of a light one.

    Raises
    ------
    TripFileError
        A value that no cooler has.

    Examples
    --------
    >>> soft, hard = make_cooler("soft", 25.0), make_cooler("hard", 25.0)
    >>> soft.ua_w_per_k > 1.5 * hard.ua_w_per_k
    True
    """
    if not volume_l > 0.0:
        raise TripFileError("needs a volume above 0", where=name)
    data = cooler_data()
    table = "cooler" if name == "food" else f"{name}_cooler"
    wind_factor = 1.0
    if kind == "none":
        ua_w_per_k, source, liner_kj_per_k = math.inf, "no cooler", 0.0
        packs_kg = 0.0
    else:
        facts = data["kinds"][kind]
        liner_kj_per_k = facts["liner_kj_per_k_per_l"] * volume_l
        usual_w_per_k, riding_w_per_k, source = _default_leak(volume_l, facts, data["wall"])
        # A test is made in still air: the wind adds as much to it as to the usual wall.
        wind_factor = riding_w_per_k / usual_w_per_k
        if ice_test is None:
            ua_w_per_k = usual_w_per_k
        else:
            ua_w_per_k = ua_from_ice_test(
                ice_test.ice_kg, ice_test.hours, ice_test.ambient_c, key=f"{table}.test_hours"
            )
            source = (
                f"own ice test: {ice_test.ice_kg:g} kg lasted {ice_test.hours:g} h "
                f"at {ice_test.ambient_c:g} °C"
            )
        source += f"; {wind_factor:.2f} times as much in the wind of riding"
    cooler = Cooler(
        name=name,
        kind=kind,
        volume_l=volume_l,
        ua_w_per_k=ua_w_per_k,
        ua_source=source,
        liner_kj_per_k=liner_kj_per_k,
        pre_chilled=pre_chilled,
        packs_kg=packs_kg,
        openings_per_day=openings_per_day,
        wind_factor=wind_factor,
        sun_excess_k=_sun_excess_k(colour, data["wall"]["film_w_per_m2_k"]),
        sun_riding_k=_sun_excess_k(colour, data["wall"]["riding_film_w_per_m2_k"]),
    )
    if cooler.packs_l > cooler.usable_l:
        said = (
            f"{packs_kg:g} kg of packs take {cooler.packs_l:.3g} L, and a cooler of {volume_l:g} L "
            f"takes {cooler.usable_l:.3g} L in all"
        )
        raise TripFileError(
            said,
            where=f"{name} cooler packs_kg",
            mend="Give the packs that really go in, in kg, or the cooler's inner volume",
            key=f"{table}.packs_kg",
            problem=said,
        )
    return cooler


def ua_from_ice_test(
    ice_kg: float,
    hours: float,
    ambient_c: float,
    *,
    contents_kj_per_k: float = 0.0,
    end_c: float = 0.0,
    key: str = "",
) -> float:
    """Heat leak from an ice test at steady temperature, W/K.

    Melting takes ``m L``; if the test ended only when the contents (heat capacity C,
    meltwater included) had warmed to `end_c`, that took ``C ln(Ta / (Ta - end))`` more:
    ``UA = (m L / Ta + C ln(Ta / (Ta - end))) / t``.

    Parameters
    ----------
    ice_kg, hours
        Ice put in at 0 °C and time it lasted, both > 0.
    ambient_c
        Steady air temperature, above 0 and above `end_c`.
    contents_kj_per_k
        Heat capacity of everything inside once melted; 0 if the test ended with the ice.
    key
        Dotted key of the test's time, for an error.

    Raises
    ------
    TripFileError
        A test from which no leak follows.

    Examples
    --------
    >>> round(ua_from_ice_test(3.0, 24.0, 25.0), 3)
    0.463
    """
    if not (ice_kg > 0.0 and hours > 0.0 and ambient_c > max(end_c, 0.0)):
        raise TripFileError(
            "no heat leak follows from this ice test",
            where="cooler ice test",
            mend="Give kilograms and hours above 0 and a temperature above freezing",
            key=key,
        )
    heat_kj_per_k = ice_kg * LATENT_KJ_PER_KG / ambient_c
    heat_kj_per_k += contents_kj_per_k * math.log(ambient_c / (ambient_c - end_c))
    ua_w_per_k = heat_kj_per_k / (hours * 3.6)
    if not _LEAST_UA_W_PER_K <= ua_w_per_k < math.inf:
        raise TripFileError(
            f"this ice test gives a heat leak of {ua_w_per_k:.2g} W/K, which no cooler has",
            where="cooler ice test",
            mend="Check the kilograms, the hours and the temperature",
            key=key,
        )
    return ua_w_per_k


def stowage_l_per_kg(form: IceForm) -> float:
    """Room one kilogram of ice takes in the cooler, air between the pieces included."""
    return float(cooler_data()["stowage"][f"{form}_l_per_kg"])


def cooler_data() -> Mapping[str, Any]:
    """Give the table of defaults with their sources."""
    return packaged_toml("resupply.kitchen.cold", "coolers.toml")


def _sun_excess_k(colour: Colour, film_w_per_m2_k: float) -> float:
    """How much hotter than the air the skin is in the sun, on average over all of it."""
    sun = cooler_data()["sun"]
    taken_w_per_m2 = sun["absorptance"][colour] * sun["w_per_m2"] * sun["share_of_skin"]
    return float(taken_w_per_m2 / film_w_per_m2_k)


def _default_leak(
    volume_l: float, facts: Mapping[str, Any], wall: Mapping[str, Any]
) -> tuple[float, float, str]:
    """Leak in still air and while riding, and where they come from."""
    thickness_m = facts["thickness_m"]
    short_m = (volume_l / 1000.0 / 1.5) ** (1.0 / 3.0)
    # Mid-wall: half a wall added on each side of the inner box.
    side_m, long_m = short_m + thickness_m, 1.5 * short_m + thickness_m
    parked, riding = (
        wall_ua_w_per_k(
            box_area_m2(side_m, side_m, long_m),
            thickness_m,
            facts["conductivity_w_per_m_k"],
            film_w_per_m2_k=wall[film],
        )
        for film in ("film_w_per_m2_k", "riding_film_w_per_m2_k")
    )
    source = (
        f"default for {facts['words']} of its size: {thickness_m * 1000:g} mm "
        f"wall (assumption), conductivity {facts['conductivity_w_per_m_k']:g} W/(m K)"
    )
    return parked, riding, source
