"""Pair the items of two groups, each item used once, at the least total cost.

Row by row, the algorithm finds the cheapest way to change partners (H. W. Kuhn, Naval Research Logistics
Quarterly 2, 1955, in the form with a price for each row and column). scipy has this too, but takes longer to import
than half the blocks of a hull take to make.
"""

from collections.abc import Sequence

import numpy as np

from profiles.arrays import Floats


def assign(cost: Sequence[Sequence[float]] | Floats) -> list[tuple[int, int]]:
    """Pairs of row and column, by row, as many as the shorter side of `cost` (finite). No rows give no pairs."""
    table = np.array(cost, dtype=np.float64)
    if not table.size:
        return []
    if len(table) > table.shape[1]:
        return sorted((row, column) for column, row in assign(table.T))
    rows, columns = table.shape
    row_price, column_price = np.zeros(rows), np.zeros(columns + 1)
    partner = np.full(columns + 1, -1)  # the last column stands for the row that has no partner yet
    for row in range(rows):
        partner[-1] = row
        at = columns
        least, before, done = np.full(columns, np.inf), np.full(columns, columns), np.zeros(columns + 1, dtype=np.bool_)
        while partner[at] >= 0:
            done[at] = True
            current = partner[at]
            over = table[current] - row_price[current] - column_price[:-1]
            nearer = (over < least) & ~done[:-1]
            least[nearer], before[nearer] = over[nearer], at
            at = int(np.where(done[:-1], np.inf, least).argmin())
            step = least[at]
            row_price[partner[done]] += step
            column_price[done] -= step
            least[~done[:-1]] -= step
        while at != columns:
            partner[at] = partner[before[at]]
            at = int(before[at])
    return sorted((int(row), column) for column, row in enumerate(partner[:-1]) if row >= 0)
