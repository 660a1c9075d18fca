"""The cheapest cuts of one group, and a lower bound that comes with its proof."""

from __future__ import annotations

from dataclasses import dataclass

from cutlist.stock.bounds import exact_leaf, next_reachable
from cutlist.stock.certificate import Certificate, Leaf
from cutlist.stock.columns import Master, relax
from cutlist.stock.deadline import Deadline
from cutlist.stock.dives import dive
from cutlist.stock.first_fit import first_fit
from cutlist.stock.problem import Cuts, Pattern, Problem
from cutlist.stock.slots import search_slots

FINE_UNITS = 200_000  # of length in the longest spool: more, and the knapsack table is slow to fill


@dataclass(frozen=True)
class Solution:
    cuts: Cuts | None  # None: no plan was found
    cost: int | None
    certificate: Certificate
    how_proved: str

    @property
    def bound(self) -> int:
        return self.certificate.bound


def solve(problem: Problem, deadline: Deadline) -> Solution:
    best = first_fit(problem)
    about = best.cost(problem) if best is not None else problem.total_pieces * max(line.cost for line in problem.lines)
    nothing = Leaf((), 1, (0,) * len(problem.widths), (0,) * len(problem.lines), ())
    bound, leaf, how = 0, nothing, "not proved"
    if best is not None and about > 0 and max(line.capacity for line in problem.lines) > FINE_UNITS:
        # feet, eighths and millimetres together have so fine a common unit that pricing takes long: search first
        search = search_slots(problem, best, 0, deadline)
        if search is not None:
            best = search.cuts or best
            bound = search.bound
            if best.cost(problem) <= bound:
                how = "every other plan was searched (CP-SAT)"
                return Solution(best, best.cost(problem), Certificate(bound, (nothing,), True), how)
    patterns: list[Pattern] = [] if best is None else [p for p, _ in best.uses]
    if about > 0 and not deadline.passed():
        master = Master(problem, patterns)
        relaxed = relax(problem, master, deadline)
        patterns = list(master.variables)
        exact = exact_leaf(problem, relaxed.prices, (), about)
        if exact is not None:
            leaf = exact[0]
            bound = next_reachable(problem, exact[1])
        for skip in range(8):
            if deadline.passed() or (best is not None and best.cost(problem) <= bound):
                break
            best, patterns = dive(problem, patterns, deadline, bound, best, skip=skip)
    cost = None if best is None else best.cost(problem)
    if cost is not None and cost <= bound:
        how = "prices of the pieces add up to the cost" if bound > 0 else "costs nothing"
    searched = bound > 0 and leaf is nothing
    if best is not None and cost is not None and bound < cost:
        search = search_slots(problem, best, bound, deadline)
        if search is not None and (search.cuts is not None or search.bound > bound):
            best = search.cuts or best
            cost = best.cost(problem)
            searched = search.bound > bound
            bound = max(bound, search.bound)
            if cost <= bound:
                how = (
                    "every other plan was searched (CP-SAT)" if searched else "prices of the pieces add up to the cost"
                )
    return Solution(best, cost, Certificate(bound, (leaf,), searched), how)
