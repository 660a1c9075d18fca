"""The cheapest cuts of one group, and a lower bound that comes with its proof.

From quick to thorough, until plan and bound meet: first fit; spools chosen by total length alone; prices of the pieces;
dives for a plan; every way of cutting that a cheaper plan could use, listed and searched; cases by how many spools of
each kind are used; slots.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from cutlist.stock.bounds import exact_leaf, next_reachable
from cutlist.stock.branching import cases
from cutlist.stock.certificate import Certificate, Leaf
from cutlist.stock.columns import relax
from cutlist.stock.covers import covers
from cutlist.stock.deadline import Deadline
from cutlist.stock.dives import dive
from cutlist.stock.first_fit import first_fit
from cutlist.stock.listing import list_patterns
from cutlist.stock.master import Master
from cutlist.stock.problem import Cuts, Pattern, Problem
from cutlist.stock.slots import search_slots
from cutlist.stock.tried import small, try_all
from cutlist.stock.whole_numbers import choose

FINE_UNITS = 200_000  # of length in the longest spool: more, and the knapsack table is slow to fill
FEW_PIECES, FEW_LINES = 60, 40  # that a search over slots may well bring to an end
SHORT_LIST, LONG_LIST = 1_500, 15_000  # ways of cutting


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
    search = _Search(problem, deadline)
    try:
        search.run()
    except KeyboardInterrupt:
        if not deadline.keep_best or deadline.passed():  # asked a second time: stop at once
            raise
        deadline.stop()
        if search.best is None:
            search.best = first_fit(problem)
    return search.solution()


class _Search:
    """What is known so far: the best plan, the bound and what proves it."""

    def __init__(self, problem: Problem, deadline: Deadline):
        self.problem = problem
        self.deadline = deadline
        self.best: Cuts | None = None
        self.bound = 0
        self.nothing = Leaf((), 1, (0,) * len(problem.widths), (0,) * len(problem.lines), ())
        self.leaves: tuple[Leaf, ...] = (self.nothing,)
        self.searched = False
        self.tried = False
        self.patterns: list[Pattern] = []

    @property
    def cost(self) -> int | None:
        return None if self.best is None else self.best.cost(self.problem)

    @property
    def done(self) -> bool:
        cost = self.cost
        return (cost is not None and cost <= self.bound) or self.deadline.passed()

    def better(self, cuts: Cuts | None) -> None:
        cost = self.cost
        if cuts is not None and (cost is None or cuts.cost(self.problem) < cost):
            self.best = cuts

    def run(self) -> None:
        problem = self.problem
        self.best = first_fit(problem)
        if self.cost == 0 and not problem.keep_rate:
            return
        if small(problem) and not problem.ceilings:
            tried = try_all(problem, self.deadline)
            if tried is not None:
                self.best, self.bound, self.tried = tried, tried.cost(problem), True
                return
        if len(problem.lines) > 1:
            self._covers()
        if not self.done and self.best is not None and max(line.capacity for line in problem.lines) > FINE_UNITS:
            # feet, eighths and millimetres together have so fine a common unit that pricing takes long: search first
            self._slots(self.deadline.part(0.5))
        if not self.done:
            self._prices()
        if not self.done:
            self._dive(0, self.deadline.part(0.5))
        if not self.done and len(problem.lines) == 1:
            self._listed(SHORT_LIST)
        if not self.done and len(problem.lines) > 1:
            few = problem.total_pieces <= FEW_PIECES and len(problem.lines) <= FEW_LINES
            self._cases(self.deadline.part(0.6, 3.0) if few else self.deadline.part(0.8))
            if not self.done:
                self._slots(self.deadline.part(0.8) if few else self.deadline)
            if not self.done and few:
                self._cases(self.deadline)
        for skip in range(1, 9):
            if not self.done:
                self._dive(skip, self.deadline)
        if not self.done and len(problem.lines) == 1:
            self._listed(LONG_LIST)
        if not self.done:
            self._slots(self.deadline)

    def _covers(self) -> None:
        found = covers(self.problem, self.best, self.deadline.part(0.7, 1.0))
        if found is None:
            return
        self.better(found.cuts)
        if found.bound > self.bound:
            self.bound, self.leaves = found.bound, found.leaves

    def _prices(self) -> None:
        problem = self.problem
        cost = self.cost
        about = cost if cost is not None else problem.total_pieces * max(line.cost for line in problem.lines)
        master = Master(problem, [] if self.best is None else [p for p, _ in self.best.uses])
        relaxed = relax(problem, master, self.deadline)
        self.patterns = list(master.variables)
        exact = exact_leaf(problem, relaxed.prices, (), about)
        if exact is not None and exact[1] > self.bound:
            self.leaves = (exact[0],)
            self.bound = next_reachable(problem, exact[1])

    def _dive(self, skip: int, deadline: Deadline) -> None:
        self.best, self.patterns = dive(self.problem, self.patterns, deadline, self.bound, self.best, skip=skip)

    def _listed(self, most: int) -> None:
        problem = self.problem
        if problem.ceilings:
            return  # not all that can be bought is a line
        while not self.done and self.best is not None:
            below = self.best.cost(problem) - problem.cost_step
            part = self.deadline.part(0.7)
            listing = list_patterns(problem, self.leaves[0], below, part, most)
            if listing is None and below > self.bound:
                below = self.bound
                listing = list_patterns(problem, self.leaves[0], below, part, most)
            if listing is None:
                return
            chosen = choose(problem, listing.patterns, below, part)
            self.better(chosen.cuts)
            if chosen.none_there:
                self.bound = next_reachable(problem, below + problem.cost_step)
                self.leaves = (replace(self.leaves[0], listed=len(listing.patterns)),)
            elif chosen.cuts is None:
                return

    def _cases(self, deadline: Deadline) -> None:
        if self.best is None:
            return
        found = cases(self.problem, self.best, self.patterns, deadline)
        self.better(found.cuts)
        if found.bound > self.bound:
            self.bound, self.leaves = found.bound, found.leaves

    def _slots(self, deadline: Deadline) -> None:
        if self.best is None or self.problem.ceilings:
            return
        search = search_slots(self.problem, self.best, self.bound, deadline)
        if search is None:
            return
        self.better(search.cuts)
        if search.bound > self.bound:
            self.bound, self.searched = search.bound, True

    def solution(self) -> Solution:
        cost = self.cost
        listed = any(leaf.listed is not None for leaf in self.leaves)
        how = "not proved"
        if cost is not None and cost <= self.bound:
            if self.tried:
                how = "every way to share the pieces among spools was tried"
            elif cost == 0:
                how = "costs nothing"
            elif self.searched:
                how = "every other plan was searched (CP-SAT)"
            elif listed:
                how = "every way of cutting that a cheaper plan could use was listed and searched (HiGHS)"
            elif len(self.leaves) > 1:
                how = f"prices of the pieces in each of {len(self.leaves)} cases by numbers of spools"
            else:
                how = "prices of the pieces add up to the cost"
        return Solution(self.best, cost, Certificate(self.bound, self.leaves, self.searched or listed, self.tried), how)
