"""Every way of cutting that a plan cheaper than a given cost could use.

With prices that prove a bound, each way of cutting has a reduced cost: what its spool costs beyond the worth of its
pieces, never below zero. In a plan that costs less than the best one known, the reduced costs add up to at most the gap
between the two; so ways above the gap can be forgotten, and often few are left.

Breadth first over the piece types, in numpy. The best worth that the remaining types can still add is known exactly for
every remaining capacity, so no partial way is kept that does not lead to a way in the list.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cutlist.stock.certificate import CountLimit, Leaf
from cutlist.stock.deadline import Deadline
from cutlist.stock.problem import Counts, Pattern, Problem

MOST_CELLS = 15_000_000  # of the table of what remaining types can add: 120 MB


@dataclass(frozen=True)
class Listing:
    patterns: tuple[Pattern, ...]
    reduced: tuple[int, ...]  # reduced cost of each, in 1/scale of a cost unit
    gap: int  # the reduced costs of any better plan add up to no more than this


def leaf_value(problem: Problem, leaf: Leaf) -> int:
    """The bound that a leaf's prices prove, times its scale, before it is rounded up."""
    value = sum(y * d for y, d in zip(leaf.piece_prices, problem.demands, strict=True))
    value -= sum(leaf.line_prices[t] * (problem.lines[t].available or 0) for t in problem.limited)
    for price, limit in zip(leaf.limit_prices, leaf.limits, strict=True):
        value += price * (limit.count if limit.at_least else -limit.count)
    return value


def line_costs(problem: Problem, leaf: Leaf, limits: Sequence[CountLimit]) -> list[int]:
    """What a spool of each line costs at the leaf's prices, times its scale."""
    costs = [line.cost * leaf.scale + price for line, price in zip(problem.lines, leaf.line_prices, strict=True)]
    for price, limit in zip(leaf.limit_prices, limits, strict=True):
        for t in limit.lines:
            costs[t] += -price if limit.at_least else price
    return costs


def list_patterns(
    problem: Problem, leaf: Leaf, below: int, deadline: Deadline, most: int, maximal: bool = True
) -> Listing | None:
    """All patterns that a plan of cost at most `below` can use; None if there are more than `most`, or time is up.

    `maximal`: only those to which no further piece can be added (enough for a plan that may cut too many of a
    piece). Not for problems in which rests have a value.
    """
    gap = below * leaf.scale - leaf_value(problem, leaf)
    if gap < 0:
        return Listing((), (), gap)
    assert not problem.keep_rate
    costs = line_costs(problem, leaf, leaf.limits)
    patterns: list[Pattern] = []
    reduced: list[int] = []
    for family, types in enumerate(problem.may_yield):
        lines = [t for t, line in enumerate(problem.lines) if line.family == family]
        lines = _not_dominated(problem, lines, costs)
        if not lines or not types:
            continue
        found = _list_family(problem, leaf, types, lines, costs, gap, deadline, most - len(patterns), maximal)
        if found is None:
            return None
        patterns += found[0]
        reduced += found[1]
    order = sorted(range(len(patterns)), key=lambda k: patterns[k])
    return Listing(tuple(patterns[k] for k in order), tuple(reduced[k] for k in order), gap)


def _not_dominated(problem: Problem, lines: Sequence[int], costs: Sequence[int]) -> list[int]:
    """Lines by falling capacity. None is left out: each is a spool of its own that a plan may need."""
    return sorted(lines, key=lambda t: (-problem.lines[t].capacity, costs[t], t))


def _list_family(
    problem: Problem,
    leaf: Leaf,
    types: Sequence[int],
    lines: Sequence[int],
    costs: Sequence[int],
    gap: int,
    deadline: Deadline,
    most: int,
    maximal: bool,
) -> tuple[list[Pattern], list[int]] | None:
    widths = [problem.widths[i] for i in types]
    prices = [leaf.piece_prices[i] for i in types]
    total = sum(w * problem.demands[i] for i, w in zip(types, widths, strict=True))
    capacity = np.array([min(problem.lines[t].capacity, total) for t in lines])
    least_worth = np.array([costs[t] - gap for t in lines])
    top = int(capacity.max())
    if (len(types) + 1) * (top + 1) > MOST_CELLS:
        return None
    adds = _what_types_can_add(problem, types, prices, top)
    used = np.zeros(1, dtype=np.int64)
    worth = np.zeros(1, dtype=np.int64)
    parents: list[np.ndarray[Any, Any]] = []
    numbers: list[np.ndarray[Any, Any]] = []
    for k, (width, price) in enumerate(zip(widths, prices, strict=True)):
        if deadline.passed():
            return None
        layer: list[tuple[np.ndarray[Any, Any], ...]] = []
        size = 0
        for n in range(min(problem.demands[types[k]], top // width) + 1):
            used_n = used + n * width
            worth_n = worth + n * price
            hopeful = np.zeros(len(used), dtype=bool)
            for room, least in zip(capacity, least_worth, strict=True):
                left = room - used_n
                hopeful |= (left >= 0) & (worth_n + adds[k + 1][np.maximum(left, 0)] >= least)
            which = np.flatnonzero(hopeful)
            if len(which) == 0:
                if n > 0 and int(used_n.min()) > top:
                    break
                continue
            layer.append((which, np.full(len(which), n, dtype=np.int16), used_n[which], worth_n[which]))
            size += len(which)
            if size > 4 * most:
                return None
        if not layer:
            return [], []
        parents.append(np.concatenate([part[0] for part in layer]))
        numbers.append(np.concatenate([part[1] for part in layer]))
        used = np.concatenate([part[2] for part in layer])
        worth = np.concatenate([part[3] for part in layer])
    counts = _counts_of(parents, numbers, len(used))
    free = np.array(widths)[:, None] + np.where(
        counts >= np.array([problem.demands[i] for i in types])[:, None], top + 1, 0
    )
    smallest_free = free.min(axis=0) if maximal else np.full(len(used), top + 1)
    patterns: list[Pattern] = []
    reduced: list[int] = []
    for t, room, least in zip(lines, capacity, least_worth, strict=True):
        full = (used > 0) & (problem.lines[t].capacity - used < smallest_free if maximal else True)
        for s in np.flatnonzero((used <= room) & (worth >= least) & full):
            column = counts[:, s]
            named = tuple((types[i], int(column[i])) for i in np.flatnonzero(column).tolist())
            patterns.append(Pattern(t, _sorted(named)))
            reduced.append(int(costs[t] - worth[s]))
            if len(patterns) > most:
                return None
    return patterns, reduced


def _sorted(counts: Counts) -> Counts:
    return tuple(sorted(counts))


def _what_types_can_add(
    problem: Problem, types: Sequence[int], prices: Sequence[int], top: int
) -> list[np.ndarray[Any, Any]]:
    """Entry k: for every capacity, the most worth that types k, k + 1, ... can add."""
    best = np.zeros(top + 1, dtype=np.int64)
    adds = [best]
    for k in range(len(types) - 1, -1, -1):
        width, price = problem.widths[types[k]], prices[k]
        best = best.copy()
        most = min(problem.demands[types[k]], top // width)
        size = 1
        while most > 0 and price > 0:
            n = min(size, most)
            np.maximum(best[n * width :], best[: top + 1 - n * width] + n * price, out=best[n * width :])
            most -= n
            size *= 2
        adds.append(best)
    return adds[::-1]


def _counts_of(
    parents: Sequence[np.ndarray[Any, Any]], numbers: Sequence[np.ndarray[Any, Any]], size: int
) -> np.ndarray[Any, Any]:
    """Rows: types; columns: partial ways at the last layer; entries: how many pieces."""
    counts = np.zeros((len(parents), size), dtype=np.int16)
    at = np.arange(size)
    for k in range(len(parents) - 1, -1, -1):
        counts[k] = numbers[k][at]
        at = parents[k][at]
    return counts
