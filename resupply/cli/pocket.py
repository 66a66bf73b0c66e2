"""The plans for the way, after the files are written: `plan`, `demo`, `fetch` and `here`."""

from __future__ import annotations

import gc
import os
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from pathlib import Path

    from resupply.api import Plan

__all__ = ["add_pocket"]

_PROCESSES: Final = 2
"""Our choice: half the time; each more takes as much memory as the plan itself."""


def add_pocket(planned: Plan, out: Path, site: Path | None = None) -> None:
    """Make the plans for the way and put them into the map that is already written.

    Parameters
    ----------
    out
        Folder of the results.
    site
        Folder for a web host; None for none.
    """
    if not planned.trip.show.pocket_plans:
        return
    from rich.console import Console

    from resupply.cli.terminal import progress_bar

    # What was read and planned stays to the end: the search for rubbish need not look at it again.
    gc.collect()
    gc.freeze()
    with progress_bar(Console(stderr=True)) as progress:
        pocket = planned.make_pocket(progress, processes=min(os.cpu_count() or 1, _PROCESSES))
        planned.to_html(out / "plan.html")
        if site:
            planned.to_site(site)
    # Plain quotes: some terminals show no others.
    print(f'Plans for the way in it: {len(pocket)}; tap "What has changed?"')
