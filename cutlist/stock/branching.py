"""Cases told apart by how many spools of some kinds are used: the cheapest case first, until none can be cheaper.

Prices of pieces alone often leave a gap when spools come in several lengths: fractions of dear and cheap spools mix.
A plan uses a whole number of each; so wherever the fractions use 3.4 spools, plans use at most 3 or at least 4, and
each case has prices of its own that prove a higher bound. The cases, with their prices, are the certificate.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass, replace

from cutlist.stock.bounds import exact_leaf, next_reachable
from cutlist.stock.certificate import CountLimit, Leaf
from cutlist.stock.columns import Relaxed, relax
from cutlist.stock.deadline import Deadline
from cutlist.stock.dives import dive
from cutlist.stock.listing import list_patterns
from cutlist.stock.master import Master
from cutlist.stock.problem import Cuts, Pattern, Problem
from cutlist.stock.whole_numbers import choose

MOST_COLUMNS = 4_000  # in the pool that new cases start from
MOST_LISTED = 6_000
NEAR_WHOLE = 1e-5


@dataclass(frozen=True)
class Cases:
    cuts: Cuts
    bound: int
    leaves: tuple[Leaf, ...]

    @property
    def searched(self) -> bool:
        """Whether some case rests on a solver's word."""
        return any(leaf.listed is not None for leaf in self.leaves)


def cases(
    problem: Problem,
    best: Cuts,
    known: Sequence[Pattern],
    deadline: Deadline,
) -> Cases:
    """The cheapest plan found, and a bound with a leaf for every case. Ends when the bound is reached or time is up."""
    tree = _Tree(problem, best, known)
    tree.open((), Leaf((), 1, (0,) * len(problem.widths), (0,) * len(problem.lines), ()), 0, deadline)
    while tree.heap and tree.heap[0][0] < tree.best_cost and not deadline.passed():
        bound, _, leaf, relaxed = heapq.heappop(tree.heap)
        tree.look_into(bound, leaf, relaxed, deadline)
    left = [(bound, leaf) for bound, _, leaf, _ in sorted(tree.heap, key=lambda entry: entry[:2])] + tree.stuck
    bound = min([tree.best_cost, *(bound for bound, _ in left)])
    return Cases(tree.best, bound, (*tree.closed, *(leaf for _, leaf in left)))


class _Tree:
    def __init__(self, problem: Problem, best: Cuts, known: Sequence[Pattern]):
        self.problem = problem
        self.best = best
        self.best_cost = best.cost(problem)
        self.pool: dict[Pattern, None] = dict.fromkeys(known)
        self.heap: list[tuple[int, int, Leaf, Relaxed | None]] = []
        self.closed: list[Leaf] = []
        self.stuck: list[tuple[int, Leaf]] = []  # cannot be split, and not decided: their bounds stand
        self.serial = 0
        self.sets = _sets_to_count(problem)

    def better(self, cuts: Cuts | None) -> None:
        if cuts is not None and cuts.cost(self.problem) < self.best_cost:
            self.best, self.best_cost = cuts, cuts.cost(self.problem)

    def open(self, limits: tuple[CountLimit, ...], parent: Leaf, parent_bound: int, deadline: Deadline) -> None:
        """Prices the case; what cannot be cheaper than the best plan is closed at once."""
        problem = self.problem
        inherited = replace(parent, limits=limits, limit_prices=(*parent.limit_prices, 0), listed=None)
        if not limits:
            inherited = parent
        if deadline.passed():
            self._push(parent_bound, inherited, None)
            return
        patterns = list(self.pool)[-MOST_COLUMNS:]
        master = Master(problem, patterns, limits)
        goal = self.best_cost - problem.cost_step
        relaxed = relax(problem, master, deadline, stop_at=goal + 1e-3 * problem.cost_step)
        for _ in range(3):
            if relaxed.feasible or relaxed.bound > goal or deadline.passed():
                break
            master.make_missing_dearer()
            relaxed = relax(problem, master, deadline, stop_at=goal + 1e-3 * problem.cost_step)
        self.pool.update(dict.fromkeys(relaxed.amounts))
        exact = exact_leaf(problem, relaxed.prices, limits, self.best_cost)
        leaf, bound = inherited, parent_bound
        if exact is not None and exact[1] >= parent_bound:
            leaf, bound = exact[0], max(parent_bound, next_reachable(problem, exact[1]))
        self._push(bound, leaf, relaxed)

    def _push(self, bound: int, leaf: Leaf, relaxed: Relaxed | None) -> None:
        self.serial -= 1
        if bound >= self.best_cost:
            self.closed.append(leaf)
        else:
            heapq.heappush(self.heap, (bound, self.serial, leaf, relaxed))

    def look_into(self, bound: int, leaf: Leaf, relaxed: Relaxed | None, deadline: Deadline) -> None:
        """Looks for a plan in the case, then splits it in two; or lists its ways of cutting if it cannot be split."""
        if relaxed is None:
            self.stuck.append((bound, leaf))
            return
        split = self._split(relaxed)
        if self.serial % 4 == 0 or split is None:
            known = list(self.pool)[-MOST_COLUMNS:]
            most = bound if split is None else None
            found, met = dive(self.problem, known, deadline, bound, self.best, leaf.limits, at_most=most)
            self.better(found)
            self.pool.update(dict.fromkeys(met))
            if bound >= self.best_cost:
                self.closed.append(leaf)
                return
        if split is None:
            self._list(bound, leaf, deadline)
            return
        lines, count = split
        for at_least, number in ((False, count), (True, count + 1)):
            limits = (*leaf.limits, CountLimit(lines, at_least, number))
            self.open(limits, leaf, bound, deadline)

    def _split(self, relaxed: Relaxed) -> tuple[tuple[int, ...], int] | None:
        """The set of lines whose number of spools is furthest from whole, and that number rounded down."""
        per_line: dict[int, float] = {}
        for pattern, amount in relaxed.amounts.items():
            per_line[pattern.line] = per_line.get(pattern.line, 0.0) + amount
        best, chosen = NEAR_WHOLE, None
        for lines in self.sets:
            number = sum(per_line.get(t, 0.0) for t in lines)
            off = abs(number - round(number))
            if off > best + 1e-9:
                best, chosen = off, (lines, int(number))
        return chosen

    def _list(self, bound: int, leaf: Leaf, deadline: Deadline) -> None:
        """Every way of cutting that a cheaper plan in this case could use; a solver decides whether there is one."""
        problem = self.problem
        for below in dict.fromkeys((self.best_cost - problem.cost_step, bound)):
            part = deadline.part(0.3)
            listing = None
            if not problem.keep_rate and not problem.ceilings:
                listing = list_patterns(problem, leaf, below, part, MOST_LISTED)
            if listing is None:
                continue
            chosen = choose(problem, listing.patterns, below, part, leaf.limits)
            self.better(chosen.cuts)
            if bound >= self.best_cost:
                self.closed.append(leaf)
                return
            if chosen.none_there:
                raised = next_reachable(problem, below + problem.cost_step)
                self._push(raised, replace(leaf, listed=len(listing.patterns)), None)
                return
        self.stuck.append((bound, leaf))


def _sets_to_count(problem: Problem) -> list[tuple[int, ...]]:
    """All spools together; each kind; all at least so long."""
    real = [t for t in range(len(problem.lines)) if t != problem.last_resort]
    by_capacity = sorted(real, key=lambda t: (-problem.lines[t].capacity, t))
    sets = [tuple(sorted(real))]
    sets += [(t,) for t in real]
    sets += [tuple(sorted(by_capacity[:n])) for n in range(2, len(real))]
    return list(dict.fromkeys(sets))
