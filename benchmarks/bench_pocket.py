"""What the plans for the way cost: time to make them, room in the file, time on a slow phone.

Run: `python benchmarks/bench_pocket.py`; two minutes. A road of 4,004 km with 2,000 shops, 14 days,
a cooler; then its page in headless Chromium at 390 px width, its processor slowed down four times,
the network off.
"""

from __future__ import annotations

import gc
import os
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

SETTINGS = {
    "pace.daily_km": 300.0,
    "start.date": "2027-07-09",
    "map.roads": False,
    "cooler.kind": "hard",
    "weather.low_c": 12.0,
    "weather.high_c": 24.0,
}
ROUNDS = 3  # each switch counts as in its best: a machine is seldom alone
IDLE_MS, BETWEEN_MS = 2000, 100  # a rider reads first, and looks at what came
DRAWN = "() => new Promise((done) => requestAnimationFrame(() => setTimeout(done)))"
# As on the road: the place is known, the sheet of changes is open.
SHEET = """() => {
  Resupply.road.at(0.3 * Resupply.length);
  Resupply.card.close();
  Resupply.changed.open();
  Resupply.find("#something-else").click();
}"""
# From the finger's lifting from a choice until what is seen is drawn: two frames. It lay on it for
# 80 ms, our choice for a quick tap; the page uses that time.
TAP = """async (key) => {
  const row = Resupply.find(`[data-keep="change-${CSS.escape(key ?? "none")}"]`);
  row.dispatchEvent(new PointerEvent("pointerdown", { bubbles: true, isPrimary: true }));
  await new Promise((done) => setTimeout(done, 80));
  const since = performance.now();
  row.click();
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  return performance.now() - since;
}"""


def main() -> None:
    """Plan the trip and its pocket, open the page, tap every plan in the sheet of changes."""
    from live_world import write_world
    from playwright.sync_api import sync_playwright
    from slow_phone import own_time_s, slow_phone

    import resupply

    gc.set_threshold(50_000)  # as the command does
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as play:
        folder = Path(scratch)
        route, extract = write_world(folder, length_km=4004.0, shops=2000, points=40_000)
        since = time.process_time()
        plan = resupply.plan(route, extracts=extract, settings=SETTINGS)
        page_file = folder / "plan.html"
        plan.to_html(page_file)
        (folder / "alone.html").write_bytes(page_file.read_bytes())
        first_s, alone = time.process_time() - since, page_file.stat().st_size
        since, wall = _cpu_s(), time.perf_counter()
        gc.collect()
        gc.freeze()  # as the command does, too
        pocket = plan.make_pocket(processes=2)
        plan.to_html(page_file)
        pocket_s, wall_s = _cpu_s() - since, time.perf_counter() - wall
        whole = page_file.stat().st_size
        sizes = [len(one.text) for one in pocket.plans.values()]
        left_out = [row["key"] for row in pocket.index["left_out"]]
        kinds = [row["kind"] for row in pocket.index["plans"]]
        told = ", ".join(f"{kinds.count(kind)} {kind}" for kind in dict.fromkeys(kinds))
        print(f"{len(plan.legs)} days, {len(plan.stops)} food stops; on board: {told}")
        print(f"not on board: {', '.join(left_out) or 'nothing'}")
        rows = [
            ("first files, CPU s", f"{first_s:.1f}", ""),
            ("all plans for the way, CPU s", f"{pocket_s:.1f}", ""),
            ("the same by the clock, in two processes, s", f"{wall_s:.1f}", "60"),
            ("one of them, CPU s", f"{pocket_s / len(pocket):.2f}", ""),
            ("file without them, MB", f"{alone / 1e6:.2f}", ""),
            ("all plans for the way, MB", f"{sum(sizes) / 1e6:.2f}", "1.5"),
            ("one of them, kB: median, largest", _pair(sizes), ""),
            ("whole file, MB", f"{whole / 1e6:.2f}", "3"),
        ]
        browser, page, client = slow_phone(play)
        for name, file in (("without them", folder / "alone.html"), ("with them", page_file)):
            begun = time.perf_counter()
            page.goto(file.as_uri())
            page.wait_for_selector("body.drawn")
            page.evaluate(DRAWN)
            rows.append((f"opened and drawn {name}, s", f"{time.perf_counter() - begun:.1f}", "2"))
        client.send("Performance.enable", {"timeDomain": "threadTicks"})

        def switched(key: str | None) -> tuple[float, float]:
            before = own_time_s(client)
            took = page.evaluate(TAP, key) / 1e3, own_time_s(client) - before
            page.wait_for_timeout(BETWEEN_MS)
            return took

        to, back = [], []
        for _ in range(ROUNDS):
            # Opened anew: what was unpacked before is not kept.
            page.goto(page_file.as_uri())
            page.wait_for_selector("body.drawn")
            page.evaluate(SHEET)
            page.wait_for_timeout(IDLE_MS)
            for key in pocket.plans:
                to.append(switched(key))
                back.append(switched(None))
        for name, some in (("the first", to), ("to a plan", to), ("back", back)):
            # The shortest of the rounds, plan by plan.
            best = [[min(part) for part in zip(*some[k :: len(pocket)], strict=True)]
                    for k in range(1 if name == "the first" else len(pocket))]  # fmt: skip
            wall, own = zip(*best, strict=True)
            told = ", ".join(f"{of(times):.2f}" for times in (wall, own) for of in (median, max))
            rows.append((f"switch {name}, s: median, slowest; the same in own time", told, "0.3"))
        browser.close()
    print("| what | measured | goal |\n| --- | --- | --- |")
    for row in rows:
        print(f"| {' | '.join(row)} |")


def _cpu_s() -> float:
    """CPU seconds of this process and of those that it has started and seen end."""
    return sum(os.times()[:4])


def _pair(sizes: list[int]) -> str:
    return f"{median(sizes) / 1e3:.0f}, {max(sizes) / 1e3:.0f}"


if __name__ == "__main__":
    main()
