"""How many spools of each kind, by total length alone: quick plans and quick bounds for many pieces.

Whatever the ways of cutting, the spools used must hold the total width of all pieces. Prices in proportion to width
prove what that costs, in cases by how many spools of each kind are used; where pieces are many and of many lengths,
spools can be filled nearly to the brim, and nothing is lost by looking at the total only.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from cutlist.stock.bounds import reachable_in
from cutlist.stock.certificate import CountLimit, Leaf
from cutlist.stock.deadline import Deadline
from cutlist.stock.filling import plan_on
from cutlist.stock.knapsack import bundles
from cutlist.stock.listing import leaf_value
from cutlist.stock.problem import Cuts, Problem

MOST_CASES = 60
MOST_FILLED = 300  # spools filled, over all choices of spools that pieces are shared among


@dataclass(frozen=True)
class Covered:
    cuts: Cuts | None  # the cheapest plan found or known
    bound: int
    leaves: tuple[Leaf, ...]


@dataclass(frozen=True)
class _Case:
    """Some numbers of spools are limited. `spools`: the whole ones of the cheapest fractional cover, (line, number)."""

    leaf: Leaf
    bound: int
    split: tuple[int, int] | None  # line and number: at most so many in one case, more in the other
    spools: tuple[tuple[int, int], ...]
    lacking: int  # width that these do not hold


@dataclass(frozen=True)
class _Mode:
    """What a line can be used for: all (width cut from it, cost) that other ways of using it lie between."""

    ways: tuple[tuple[int, int], ...]
    least: Fraction | None  # price of a unit of width above which a spool of it is worth more than it costs


def covers(problem: Problem, best: Cuts | None, deadline: Deadline) -> Covered | None:
    """The cheapest plan found by choosing spools first, and a bound with a leaf for every case.

    None where a spool can be bought and kept for less than nothing: no price of width holds against that.
    """
    modes = _modes(problem)
    if any(cost < 0 for mode in modes for _, cost in mode.ways):
        return None
    prices = _prices(problem, modes)
    best_cost = None if best is None else best.cost(problem)
    first = _case(problem, modes, prices, (), best_cost)
    heap = [(first.bound, 0, first)]
    ended: list[_Case] = []
    filled: set[tuple[tuple[int, int], ...]] = set()
    serial = 0
    while heap and not deadline.passed():
        bound, _, case = heapq.heappop(heap)
        if best_cost is not None and bound >= best_cost:
            heapq.heappush(heap, (bound, serial := serial + 1, case))
            break
        for spools in _completed(problem, case, best_cost):
            if spools in filled or sum(n for choice in filled for _, n in choice) >= MOST_FILLED:
                continue
            filled.add(spools)
            plan = plan_on(problem, spools, deadline)
            if plan is not None and (best_cost is None or plan.cost(problem) < best_cost):
                best, best_cost = plan, plan.cost(problem)
        if (best_cost is not None and bound >= best_cost) or case.split is None or len(heap) + len(ended) >= MOST_CASES:
            ended.append(case)
        else:
            line, count = case.split
            for at_least, number in ((False, count), (True, count + 1)):
                limits = (*case.leaf.limits, CountLimit((line,), at_least, number))
                child = _case(problem, modes, prices, limits, best_cost)
                heapq.heappush(heap, (max(bound, child.bound), serial := serial + 1, child))
    cases = [*ended, *(case for *_, case in heap)]
    return Covered(best, min(case.bound for case in cases), tuple(case.leaf for case in cases))


def _modes(problem: Problem) -> list[_Mode]:
    sums = [_sums(problem, family) for family in range(len(problem.may_yield))]
    modes = []
    for t, line in enumerate(problem.lines):
        widths = {0, _at_most(sums[line.family], line.capacity)}
        if problem.keep_rate and line.keep_slack is not None:
            widths.add(_at_most(sums[line.family], max(0, line.capacity - line.keep_slack)))
        ways = tuple((w, problem.cost_of(t, w)) for w in sorted(widths))
        modes.append(_Mode(ways, min((Fraction(cost, w) for w, cost in ways if w), default=None)))
    return modes


def _sums(problem: Problem, family: int) -> int:
    """Bit w is set if some of the pieces add up to width w: no spool is filled to a width that none do."""
    most = max((line.capacity for line in problem.lines if line.family == family), default=0)
    mask = (1 << (most + 1)) - 1
    sums = 1
    for i, n in bundles(problem, family, problem.demands, most):
        sums |= (sums << (problem.widths[i] * n)) & mask
    return sums


def _at_most(sums: int, width: int) -> int:
    return (sums & ((1 << (width + 1)) - 1)).bit_length() - 1


def _prices(problem: Problem, modes: Sequence[_Mode]) -> list[Fraction]:
    """The prices of a unit of width that may be best in a case: where a line begins to pay, or changes its use."""
    places = {Fraction(0)} | {mode.least for mode in modes if mode.least is not None}
    places.update(
        Fraction(c2 - c1, w2 - w1)
        for mode in modes
        for (w1, c1), (w2, c2) in zip(mode.ways, mode.ways[1:], strict=False)
    )
    ceilings = zip(problem.ceilings, problem.widths, strict=False)
    top = min((Fraction(num, den) / w for (num, den), w in ceilings), default=max(places))
    return sorted({p for p in places if 0 <= p <= top} | {top})


def _bounds_on_counts(problem: Problem, limits: Sequence[CountLimit]) -> tuple[list[int], list[int | None]]:
    low = [0] * len(problem.lines)
    high = [line.available for line in problem.lines]
    for limit in limits:
        (t,) = limit.lines
        if limit.at_least:
            low[t] = max(low[t], limit.count)
        else:
            there = high[t]
            high[t] = limit.count if there is None else min(there, limit.count)
    return low, high


def _case(
    problem: Problem,
    modes: Sequence[_Mode],
    prices: Sequence[Fraction],
    limits: tuple[CountLimit, ...],
    about: int | None,
) -> _Case:
    """The price of a unit of width that proves most within these limits; and the fractional cover behind it."""
    low, high = _bounds_on_counts(problem, limits)
    price = _best_price(problem, modes, prices, low, high)
    leaf = _leaf(problem, modes, limits, low, high, price, about)
    bound = reachable_in(problem, leaf, -(-leaf_value(problem, leaf) // leaf.scale))
    num, den = price.numerator, price.denominator
    gains = [max((num * w - cost * den, w) for w, cost in mode.ways) for mode in modes]
    spools = {}
    lacking = problem.total_width
    for t, (gain, width) in enumerate(gains):
        most = high[t]
        n = most if gain > 0 and most is not None else low[t]
        if n:
            spools[t] = n
            lacking -= n * width
    split = None
    for t in sorted(range(len(gains)), key=lambda t: (-gains[t][1], t)):
        gain, width = gains[t]
        most = high[t]
        if lacking <= 0 or gain != 0 or width == 0 or problem.lines[t].by_length:
            continue
        more = lacking // width if most is None else min(lacking // width, most - low[t])
        if more:
            spools[t] = low[t] + more
            lacking -= more * width
        if split is None and lacking > 0 and (most is None or low[t] + more < most):
            split = (t, low[t] + more)
    if split is None:
        split = _not_fixed(problem, low, high, spools)
    return _Case(leaf, bound, split, tuple(sorted(spools.items())), max(lacking, 0))


def _not_fixed(
    problem: Problem, low: Sequence[int], high: Sequence[int | None], spools: Mapping[int, int]
) -> tuple[int, int] | None:
    """The dearest kind of spool whose number is not settled: once all are, only lengths to order are left to add up."""
    for t in sorted(range(len(low)), key=lambda t: (-problem.lines[t].cost, t)):
        line = problem.lines[t]
        if line.by_length or line.cost == 0 or low[t] == high[t] or t == problem.last_resort:
            continue
        used = spools.get(t, 0)
        return (t, used - 1) if used == high[t] else (t, used)
    return None


def _best_price(
    problem: Problem,
    modes: Sequence[_Mode],
    prices: Sequence[Fraction],
    low: Sequence[int],
    high: Sequence[int | None],
) -> Fraction:
    """The price of a unit of width at which the spools' total worth above their cost proves most."""
    tops = [mode.least for mode, most in zip(modes, high, strict=True) if most is None and mode.least is not None]
    top = min(tops, default=prices[-1])
    candidates = [p for p in prices if p <= top]
    at = np.array([float(p) for p in candidates])
    value = at * problem.total_width
    for t, mode in enumerate(modes):
        gain = np.max([at * w - cost for w, cost in mode.ways], axis=0)
        most = high[t]
        value -= np.maximum(low[t] * gain, gain * most) if most is not None else np.minimum(gain, 0) * low[t]
    return candidates[int(np.argmax(value))]


def _leaf(
    problem: Problem,
    modes: Sequence[_Mode],
    limits: tuple[CountLimit, ...],
    low: Sequence[int],
    high: Sequence[int | None],
    price: Fraction,
    about: int | None,
) -> Leaf:
    """The certificate of a case: whole-number prices, rounded to the safe side."""
    costs = 4 * (about or problem.total_pieces * problem.usual_cost) + 4 * problem.usual_cost
    scale = max(1, min(10**7, 2**58 // max(1, costs)))
    num, den = price.numerator * scale, price.denominator
    line_prices = [0] * len(problem.lines)
    limit_prices = [0] * len(limits)
    for t, mode in enumerate(modes):
        gain = max(num * w - cost * scale * den for w, cost in mode.ways)
        own = [k for k, limit in enumerate(limits) if limit.lines == (t,)]
        uppers = [k for k in own if not limits[k].at_least and limits[k].count == high[t]]
        lowers = [k for k in own if limits[k].at_least and limits[k].count == low[t]]
        if gain > 0 and uppers:
            limit_prices[uppers[0]] = -(-gain // den)
        elif gain > 0:
            line_prices[t] = -(-gain // den)
        elif gain < 0 and lowers:
            limit_prices[lowers[0]] = -gain // den
    pieces = tuple(num * w // den for w in problem.widths)
    return Leaf(limits, scale, pieces, tuple(line_prices), tuple(limit_prices))


def _completed(problem: Problem, case: _Case, best_cost: int | None) -> Iterator[tuple[tuple[int, int], ...]]:
    """The spools of a case, and one more that holds what is lacking: the cheapest two ways."""
    spools = dict(case.spools)
    if problem.last_resort in spools:
        return
    base = sum(n * problem.lines[t].cost for t, n in spools.items())
    if case.lacking == 0:
        yield case.spools
        return
    choices = []
    for t, line in enumerate(problem.lines):
        there = line.available is None or spools.get(t, 0) < line.available
        if t != problem.last_resort and there and line.capacity >= case.lacking:
            choices.append((line.cost, -line.capacity, t))
    for cost, _, t in sorted(choices)[:2]:
        if problem.keep_rate or best_cost is None or base + cost < best_cost:
            yield tuple(sorted({**spools, t: spools.get(t, 0) + 1}.items()))
