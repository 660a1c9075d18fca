"""The best plan that uses only given ways of cutting: a mixed-integer programme, solved by HiGHS (inside scipy).

The answer is a plan, or the solver's word that these ways make no plan that cheap. That word is as good as the solver;
it is not a proof that somebody else could check, and what rests on it is marked so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutlist.stock.certificate import CountLimit
from cutlist.stock.deadline import Deadline
from cutlist.stock.problem import Cuts, Pattern, Problem, without_surplus


@dataclass(frozen=True)
class Chosen:
    cuts: Cuts | None  # a plan that costs no more than was asked
    none_there: bool  # True: the solver found that there is no such plan


def choose(
    problem: Problem,
    patterns: Sequence[Pattern],
    below: int,
    deadline: Deadline,
    limits: Sequence[CountLimit] = (),
) -> Chosen:
    """A plan of cost at most `below` made of these patterns, within the count limits."""
    left_s = deadline.left_s()
    if not patterns or left_s <= 0.02:
        return Chosen(None, not patterns)
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csc_matrix

    kinds = len(problem.demands)
    line_rows = {t: kinds + k for k, t in enumerate(problem.limited)}
    first_limit = kinds + len(line_rows)
    cost_row = first_limit + len(limits)
    costs = [problem.cost_of(p.line, problem.width_of(p.counts)) for p in patterns]
    unit = float(max(max(costs), 1))
    entries: list[tuple[int, int, float]] = []
    for column, (pattern, cost) in enumerate(zip(patterns, costs, strict=True)):
        entries += [(i, column, float(n)) for i, n in pattern.counts]
        if pattern.line in line_rows:
            entries.append((line_rows[pattern.line], column, 1.0))
        entries += [(first_limit + k, column, 1.0) for k, limit in enumerate(limits) if pattern.line in limit.lines]
        entries.append((cost_row, column, cost / unit))
    low = np.full(cost_row + 1, -np.inf)
    high = np.full(cost_row + 1, np.inf)
    low[:kinds] = problem.demands
    for t, row in line_rows.items():
        high[row] = problem.lines[t].available
    for k, limit in enumerate(limits):
        (low if limit.at_least else high)[first_limit + k] = limit.count
    # half a step above, so that no plan is lost to the solver's tolerance
    high[cost_row] = (below + problem.cost_step / 2) / unit
    rows, columns, values = zip(*entries, strict=True)
    matrix = csc_matrix((values, (rows, columns)), shape=(cost_row + 1, len(patterns)))
    most = [max(-(-problem.demands[i] // n) for i, n in p.counts) for p in patterns]
    options: dict[str, float] = {"mip_rel_gap": 0.0}
    if left_s != float("inf"):
        options["time_limit"] = left_s
    result = milp(
        [cost / unit for cost in costs],
        constraints=LinearConstraint(matrix, low, high),
        integrality=np.ones(len(patterns)),
        bounds=Bounds(0, np.array(most, dtype=float)),
        options=options,
    )
    if result.x is None:
        return Chosen(None, result.status == 2)
    uses = {p: round(x) for p, x in zip(patterns, result.x, strict=True) if x > 0.5}
    plan = without_surplus(problem, uses) if _covers(problem, uses) else None
    if plan is None or plan.cost(problem) > below:
        return Chosen(None, False)
    return Chosen(plan, False)


def _covers(problem: Problem, uses: dict[Pattern, int]) -> bool:
    """Whether the rounded answer keeps demands and availabilities: a float solver's answer is looked at again."""
    cut = [0] * len(problem.demands)
    taken = [0] * len(problem.lines)
    for pattern, n in uses.items():
        taken[pattern.line] += n
        for i, k in pattern.counts:
            cut[i] += k * n
    enough = all(c >= d for c, d in zip(cut, problem.demands, strict=True))
    return enough and all(
        line.available is None or n <= line.available for n, line in zip(taken, problem.lines, strict=True)
    )
