"""Whole-number plans from fractional ones: fix what the fractions agree on, solve the rest again, and so on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from cutlist.stock.bounds import exact_leaf
from cutlist.stock.certificate import CountLimit
from cutlist.stock.columns import relax
from cutlist.stock.deadline import Deadline
from cutlist.stock.first_fit import first_fit
from cutlist.stock.listing import list_patterns
from cutlist.stock.master import Master, Prices, State
from cutlist.stock.problem import Cuts, Pattern, Problem, without_surplus
from cutlist.stock.residual import joined, renamed, residual
from cutlist.stock.whole_numbers import Chosen, choose

LISTED_FROM = 120  # pieces left in a dive: few enough to list the ways of cutting them
MOST_LISTED = 3_000
MOST_TURNS = 20  # back from dead ends, in one dive


def dive(
    problem: Problem,
    patterns: Sequence[Pattern],
    deadline: Deadline,
    goal: int,
    best: Cuts | None,
    limits: Sequence[CountLimit] = (),
    skip: int = 0,
    at_most: int | None = None,
) -> tuple[Cuts | None, list[Pattern]]:
    """A plan better than `best`, or `best`; and the patterns met on the way.

    Stops when the plan costs `goal` or the rest can no longer beat `best`. `skip`: how many of the first choices are
    passed over, so that dives differ. `at_most`: plans that cost more are not looked for.
    """
    master = Master(problem, patterns, limits)
    fixed: dict[Pattern, int] = {}
    fixed_cost = 0
    best_cost = best.cost(problem) if best is not None else None
    if at_most is not None:
        best_cost = at_most + problem.cost_step if best_cost is None else min(best_cost, at_most + problem.cost_step)
    passed_over: set[Pattern] = set()
    looked_at = LISTED_FROM * 2
    before: _Fork | None = None  # the state before the last single choice, to go back to when that was a dead end
    turns_left = MOST_TURNS
    while not deadline.passed():
        if not any(master.demands):
            plan = without_surplus(problem, fixed)
            if best_cost is None or plan.cost(problem) < best_cost:
                best = plan
            break
        relaxed = relax(problem, master, deadline)
        value, amounts = relaxed.value, relaxed.amounts
        if not relaxed.feasible or (
            best_cost is not None and fixed_cost + value > best_cost - problem.cost_step + 1e-6 * master.unit
        ):
            if before is None or turns_left == 0:
                break
            turns_left -= 1
            master.put_back(before.state)
            fixed, fixed_cost = dict(before.fixed), before.fixed_cost
            passed_over.add(before.choice)
            amounts, before = before.amounts, None
            turned = True
        else:
            turned = False
        if not turned and best_cost is not None and sum(master.demands) <= min(LISTED_FROM, looked_at // 2):
            looked_at = sum(master.demands)
            below = best_cost - problem.cost_step - fixed_cost
            rest = _rest_listed(problem, master, relaxed.prices, below, deadline.part(0.15, 1.0))
            if rest.cuts is not None:
                best = without_surplus(problem, joined(fixed, rest.cuts))
                best_cost = best.cost(problem)
                if best_cost <= goal:
                    break
            elif rest.none_there and not problem.ceilings:
                break
        if not amounts:
            # all that is left is best bought by the metre in long lengths, or the linear programme got stuck
            best, _ = _finished_by_first_fit(problem, master, fixed, best, best_cost)
            break
        chosen: dict[Pattern, int] = {p: int(x + 1e-6) for p, x in amounts.items() if x >= 1 - 1e-6}
        if not chosen:
            order = sorted(amounts, key=lambda p: (-round(amounts[p], 6), p))
            candidates = [p for p in order if p not in passed_over] or order
            if skip > 0 and len(candidates) > 1:
                skip -= 1
                passed_over.add(candidates[0])
                candidates = candidates[1:]
            chosen = {candidates[0]: 1}
            before = _Fork(master.state(), dict(fixed), fixed_cost, candidates[0], amounts)
        else:
            before = None
        for pattern, n in chosen.items():
            n = master.take(pattern, n)
            fixed[pattern] = fixed.get(pattern, 0) + n
            fixed_cost += n * problem.cost_of(pattern.line, problem.width_of(pattern.counts))
        if not limits:
            best, best_cost = _finished_by_first_fit(problem, master, fixed, best, best_cost)
            if best_cost is not None and best_cost <= goal:
                break
    return best, list(master.variables)


@dataclass(frozen=True)
class _Fork:
    state: State
    fixed: dict[Pattern, int]
    fixed_cost: int
    choice: Pattern
    amounts: dict[Pattern, float]


def _finished_by_first_fit(
    problem: Problem, master: Master, fixed: dict[Pattern, int], best: Cuts | None, best_cost: int | None
) -> tuple[Cuts | None, int | None]:
    """The fixed spools and a first-fit plan for the rest, if that is better than the best so far."""
    left = list(master.demands)
    if sum(left) > 400 and best is not None:
        return best, best_cost
    rest = residual(problem, left, master.available)
    plan = first_fit(rest) if any(left) else Cuts(())
    if plan is None:
        return best, best_cost
    kept = [i for i, n in enumerate(left) if n]
    whole_plan = without_surplus(problem, joined(fixed, renamed(plan, kept)))
    cost = whole_plan.cost(problem)
    return (whole_plan, cost) if best_cost is None or cost < best_cost else (best, best_cost)


def _rest_listed(problem: Problem, master: Master, prices: Prices, below: int, deadline: Deadline) -> Chosen:
    """The rest solved to the end: every way of cutting it that a cheap enough plan could use, and the best of these."""
    undecided = Chosen(None, False)
    if problem.keep_rate:
        return undecided
    rest = residual(problem, master.demands, master.available)
    kept = [i for i, n in enumerate(master.demands) if n]
    limits = tuple(replace(lim, count=n) for lim, n in zip(master.limits, master.limits_left, strict=True))
    exact = exact_leaf(rest, Prices(prices.pieces[kept], prices.lines, prices.limits), limits, below + 1)
    if exact is None:
        return undecided
    listing = list_patterns(rest, exact[0], below, deadline, MOST_LISTED)
    if listing is None:
        return undecided
    chosen = choose(rest, listing.patterns, below, deadline, limits)
    return chosen if chosen.cuts is None else Chosen(renamed(chosen.cuts, kept), False)
