"""Draw the sample trips for docs/gallery.md and the README: `python docs/make_gallery.py`.

Plans every sample trip, opens its map in headless Chromium with the network off, and keeps a
picture of it. Needs the test extra and Debian's chromium.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

DOCS = Path(__file__).parent
TRIPS = {
    "coast_loop": "On Sunday the shops on day 3 are shut: the plan buys on Saturday, and passes "
    "the shop across the gorge for one that is nearer by road.",
    "there_and_back": "Out and back on the same road: every place is passed twice.",
    "long_moor": "Eleven days with a ferry, a stretch over the carry limit, and one without fuel.",
}
FLAGS = [
    f"--{flag}"
    for flag in (
        "no-sandbox",
        "disable-gpu",
        "disable-quic",
        "no-first-run",
        "disable-background-networking",
        "disable-component-update",
        "disable-sync",
    )
]


def main() -> None:
    """Plan, draw, write."""
    images = DOCS / "images"
    images.mkdir(exist_ok=True)
    parts = ["# Gallery\n\nThe sample trips, drawn by `python docs/make_gallery.py`.\n"]
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
        for name, words in TRIPS.items():
            out = Path(scratch) / name
            command = [sys.executable, "-m", "resupply", "demo", name, "--out", str(out)]
            subprocess.run(command, check=True, capture_output=True, env=dict(os.environ))
            for width, height, kind in ((1280, 860, "wide"), (390, 844, "phone")):
                context = browser.new_context(viewport={"width": width, "height": height})
                context.set_offline(True)
                page = context.new_page()
                page.goto((out / "plan.html").as_uri())
                page.wait_for_timeout(1500)
                page.screenshot(path=images / f"{name}_{kind}.png")
                context.close()
            parts.append(
                f"\n## `resupply demo {name}`\n\n{words}\n\n"
                f"![{name} on a wide screen](images/{name}_wide.png)\n\n"
                f"![{name} on a phone](images/{name}_phone.png)\n"
            )
        browser.close()
    (DOCS / "gallery.md").write_text("".join(parts), "utf-8")


if __name__ == "__main__":
    main()
