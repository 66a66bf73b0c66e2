"""Put the same opening hours to the npm `opening_hours` package and to ours.

The package's answers are kept in `checks/opening_hours_answers.json.gz`, so that the comparison
runs without Node; where Node and the package are there, a test asks again and wants the same.
`PYTHONPATH=tests python tests/second_opinion.py` asks for all texts anew and keeps the answers.
"""

from __future__ import annotations

import datetime as dt
import gzip
import json
import os
import shutil
import subprocess
import zoneinfo
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from resupply.hours.holidays import Holidays, holidays_of
from resupply.hours.stated import Sun, stated_hours

if TYPE_CHECKING:
    from resupply.hours.state import Segment

NODE_FOLDER = Path(__file__).parent / "node"
KEPT = Path(__file__).parent / "checks" / "opening_hours_answers.json.gz"
# Christmas to Epiphany with the year's end, May Day, and high summer.
WINDOWS = (
    (dt.date(2026, 12, 21), dt.date(2027, 1, 9)),
    (dt.date(2027, 4, 26), dt.date(2027, 5, 12)),
    (dt.date(2027, 7, 1), dt.date(2027, 7, 15)),
)
# Two ways to reckon the sun differ by minutes; nothing else does.
LEAST = dt.timedelta(minutes=5)
# Country: lon, lat, state; somewhere in each extract.
WHERE = {
    "AD": (1.52, 42.51, ""),
    "AT": (15.6, 48.41, "Niederösterreich"),
    "DE": (8.7, 50.0, "Hessen"),
    "FI": (24.94, 60.17, ""),
    "MC": (7.42, 43.73, ""),
    "US": (-83.0, 39.95, "Ohio"),
}


def why_not() -> str:
    """Why the npm package cannot be asked; empty if it can."""
    if shutil.which("node") is None:
        return "Node is not installed"
    if not (_modules() / "opening_hours").is_dir():
        return "the npm package is not installed (npm ci in tests/node)"
    return ""


def compare(cases: list[tuple[str, str]]) -> dict[tuple[str, str], set[tuple[str, str]]]:
    """Pairs (ours, theirs) of differing states by (country, text); agreeing texts are left out."""
    calendars = {
        (country, start): _undoubted(holidays_of(country, _day_before(start), end), country)
        for country in {country for country, _ in cases}
        for start, end in WINDOWS
    }
    found: dict[tuple[str, str], set[tuple[str, str]]] = {}
    for (country, text), answer in zip(cases, kept_answers(cases), strict=True):
        pairs: set[tuple[str, str]] = set()
        for number, (start, end) in enumerate(WINDOWS):
            ours = _our_segments(text, country, start, end, calendars[country, start])
            theirs = answer["windows"][number] if "windows" in answer else None
            pairs |= _differences(ours, theirs, start, end)
        if pairs:
            found[country, text] = pairs
    return found


def _undoubted(holidays: Holidays | None, country: str) -> Holidays | None:
    # Our own doubts about holidays are not the evaluator's; test_stated_hours checks them.
    return None if holidays is None else Holidays(country, frozenset(), frozenset())


def _day_before(day: dt.date) -> dt.date:
    return day - dt.timedelta(days=1)


def _our_segments(
    text: str, country: str, start: dt.date, end: dt.date, holidays: Holidays | None
) -> tuple[Segment, ...]:
    lon, lat, _ = WHERE[country]
    sun = Sun(lon, lat, zoneinfo.ZoneInfo("UTC"))
    return stated_hours(text, _day_before(start), end, holidays=holidays, sun=sun).segments


def _differences(
    ours: tuple[Segment, ...], theirs: list[list] | None, start: dt.date, end: dt.date
) -> set[tuple[str, str]]:
    first, last = dt.datetime.combine(start, dt.time()), dt.datetime.combine(end, dt.time())
    stretches = theirs or [[first.replace(tzinfo=dt.UTC).timestamp() * 1000.0, "error"]]
    borders = [_naive(since) for since, _ in stretches[1:]]
    cover = [
        (since, until, state)
        for since, until, (_, state) in zip(
            [first, *borders], [*borders, last], stretches, strict=True
        )
    ]
    pairs = set()
    for part in ours:
        for since, until, state in cover:
            if since < part.end and until > part.start:
                overlap = min(until, part.end) - max(since, part.start)
                mine = part.state.name.lower()
                if mine != state and overlap >= LEAST:
                    pairs.add((mine, state))
    return pairs


def _naive(epoch_ms: float) -> dt.datetime:
    return dt.datetime.fromtimestamp(epoch_ms / 1000.0, dt.UTC).replace(tzinfo=None)


def kept_answers(cases: list[tuple[str, str]]) -> list[dict]:
    """Give what the package answered when it was last asked."""
    kept = _kept()["answers"]
    lost = [case for case in cases if " ".join(case) not in kept]
    assert not lost, f"not asked yet (see the top of second_opinion.py): {lost[:3]}"
    return [_spread(kept[" ".join(case)]) for case in cases]


def real_hours() -> set[tuple[str, str]]:
    """Country and text of all hours of the full real extracts, as kept."""
    return {(country, text) for country, text in _kept()["real"]}


@cache
def _kept() -> dict:
    return json.loads(gzip.decompress(KEPT.read_bytes()))


def keep(real: set[tuple[str, str]], others: set[tuple[str, str]]) -> None:
    """Ask the package for all these hours and keep what it says; the same bytes each time."""
    cases = sorted(real | others)
    answers = {
        " ".join(case): _dense(answer) for case, answer in zip(cases, ask(cases), strict=True)
    }
    text = json.dumps({"real": sorted(real), "answers": answers}, ensure_ascii=False, indent=0)
    KEPT.write_bytes(gzip.compress(text.encode("utf-8"), mtime=0))


def _dense(answer: dict) -> list[str] | None:
    """Write each window as its states' first letters and the minutes each began after the last."""
    if "windows" not in answer:
        return None
    found = []
    for window in answer["windows"]:
        last = window[0][0]
        words = []
        for since, state in window:
            words.append(f"{state[0]}{(since - last) / 60_000:.10g}")
            last = since
        found.append(" ".join(words))
    return found


def _spread(kept: list[str] | None) -> dict:
    if kept is None:
        return {"error": "the package refuses it"}
    states = {"o": "open", "s": "shut", "u": "unknown"}
    windows = []
    for (start, _), words in zip(WINDOWS, kept, strict=True):
        at, window = _epoch_ms(start), []
        for word in words.split():
            at += float(word[1:]) * 60_000.0
            window.append([at, states[word[0]]])
        windows.append(window)
    return {"windows": windows}


def ask(cases: list[tuple[str, str]]) -> list[dict]:
    """Ask the package in Node."""
    question = {
        "texts": [
            dict(
                zip(("lon", "lat", "state"), WHERE[country], strict=True),
                text=text,
                country=country,
            )
            for country, text in cases
        ],
        "windows": [[_epoch_ms(start), _epoch_ms(end)] for start, end in WINDOWS],
    }
    answer = subprocess.run(
        ["node", str(NODE_FOLDER / "opening_hours.js")],
        input=json.dumps(question),
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "TZ": "UTC", "NODE_PATH": str(_modules())},
        timeout=120,
    )
    return json.loads(answer.stdout)


def _epoch_ms(day: dt.date) -> float:
    return dt.datetime.combine(day, dt.time(), tzinfo=dt.UTC).timestamp() * 1000.0


def _modules() -> Path:
    return Path(os.environ.get("RESUPPLY_NODE_MODULES", NODE_FOLDER / "node_modules"))


if __name__ == "__main__":
    from checks.test_opening_hours_second_opinion import all_cases, hours_of_the_full_extracts

    keep(hours_of_the_full_extracts() or real_hours(), all_cases())
