"""Small groups to the end: the least cost of everything that may be left to cut, in one table.

One entry for every choice of pieces still to cut. Each entry is the cheapest spool for some of its pieces plus the
entry of the rest; spools of which there are only so many come one after the other. Nothing is left out, so the answer
is the least cost, and it takes no solver.
"""

from __future__ import annotations

from math import prod
from typing import Any

import numpy as np

from cutlist.stock.deadline import Deadline
from cutlist.stock.one_more import with_one_more
from cutlist.stock.problem import Cuts, Pattern, Problem

MOST_ENTRIES = 4_200
MOST_COPIES = 24  # of spools with limited supply
NEVER = 2**60

Ints = np.ndarray[Any, Any]


def small(problem: Problem) -> bool:
    """Whether the table is small enough to be filled in a moment."""
    copies = sum(min(problem.lines[t].available or 0, problem.total_pieces) for t in problem.limited)
    return prod(d + 1 for d in problem.demands) <= MOST_ENTRIES and copies <= MOST_COPIES


def try_all(problem: Problem, deadline: Deadline) -> Cuts | None:
    """The plan of least cost; None if time is up or there is none. For problems that are `small`."""
    table = _Table(problem)
    unlimited, lines = table.best_unlimited()
    if unlimited.min() < 0:
        return None  # a spool that is worth more kept than it costs: buying has no end
    layers = [table.with_many(unlimited, deadline)]
    copies: list[tuple[int, Ints]] = []
    for t in problem.limited:
        costs = table.costs_of(t)
        for _ in range(min(problem.lines[t].available or 0, problem.total_pieces)):
            if deadline.passed():
                return None
            layers.append(table.with_one_more(layers[-1], costs))
            copies.append((t, costs))
    if deadline.passed() or layers[-1][-1] >= NEVER:
        return None
    uses: dict[Pattern, int] = {}
    left = table.size - 1
    for layer in range(len(copies), 0, -1):
        t, costs = copies[layer - 1]
        if layers[layer][left] < layers[layer - 1][left]:
            left = table.take(uses, left, costs, layers[layer - 1], layers[layer][left], np.full(table.size, t))
    while left:
        left = table.take(uses, left, unlimited, layers[0], layers[0][left], lines)
    return Cuts(tuple(sorted(uses.items())))


class _Table:
    """Choices of pieces as numbers: the digits, one for each piece type, are how many of it."""

    def __init__(self, problem: Problem):
        self.problem = problem
        self.radix = [prod(d + 1 for d in problem.demands[:i]) for i in range(len(problem.demands))]
        self.size = prod(d + 1 for d in problem.demands)
        entries = np.arange(self.size)
        self.digits = np.array(
            [entries // r % (d + 1) for r, d in zip(self.radix, problem.demands, strict=True)], dtype=np.int64
        )
        self.widths = np.array(problem.widths) @ self.digits
        half = len(self.radix) // 2
        self.low = prod(d + 1 for d in problem.demands[:half])
        self.less_low = self._less(range(half), self.low, 1)
        self.less_high = self._less(range(half, len(self.radix)), self.size // self.low, self.low)

    def _less(self, types: range, number: int, unit: int) -> list[Ints]:
        """For every choice of these types: what is left of the types' digits, for every entry."""
        found = []
        for n in range(number):
            left = np.zeros(self.size, dtype=np.int64)
            for i in types:
                taken = n * unit // self.radix[i] % (self.problem.demands[i] + 1)
                left += self.radix[i] * np.maximum(self.digits[i] - taken, 0)
            found.append(left)
        return found

    def without(self, taken: int) -> Ints:
        """For every entry, the entry that is left when these pieces are cut."""
        return self.less_low[taken % self.low] + self.less_high[taken // self.low]

    def costs_of(self, t: int) -> Ints:
        """What a spool of this line costs for every choice of pieces; NEVER if they do not fit it or may not."""
        problem, line = self.problem, self.problem.lines[t]
        slack = line.capacity - self.widths
        costs = np.full(self.size, line.cost, dtype=np.int64)
        if line.keep_slack is not None:
            kept = slack >= line.keep_slack
            costs[kept] -= line.keep_base + problem.keep_rate * slack[kept]
        barred = [i for i in range(len(problem.widths)) if i not in problem.may_yield[line.family]]
        costs[(slack < 0) | self.digits[barred].any(axis=0)] = NEVER
        costs[0] = NEVER
        return costs

    def best_unlimited(self) -> tuple[Ints, Ints]:
        """For every choice of pieces the cheapest spool of unlimited supply, and its line."""
        best = np.full(self.size, NEVER, dtype=np.int64)
        lines = np.zeros(self.size, dtype=np.int64)
        for t, line in enumerate(self.problem.lines):
            if line.available is None:
                costs = self.costs_of(t)
                better = costs < best
                best[better], lines[better] = costs[better], t
        return best, lines

    def with_many(self, costs: Ints, deadline: Deadline) -> Ints:
        """The least cost of every entry from any number of these spools."""
        least = np.full(self.size, NEVER, dtype=np.int64)
        least[0] = 0
        useful = np.flatnonzero(costs < NEVER)
        changed = True
        while changed and not deadline.passed():
            changed = False
            # Spools dearer than several others that yield the same are of no use; small choices first.
            for taken in useful.tolist():
                if costs[taken] > least[taken]:
                    continue
                after = least[self.without(taken)] + costs[taken]
                if (after < least).any():
                    np.minimum(least, after, out=least)
                    changed = True
        return least

    def with_one_more(self, least: Ints, costs: Ints) -> Ints:
        """The least cost of every entry when one spool more may be used."""
        # a load that is no part of what is left costs no less than what they share: such loads need no look
        sizes = (*(d + 1 for d in reversed(self.problem.demands)), 1)  # the first kind is the last digit
        return with_one_more(least.reshape(sizes), costs.reshape(sizes), NEVER).reshape(-1)

    def take(self, uses: dict[Pattern, int], left: int, costs: Ints, rest: Ints, least: int, lines: Ints) -> int:
        """Notes the spool that the entry's least cost comes from (of several, the fullest); what is left after it."""
        fits = np.flatnonzero((costs < NEVER) & (self.digits <= self.digits[:, [left]]).all(axis=0))
        exact = fits[costs[fits] + rest[left - fits] == least]
        chosen = int(exact[np.argmax(self.widths[exact])])
        counts = tuple((i, int(n)) for i, n in enumerate(self.digits[:, chosen]) if n)
        pattern = Pattern(int(lines[chosen]), counts)
        uses[pattern] = uses.get(pattern, 0) + 1
        return left - chosen
