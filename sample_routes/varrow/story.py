"""What the demo is meant to show, as names and numbers. The tests work each of them out anew."""

from __future__ import annotations

import datetime as dt

__all__ = [
    "BRIDGE_BEFORE_KM",
    "DAILY_KM",
    "GORGE_LENGTH_KM",
    "GORGE_OFFSET_KM",
    "GORGE_SHOP",
    "GORGE_TOWN",
    "GORGE_VILLAGE",
    "MONDAY_SHOP",
    "MONDAY_VILLAGE",
    "SATURDAY_SHOP",
    "SIDE_ROAD_AFTER_KM",
    "SIDE_ROAD_LENGTH_KM",
    "SPEED_KMH",
    "START",
    "SUNDAY_SHOPS",
]

START = dt.datetime(2027, 7, 9, 8, 30)  # noqa: DTZ001 - local clock of the island
DAILY_KM, SPEED_KMH = 230.0, 45.0

# Two days of food last from Friday morning to Sunday noon; all of these are shut by then.
SUNDAY_SHOPS = ("Mercearia Duibh", "Hipervalle", "Ponte Mercado", "Ostra Super", "Mercado Leste")
SATURDAY_SHOP = "Mercado do Farol"
"""Passed on Saturday early afternoon, open till 18:00."""

# The gorge: a side road leaves the coast loop at the bridge and runs back along the far rim.
BRIDGE_BEFORE_KM, GORGE_LENGTH_KM, GORGE_OFFSET_KM = 1.0, 15.4, 1.7
"""The bridge comes so far before the gorge town; the rim road is about so long."""
GORGE_TOWN = "Velhamoss"
GORGE_VILLAGE, GORGE_SHOP = "Orlagja", "Supermercado Orlagja"

# The other shop: farther as the crow flies, nearer by road.
SIDE_ROAD_AFTER_KM, SIDE_ROAD_LENGTH_KM = 9.8, 3.9
MONDAY_VILLAGE, MONDAY_SHOP = "Fjellarinha", "Mercado Fjellarinha"
