"""Inputs that people write by hand: opening hours and TOML, within their grammars or not."""

from __future__ import annotations

import json
import string

from tests.fuzz.inputs import (
    WILDNESS,
    Dice,
    Make,
    among,
    any_integer,
    any_text,
    letters,
    several,
    then,
    weighted,
)

# -- opening hours --

WORDS = (
    "Mo", "Tu", "We", "Th", "Fr", "Sa", "Su", "PH", "SH", "Jan", "Feb", "Dec", "Feb 29", "easter",
    "week", "01-53", "2027", "2027+", "1900-9999", "off", "closed", "open", "unknown", "24/7",
    "sunrise", "sunset", "dawn", "dusk", "(sunset+00:30)", "08:00", "24:00", "26:00", "99:99",
    "-", "+", ",", ";", "||", ":", "/", "[1]", "[-1]", "[99]", '"note"', '"', "'", "(", ")", " ",
    "  ", "00:00-24:00", "08:00-19:00", "22:00-03:00", "10:00+", "Mo-Fr", "Dec 24-Jan 6", "/2",
    "+1 day", "-99999 days", "9" * 30, "–", "８:００", "\u202e",
)  # fmt: skip
_DAYS = ("", "Mo", "Mo-Fr", "Sa-Su", "PH", "Mo[1]", "Su,PH", "SH Mo", "Fr-Mo", "PH -1 day")
_DATES = ("", "", "Jul", "Jul 10-12", "Dec 24-Jan 6", "week 27-29", "2027", "easter", "Feb 29")
_SUN = ("sunrise", "sunset", "(sunset+01:00)", "dawn", "(sunrise-23:00)")
_MODIFIERS = ("", "", "", "off", "open", "unknown", '"by appointment"', 'off "ring"')


def _point(dice: Dice) -> str:
    if dice.random() < 0.3:
        return dice.choice(_SUN)
    return f"{dice.randint(0, 27):02d}:{dice.choice((0, 1, 30, 59)):02d}"


def _rule(dice: Dice) -> str:
    """Give a rule of the grammar: dates, days, times and a modifier, all of them optional."""
    spans = ",".join(
        f"{_point(dice)}-{_point(dice)}{dice.choice(('', '', '', '+', '/00:30'))}"
        for _ in range(dice.randint(0, 3))
    )
    parts = (dice.choice(_DATES), dice.choice(_DAYS), spans, dice.choice(_MODIFIERS))
    return " ".join(part for part in parts if part)


hours = weighted(
    (2, lambda dice: dice.choice(("; ", ", ", " || ")).join(several(_rule, 1, 5)(dice))),
    (1, lambda dice: dice.choice(("", " ")).join(several(among(*WORDS), 0, 14)(dice))),
    (1, weighted((1, any_text), (1, letters('MoTuWeFrSaSuPH0123456789:-,;+|"()/ ', 60)))),
)

# -- TOML --

_TOML_PLAIN = (
    "0", "1", "2.5", "-1", "1e999", "nan", "inf", "-inf", "9" * 5000, "0x" + "f" * 300, "true",
    "2027-07-09", "2027-07-09T08:30:00", "2027-07-09T08:30:00Z", "0001-01-01", "9999-12-31",
    "08:30:00", "23:59:59.999999", "2027-13-40", "'metric'", "'imperial'", "12", "24", "'hard'",
    "'block'", "'AT'", "'Atlantic/Azores'", "'../x'", "''", "1_000",
)  # fmt: skip
_ODD_TOML = (
    "[", "]]", "=", '"""', "'''", "#", "\\", "\x00", "[[start]]", "[a.b.c]", "a.b.c = 1", "\r",
    "[" * 3000, "{a=" * 500, "x = [" + "[" * 2000 + "]" * 2000 + "]", ".".join("a" * 500) + " = 1",
)  # fmt: skip
_toml_key = among("1", "2", "day", "date", "low_c", "high_f", "'a b'")
_toml_plain = weighted(
    (1, then(any_integer, str)),
    (3, among(*_TOML_PLAIN)),
    (1, then(letters(string.printable, 12), repr)),
    (1, then(any_text, json.dumps)),
)


def toml_value(dice: Dice, depth: int = 0) -> str:
    """Give any value, now and then an array or a table."""
    kind = dice.randrange(6) if depth < 3 else 5
    if kind == 0:
        return f"[{', '.join(toml_value(dice, depth + 1) for _ in range(dice.randint(0, 3)))}]"
    if kind == 1:
        keys = {_toml_key(dice) for _ in range(dice.randint(0, 4))}
        return (
            "{" + ", ".join(f"{key} = {toml_value(dice, depth + 1)}" for key in sorted(keys)) + "}"
        )
    return str(_toml_plain(dice))


def toml(tables: dict[str, dict[str, list[str]]]) -> Make:
    """Give a document with some of the keys (table to key to sound values, maybe none)."""
    names = sorted(tables)

    def make(dice: Dice) -> str:
        lines: list[str] = []
        wild = dice.choice(WILDNESS)
        for table in dice.choices(names, k=dice.randint(0, 4)):
            if table and dice.randrange(10):
                lines.append(f"[{table}]")
            prefix = "" if (lines and lines[-1].startswith("[")) or not table else f"{table}."
            keys = sorted(tables[table])
            for key in dice.sample(keys, min(len(keys), dice.randint(0, 4))):
                sound = tables[table][key]
                if sound and dice.randrange(1000) >= 3 * wild:
                    lines.append(f"{prefix}{key} = {dice.choice(sound)}")
                elif wild:
                    lines.append(f"{prefix}{key} = {toml_value(dice)}")
            if dice.randrange(1000) < wild:
                lines.append(dice.choice(_ODD_TOML))
        return "\n".join(lines)

    return make
