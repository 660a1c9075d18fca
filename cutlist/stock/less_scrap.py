"""Of ways of cutting that buy as little, the one that leaves least over: in no piece, and in no rest that is kept."""

from __future__ import annotations

from dataclasses import replace

from cutlist.bank.stock import CuttingRules
from cutlist.stock.deadline import Deadline
from cutlist.stock.groups import Group
from cutlist.stock.problem import Cuts, Problem
from cutlist.stock.solve import solve

MANY_PIECES = 300  # more are not cut a second time: what a stock of that size leaves over is a small part of it


def less_scrap(group: Group, cuts: Cuts, rules: CuttingRules, deadline: Deadline) -> Cuts:
    """For a group planned by metres bought, where remnants cost nothing: a way that buys no more than `cuts` and leaves
    less over; `cuts` if none is found."""
    remnant = any(source.kind == "remnant" for source in group.sources)
    if not (remnant or rules.keep_above_um is not None) or group.problem.total_pieces > MANY_PIECES:
        return cuts
    problem = _weighed(group, cuts, rules)
    again = solve(problem, deadline.part(0.5)).cuts
    if again is None or _bought(group, again) > _bought(group, cuts):
        return cuts
    return min((cuts, again), key=lambda c: _cost(problem, c))


def _weighed(group: Group, cuts: Cuts, rules: CuttingRules) -> Problem:
    """The same problem by the micrometres cut into less the rests kept; what is bought counts so much more that no
    metre is bought to spare others."""
    problem, sources = group.problem, group.sources
    step_um = (group.types[0][0].length_um + rules.kerf_um) // problem.widths[0]
    of_remnants_um = sum(
        source.length_um * (line.available or 0)
        for source, line in zip(sources, problem.lines, strict=True)
        if source.kind == "remnant"
    )
    more = of_remnants_um + sum(sources[pattern.line].length_um * n for pattern, n in cuts.uses) + 1
    lines = []
    for source, line in zip(sources, problem.lines, strict=True):
        keep_slack, keep_base = None, 0
        if rules.keep_above_um is not None and source.kind != "missing":
            left_um = (source.length_um - rules.end_trim_um + rules.kerf_um) % step_um
            keep_slack = max(0, -(-(max(rules.keep_above_um, 1) + rules.kerf_um - left_um) // step_um))
            keep_base = left_um - rules.kerf_um
        cost = line.cost * more + (0 if source.kind == "missing" else source.length_um)
        lines.append(replace(line, cost=cost, keep_slack=keep_slack, keep_base=keep_base))
    keep_rate = step_um if rules.keep_above_um is not None else 0
    # ceilings are prices in the old measure; without them only a bound is worth less that nobody asks for
    return replace(problem, lines=tuple(lines), keep_rate=keep_rate, ceilings=())


def _cost(problem: Problem, cuts: Cuts) -> int:
    return sum(problem.cost_of(pattern.line, problem.width_of(pattern.counts)) * n for pattern, n in cuts.uses)


def _bought(group: Group, cuts: Cuts) -> int:
    return sum(group.problem.lines[pattern.line].cost * n for pattern, n in cuts.uses)
