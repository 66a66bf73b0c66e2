"""Browser tabs that tests hand on: a page in a tab that is warm costs a third of one in a new tab.

What a page left behind (storage, its own scripts, listeners) is gone before the next test. A test
that sets the clock, runs scripts before the page or fails has a tab of its own, thrown away after.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import Browser, Page

PATIENCE_MS = 60_000
"""A busy machine is no fault of the page."""
# Tabs nobody uses, by the settings of their context; those of a browser that ended are dropped.
_free: dict[tuple[int, str], list[Page]] = {}


class Visit:
    """A tab for one test, and everything that is asked and goes wrong in it."""

    def __init__(
        self, browser: Browser, size: tuple[int, int], *, own: bool = False, **settings: Any
    ) -> None:
        # Without the bar that runs while a plan is made: it draws sixty pictures a second.
        settings = {"has_touch": size[0] < 500, "reduced_motion": "reduce", **settings}
        viewport = {"width": size[0], "height": size[1]}
        self._kept = _free.setdefault((id(browser), repr(sorted(settings.items()))), [])
        self._own = own
        if self._kept and not own:
            self.tab = self._kept.pop()
            self.tab.set_viewport_size(viewport)
        else:
            self.tab = browser.new_context(viewport=viewport, **settings).new_page()
            self.tab.set_default_timeout(PATIENCE_MS)
        self.requests: list[str] = []
        self.faults: list[str] = []
        self._listeners: list[tuple[str, Callable[[Any], None]]] = []
        self.listen("request", lambda asked: self.requests.append(asked.url))
        self.listen("pageerror", lambda error: self.faults.append(str(error)))
        self.listen("console", self._note_said)

    def listen(self, event: Any, listener: Callable[[Any], None]) -> None:
        self.tab.on(event, listener)
        self._listeners.append((event, listener))

    def _note_said(self, said: Any) -> None:
        if said.type in ("error", "warning"):
            self.faults.append(said.text)

    def put_at(self, lon: float, lat: float, *, accuracy_m: float = 0.0) -> None:
        """Let the page know the device's position, and what it is from now on."""
        place = {"longitude": lon, "latitude": lat, "accuracy": accuracy_m}
        self.tab.context.set_geolocation(place)
        self.tab.context.grant_permissions(["geolocation"])

    def __enter__(self):
        return self

    def __exit__(self, failed: object, *_: object) -> None:
        if failed or self._own:
            self.tab.context.close()
            return
        for event, listener in self._listeners:
            self.tab.remove_listener(event, listener)
        seen = urlsplit(self.tab.url)
        # The page first, which may write when it is left; then what it wrote.
        self.tab.goto("about:blank")
        link = self.tab.context.new_cdp_session(self.tab)
        link.send(
            "Storage.clearDataForOrigin",
            {"origin": f"{seen.scheme}://{seen.netloc}", "storageTypes": "all"},
        )
        link.detach()
        self.tab.context.clear_permissions()
        self.tab.emulate_media(media="null")
        self._kept.append(self.tab)
