"""The worth of the best pieces that fit each capacity, for all capacities at once.

Bounded knapsack by dynamic programming: each piece type is split into bundles of 1, 2, 4, ... pieces, and each
bundle is taken or left. Works on floats (to look for columns) and on whole numbers (to prove bounds) alike.

The table is where a search spends its time, so it is also filled in C: `_knapsack.c`, built when the package is
installed. A machine without a C compiler gets the numpy code; the answers are the same to the last bit.
"""

from __future__ import annotations

from collections.abc import Sequence
from types import ModuleType
from typing import Any

import numpy as np

from cutlist.stock.problem import Counts, Problem

_compiled: ModuleType | None
try:
    from cutlist.stock import _knapsack as _compiled
except ImportError:
    _compiled = None

COMPILED = _compiled is not None
Table = np.ndarray[Any, Any]


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
        widths = np.array([self.widths[i] * n for i, n in self.bundles], dtype=np.int64)
        worths = np.array([prices[i] * n for i, n in self.bundles], dtype=prices.dtype)
        self.best, self._taken = filled(widths, worths, capacity)
        self._widths = widths

    def counts(self, capacity: int, first_bundles: int | None = None) -> Counts:
        """Pieces worth `best[capacity]` that fit it (using only the first so many bundles, if given)."""
        rows = len(self.bundles) if first_bundles is None else first_bundles
        return read(self.bundles[:rows], self._widths, self._taken, capacity)


def filled(widths: Table, worths: Table, capacity: int) -> tuple[Table, Table]:
    """The highest worth of bundles that fit each capacity from 0 on, and taken[bundle, capacity].

    `widths` whole (int64), none above `capacity`; `worths` of either kind (float64, int64).
    """
    best = np.zeros(capacity + 1, dtype=worths.dtype)
    if _compiled is None:
        return best, _fill(widths, worths, best)
    taken = np.empty((len(widths), capacity + 1), dtype=bool)
    _compiled.fill(widths, worths, best, taken)
    return best, taken


def _fill(widths: Table, worths: Table, best: Table) -> Table:
    """The numpy twin of the compiled table. Changes `best`."""
    cells = len(best)
    spare = np.empty_like(best)
    taken = np.zeros((len(widths), cells), dtype=bool)
    for row, width, worth in zip(taken, widths, worths, strict=True):
        upper = best[width:]
        with_bundle = spare[: cells - width]
        np.add(best[: cells - width], worth, out=with_bundle)
        np.greater(with_bundle, upper, out=row[width:])
        np.maximum(upper, with_bundle, out=upper)
    return taken


def read(bundles: Sequence[tuple[int, int]], widths: Table, taken: Table, capacity: int) -> Counts:
    """The pieces behind `best[capacity]` of a table: the last bundle that made it better, and so on with the rest."""
    found: dict[int, int] = {}
    for row in range(len(bundles) - 1, -1, -1):
        if taken[row, capacity]:
            i, n = bundles[row]
            found[i] = found.get(i, 0) + n
            capacity -= int(widths[row])
    return tuple(sorted(found.items()))
