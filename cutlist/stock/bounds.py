"""From float prices to a bound that holds exactly: whole-number prices, checked with a whole-number knapsack."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutlist.stock.certificate import CountLimit, Leaf
from cutlist.stock.master import Prices
from cutlist.stock.offers import Offers
from cutlist.stock.problem import Problem


def exact_leaf(problem: Problem, prices: Prices, limits: Sequence[CountLimit], about: int) -> tuple[Leaf, int] | None:
    """A leaf with whole-number prices near `prices`, and its bound in cost units, rounded up.

    `about`: the size of the costs to expect, so that no whole number overflows. None if the prices prove nothing
    (they would have to shrink to nothing because a line that is not limited costs less than nothing).
    """
    scale = max(1, min(10**7, 2**60 // max(1, 4 * about + 4 * sum(line.cost for line in problem.lines[:64]))))
    offers = Offers(problem, limits, scale)
    pieces = np.floor(prices.pieces * scale + 1e-6).astype(np.int64)
    if problem.ceilings:
        pieces = np.minimum(pieces, [num * scale // den for num, den in problem.ceilings])
    limit_prices = np.floor(prices.limits * scale).astype(np.int64)
    unlimited = np.array([line.available is None for line in problem.lines])
    for _ in range(6):
        gains = np.zeros(len(problem.lines), dtype=np.int64)
        for offer in offers.at_prices(pieces, limit_prices):
            gains[offer.lines] = np.maximum(offer.gain, 0)
        excess = gains[unlimited]
        if not excess.any():
            break
        costs = offers.costs[unlimited].astype(float)
        share = np.min(costs[excess > 0] / (costs[excess > 0] + excess[excess > 0]))
        if share <= 0:
            return None
        pieces = np.floor(pieces * share * (1 - 1e-12)).astype(np.int64)
    else:
        return None
    value = sum(int(y) * d for y, d in zip(pieces, problem.demands, strict=True))
    value -= sum(int(gains[t]) * (problem.lines[t].available or 0) for t in problem.limited)
    for price, limit in zip(limit_prices, limits, strict=True):
        value += int(price) * (limit.count if limit.at_least else -limit.count)
    line_prices = tuple(int(g) for g in gains)
    leaf = Leaf(tuple(limits), scale, tuple(int(y) for y in pieces), line_prices, tuple(int(v) for v in limit_prices))
    return leaf, -(-value // scale)


def reachable_in(problem: Problem, leaf: Leaf, bound: int) -> int:
    """The least sum of spool costs that is not below `bound`, of plans within the leaf's limits.

    Spools that every such plan uses are added up first; of kinds whose number is settled, no more are to be had.
    """
    if problem.keep_rate:
        return next_reachable(problem, bound)
    low = [0] * len(problem.lines)
    high = [line.available for line in problem.lines]
    for limit in leaf.limits:
        if len(limit.lines) == 1:
            t = limit.lines[0]
            most = high[t]
            if limit.at_least:
                low[t] = max(low[t], limit.count)
            else:
                high[t] = limit.count if most is None else min(most, limit.count)
    sure = sum(n * line.cost for n, line in zip(low, problem.lines, strict=True))
    open_lines = [line for n, most, line in zip(low, high, problem.lines, strict=True) if most is None or most > n]
    return sure + _next_sum([line.cost for line in open_lines], problem.cost_step, max(bound - sure, 0))


def next_reachable(problem: Problem, bound: int) -> int:
    """The least sum of spool costs that is not below `bound` (every plan costs such a sum)."""
    step = problem.cost_step
    if problem.keep_rate:
        return -(-max(bound, 0) // step) * step
    return _next_sum([line.cost for line in problem.lines], step, max(bound, 0))


def _next_sum(costs: Sequence[int], step: int, bound: int, most: int = 4_000_000) -> int:
    """The least sum of some of these costs, each as often as wanted, not below `bound`; all are multiples of `step`."""
    units = -(-bound // step)
    if units > most:
        return units * step
    costs = sorted({cost // step for cost in costs if cost > 0})
    if not costs or costs[0] == 1:
        return units * step
    top = units + costs[0]
    mask = (1 << (top + 1)) - 1
    sums = 1
    for cost in costs:
        if sums >> cost & 1:
            continue  # made of smaller ones, as lengths by the foot are
        shift = cost
        while shift <= top:
            sums |= (sums << shift) & mask
            shift *= 2
    above = sums >> units
    if above == 0:
        return units * step
    return (units + (above & -above).bit_length() - 1) * step
