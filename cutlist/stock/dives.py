"""Whole-number plans from fractional ones: fix what the fractions agree on, solve the rest again, and so on."""

from __future__ import annotations

from collections.abc import Sequence

from cutlist.stock.certificate import CountLimit
from cutlist.stock.columns import Master, relax
from cutlist.stock.deadline import Deadline
from cutlist.stock.first_fit import first_fit
from cutlist.stock.problem import Cuts, Pattern, Problem, StockLine, without_surplus


def dive(
    problem: Problem,
    patterns: Sequence[Pattern],
    deadline: Deadline,
    goal: int,
    best: Cuts | None,
    limits: Sequence[CountLimit] = (),
    skip: int = 0,
    generate: bool = True,
) -> tuple[Cuts | None, list[Pattern]]:
    """A plan better than `best`, or `best`; and the patterns met on the way.

    Stops when the plan costs `goal` or the rest can no longer beat `best`. `skip`: how many of the first choices are
    passed over, so that dives differ.
    """
    master = Master(problem, patterns, limits)
    fixed: dict[Pattern, int] = {}
    fixed_cost = 0
    best_cost = best.cost(problem) if best is not None else None
    passed_over: set[Pattern] = set()
    while not deadline.passed():
        if not any(master.demands):
            plan = without_surplus(problem, fixed)
            if best_cost is None or plan.cost(problem) < best_cost:
                best = plan
            break
        if generate:
            relaxed = relax(problem, master, deadline)
            value, amounts, lacks = relaxed.value, relaxed.amounts, not relaxed.feasible
        else:
            value, _ = master.solve()
            amounts, lacks = master.amounts(), master.lacks()
        if lacks or (best_cost is not None and fixed_cost + value > best_cost - problem.cost_step + 1e-6 * master.unit):
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
        for pattern, n in chosen.items():
            n = master.take(pattern, n)
            fixed[pattern] = fixed.get(pattern, 0) + n
            fixed_cost += n * problem.cost_of(pattern.line, problem.width_of(pattern.counts))
        if not limits:
            best, best_cost = _finished_by_first_fit(problem, master, fixed, best, best_cost)
            if best_cost is not None and best_cost <= goal:
                break
    return best, list(master.variables)


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
    uses = dict(fixed)
    for pattern, n in plan.uses:
        whole = Pattern(pattern.line, tuple((kept[i], m) for i, m in pattern.counts))
        uses[whole] = uses.get(whole, 0) + n
    whole_plan = without_surplus(problem, uses)
    cost = whole_plan.cost(problem)
    return (whole_plan, cost) if best_cost is None or cost < best_cost else (best, best_cost)


def residual(problem: Problem, demands: Sequence[int], available: Sequence[int | None]) -> Problem:
    """The problem that is left when some spools are fixed: only the piece types still asked for."""
    kept = [i for i, n in enumerate(demands) if n]
    number = {i: k for k, i in enumerate(kept)}
    return Problem(
        widths=tuple(problem.widths[i] for i in kept),
        demands=tuple(demands[i] for i in kept),
        lines=tuple(
            StockLine(line.capacity, line.cost, n, line.family, line.keep_slack, line.keep_base)
            for line, n in zip(problem.lines, available, strict=True)
        ),
        may_yield=tuple(tuple(number[i] for i in types if i in number) for types in problem.may_yield),
        keep_rate=problem.keep_rate,
        last_resort=problem.last_resort,
    )
