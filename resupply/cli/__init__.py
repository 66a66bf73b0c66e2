"""The command line."""

from resupply.cli.app import main

__all__ = ["main"]
