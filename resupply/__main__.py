"""Run as `python -m resupply`."""

from resupply.cli import main

main()
