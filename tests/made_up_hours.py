"""Opening hours made up at random within the grammar, for comparing evaluators."""

from __future__ import annotations

import random

_DAYS = ("Mo", "Tu", "We", "Th", "Fr", "Sa", "Su")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def made_up_hours(count: int, seed: int) -> list[str]:
    """Different texts with weekdays, dates, weeks, breaks, additions, fallbacks, holidays.

    Two things are left out, for the evaluators read them differently: a later rule without
    days or dates after a semicolon, and a range of dates that wraps the year.
    """
    dice = random.Random(seed)
    texts: dict[str, None] = {}
    while len(texts) < count:
        text = _rule(dice)
        for _ in range(dice.randrange(3)):
            text += dice.choice(("; ", "; ", ", ", " || ")) + _rule(dice)
        texts[text + dice.choice(("", "", "; PH off"))] = None
    return list(texts)


def _rule(dice: random.Random) -> str:
    hours = _times(dice) if dice.random() < 0.8 else "off"
    return f"{_dates(dice)}{_weekdays(dice)} {hours}"


def _dates(dice: random.Random) -> str:
    first, last = sorted(dice.sample(range(12), 2))
    week = dice.randrange(1, 30)
    return dice.choice(
        (
            *[""] * 6,
            f"{_MONTHS[first]}-{_MONTHS[last]} ",
            f"{_MONTHS[first]} {dice.randrange(1, 29)}-{_MONTHS[last]} {dice.randrange(1, 29)} ",
            f"week {week:02d}-{week + dice.randrange(1, 20):02d} ",
            "2027 ",
            "2026-2027 ",
            "Dec 25 ",
            "2027 Jul 1-2027 Jul 9 ",
        )
    )


def _weekdays(dice: random.Random) -> str:
    first, last = sorted(dice.sample(range(7), 2))
    return dice.choice(
        (
            f"{_DAYS[first]}-{_DAYS[last]}",
            f"{_DAYS[first]}-{_DAYS[last]}",
            f"{_DAYS[last]},{_DAYS[first]}",
            f"{_DAYS[first]}[{dice.choice((1, 2, -1))}]",
            "Sa-Mo",
            _DAYS[first],
        )
    )


def _times(dice: random.Random) -> str:
    start = dice.randrange(6, 20)
    end = dice.randrange(start + 1, 25)
    half = dice.choice(("00", "30"))
    return dice.choice(
        (
            f"{start:02d}:00-{end:02d}:00",
            f"0{dice.randrange(6, 9)}:{half}-1{dice.randrange(1, 3)}:00,14:{half}-18:00",
            f"08:{half}-16:{half}",
        )
    )
