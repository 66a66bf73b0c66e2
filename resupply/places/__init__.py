"""Places that can supply something, from any source of OpenStreetMap data."""

from resupply.places.place import Coverage, Place, PlaceSet, Supply

__all__ = ["Coverage", "Place", "PlaceSet", "Supply"]
