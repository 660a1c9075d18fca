"""At given prices of pieces, what can be gained by cutting one more of each spool that is to be had?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cutlist.stock.certificate import CountLimit
from cutlist.stock.knapsack import Worth
from cutlist.stock.problem import Counts, Problem


@dataclass(frozen=True)
class Offer:
    """What one family of stock offers at some prices: per line, worth less cost, and where it is had."""

    worth: Worth
    lines: np.ndarray[Any, Any]
    gain: np.ndarray[Any, Any]  # worth + value kept - cost, per line
    at: np.ndarray[Any, Any]  # the capacity to read the pieces at


class Offers:
    """The stock lines as arrays, family by family; `at_prices` prices all of them in one go."""

    def __init__(self, problem: Problem, limits: Sequence[CountLimit] = (), scale: int = 0):
        """`scale` 0: floats. Else whole numbers, all costs times `scale`."""
        self.problem = problem
        self.limits = tuple(limits)
        number = np.float64 if scale == 0 else np.int64
        factor = scale or 1
        self.costs = np.array([line.cost * factor for line in problem.lines], dtype=number)
        self.keep_rate = number(problem.keep_rate * factor)
        self.families = []
        for family in range(len(problem.may_yield)):
            lines = [t for t, line in enumerate(problem.lines) if line.family == family]
            if not lines:
                continue
            width = sum(problem.widths[i] * problem.demands[i] for i in problem.may_yield[family])
            capacity = np.array([min(problem.lines[t].capacity, width) for t in lines])
            full = np.array([problem.lines[t].capacity for t in lines])
            slack = np.array(
                [-1 if problem.lines[t].keep_slack is None else problem.lines[t].keep_slack for t in lines]
            )
            base = np.array([problem.lines[t].keep_base * factor for t in lines], dtype=number)
            self.families.append((family, np.array(lines), capacity, full, slack, base))

    def at_prices(
        self, pieces: np.ndarray[Any, Any], limits: np.ndarray[Any, Any], demands: Sequence[int] | None = None
    ) -> list[Offer]:
        """Gains leave out the lines' own prices: a limited line's price is what its gain comes to, if above 0."""
        cost = self.costs.copy()
        for price, limit in zip(limits, self.limits, strict=True):
            cost[list(limit.lines)] += -price if limit.at_least else price
        offers = []
        for family, lines, capacity, full, slack, base in self.families:
            worth = Worth(self.problem, family, pieces, int(capacity.max()), demands)
            gain = worth.best[capacity] - cost[lines]
            at = capacity
            if self.keep_rate and (slack >= 0).any():
                # Kept: worth of the pieces + base + rate * (capacity - width), over all widths that leave enough.
                net = np.maximum.accumulate(worth.best - self.keep_rate * np.arange(len(worth.best)))
                room = np.minimum(full - slack, len(worth.best) - 1)
                allowed = (slack >= 0) & (room >= 0)
                kept = net[np.maximum(room, 0)] + base + self.keep_rate * full - cost[lines]
                better = allowed & (kept > gain)
                gain = np.where(better, kept, gain)
                at = np.where(better, -1 - np.maximum(room, 0), at)
            offers.append(Offer(worth, lines, gain, at))
        return offers

    def counts(self, offer: Offer, k: int) -> Counts:
        """The pieces behind gain k of an offer."""
        at = int(offer.at[k])
        if at >= 0:
            return offer.worth.counts(at)
        room = -1 - at
        best = offer.worth.best[: room + 1]
        return offer.worth.counts(int(np.argmax(best - self.keep_rate * np.arange(room + 1))))
