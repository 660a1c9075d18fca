"""Column generation: the least cost when spools may be cut in fractions of ways, and the prices that prove it.

The master problem chooses how often each known way of cutting is used, as fractions. Its dual prices say what a
piece is worth; a knapsack per family of stock then finds ways of cutting that are worth more than they cost. When
there are none, the prices are a proof. Source: P. C. Gilmore, R. E. Gomory, A linear programming approach to the
cutting-stock problem, Operations Research 9 (1961) 849-859 (from memory, not checked).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cutlist.stock.certificate import CountLimit
from cutlist.stock.deadline import Deadline
from cutlist.stock.knapsack import Worth
from cutlist.stock.problem import Counts, Pattern, Problem

FEW_TYPES = 40  # of pieces: below, the best column of each table is enough
GIVEN = 20


@dataclass(frozen=True)
class Prices:
    """Dual prices in cost units: of pieces, of stock lines (>= 0: what an extra spool would save), of count limits."""

    pieces: np.ndarray[Any, Any]
    lines: np.ndarray[Any, Any]
    limits: np.ndarray[Any, Any]  # >= 0 each


@dataclass(frozen=True)
class Relaxed:
    value: float  # of the master problem
    bound: float  # proved up to float rounding; equal to value when the generation ran to its end
    prices: Prices
    amounts: dict[Pattern, float]
    feasible: bool  # False: even in fractions the stock does not suffice


@dataclass(frozen=True)
class State:
    """What is left to cut, and to cut it from, when some spools are fixed."""

    demands: tuple[int, ...]
    available: tuple[int | None, ...]
    limits_left: tuple[int, ...]


class Master:
    """The master problem over a growing set of patterns, for one set of demands and count limits."""

    def __init__(
        self,
        problem: Problem,
        patterns: Iterable[Pattern],
        limits: Sequence[CountLimit] = (),
        demands: Sequence[int] | None = None,
        available: Sequence[int | None] | None = None,
    ):
        from ortools.linear_solver import pywraplp

        self.problem = problem
        self.limits = tuple(limits)
        self.limits_left = [lim.count for lim in self.limits]
        self.demands = list(problem.demands if demands is None else demands)
        self.available = [line.available for line in problem.lines] if available is None else list(available)
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        infinity = self.solver.infinity()
        self.unit = float(max(problem.usual_cost, 1))  # costs near 1 suit the solver
        self.piece_rows = [self.solver.Constraint(float(d), infinity) for d in self.demands]
        self.line_rows = {
            t: self.solver.Constraint(-infinity, float(n)) for t, n in enumerate(self.available) if n is not None
        }
        self.limit_rows = [
            self.solver.Constraint(float(lim.count), infinity)
            if lim.at_least
            else self.solver.Constraint(-infinity, float(lim.count))
            for lim in self.limits
        ]
        self.objective = self.solver.Objective()
        self.objective.SetMinimization()
        # A piece can always be had at a price far above any spool's; used only while no real way is known.
        self.dear = 20.0
        self.missing = []
        at_least = [r for r, lim in zip(self.limit_rows, self.limits, strict=True) if lim.at_least]
        for i, row in enumerate((*self.piece_rows, *at_least)):
            spare = self.solver.NumVar(0, infinity, "")
            row.SetCoefficient(spare, 1.0)
            if i < len(problem.ceilings):
                num, den = problem.ceilings[i]
                self.objective.SetCoefficient(spare, num / den / self.unit)
            else:
                self.objective.SetCoefficient(spare, self.dear)
                self.missing.append(spare)
        self.variables: dict[Pattern, Any] = {}
        for pattern in patterns:
            self.add(pattern)

    def add(self, pattern: Pattern) -> bool:
        if pattern in self.variables:
            return False
        variable = self.solver.NumVar(0, self.solver.infinity(), "")
        for i, n in pattern.counts:
            self.piece_rows[i].SetCoefficient(variable, float(n))
        if pattern.line in self.line_rows:
            self.line_rows[pattern.line].SetCoefficient(variable, 1.0)
        for row, limit in zip(self.limit_rows, self.limits, strict=True):
            if pattern.line in limit.lines:
                row.SetCoefficient(variable, 1.0)
        cost = self.problem.cost_of(pattern.line, self.problem.width_of(pattern.counts))
        self.objective.SetCoefficient(variable, cost / self.unit)
        self.variables[pattern] = variable
        return True

    def solve(self) -> tuple[float, Prices]:
        status = self.solver.Solve()
        if status != self.solver.OPTIMAL:
            self.solver.Reset()  # forgets the last basis; now and then GLOP gets stuck in one
            status = self.solver.Solve()
        if status != self.solver.OPTIMAL:
            raise ArithmeticError("the linear programme could not be solved")
        lines = np.zeros(len(self.problem.lines))
        for t, row in self.line_rows.items():
            lines[t] = max(0.0, -row.dual_value())
        pieces = np.array([max(0.0, row.dual_value()) for row in self.piece_rows])
        limits = np.array(
            [
                max(0.0, row.dual_value() if lim.at_least else -row.dual_value())
                for row, lim in zip(self.limit_rows, self.limits, strict=True)
            ]
        )
        unit = self.unit
        return self.objective.Value() * unit, Prices(pieces * unit, lines * unit, limits * unit)

    def take(self, pattern: Pattern, most: int) -> int:
        """Fixes up to `most` spools cut this way: the rest of the problem shrinks. Returns how many were fixed."""
        left = self.available[pattern.line]
        useful = max(-(-self.demands[i] // n) for i, n in pattern.counts)
        number = max(1, min(most, useful)) if left is None else max(1, min(most, useful, left))
        for i, n in pattern.counts:
            self.demands[i] = max(0, self.demands[i] - n * number)
            self.piece_rows[i].SetLb(float(self.demands[i]))
        if left is not None:
            self.available[pattern.line] = left - number
            self.line_rows[pattern.line].SetUb(float(left - number))
        for k, limit in enumerate(self.limits):
            if pattern.line in limit.lines:
                self.limits_left[k] -= number
                if limit.at_least:
                    self.limit_rows[k].SetLb(float(self.limits_left[k]))
                else:
                    self.limit_rows[k].SetUb(float(self.limits_left[k]))
        return number

    def state(self) -> State:
        return State(tuple(self.demands), tuple(self.available), tuple(self.limits_left))

    def put_back(self, state: State) -> None:
        """As it was before some spools were fixed; columns met since then stay."""
        self.demands, self.available = list(state.demands), list(state.available)
        self.limits_left = list(state.limits_left)
        for row, demand in zip(self.piece_rows, self.demands, strict=True):
            row.SetLb(float(demand))
        for t, row in self.line_rows.items():
            row.SetUb(float(self.available[t] or 0))
        for row, limit, left in zip(self.limit_rows, self.limits, self.limits_left, strict=True):
            (row.SetLb if limit.at_least else row.SetUb)(float(left))

    def make_missing_dearer(self) -> None:
        """For a master that prefers to leave pieces out: whether it must, only a higher price tells."""
        self.dear *= 50
        for spare in self.missing:
            self.objective.SetCoefficient(spare, self.dear)

    def lacks(self) -> bool:
        return any(v.solution_value() > 1e-7 for v in self.missing)

    def amounts(self) -> dict[Pattern, float]:
        found = {p: v.solution_value() for p, v in self.variables.items()}
        return {p: x for p, x in found.items() if x > 1e-9}


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


def relax(
    problem: Problem,
    master: Master,
    deadline: Deadline,
    stop_at: float | None = None,
) -> Relaxed:
    """Generates columns until none improves, time is up, or the bound reaches `stop_at`."""
    offers = Offers(problem, master.limits)
    unlimited = np.array([n is None for n in master.available])
    available = np.array([0 if n is None else n for n in master.available], dtype=float)
    demands = np.array(master.demands, dtype=float)
    signs = np.array([1.0 if lim.at_least else -1.0 for lim in master.limits])
    counts = np.array(master.limits_left, dtype=float)
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
            share = 1.0
            excess = gains * unlimited
            if excess.any():
                k = excess > 0
                share = float(np.min(offers.costs[k] / (offers.costs[k] + excess[k])))
            bound = share * float(trial.pieces @ demands) - share * float(gains @ available)
            bound += float((signs * counts * trial.limits).sum()) * (share if (signs > 0).all() else 1.0)
            if len(master.limits) and share < 1.0:
                # scaled prices prove nothing when limits have prices too; but no plan has more spools than pieces
                bound = float(trial.pieces @ demands) - float(gains @ available) - float(excess.max()) * demands.sum()
                bound += float((signs * counts * trial.limits).sum())
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
