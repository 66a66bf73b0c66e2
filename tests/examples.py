"""How many examples a property is tried with: few in every run, ten times as many by command."""

from __future__ import annotations

from hypothesis import settings

FEW = 40
"""Where a test does not say: our choice, so that all properties take half a minute."""


def examples(count: int) -> int:
    """So many examples, or ten times as many with `--hypothesis-profile=long`."""
    return count * settings().max_examples // FEW
