"""Small groups to the end: one slot for every spool that a better plan could use, decided by CP-SAT.

What the prices of pieces cannot prove, an exhaustive search can while the group is small. The answer is either the
least cost, or the best found with what the search could exclude.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from cutlist.stock.deadline import Deadline
from cutlist.stock.problem import Cuts, Pattern, Problem

MOST_SLOTS = 150
MOST_CHOICES = 6_000  # slots times piece types
SEED = 1
NEARLY_S = 0.05  # CP-SAT stops a little before its time is up
EFFORT = 4.0  # CP-SAT's own deterministic time, so that the answer does not depend on the machine


@dataclass(frozen=True)
class Searched:
    cuts: Cuts | None  # None: nothing better than what was known
    bound: int  # no plan costs less


def search_slots(problem: Problem, best: Cuts, bound: int, deadline: Deadline) -> Searched | None:
    """The least-cost plan, or a better bound; None if the group is too large for it. `bound` is already proved."""
    below = best.cost(problem)
    slots = _slots(problem, below)
    if slots is None or deadline.passed():
        return None
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    used, cuts, cost = [], [], []
    for slot, line_index in enumerate(slots):
        line = problem.lines[line_index]
        taken = model.new_bool_var(f"u{slot}")
        counts = {
            i: model.new_int_var(0, min(problem.demands[i], line.capacity // problem.widths[i]), f"x{slot},{i}")
            for i in problem.may_yield[line.family]
            if problem.widths[i] <= line.capacity
        }
        width = sum(problem.widths[i] * x for i, x in counts.items())
        model.add(width <= line.capacity * taken)
        cost.append(line.cost * taken - _kept(model, problem, line_index, width, taken, slot))
        used.append(taken)
        cuts.append(counts)
        if slot and slots[slot - 1] == line_index:
            # like spools are alike: use them in order, the fuller first
            model.add_implication(taken, used[slot - 1])
            model.add(sum(problem.widths[i] * x for i, x in cuts[slot - 1].items()) >= width)
    for i, demand in enumerate(problem.demands):
        model.add(sum(counts[i] for counts in cuts if i in counts) == demand)
    total = sum(cost)
    model.add(total >= bound)
    model.add(total <= below)
    model.minimize(total)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = SEED
    solver.parameters.linearization_level = 2  # on one boat's groups thirty times quicker than the default
    solver.parameters.max_deterministic_time = EFFORT
    left_s = deadline.left_s()
    if left_s != float("inf"):
        solver.parameters.max_time_in_seconds = max(left_s, 0.01)
    status = solver.solve(model)
    # it takes Ctrl-C for itself and comes back early: then neither its time nor its effort is used up
    over = deadline.left_s() <= NEARLY_S or solver.response_proto.deterministic_time >= 0.99 * EFFORT
    if status in (cp_model.UNKNOWN, cp_model.FEASIBLE) and not over:
        raise KeyboardInterrupt
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    found: dict[Pattern, int] = {}
    for line_index, counts in zip(slots, cuts, strict=True):
        taken_counts = tuple((i, solver.value(x)) for i, x in sorted(counts.items()) if solver.value(x))
        if taken_counts:
            pattern = Pattern(line_index, taken_counts)
            found[pattern] = found.get(pattern, 0) + 1
    plan = Cuts(tuple(sorted(found.items())))
    if status == cp_model.OPTIMAL:
        proved = plan.cost(problem)
    else:
        # a whole number that comes as a float: rounded up it must not gain a unit by the last bit
        told = solver.best_objective_bound
        proved = max(bound, math.ceil(told - 1e-6 - 1e-9 * abs(told)))
    better = plan if plan.cost(problem) < below else None
    return Searched(better, proved)


def _slots(problem: Problem, below: int) -> list[int] | None:
    """The line of each slot: as many of a line as a plan that costs no more than `below` could use."""
    slots: list[int] = []
    for index, line in enumerate(problem.lines):
        fits = [problem.widths[i] for i in problem.may_yield[line.family] if problem.widths[i] <= line.capacity]
        if not fits:
            continue
        most = problem.total_pieces if line.available is None else min(line.available, problem.total_pieces)
        # a kept rest lowers the cost of a spool, but no spool costs less than nothing
        least_cost = min(line.cost, problem.cost_of(index, min(fits)))
        if least_cost > 0:
            most = min(most, below // least_cost)
        slots += [index] * most
        if len(slots) > MOST_SLOTS or len(slots) * len(problem.widths) > MOST_CHOICES:
            return None
    return slots


def _kept(model: Any, problem: Problem, line_index: int, width: Any, taken: Any, slot: int) -> Any:
    """What the rest of a slot's spool is worth: nothing unless it is long enough to keep."""
    line = problem.lines[line_index]
    if line.keep_slack is None or line.keep_slack > line.capacity:
        return 0
    most = line.keep_base + problem.keep_rate * line.capacity
    kept = model.new_bool_var(f"k{slot}")
    worth = model.new_int_var(0, max(most, 0), f"w{slot}")
    model.add_implication(kept, taken)
    model.add(line.capacity - width >= line.keep_slack).only_enforce_if(kept)
    model.add(worth <= most * kept)
    model.add(worth <= line.keep_base + problem.keep_rate * (line.capacity - width)).only_enforce_if(kept)
    return worth
