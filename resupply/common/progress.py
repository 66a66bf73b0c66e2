"""How long work tells what it is doing."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from resupply.common.units import M_PER_KM

__all__ = ["Announcement", "Meter", "Progress", "go_on", "silent"]

Progress = Callable[[str, float | None], None]
"""Called with what is being done and the share of it that is done, None where that is not known."""


class Announcement(str):
    """What long work is about to do: it stays in sight when the next thing is told."""

    __slots__ = ()


def silent(what: str, share: float | None) -> None:
    """Tell nobody."""


def go_on() -> None:
    """Let the work go on; has a name, so that a plan can be sent to another process."""


@dataclass(slots=True)
class Meter:
    """Tells how far work of equal parts is, and how long it will still take."""

    what: str
    parts: int
    part_s: float
    """For one part, seconds, until it is measured."""
    tell: Progress
    done: int = 0
    _since: float = field(default_factory=time.monotonic)

    def announce(self, length_m: float) -> None:
        """Say what is to be done before it begins; `length_m` of route, metres."""
        questions = f"{self.parts} question{'s' * (self.parts > 1)}"
        km = length_m / M_PER_KM
        told = f"{self.what}: {questions} for {km:.0f} km, {self._left()}"
        self.tell(Announcement(told), 0.0)

    def step(self, share: float) -> None:
        """Tell which part begins, and what share of the route is behind it."""
        told = f"{self.what}, part {self.done + 1} of {self.parts}, {self._left()} left"
        self.tell(told, share)
        self.done += 1

    def _left(self) -> str:
        begun = self.done
        part_s = (time.monotonic() - self._since) / begun if begun else self.part_s
        left_min = part_s * (self.parts - begun) / 60.0
        return f"about {left_min:.0f} min" if left_min >= 1.5 else "about a minute"
