"""Column generation: the least cost when spools may be cut in fractions of ways, and the prices that prove it.

The master problem chooses how often each known way of cutting is used, as fractions. Its dual prices say what a
piece is worth; a knapsack per family of stock then finds ways of cutting that are worth more than they cost. When
there are none, the prices are a proof. Source: P. C. Gilmore, R. E. Gomory, A linear programming approach to the
cutting-stock problem, Operations Research 9 (1961) 849-859 (from memory, not checked).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutlist.stock.deadline import Deadline
from cutlist.stock.master import Master, Prices
from cutlist.stock.offers import Offer, Offers
from cutlist.stock.problem import Pattern, Problem

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]
FEW_TYPES = 40  # of pieces: below, the best column of each table is enough
GIVEN = 20


@dataclass(frozen=True)
class Relaxed:
    value: float  # of the master problem
    bound: float  # proved up to float rounding; equal to value when the generation ran to its end
    prices: Prices
    amounts: dict[Pattern, float]
    feasible: bool  # False: even in fractions the stock does not suffice


def relax(
    problem: Problem,
    master: Master,
    deadline: Deadline,
    stop_at: float | None = None,
) -> Relaxed:
    """Generates columns until none improves, time is up, or the bound reaches `stop_at`."""
    offers = Offers(problem, master.limits)
    unlimited = np.array([n is None for n in master.available])
    demands = np.array(master.demands, dtype=float)
    best_bound, best = -np.inf, None
    nothing = Prices(np.zeros(len(problem.widths)), np.zeros(len(problem.lines)), np.zeros(len(master.limits)))
    smooth = 0.5
    while True:
        try:
            value, dual = master.solve()
        except ArithmeticError:
            # what was proved before stands; without fractions there is nothing to round
            return Relaxed(best_bound, best_bound, best or nothing, {}, True)
        tolerance = 1e-9 * max(1.0, abs(value)) + 1e-7 * master.unit / max(1.0, demands.sum())
        weight = smooth if best is not None else 0.0
        while True:
            if best is None or weight == 0.0:
                trial = dual
            else:
                trial = Prices(
                    weight * best.pieces + (1 - weight) * dual.pieces,
                    dual.lines,
                    weight * best.limits + (1 - weight) * dual.limits,
                )
            found = offers.at_prices(trial.pieces, trial.limits, master.demands)
            gains = np.zeros(len(problem.lines))
            for offer in found:
                gains[offer.lines] = np.maximum(offer.gain, 0)
            bound = _bound(offers, master, trial, gains, unlimited)
            if bound > best_bound:
                best_bound, best = bound, Prices(trial.pieces, gains, trial.limits)
            added = 0
            for offer in found:
                reduced = offer.gain - dual.lines[offer.lines] if weight == 0.0 else offer.gain
                order = np.argsort(-reduced, kind="stable")[:8]
                for k in order:
                    if weight == 0.0 and reduced[k] <= tolerance:
                        break
                    pattern = Pattern(int(offer.lines[k]), offers.counts(offer, int(k)))
                    if pattern.counts and _gain(problem, master, pattern, dual) > tolerance:
                        added += master.add(pattern)
                if weight == 0.0 or added:
                    added += _prefixes(problem, master, offer, dual, tolerance)
                    added += _with_one_given(problem, master, offer, trial, dual, tolerance)
            if added or weight == 0.0:
                break
            weight = weight / 2 if weight > 0.1 else 0.0
        done = added == 0 or value - best_bound <= tolerance
        if done or deadline.passed() or (stop_at is not None and best_bound >= stop_at):
            assert best is not None
            if added:
                try:
                    value, _ = master.solve()  # amounts can be read only from a solved model
                except ArithmeticError:
                    return Relaxed(value, best_bound, best, {}, True)
            return Relaxed(value, best_bound, best, master.amounts(), not master.lacks())


def _bound(offers: Offers, master: Master, trial: Prices, gains: Numbers, unlimited: Flags) -> float:
    """What every plan costs at least, by these prices, when one more of each line gains so much at the most."""
    demands = np.array(master.demands, dtype=float)
    available = np.array([0 if n is None else n for n in master.available], dtype=float)
    signs = np.array([1.0 if lim.at_least else -1.0 for lim in master.limits])
    counts = np.array(master.limits_left, dtype=float)
    share = 1.0
    excess = gains * unlimited
    if excess.any():
        k = excess > 0
        share = float(np.min(offers.costs[k] / (offers.costs[k] + excess[k])))
    if len(master.limits) and share < 1.0:
        # scaled prices prove nothing when limits have prices too; but no plan has more spools than pieces
        bound = float(trial.pieces @ demands) - float(gains @ available) - float(excess.max()) * demands.sum()
        return float(bound + float((signs * counts * trial.limits).sum()))
    bound = share * float(trial.pieces @ demands) - share * float(gains @ available)
    return bound + float((signs * counts * trial.limits).sum()) * (share if (signs > 0).all() else 1.0)


def _gain(problem: Problem, master: Master, pattern: Pattern, dual: Prices) -> float:
    """Worth less cost of a pattern at the master's own prices."""
    gain = -problem.cost_of(pattern.line, problem.width_of(pattern.counts)) - dual.lines[pattern.line]
    gain += sum(dual.pieces[i] * n for i, n in pattern.counts)
    for price, limit in zip(dual.limits, master.limits, strict=True):
        if pattern.line in limit.lines:
            gain += price if limit.at_least else -price
    return float(gain)


def _prefixes(problem: Problem, master: Master, offer: Offer, dual: Prices, tolerance: float) -> int:
    """Good columns that use only the first bundles of the knapsack: more than one column from one table."""
    added = 0
    k = int(np.argmax(offer.gain))
    line = int(offer.lines[k])
    at = int(offer.at[k])
    if at < 0:
        return 0
    rows = len(offer.worth.bundles)
    for rows_used in range(rows - 1, max(0, rows // 3), -max(1, rows // 12)):
        pattern = Pattern(line, offer.worth.counts(at, rows_used))
        if pattern.counts and _gain(problem, master, pattern, dual) > tolerance:
            added += master.add(pattern)
    return added


def _with_one_given(
    problem: Problem, master: Master, offer: Offer, trial: Prices, dual: Prices, tolerance: float
) -> int:
    """Good columns with one piece given and the rest the best: others than the best, from the same table."""
    k = int(np.argmax(offer.gain))
    line, at = int(offer.lines[k]), int(offer.at[k])
    if at < 0:
        return 0
    types = [i for i in problem.may_yield[problem.lines[line].family] if problem.widths[i] <= at and master.demands[i]]
    if len(types) < FEW_TYPES:
        return 0
    worth = np.array([trial.pieces[i] + offer.worth.best[at - problem.widths[i]] for i in types])
    added = 0
    for n in np.argsort(-worth, kind="stable")[:GIVEN]:
        i = types[int(n)]
        rest = dict(offer.worth.counts(at - problem.widths[i]))
        rest[i] = rest.get(i, 0) + 1
        if rest[i] > master.demands[i]:
            continue
        pattern = Pattern(line, tuple(sorted(rest.items())))
        if _gain(problem, master, pattern, dual) > tolerance:
            added += master.add(pattern)
    return added
