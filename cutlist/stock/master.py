"""Of the ways of cutting known so far, which are used how often, in fractions, and what is a piece worth then?

The master problem of column generation, and its dual prices.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cutlist.stock.certificate import CountLimit
from cutlist.stock.problem import Pattern, Problem


@dataclass(frozen=True)
class Prices:
    """Dual prices in cost units: of pieces, of stock lines (>= 0: what an extra spool would save), of count limits."""

    pieces: np.ndarray[Any, Any]
    lines: np.ndarray[Any, Any]
    limits: np.ndarray[Any, Any]  # >= 0 each


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
