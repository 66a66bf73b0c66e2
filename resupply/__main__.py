"""Run as `python -m resupply`."""

from resupply.cli.app import main

main()
