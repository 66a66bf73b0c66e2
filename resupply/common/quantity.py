"""Sentences: words and typed quantities, in the order in which they are read.

A quantity is what the rider's units or clock change. All else (meals, days, counts, durations,
dates) reads the same under every setting, so it is words at once. A sentence is made here and
nowhere formatted: `resupply.common.show` does that, and its twin in the page.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = [
    "MEALS_PER_DAY",
    "Part",
    "Quantity",
    "Said",
    "Sentence",
    "as_sentence",
    "at",
    "closing",
    "count",
    "date",
    "day_time",
    "days",
    "decimal",
    "duration",
    "food",
    "hour",
    "joined",
    "limit",
    "line",
    "listed",
    "load",
    "mass",
    "meals",
    "meals_and_days",
    "moment",
    "name",
    "pack",
    "percent",
    "room",
    "speed",
    "temp",
    "time",
    "volume",
    "walk",
    "warmest",
    "way",
    "weekday",
]

_WEEKDAYS: Final = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS: Final = [
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
]  # fmt: skip
_FIELD: Final = re.compile(r"\{(\w+)\}")
MEALS_PER_DAY: Final = 3
"""Breakfast, lunch and dinner; common practice, no source."""
_NOISE_C: Final = 1e-6
"""Below that a temperature is not above its whole degree but a float's rounding."""


class Quantity(dict[str, Any]):
    """One value under the key that names its kind, e.g. `{"way_m": 6200}`; never changed."""

    __slots__ = ()

    def __hash__(self) -> int:  # type: ignore[override]
        return hash(tuple(self.items()))


class Sentence(list["str | Quantity"]):
    """Words and quantities; as JSON a flat list. Never changed once it is made."""

    __slots__ = ()

    def __hash__(self) -> int:  # type: ignore[override]
        return hash(tuple(self))


Said = str | Sentence
"""Words alone, or words and quantities."""
Part = str | Quantity | Sentence | int | None
"""What may stand in a field of a sentence; None and "" leave nothing."""


def line(template: str, /, **parts: Part) -> Sentence:
    """Make a sentence from a template with fields.

    Parameters
    ----------
    template
        Words with `{field}`; a literal of the code, never text of a map or a rider.
    parts
        By field. Another sentence is spliced in; None vanishes.

    Examples
    --------
    >>> line("{far} without a shop.", far=way(62_000.0))
    [{'way_m': 62000}, ' without a shop.']
    """
    words, fields = _pieces(template)
    if not parts.keys() <= set(fields):
        unused = parts.keys() - set(fields)
        raise ValueError(f"not in the sentence: {', '.join(sorted(unused))}")
    told: list[Part] = [words[0]]
    for field, behind in zip(fields, words[1:], strict=True):
        told += (parts[field], behind)
    return _flat(told)


@lru_cache(maxsize=4096)
def _pieces(template: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Words around the fields of a template, and the fields; a trip tells some a thousand times."""
    pieces = _FIELD.split(template)
    return tuple(pieces[::2]), tuple(pieces[1::2])


def listed(items: Iterable[Part], joint: str = ", ") -> Sentence:
    """Put a joint between what is there.

    >>> listed(["bread", None, "cheese"])
    ['bread, cheese']
    """
    out: list[Part] = []
    for item in items:
        if item not in ("", None, []):
            out += [joint, item] if out else [item]
    return _flat(out)


def joined(*sentences: Part) -> Sentence:
    """Put sentences behind each other; those that are None are left out."""
    return listed(sentences, " ")


def as_sentence(said: Part) -> Sentence:
    """Make a sentence of what may be words alone."""
    return _flat([said])


def _flat(parts: Iterable[Part]) -> Sentence:
    out = Sentence()
    word = ""
    for part in parts:
        for piece in part if isinstance(part, Sentence) else (part,):
            if isinstance(piece, Quantity):
                if word:
                    out.append(word)
                    word = ""
                out.append(piece)
            elif piece is not None:
                word += str(piece)
    if word:
        out.append(word)
    return out


# --- quantities ---------------------------------------------------------------------------------


def at(chainage_m: float) -> Quantity:
    """Place on the route, from its chainage: "km 412"."""
    return Quantity(at_m=round(chainage_m))


def way(length_m: float) -> Quantity:
    """Length that is ridden."""
    return Quantity(way_m=_metres(length_m))


def walk(length_m: float) -> Quantity:
    """Length that is told in metres or yards while it is short."""
    return Quantity(walk_m=_metres(length_m))


def speed(speed_kmh: float) -> Quantity:
    """Speed."""
    return Quantity(speed_kmh=_rounded(speed_kmh, 2))


def mass(mass_kg: float) -> Quantity:
    """Mass; of a sum the sum, not what its rounded parts add up to."""
    return Quantity(mass_kg=_rounded(mass_kg, 3))


def pack(amount: float, unit: str) -> Quantity:
    """Amount of food as it is sold; `amount` is in the unit, `g` or `ml`."""
    return Quantity({f"pack_{unit}": _rounded(amount, 2)})


def volume(volume_l: float) -> Quantity:
    """Volume of a liquid."""
    return Quantity(volume_l=_rounded(volume_l, 3))


def room(room_l: float) -> Quantity:
    """Room in a bag or a cooler."""
    return Quantity(room_l=_rounded(room_l, 3))


def temp(temp_c: float) -> Quantity:
    """Temperature."""
    return Quantity(temp_c=_rounded(temp_c, 2))


def warmest(temp_c: float) -> Quantity:
    """Temperature that stays below what it is measured against: rounded up to a whole degree.

    >>> warmest(4.2), warmest(4.0)
    ({'temp_c': 5}, {'temp_c': 4})
    """
    return Quantity(temp_c=math.ceil(temp_c - _NOISE_C))


def limit(temp_c: float) -> Quantity:
    """Limit as it is published: 4 °C and 40 °F."""
    return Quantity(limit_c=_rounded(temp_c, 2))


def time(when: dt.datetime) -> Quantity:
    """Time of day where it is, minutes cut off: never told later than it is."""
    return Quantity(time=when.isoformat(timespec="seconds"))


def day_time(when: dt.datetime) -> Quantity:
    """Weekday and time of day where it is."""
    return Quantity(day_time=when.isoformat(timespec="seconds"))


def moment(when: dt.datetime, near: dt.datetime) -> Part:
    """Weekday and time of day; with the date if it is six days or more from a moment told before.

    >>> import datetime as dt
    >>> when = dt.datetime(2027, 7, 9, 14, tzinfo=dt.UTC)
    >>> moment(when, when + dt.timedelta(days=6))
    ['Fri 9 Jul ', {'time': '2027-07-09T14:00:00+00:00'}]
    """
    if abs(when - near) < dt.timedelta(days=6):
        return day_time(when)
    return line("{date} {time}", date=date(when), time=time(when))


def closing(when: dt.datetime) -> Quantity:
    """Time of day at which a door shuts: midnight is the end of its day."""
    return Quantity(closing=when.isoformat(timespec="seconds"))


def hour(minutes: int) -> Quantity:
    """Time of day on a sign at a door, minutes since midnight: 8, 12:30, 24 for its end.

    >>> hour(750)
    {'hour': '2000-01-01T12:30'}
    """
    days, left = divmod(minutes, 24 * 60)
    return Quantity(hour=f"2000-01-0{1 + min(days, 1)}T{left // 60:02d}:{left % 60:02d}")


def name(text: str, place: str | None = None) -> Quantity:
    """Name from a map or a rider: hostile text that each medium cleans and sets apart."""
    return Quantity(name=text) if place is None else Quantity(name=text, place=place)


def _metres(length_m: float) -> int:
    whole = round(length_m)
    # What is there is never told as nothing.
    return 1 if whole == 0 and length_m > 0.0 else whole


def _rounded(value: float, digits: int) -> float:
    told = round(float(value), digits)
    return int(told) if told.is_integer() else told


# --- what reads the same in every unit and on every clock ---------------------------------------


def decimal(value: float, digits: int = 0) -> str:
    """Write a value as it is read: half up, commas at thousands, no zeros at the end.

    >>> decimal(1234.5), decimal(-0.25, 1), decimal(2.0, 1), decimal(-0.01, 1)
    ('1,235', '−0.3', '2', '0')
    """
    scale = 10**digits
    # Half up by these very steps in both languages: they round alike to the last bit.
    units = math.floor(abs(value) * scale + 0.5)
    whole, rest = divmod(units, scale)
    part = f"{rest:0{digits}d}".rstrip("0") if digits else ""
    return f"{'−' if value < 0 and units else ''}{whole:,}{f'.{part}' if part else ''}"


def count(number: float, one: str, many: str = "") -> str:
    """Tell a number of things; one or many by what is shown.

    >>> count(1, "bag"), count(4, "bag"), count(2, "loaf", "loaves")
    ('1 bag', '4 bags', '2 loaves')
    """
    return _plural(decimal(number), one, many or f"{one}s")


def meals(number: int) -> str:
    """Tell a number of meals."""
    return count(number, "meal")


def days(number: float) -> str:
    """Tell a number of days, to a tenth.

    >>> days(1.04), days(2.5)
    ('1 day', '2.5 days')
    """
    return _plural(decimal(number, 1), "day", "days")


def food(number: int) -> str:
    """Tell a number of meals of one person as a rider counts them.

    >>> food(6), food(7), food(1)
    ('2 days of food (6 meals)', '2⅓ days of food (7 meals)', '1 meal')
    """
    if number < MEALS_PER_DAY:
        return meals(number)
    plural = "" if number == MEALS_PER_DAY else "s"
    return f"{_thirds(number)} day{plural} of food ({meals(number)})"


def load(number: int, spare: int) -> str:
    """Tell what is carried: meals to eat, and the spare ones on top.

    >>> load(5, 3), load(1, 0)
    ('5 meals to eat + 3 spare = 8', '1 meal to eat')
    """
    to_eat = f"{meals(number)} to eat"
    return f"{to_eat} + {spare} spare = {number + spare}" if spare else to_eat


def meals_and_days(number: int) -> str:
    """Tell a number of meals, and the days they are where that is a day or more.

    >>> meals_and_days(7), meals_and_days(2)
    ('7 meals (2⅓ days)', '2 meals')
    """
    if number < MEALS_PER_DAY:
        return meals(number)
    return f"{meals(number)} ({_thirds(number)} day{'' if number == MEALS_PER_DAY else 's'})"


def percent(share: float) -> str:
    """Share of a whole, from 0 to 1; a little is never told as nothing, nor much as all.

    >>> percent(0.004), percent(0.5), percent(0.999)
    ('less than 1 %', '50 %', 'more than 99 %')
    """
    if 0.0 < share < 0.005:
        return "less than 1 %"
    return "more than 99 %" if 0.995 <= share < 1.0 else f"{decimal(share * 100.0)} %"


def duration(seconds: float) -> str:
    """Duration in hours and minutes.

    >>> duration(5400.0), duration(600.0), duration(7200.0)
    ('1 h 30 min', '10 min', '2 h')
    """
    hours, minutes = divmod(math.floor(seconds / 60.0 + 0.5), 60)
    if not hours:
        return f"{minutes} min"
    return f"{hours} h {minutes:02d} min" if minutes else f"{hours} h"


def weekday(day: dt.date) -> str:
    """Name of the day, in full."""
    return _WEEKDAYS[day.weekday()]


def date(day: dt.date) -> str:
    """Weekday, day and month.

    >>> import datetime as dt
    >>> date(dt.date(2027, 7, 9))
    'Fri 9 Jul'
    """
    return f"{weekday(day)[:3]} {day.day} {_MONTHS[day.month - 1]}"


def _thirds(number: int) -> str:
    whole, rest = divmod(number, MEALS_PER_DAY)
    return f"{whole}{('', '⅓', '⅔')[rest]}"


def _plural(shown: str, one: str, many: str) -> str:
    return f"{shown} {one if shown == '1' else many}"
