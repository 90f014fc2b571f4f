"""Assignment: each partner used once, at the least cost in all."""

from itertools import permutations

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from profiles.blocks.assignment import assign


@pytest.mark.parametrize("shape", [(1, 1), (2, 2), (3, 5), (5, 3), (6, 6), (1, 4), (12, 9)])
def test_assignment_costs_as_little_as_that_of_scipy(shape: tuple[int, int]) -> None:
    """scipy.optimize.linear_sum_assignment on random costs, whole numbers among them so that some are equal."""
    random = np.random.default_rng(3)
    for cost in (*random.uniform(0, 9, (20, *shape)), *random.integers(0, 4, (20, *shape)).astype(float)):
        pairs = assign(cost)
        rows, columns = linear_sum_assignment(cost)
        assert len({row for row, _ in pairs}) == len({column for _, column in pairs}) == len(pairs) == min(shape)
        assert sum(cost[pair] for pair in pairs) == pytest.approx(cost[rows, columns].sum())


def test_nearest_alone_would_not_do() -> None:
    """The best pair of all is given up where the rest would cost more."""
    cost = [[1.0, 2.0], [1.5, 9.0]]
    least = min(permutations(range(2)), key=lambda order: sum(cost[n][k] for n, k in enumerate(order)))
    assert assign(cost) == list(enumerate(least)) == [(0, 1), (1, 0)]


def test_nothing_has_no_partner() -> None:
    """Without rows or columns there are no pairs."""
    assert assign([]) == []
    assert assign(np.zeros((0, 3))) == []
