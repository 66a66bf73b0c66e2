"""How much is read on the page: words with a letter, names on the map not counted."""

from __future__ import annotations

from typing import Any

__all__ = ["FIRST_VIEW_WORDS", "PANEL_WORDS", "words_in_view", "words_of_panels"]

# Version 0.1.0, sample coast_loop at 390 px, all six panels with folds closed, by this script.
PANEL_WORDS_0_1_0 = 4134
FIRST_VIEW_WORDS = 120
"""Most words of the first view."""
PANEL_WORDS = PANEL_WORDS_0_1_0 // 2
"""Most words of all panels of the sample coast_loop."""

_COUNT = """
([selector, inView]) => {
  const walker = document.createTreeWalker(document.querySelector(selector), NodeFilter.SHOW_TEXT);
  const seen = [];
  while (walker.nextNode()) {
    const node = walker.currentNode;
    const parent = node.parentElement;
    if (parent.closest("#map-box, script, style, noscript, .spoken, .skip, option, title, #sheet"))
      continue;
    if (!parent.checkVisibility({ checkVisibilityCSS: true })) continue;
    if (inView) {
      const range = document.createRange();
      range.selectNodeContents(node);
      const box = range.getBoundingClientRect();
      const frame = (parent.closest(".ledger") || document.documentElement).getBoundingClientRect();
      const [top, bottom] = [Math.max(0, frame.top), Math.min(innerHeight, frame.bottom)];
      if (!box.width || box.bottom <= top + 2 || box.top >= bottom - 2) continue;
    }
    seen.push(...node.textContent.split(/\\s+/).filter((word) => /\\p{L}/u.test(word)));
  }
  return seen.length;
}
"""


def words_in_view(tab: Any) -> int:
    """Words on the screen, the map's left out."""
    return int(tab.evaluate(_COUNT, ["body", True]))


def words_of_panels(tab: Any, names: tuple[str, ...], opened: str = "Resupply.tabs.open") -> int:
    """Words of every panel in turn, folds as they are, and what stands beside them once."""
    total = 0
    for name in names:
        tab.evaluate(f"{opened}('{name}')")
        total += int(tab.evaluate(_COUNT, ["#tab-panels", False]))
    return total
