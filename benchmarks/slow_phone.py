"""A phone that is slowed down four times, with no network: where pages are opened to be timed."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Browser, CDPSession, Page, Playwright

SLOWER = 4


def slow_phone(play: Playwright) -> tuple[Browser, Page, CDPSession]:
    """Open a page 390 px wide in headless Chromium, its processor slowed down."""
    browser = play.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, device_scale_factor=2, has_touch=True,
        is_mobile=True, offline=True,
    )  # fmt: skip
    page = context.new_page()
    client = context.new_cdp_session(page)
    client.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    return browser, page, client


def own_time_s(client: CDPSession) -> float:
    """CPU time of the page's thread until now: other work on the machine does not count.

    `Performance.enable` comes first, with the time domain `threadTicks`.
    """
    metrics = client.send("Performance.getMetrics")["metrics"]
    return float(next(one["value"] for one in metrics if one["name"] == "TaskDuration"))
