"""Textbook heat: water, ice, food and walls. Numbers and formulas, nothing of the trip.

Latent heat of food from its water share: NZIFST, Unit Operations in Food
Processing, appendix 7. Wall: plane layers in series, areas as stated by the caller.
"""

from __future__ import annotations

from typing import Final

__all__ = [
    "CP_WATER_KJ_PER_KG_K",
    "LATENT_KJ_PER_KG",
    "box_area_m2",
    "food_latent_kj_per_kg",
    "wall_ua_w_per_k",
]

LATENT_KJ_PER_KG: Final = 333.55
"""Latent heat of fusion of ice (CRC Handbook; from memory). Others print 333.7, 334, 334.9."""

CP_WATER_KJ_PER_KG_K: Final = 4.19
"""Specific heat of water (NZIFST; tables print 4.218 at 0 °C and 4.182 at 20 °C)."""

_FOOD_LATENT_KJ_PER_KG: Final = 335.0
"""Latent heat of the water in food (NZIFST, appendix 7)."""


def food_latent_kj_per_kg(water_share: float) -> float:
    """Heat that thaws one kilogram of frozen food, from its share of water (0 to 1)."""
    return _FOOD_LATENT_KJ_PER_KG * water_share


def box_area_m2(width_m: float, depth_m: float, height_m: float, *, base: bool = True) -> float:
    """Surface of a box, with or without its base.

    Which surface (inner, mid-wall, outer) is the caller's to say: between inner and outer the
    answer of a heat balance moves by about 30 %.
    """
    top = width_m * depth_m
    return top + (top if base else 0.0) + 2.0 * (width_m + depth_m) * height_m


def wall_ua_w_per_k(
    area_m2: float,
    thickness_m: float,
    conductivity_w_per_m_k: float,
    *,
    film_w_per_m2_k: float | None = None,
    film_area_m2: float | None = None,
) -> float:
    """Heat leak of an insulated wall per kelvin, W/K.

    Parameters
    ----------
    area_m2
        Area of the insulation.
    film_w_per_m2_k
        Surface coefficient of the outside air; None leaves it out (outside skin known).
    film_area_m2
        Outer area for the film; the insulation's own where None.
    """
    resistance_k_per_w = thickness_m / (conductivity_w_per_m_k * area_m2)
    if film_w_per_m2_k is not None:
        resistance_k_per_w += 1.0 / (film_w_per_m2_k * (film_area_m2 or area_m2))
    return 1.0 / resistance_k_per_w
