"""Places that leave least cable over: for yards that count waste and not money.

Scrap is no step that rises with the runs: leads a hand longer may use a spool up. It is therefore not searched by
halving cells but looked at over places of a grid, every class of one pole beside every class of the other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutlist.layout.every_pair import grid_of_case
from cutlist.layout.place_costs import PlaceCosts
from cutlist.layout.place_pairs import QUESTIONS, spot_at, standing_apart
from cutlist.layout.place_problem import PlaceProblem
from cutlist.layout.placings import Placing, class_row, placing
from cutlist.layout.stud_fits import cases
from cutlist.layout.yardsticks import LeastCost
from cutlist.stock.price_table import IMPOSSIBLE, Whole

MOST_CLASSES = 1_200  # of a pole that are looked at; of more an even choice
NEAREST = 3_000  # pairs of classes that are looked at in detail


@dataclass(frozen=True)
class Scrap:
    """What a pair of places leaves over, and what must be bought for it (um)."""

    scrap_um: int
    bought_um: int

    def less_than(self, other: Scrap, alike_um: int) -> bool:
        """Less scrap; where the two differ by no more than `alike_um`, less to buy, then less scrap.

        >>> Scrap(500, 9000).less_than(Scrap(490, 12000), 20), Scrap(500, 9000).less_than(Scrap(400, 12000), 20)
        (True, False)
        """
        if abs(self.scrap_um - other.scrap_um) > alike_um:
            return self.scrap_um < other.scrap_um
        return (self.bought_um, self.scrap_um) < (other.bought_um, other.scrap_um)


def alike_um(problem: PlaceProblem) -> int:
    """Scrap that differs by less is the same: what rounding every piece up to its mark may do."""
    leads = 2 * sum(1 for string in problem.strings if not string.later)
    return (leads + len(problem.feeders)) * problem.round_up_um


def least_scrap(problem: PlaceProblem, costs: PlaceCosts, step_m: float) -> tuple[Scrap, Placing] | None:
    """Of places about `step_m` apart the pair of least scrap; where scrap is alike that with least to buy. None if none
    serves, or where cost is not counted in metres.
    """
    if costs.measure.first != "metres":
        return None
    best: tuple[Scrap, Placing] | None = None
    for case in cases(problem):
        found = _least_of_case(case, costs.with_limits(problem).of_case(case), step_m)
        if found is not None and (best is None or found[0].less_than(best[0], alike_um(problem))):
            best = found
    return best


def _least_of_case(problem: PlaceProblem, costs: PlaceCosts, step_m: float) -> tuple[Scrap, Placing] | None:
    """The same for conductors whose lugs go on the same studs."""
    grid = grid_of_case(problem, LeastCost(costs), step_m)
    if grid is None or not all(len(r.cells) for r in grid[1]):
        return None
    sides, rows = grid
    classes = [_some(r.distinct) for r in rows]
    scrap, bought = scrap_beside(costs, classes[0], classes[1])
    laid = costs.total_um(classes[0], classes[1])

    def stands(pair: int) -> Placing | None:
        i, j = divmod(pair, len(classes[1]))
        picks = standing_apart(problem, sides, rows, classes[0][i], classes[1][j])
        if picks is None:
            return None
        spots = [spot_at(r.cells, cell, way) for r, (cell, way) in zip(rows, picks, strict=True)]
        try:
            return placing(problem, costs, sides, (spots[0], spots[1]))
        except ValueError:  # told too short, where runs do not fall and then rise along the bar
            return None

    flat_scrap, flat_bought, flat_laid = scrap.reshape(-1), bought.reshape(-1), laid.reshape(-1)
    order = np.argsort(flat_scrap, kind="stable")[:NEAREST]
    order = order[flat_scrap[order] < IMPOSSIBLE]
    first = next((pair for pair in order.tolist() if stands(pair) is not None), None)
    if first is None:
        return None
    near = np.flatnonzero(flat_scrap <= flat_scrap[first] + alike_um(problem))
    near = near[np.lexsort((flat_laid[near], flat_scrap[near], flat_bought[near]))]
    for pair in [*near[:NEAREST].tolist(), first]:
        placed = stands(pair)
        if placed is not None:
            return scrap_told(costs, placed), placed
    return None


def scrap_of(costs: PlaceCosts, positive: Whole, negative: Whole) -> Scrap:
    """Of one class (1, 1 + feeders) of each pole."""
    scrap, bought = costs.scrap_um(positive, negative)
    return Scrap(int(scrap[0, 0]), int(bought[0, 0]))


def scrap_told(costs: PlaceCosts, placed: Placing) -> Scrap:
    """What these places leave over by the runs that the problem knows."""
    return scrap_of(costs, class_row(costs, placed.positive), class_row(costs, placed.negative))


def _some(classes: Whole) -> Whole:
    if len(classes) <= MOST_CLASSES:
        return classes
    return classes[np.linspace(0, len(classes) - 1, MOST_CLASSES).astype(np.int64)]


def scrap_beside(costs: PlaceCosts, positive: Whole, negative: Whole) -> tuple[Whole, Whole]:
    """Scrap and cable to buy (um) of every class of one pole (m) beside every class of the other (n): (m, n) each."""
    step = max(1, QUESTIONS // len(negative))
    parts = [costs.scrap_um(positive[i : i + step], negative) for i in range(0, len(positive), step)]
    return np.concatenate([scrap for scrap, _ in parts]), np.concatenate([bought for _, bought in parts])
