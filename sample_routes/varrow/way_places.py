# ruff: noqa: E501
"""What lies beside the road between settlements: camps, springs, taps, stalls. All invented.

A row is: route, kilometres from its start, metres to the right (negative: left), how it is
mapped, tags parted by `|`.
"""

from __future__ import annotations

__all__ = ["WAY_PLACES"]

Row = tuple[str, float, float, str, str]

WAY_PLACES: tuple[Row, ...] = (
    # Camps near the ends of days of 230 km, except the fourth.
    ("coast_loop", 55.0, -700, "area", "tourism=camp_site|name=Campo da Urze|tents=yes|fee=yes|drinking_water=yes|shower=yes"),
    ("coast_loop", 98.5, -500, "area", "tourism=camp_site|name=Parque Grimsa|tents=yes|fee=yes|seasonal=yes|opening_hours=May 15-Sep 15|drinking_water=yes"),
    ("coast_loop", 140.0, 900, "area", "tourism=caravan_site|name=Autocaravanas Ardhavn|tents=no|fee=yes"),
    ("coast_loop", 172.0, -400, "node", "tourism=camp_site|name=Campo Escuteiro|group_only=yes|tents=yes"),
    ("coast_loop", 219.0, -600, "area", "tourism=camp_site|name=Bosque de Vila|tents=yes|fee=yes|drinking_water=yes|shower=yes|toilets=yes"),
    ("coast_loop", 241.0, 800, "node", "tourism=camp_site|name=Curral Velho|tents=yes|fee=no|drinking_water=no"),
    ("coast_loop", 302.0, -900, "area", "tourism=camp_site|name=Dunas do Norte|tents=yes|fee=yes|access=members"),
    ("coast_loop", 398.0, -500, "area", "tourism=camp_site|name=Penedo Camping|tents=yes|fee=yes"),
    ("coast_loop", 455.0, -700, "area", "tourism=camp_site|name=Baía Escura|tents=yes|fee=yes|drinking_water=yes|shower=yes"),
    ("coast_loop", 478.0, -900, "area", "tourism=camp_site|name=Foz do Sul Verde|tents=yes|fee=yes"),
    ("coast_loop", 548.0, 600, "area", "tourism=camp_site|name=Poço Fundo|tents=yes|fee=yes|drinking_water=yes"),
    ("coast_loop", 671.0, -800, "area", "tourism=camp_site|name=Praia da Gorvenda|tents=yes|fee=yes|drinking_water=yes|toilets=yes"),
    ("coast_loop", 746.0, -900, "area", "tourism=camp_site|name=Lagoa de Beir|tents=yes|fee=yes|drinking_water=yes"),
    ("coast_loop", 849.0, -600, "area", "tourism=camp_site|name=Areal Comprido|tents=yes|fee=yes|opening_hours=Apr-Oct"),
    ("coast_loop", 44.0, 120, "node", "natural=spring|name=Fonte da Urze"),
    ("coast_loop", 200.0, 90, "node", "man_made=water_tap|drinking_water=yes"),
    ("coast_loop", 274.0, -150, "node", "natural=spring|name=Olho do Cabo"),
    ("coast_loop", 360.0, 200, "node", "shop=farm|name=Queijaria da Ponta"),
    ("coast_loop", 505.0, 80, "node", "man_made=water_tap|name=Torneira da Estrada"),
    ("coast_loop", 601.0, -130, "node", "natural=spring|name=Fonte das Cabras"),
    ("coast_loop", 617.0, 150, "node", "amenity=restaurant|name=Curva do Vento"),
    ("coast_loop", 815.0, 60, "node", "amenity=drinking_water"),
    ("coast_loop", 880.0, -100, "node", "natural=spring|drinking_water=no|name=Água Vermelha"),
    # Along the road to Hvitapraia.
    ("there_and_back", 62.0, 300, "area", "tourism=camp_site|name=Lago Redondo|tents=yes|fee=no"),
    ("there_and_back", 222.0, -600, "area", "tourism=camp_site|name=Campo das Garças|tents=yes|fee=yes|drinking_water=yes"),
    ("there_and_back", 258.0, 200, "node", "natural=spring"),
    ("there_and_back", 305.0, 700, "area", "tourism=camp_site|name=Duna Branca|tents=yes|fee=yes|drinking_water=yes"),
    # The moor and Sundra.
    ("long_moor", 151.0, 300, "node", "tourism=camp_site|name=Abrigo da Kvern|tents=yes|fee=no|backcountry=yes"),
    ("long_moor", 216.0, -150, "node", "natural=spring"),
    ("long_moor", 271.0, 400, "node", "tourism=camp_site|name=Curral da Serra|tents=yes|fee=no|backcountry=yes"),
    ("long_moor", 430.0, -350, "node", "tourism=camp_site|name=Pousio|tents=yes|fee=no|backcountry=yes"),
    ("long_moor", 505.0, 120, "node", "natural=spring"),
    ("long_moor", 592.0, 500, "area", "tourism=camp_site|name=Água Longa|tents=yes|fee=yes|drinking_water=no"),
    ("long_moor", 750.0, -400, "node", "tourism=camp_site|name=Abrigo Mirkol|tents=yes|fee=no"),
    ("long_moor", 955.0, 300, "node", "tourism=camp_site|name=Turfeira|tents=yes|fee=no|backcountry=yes"),
    ("long_moor", 985.0, -90, "node", "natural=spring"),
    ("long_moor", 1262.0, 500, "area", "tourism=camp_site|name=Ponta Tango|tents=yes|fee=yes|drinking_water=yes"),
    ("long_moor", 1415.0, -500, "area", "tourism=camp_site|name=Vesta Camping|tents=yes|fee=yes|drinking_water=yes"),
    ("long_moor", 1520.0, 400, "node", "tourism=camp_site|name=Eyra|tents=yes|fee=no"),
    ("long_moor", 1600.0, 100, "node", "natural=spring|name=Fonte da Ilha"),
)  # fmt: skip
