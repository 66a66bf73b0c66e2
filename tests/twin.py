"""The page's formatter, `quantity.js`, run by itself: by Node or in a browser."""

from __future__ import annotations

import json
import subprocess
from contextlib import contextmanager
from typing import TYPE_CHECKING

from conftest import ROOT

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import Browser

    Texts = Callable[[dict, list], list[str]]

SCRIPT = ROOT / "resupply" / "report" / "assets" / "quantity.js"
# One question a line: how to show, and the sentences; one answer a line.
_ASK = """
const lines = require("node:readline").createInterface({ input: process.stdin });
lines.on("line", (line) => {
  const [show, sentences] = JSON.parse(line);
  console.log(JSON.stringify(sentences.map((said) => globalThis.Resupply.text(said, show))));
});
"""


@contextmanager
def by_node() -> Iterator[Texts]:
    """Ask a Node process that runs until the end."""
    source = SCRIPT.read_text("utf-8") + _ASK
    with subprocess.Popen(
        ["node", "-e", source], stdin=subprocess.PIPE, stdout=subprocess.PIPE, encoding="utf-8"
    ) as node:

        def texts(show: dict, sentences: list) -> list[str]:
            node.stdin.write(json.dumps([show, sentences]) + "\n")
            node.stdin.flush()
            return json.loads(node.stdout.readline())

        yield texts
        node.stdin.close()


@contextmanager
def by_chromium(browser: Browser) -> Iterator[Texts]:
    """Ask in a page of a running browser."""
    page = browser.new_page()
    page.add_script_tag(path=SCRIPT)
    ask = "([show, all]) => all.map((said) => globalThis.Resupply.text(said, show))"
    yield lambda show, sentences: page.evaluate(ask, [show, sentences])
    page.close()
