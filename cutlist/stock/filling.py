"""Pieces shared among spools that are already chosen: each filled as nearly to the brim as the pieces left allow."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutlist.stock.deadline import Deadline
from cutlist.stock.first_fit import first_fit
from cutlist.stock.knapsack import bundles, filled, read
from cutlist.stock.problem import Counts, Cuts, Pattern, Problem, without_surplus
from cutlist.stock.residual import joined, renamed, residual

MOST_CELLS = 50_000  # of a table of widths; finer widths are rounded up to fewer


def fullest(problem: Problem, family: int, capacity: int, left: Sequence[int]) -> Counts:
    """Pieces of those left that fill a spool of this capacity best; long ones by preference.

    In spools of very many units widths are rounded up, so that a spool may be filled less than it could be.
    """
    wanted = bundles(problem, family, left, capacity)
    step = -(-capacity // MOST_CELLS)
    top = capacity // step
    widths = np.array([-(-problem.widths[i] * n // step) for i, n in wanted], dtype=np.int64)
    fits = widths <= top
    worths = np.array([problem.widths[i] * n for i, n in wanted], dtype=np.int64)
    wanted = [bundle for bundle, fit in zip(wanted, fits, strict=True) if fit]
    _, taken = filled(widths[fits], worths[fits], top)
    return read(wanted, widths[fits], taken, top)


def plan_on(problem: Problem, spools: Sequence[tuple[int, int]], deadline: Deadline) -> Cuts | None:
    """A plan on these spools (line, how many), the shortest filled first and the last with what is left.

    What does not fit goes onto the cheapest spool that holds it, or onto several; None if there is no stock for it, or
    time is up.
    """
    lines = problem.lines
    left = list(problem.demands)
    there = [line.available for line in lines]
    uses: dict[Pattern, int] = {}

    def use(line: int, counts: Counts) -> None:
        uses[Pattern(line, counts)] = uses.get(Pattern(line, counts), 0) + 1
        stock = there[line]
        there[line] = None if stock is None else stock - 1
        for i, n in counts:
            left[i] -= n

    order = sorted((t for t, n in spools for _ in range(n)), key=lambda t: (lines[t].capacity, t))
    for place, line in enumerate(order):
        if deadline.passed():
            return None
        if not any(left):
            break
        rest = tuple((i, n) for i, n in enumerate(left) if n)
        width = problem.width_of(rest)
        last = place == len(order) - 1
        if width <= lines[line].capacity or last:
            cheapest = _cheapest_holding(problem, rest, width, there)
            if cheapest is not None:
                use(cheapest, rest)
                break
        counts = fullest(problem, lines[line].family, lines[line].capacity, left)
        if counts:
            use(line, counts)
    if any(left):
        rest_problem = residual(problem, left, there)
        plan = first_fit(rest_problem)
        if plan is None:
            return None
        uses = joined(uses, renamed(plan, [i for i, n in enumerate(left) if n]))
    return without_surplus(problem, uses)


def _cheapest_holding(problem: Problem, rest: Counts, width: int, there: Sequence[int | None]) -> int | None:
    choices = [
        (problem.cost_of(t, width), line.capacity, t)
        for t, line in enumerate(problem.lines)
        if line.capacity >= width
        and there[t] != 0
        and t != problem.last_resort
        and set(problem.may_yield[line.family]) >= {i for i, _ in rest}
    ]
    return min(choices)[2] if choices else None
