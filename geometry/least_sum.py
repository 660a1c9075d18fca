"""Which of these goes with which of those, so that the sum of the costs is least?

scipy and ortools answer this too, but take a third and a tenth of a second to load, longer than a hundred rows take.
"""

from __future__ import annotations

import math
from collections.abc import Sequence


def least_sum(costs: Sequence[Sequence[float]]) -> list[int | None]:
    """The column of each row, every column once at most; None for rows left over where columns are fewer.

    `costs`: a list for each row, as long as each other; finite numbers of any sign. Of columns equally good on the way
    the free one is taken, then the first.
    Row after row is put in by the shortest way of changes to the rows before it; columns keep prices so that no cost
    is ever below nought (Jonker and Volgenant's method).

    >>> least_sum([[4, 1, 3], [2, 0, 5], [3, 2, 2]])
    [1, 0, 2]
    >>> least_sum([[1], [0]])
    [None, 0]
    """
    rows, columns = len(costs), len(costs[0]) if costs else 0
    if rows > columns:
        found: list[int | None] = [None] * rows
        for column, row in enumerate(least_sum([list(column) for column in zip(*costs, strict=True)])):
            assert row is not None  # no more columns than rows: each has one
            found[row] = column
        return found
    # whole costs stay whole: sums of them are exact
    row_price: list[float] = [0] * rows
    column_price: list[float] = [0] * columns
    row_of: list[int | None] = [None] * columns
    column_of: list[int | None] = [None] * rows
    for start in range(rows):
        cheapest, come_from = [math.inf] * columns, [start] * columns
        seen: list[int] = []
        open_columns = list(range(columns))
        row = start
        spent: float = 0
        while True:
            for column in open_columns:
                way = spent + costs[row][column] - row_price[row] - column_price[column]
                if way < cheapest[column]:
                    cheapest[column], come_from[column] = way, row
            column = min(open_columns, key=lambda c: (cheapest[c], row_of[c] is not None))
            spent = cheapest[column]
            open_columns.remove(column)
            seen.append(column)
            holder = row_of[column]
            if holder is None:
                break
            row = holder
        row_price[start] += spent
        for done in seen[:-1]:
            over = spent - cheapest[done]
            column_price[done] -= over
            holder = row_of[done]
            assert holder is not None  # all but the last one seen had a row
            row_price[holder] += over
        # from the free column back to the row that came in, each row on the way gives up the column it had
        end: int | None = column
        while end is not None:
            row = come_from[end]
            row_of[end] = row
            column_of[row], end = end, column_of[row]
    return column_of
