"""Cutting beside three usual ways: cost, proof and time of each, in the same run. By hand:

    python -m tests.benchmarks.bench_cutting [seconds for each]

First-fit decreasing with the bound by length; CP-SAT with one yes or no for every piece and spool; a flow through the
lengths of one spool (arc-flow) as a mixed-integer programme. The problems are made here with fixed seeds: triplets
(the least is known from how they are made), uniform lengths, and remnants with three spool lengths.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from itertools import pairwise

import numpy as np

from cutlist.stock.deadline import Deadline
from cutlist.stock.first_fit import first_fit
from cutlist.stock.problem import Problem, StockLine
from cutlist.stock.solve import solve

Answer = tuple[float | None, float]  # cost of the plan, bound


def problems() -> Iterator[tuple[str, Problem]]:
    dice = random.Random(7)
    for n in (20, 60):
        lengths = []
        for _ in range(n):
            first = dice.randint(380, 490)
            second = dice.randint(250, (1000 - first) // 2 - 1)
            lengths += [first, second, 1000 - first - second]
        yield f"triplets {3 * n}", _problem(lengths, (StockLine(1000, 1),))
    for n in (120, 500):
        yield f"uniform {n}", _problem([dice.randint(20, 100) for _ in range(n)], (StockLine(150, 1),))
    for n in (40, 80):
        lengths = [dice.choice(range(400, 6500, 5)) + 3 for _ in range(12)]
        lines = [StockLine(dice.randint(1600, 9000), 0, 1) for _ in range(5)]
        lines += [StockLine(15_243, 407), StockLine(30_483, 718), StockLine(76_203, 1529)]
        yield f"remnants {n}", _problem([dice.choice(lengths) for _ in range(n)], tuple(lines))


def _problem(lengths: list[int], lines: tuple[StockLine, ...]) -> Problem:
    number = Counter(lengths)
    widths = tuple(sorted(number, reverse=True))
    return Problem(widths, tuple(number[w] for w in widths), lines, (tuple(range(len(widths))),))


def by_first_fit(problem: Problem, _: float) -> Answer:
    plan = first_fit(problem)
    rate = min(line.cost / line.capacity for line in problem.lines if line.cost)
    free = sum(line.capacity * (line.available or 0) for line in problem.lines if not line.cost)
    return (plan.cost(problem) if plan else None, max(0.0, np.ceil((problem.total_width - free) * rate - 1e-9)))


def by_assignment(problem: Problem, seconds: float) -> Answer:
    from ortools.sat.python import cp_model

    start = first_fit(problem)
    assert start is not None
    most = start.cost(problem)
    model = cp_model.CpModel()
    slots = [
        t
        for t, line in enumerate(problem.lines)
        for _ in range(line.available if line.available is not None else most // line.cost)
    ]
    pieces = [w for w, d in zip(problem.widths, problem.demands, strict=True) for _ in range(d)]
    used = [model.new_bool_var("") for _ in slots]
    put = [[model.new_bool_var("") for _ in slots] for _ in pieces]
    for row in put:
        model.add_exactly_one(row)
    for s, t in enumerate(slots):
        model.add(sum(w * row[s] for w, row in zip(pieces, put, strict=True)) <= problem.lines[t].capacity * used[s])
    model.minimize(sum(problem.lines[t].cost * u for t, u in zip(slots, used, strict=True)))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return (solver.objective_value if found else None, np.ceil(solver.best_objective_bound - 1e-6))


def by_arc_flow(problem: Problem, seconds: float) -> Answer:
    """A flow from 0 to the end of a spool; an arc is a piece at a place. Longest first, as is usual, to have fewer."""
    from scipy.optimize import LinearConstraint, milp
    from scipy.sparse import csc_matrix

    ends = sorted({line.capacity for line in problem.lines})
    arcs: set[tuple[int, int, int]] = set()
    reached = {0}
    for i, (width, demand) in enumerate(zip(problem.widths, problem.demands, strict=True)):
        here = set(reached)
        for _ in range(demand):
            arcs |= {(a, a + width, i) for a in here if a + width <= ends[-1]}
            here = {a + width for a in here if a + width <= ends[-1]}
            reached |= here
    nodes = sorted(reached | set(ends))
    steps = [(a, b, -1) for a, b in pairwise(nodes)]
    row = {node: k for k, node in enumerate(nodes)}
    columns = [*sorted(arcs), *steps]
    kinds, lines = len(problem.widths), problem.lines
    entries: list[tuple[int, int, float]] = []
    for j, (a, b, i) in enumerate(columns):
        entries += [(row[a], j, -1.0), (row[b], j, 1.0)] + ([(len(nodes) + i, j, 1.0)] if i >= 0 else [])
    for t, line in enumerate(lines):
        entries += [(row[0], len(columns) + t, 1.0), (row[line.capacity], len(columns) + t, -1.0)]
    at, of, value = zip(*entries, strict=True)
    number = len(columns) + len(lines)
    matrix = csc_matrix((value, (at, of)), shape=(len(nodes) + kinds, number))
    low = np.concatenate([np.zeros(len(nodes)), np.array(problem.demands, dtype=float)])
    high = np.concatenate([np.zeros(len(nodes)), np.full(kinds, np.inf)])
    cost = np.concatenate([np.zeros(len(columns)), [float(line.cost) for line in lines]])
    most = np.full(number, np.inf)
    for t, line in enumerate(lines):
        most[len(columns) + t] = np.inf if line.available is None else line.available
    result = milp(
        cost,
        constraints=LinearConstraint(matrix, low, high),
        integrality=np.ones(number),
        bounds=(0, most),
        options={"time_limit": seconds},
    )
    bound = result.mip_dual_bound
    return (None if result.x is None else round(result.fun), 0.0 if bound is None else np.ceil(bound - 1e-6))


def ours(problem: Problem, seconds: float) -> Answer:
    solution = solve(problem, Deadline(seconds))
    return (solution.cost, solution.bound)


WAYS: dict[str, Callable[[Problem, float], Answer]] = {
    "first fit": by_first_fit,
    "assignment": by_assignment,
    "arc-flow": by_arc_flow,
    "evenlead": ours,
}


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 10.0
    for name, problem in problems():
        for way, answer in WAYS.items():
            start = time.perf_counter()
            cost, bound = answer(problem, seconds)
            took = time.perf_counter() - start
            proof = "proved" if cost is not None and cost <= bound else f"bound {bound:g}"
            print(f"{name:14} {way:12} {'no plan' if cost is None else f'{cost:g}':>9} {proof:14} {took:6.2f} s")


if __name__ == "__main__":
    main()
