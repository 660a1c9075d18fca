"""The worth of the best pieces that fit each capacity, for all capacities at once.

Bounded knapsack by dynamic programming: each piece type is split into bundles of 1, 2, 4, ... pieces, and each
bundle is taken or left. Works on floats (to look for columns) and on whole numbers (to prove bounds) alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from cutlist.stock.problem import Counts, Problem


def bundles(problem: Problem, family: int, demands: Sequence[int], capacity: int) -> list[tuple[int, int]]:
    """(piece type, how many) of every bundle; sums of bundles make every allowed count, and no other matters."""
    result = []
    for i in problem.may_yield[family]:
        most = min(demands[i], capacity // problem.widths[i])
        size = 1
        while most > 0:
            take = min(size, most)
            result.append((i, take))
            most -= take
            size *= 2
    return result


class Worth:
    """`best[c]`: the highest sum of prices of pieces whose widths add up to at most c."""

    def __init__(
        self,
        problem: Problem,
        family: int,
        prices: np.ndarray[Any, Any],
        capacity: int,
        demands: Sequence[int] | None = None,
    ):
        self.widths = problem.widths
        asked = problem.demands if demands is None else demands
        all_bundles = bundles(problem, family, asked, capacity)
        self.bundles = [(i, n) for i, n in all_bundles if prices[i] > 0]
        best = np.zeros(capacity + 1, dtype=prices.dtype)
        taken = np.zeros((len(self.bundles), capacity + 1), dtype=bool)
        spare = np.empty(capacity + 1, dtype=prices.dtype)
        for row, (i, n) in zip(taken, self.bundles, strict=True):
            width = self.widths[i] * n
            upper = best[width:]
            with_bundle = spare[: capacity + 1 - width]
            np.add(best[: capacity + 1 - width], prices[i] * n, out=with_bundle)
            np.greater(with_bundle, upper, out=row[width:])
            np.maximum(upper, with_bundle, out=upper)
        self.best = best
        self._taken = taken

    def counts(self, capacity: int, first_bundles: int | None = None) -> Counts:
        """Pieces worth `best[capacity]` that fit it (using only the first so many bundles, if given)."""
        found: dict[int, int] = {}
        rows = len(self.bundles) if first_bundles is None else first_bundles
        for row in range(rows - 1, -1, -1):
            if self._taken[row, capacity]:
                i, n = self.bundles[row]
                found[i] = found.get(i, 0) + n
                capacity -= self.widths[i] * n
        return tuple(sorted(found.items()))
