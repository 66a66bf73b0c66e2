"""Distinct whole numbers, against numpy's own."""

import numpy as np
import pytest

from resupply.common.distinct import distinct, distinct_pairs


@pytest.mark.parametrize("count", [0, 1, 2, 1_000])
def test_distinct_is_what_numpy_finds(count):
    dice = np.random.default_rng(count)
    values = dice.integers(-300, 300, (count, 3))
    assert np.array_equal(distinct(values), np.unique(values))
    pairs = dice.integers(-9, 9, (count, 2))
    assert np.array_equal(distinct_pairs(pairs), np.unique(pairs, axis=0))
