"""The version of this package: told once, raised with each release."""

__all__ = ["__version__"]

__version__ = "0.2.0"
"""Semantic version of the code; the file formats carry versions of their own."""
