"""Planning again from Python against one step of the live page's drag, on the same data.

Run with `python benchmarks/bench_replan.py`; a few seconds. Prints medians and their ratio, which
is to stay below 1.5: what a drag does not need is made when it is first asked for.
"""

from __future__ import annotations

import statistics
import time

import resupply
from resupply.trip.samples import samples_folder
from resupply.web.settings import make_plan

ROUNDS = 40
LIMIT = 1.5


def main() -> None:
    plan = resupply.plan(samples_folder() / "coast_loop.toml")
    world, folder = plan.prepared, samples_folder()
    paces = [200.0 + 5.0 * (7 * k % 40) for k in range(ROUNDS)]

    def again(km: float) -> None:
        plan.replan(daily_km=km)

    def drag(km: float) -> None:
        nonlocal world
        pace = plan.trip.pace.model_copy(update={"daily_km": km})
        trip = plan.trip.model_copy(update={"pace": pace})
        made = make_plan(world, trip, folder, quick=True, with_places=False, step=lambda: None)
        world = made.world

    taken: dict[str, list[float]] = {"drag": [], "replan": []}
    drag(paces[0]), again(paces[0])
    # In turns, so that both meet the same load of the machine.
    for km in paces:
        for name, run in (("drag", drag), ("replan", again)):
            began = time.process_time()
            run(km)
            taken[name].append(time.process_time() - began)
    medians = {name: statistics.median(seconds) for name, seconds in taken.items()}
    for name, seconds in medians.items():
        print(f"{name}: {seconds * 1000:.1f} ms of CPU, median of {ROUNDS}")
    ratio = medians["replan"] / medians["drag"]
    print(f"replan / drag: {ratio:.2f} (at most {LIMIT})")


if __name__ == "__main__":
    main()
