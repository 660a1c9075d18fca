"""The best of every pair of places on a grid: for jobs so small that all of them can be looked at."""

from __future__ import annotations

import math

import numpy as np

from cutlist.layout.cells import Cells, Seat, allowed_points, joined
from cutlist.layout.place_costs import PlaceCosts
from cutlist.layout.place_pairs import Rows, Yardstick, best_pair, rows_for
from cutlist.layout.place_problem import Array, PlaceProblem
from cutlist.layout.place_sides import Side, reach_at_centres, side_of
from cutlist.layout.placings import Placing, placing
from cutlist.layout.stud_fits import cases
from cutlist.layout.yardsticks import LeastCost


def best_of_every_pair(problem: PlaceProblem, costs: PlaceCosts, step_m: float, below: int) -> Placing | None:
    """The pair that costs least, if that is less than so many units; its places no more than step_m apart, the borders
    of the faces among them."""
    costs = costs.with_limits(problem)
    best: Placing | None = None
    for case in cases(problem):
        found = _best_of_case(case, costs.of_case(case), step_m, below)
        if found is not None:
            best, below = found
    return best


def _best_of_case(problem: PlaceProblem, costs: PlaceCosts, step_m: float, below: int) -> tuple[Placing, int] | None:
    """The best pair for conductors whose lugs go on the same studs, and its cost."""
    yard = LeastCost(costs)
    grid = grid_of_case(problem, yard, step_m)
    if grid is None:
        return None
    sides, rows = grid
    found = best_pair(problem, sides, yard, rows, below)
    return None if found is None else (placing(problem, costs, sides, found[0]), found[1])


def grid_of_case(problem: PlaceProblem, yard: Yardstick, step_m: float) -> tuple[tuple[Side, Side], list[Rows]] | None:
    """Both poles with their bars at every place allowed, no more than step_m apart, the borders of the faces among
    them. None where the studs that take a case's lugs do not suffice."""
    try:
        sides = (side_of(problem, "positive"), side_of(problem, "negative"))
    except ValueError:
        return None
    rows = []
    for side in sides:
        cells = joined([_grid(number, seat, step_m) for number, seat in enumerate(side.seats)])
        cells = cells[allowed_points(side.seats, cells)]
        rows.append(rows_for(side, yard, cells, reach_at_centres(side, cells)))
    return sides, rows


def _grid(number: int, seat: Seat, step_m: float) -> Cells:
    a, b = (x.reshape(-1) for x in np.meshgrid(*(_marks(seat, axis, step_m) for axis in (0, 1)), indexing="ij"))
    none = np.zeros(len(a))
    return Cells(np.full(len(a), number), a, b, none, none)


def _marks(seat: Seat, axis: int, step_m: float) -> Array:
    low, high = seat.low[axis], seat.high[axis]
    steps = math.ceil((high - low) / step_m - 1e-9)
    return np.linspace(low, high, steps + 1) if steps else np.array([low])
