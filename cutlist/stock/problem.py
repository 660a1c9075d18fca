"""One group of pieces and the stock they may be cut from, in whole numbers: what the solvers work on.

n pieces fit a spool when their lengths and the n - 1 kerfs between them fit. Adding one kerf to every piece and one
to every spool says exactly that, so kerfs are gone from here on: a piece has a width, a spool a capacity, and
widths add up.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import gcd


@dataclass(frozen=True)
class StockLine:
    """Spools of one kind. Capacity and widths are in the same unit; cost is in cost units, never negative."""

    capacity: int
    cost: int
    available: int | None = None  # None: as many as wanted
    family: int = 0  # which piece types it may yield: an index into Problem.may_yield
    keep_slack: int | None = None  # a rest of at least this is worth keep_base + keep_rate * rest; None: never
    keep_base: int = 0
    by_length: bool = False  # one of the many lengths of cable by the metre


@dataclass(frozen=True)
class Problem:
    widths: tuple[int, ...]  # of the piece types, falling
    demands: tuple[int, ...]
    lines: tuple[StockLine, ...]
    may_yield: tuple[tuple[int, ...], ...]  # piece types of each family
    keep_rate: int = 0
    # No piece type may be priced above this (num, den), where very long lengths are bought that are not lines: see
    # groups.py. Empty: all that can be bought is a line.
    ceilings: tuple[tuple[int, int], ...] = ()
    last_resort: int | None = None  # a line that is not really there: a plan that uses it is none

    @cached_property
    def usual_cost(self) -> int:
        """The cost of the dearest spool that is really there: the size of number to reckon in."""
        return max((line.cost for t, line in enumerate(self.lines) if t != self.last_resort), default=1)

    @cached_property
    def total_width(self) -> int:
        return sum(w * d for w, d in zip(self.widths, self.demands, strict=True))

    @cached_property
    def total_pieces(self) -> int:
        return sum(self.demands)

    @cached_property
    def limited(self) -> tuple[int, ...]:
        return tuple(i for i, line in enumerate(self.lines) if line.available is not None)

    @cached_property
    def cost_step(self) -> int:
        """Every plan costs a multiple of this."""
        steps = [line.cost for line in self.lines]
        if self.keep_rate:
            steps += [line.keep_base for line in self.lines if line.keep_slack is not None] + [self.keep_rate]
        return gcd(*steps) or 1

    def width_of(self, counts: Counts) -> int:
        return sum(self.widths[i] * n for i, n in counts)

    def cost_of(self, line_index: int, width: int) -> int:
        """What a spool of this line costs when pieces of this width in all are cut from it."""
        line = self.lines[line_index]
        slack = line.capacity - width
        if line.keep_slack is not None and slack >= line.keep_slack:
            return line.cost - line.keep_base - self.keep_rate * slack
        return line.cost


Counts = tuple[tuple[int, int], ...]  # (piece type, how many), by type


@dataclass(frozen=True, order=True)
class Pattern:
    """One way of cutting one spool."""

    line: int
    counts: Counts


@dataclass(frozen=True)
class Cuts:
    """A plan: how many spools are cut in each way."""

    uses: tuple[tuple[Pattern, int], ...]

    def cost(self, problem: Problem) -> int:
        return sum(n * problem.cost_of(p.line, problem.width_of(p.counts)) for p, n in self.uses)

    @property
    def spools(self) -> int:
        return sum(n for _, n in self.uses)


def without_surplus(problem: Problem, uses: dict[Pattern, int]) -> Cuts:
    """The same spools, cut so that no piece is cut more often than asked for."""
    left = list(problem.demands)
    result: dict[Pattern, int] = {}
    for pattern in sorted(uses):
        for _ in range(uses[pattern]):
            counts = tuple((i, min(n, left[i])) for i, n in pattern.counts if left[i] > 0)
            if not counts:
                continue
            for i, n in counts:
                left[i] -= n
            taken = Pattern(pattern.line, counts)
            result[taken] = result.get(taken, 0) + 1
    assert not any(left), "a plan must yield every piece"
    return Cuts(tuple(sorted(result.items())))
