"""The version of this package: told once, raised with each release."""

__all__ = ["__version__"]

__version__ = "0.1.0"
