"""Plan food, ice, water and fuel along a motorcycle camping route."""

__version__ = "0.1.0"
