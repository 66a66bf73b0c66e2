"""How smoothly the map of a long trip pans on a slow phone.

Run: `python benchmarks/bench_pan.py`; half a minute. A road of 4,000 km with 2,000 shops, past
woods, lakes, towns and summits, in headless Chromium at 390 px width, its processor slowed down four
times, the network off. Prints the sizes of the file and of its map, how long the page takes to draw,
and while a finger drags the map the time between frames and the CPU time of the page's own thread
in each, which another programme on the machine hardly changes.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

WATCH = """() => {
  const frames = (window.frames = []);
  const tick = (now) => {
    frames.push(now);
    if (window.frames === frames) requestAnimationFrame(tick);
  };
  requestAnimationFrame(tick);
}"""


def main() -> None:
    """Plan the trip, open its page, drag the map and print the figures."""
    from live_world import write_world
    from playwright.sync_api import sync_playwright
    from slow_phone import own_time_s, slow_phone

    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as play:
        folder = Path(scratch)
        route, extract = write_world(
            folder, length_km=4000.0, shops=2000, points=40_000, ground=True
        )
        command = ["plan", str(route), "--extract", str(extract), "--daily-km", "300"]
        command += ["--start", "2027-07-09", "--set", "map.roads=false", "--out", scratch]
        command += ["--set", "show.pocket_plans=false"]
        subprocess.run(
            [sys.executable, "-m", "resupply", *command], check=True, capture_output=True
        )
        page_file = folder / "plan.html"
        browser, page, client = slow_phone(play)
        start = time.perf_counter()
        page.goto(page_file.as_uri())
        page.wait_for_function("window.map_resupply && map_resupply._loaded")
        page.evaluate("() => new Promise((done) => requestAnimationFrame(() => setTimeout(done)))")
        map_mb = page.evaluate("document.querySelector('#data-geo').textContent.length") / 1e6
        print(
            f"{page_file.stat().st_size / 1e6:.2f} MB, its map {map_mb:.2f} MB, "
            f"drawn after {time.perf_counter() - start:.1f} s"
        )
        print(
            "| zoom | frames | median ms | 95 % within ms | longest ms | own time a frame, ms |\n"
            "| --- | --- | --- | --- | --- | --- |"
        )
        client.send("Performance.enable", {"timeDomain": "threadTicks"})
        box = page.locator("#map_resupply").bounding_box()
        assert box is not None
        middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        for zoom in (None, 9, 12):
            if zoom is not None:
                page.evaluate(
                    "(zoom) => void map_resupply.setView(map_resupply.getCenter(), zoom, {animate: false})",
                    zoom,
                )
                page.wait_for_timeout(1_000)
            page.evaluate(WATCH)
            before = own_time_s(client)
            touch(client, middle)
            own_ms = 1000.0 * (own_time_s(client) - before)
            frames = np.diff(page.evaluate("() => window.frames"))
            shown = "whole trip" if zoom is None else str(zoom)
            print(
                f"| {shown} | {len(frames)} | {np.median(frames):.0f} | "
                f"{np.percentile(frames, 95):.0f} | {frames.max():.0f} | "
                f"{own_ms / len(frames):.1f} |"
            )
        browser.close()


def touch(client, middle: tuple[float, float]) -> None:
    """Drag a finger to and fro for two seconds."""
    x, y = middle
    for kind, moves in (("touchStart", 1), ("touchMove", 120), ("touchEnd", 1)):
        for number in range(moves):
            at = [{"x": x + 110 * np.sin(number / 12), "y": y + 60 * np.sin(number / 17)}]
            points = [] if kind == "touchEnd" else at
            client.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
            time.sleep(0.016)


if __name__ == "__main__":
    main()
