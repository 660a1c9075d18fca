"""What is left to plan when some spools are fixed, and how a plan of that is put beside them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cutlist.stock.problem import Cuts, Pattern, Problem


def renamed(plan: Cuts, kept: Sequence[int]) -> Cuts:
    """A plan of the rest, with the piece types of the whole problem."""
    return Cuts(tuple((Pattern(p.line, tuple((kept[i], m) for i, m in p.counts)), n) for p, n in plan.uses))


def joined(fixed: dict[Pattern, int], plan: Cuts) -> dict[Pattern, int]:
    uses = dict(fixed)
    for pattern, n in plan.uses:
        uses[pattern] = uses.get(pattern, 0) + n
    return uses


def residual(problem: Problem, demands: Sequence[int], available: Sequence[int | None]) -> Problem:
    """The problem that is left when some spools are fixed: only the piece types still asked for."""
    kept = [i for i, n in enumerate(demands) if n]
    number = {i: k for k, i in enumerate(kept)}
    return Problem(
        widths=tuple(problem.widths[i] for i in kept),
        demands=tuple(demands[i] for i in kept),
        lines=tuple(replace(line, available=n) for line, n in zip(problem.lines, available, strict=True)),
        may_yield=tuple(tuple(number[i] for i in types if i in number) for types in problem.may_yield),
        keep_rate=problem.keep_rate,
        ceilings=tuple(problem.ceilings[i] for i in kept) if problem.ceilings else (),
        last_resort=problem.last_resort,
    )
