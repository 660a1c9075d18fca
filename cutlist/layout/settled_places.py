"""Of the places that cost no more those a rigger would like best: fewest metres, least target, middle of the face."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

from cutlist.layout.cells import Cells
from cutlist.layout.place_costs import PlaceCosts
from cutlist.layout.place_descent import descended
from cutlist.layout.place_pairs import Spot, score_of_pair
from cutlist.layout.place_problem import PlaceProblem
from cutlist.layout.place_search import Found, search
from cutlist.layout.place_sides import Side
from cutlist.layout.placings import class_row, layout_of
from cutlist.layout.tidy_places import tidied
from cutlist.layout.yardsticks import LeastCost, LeastMetres, LeastTarget
from geometry.cores import beside

CLEARLY_LESS = 0.01  # share of the cable
METRES_FINEST_M, TARGET_FINEST_M = 0.002, 0.0002  # cells in the search for fewest metres, for the least target
Likely = tuple[Cells, Cells] | None  # places of each pole worth a first look


@dataclass(frozen=True)
class Asked:
    """What is asked for, and how closely."""

    problem: PlaceProblem
    costs: PlaceCosts
    sides: tuple[Side, Side]
    likely: Likely
    finest_m: float
    within: float


def settled(asked: Asked, found: Found, closer: int) -> tuple[Found, tuple[Spot, Spot]]:
    """What was found, looked at closer; and of the places that cost no more those a rigger would like best."""
    spots = found.spots
    assert spots is not None
    if not asked.within:
        return found, _least_target(asked, _fewest_metres(asked, found))
    looked = None
    if closer and found.bound < found.score:
        looked = beside(partial(_looked_closer, asked, found, closer))
    liked = _least_target(asked, _fewer_metres(asked, spots, found.score))
    if looked is not None:
        found = looked()
        if found.spots is not None and found.spots != spots:
            liked = _least_target(asked, _fewer_metres(asked, found.spots, found.score))
    return found, liked


def _looked_closer(asked: Asked, found: Found, most_cells: int) -> Found:
    """What was found, or better; with the higher of both bounds and the cells that show it."""
    closer = search(
        asked.problem,
        asked.sides,
        LeastCost(asked.costs),
        known=found.spots,
        finest_m=asked.finest_m,
        most_cells=most_cells,
        coarsely=True,
    )
    examined = found.examined + closer.examined
    shown = closer if closer.bound > found.bound else found
    return replace(shown, spots=closer.spots, score=closer.score, examined=examined)


def _fewer_metres(asked: Asked, spots: tuple[Spot, Spot], cost: int) -> tuple[Spot, Spot]:
    """A pair near this one that costs no more and takes clearly less cable, if there is one; a look that costs little.

    Where cost is known no finer, a little cable is not worth bars that have come as near to each other as they may.
    """
    yard = LeastMetres(asked.costs, cost)
    laid_um = score_of_pair(asked.sides, yard, spots)
    fewer, fewer_um = descended(asked.problem, asked.sides, yard, spots, laid_um)
    return fewer if fewer_um < (1 - CLEARLY_LESS) * laid_um else spots


def _fewest_metres(asked: Asked, found: Found) -> tuple[Spot, Spot]:
    assert found.spots is not None
    fewest = search(
        asked.problem,
        asked.sides,
        LeastMetres(asked.costs, found.score),
        known=found.spots,
        likely=asked.likely,
        finest_m=max(asked.finest_m, METRES_FINEST_M),
        most_cells=2_000,
        coarsely=True,
    )
    assert fewest.spots is not None
    return fewest.spots


def _least_target(asked: Asked, spots: tuple[Spot, Spot]) -> tuple[Spot, Spot]:
    problem, costs, sides = asked.problem, asked.costs, asked.sides
    layouts = [layout_of(problem, side, spot) for side, spot in zip(sides, spots, strict=True)]
    rows = [class_row(costs, layout) for layout in layouts]
    leads = [int(row[0, 0]) for row in rows]
    if problem.poles_alike:
        leads = [max(leads)] * 2
    yard = LeastTarget(costs, (leads[0], leads[1]), (rows[0][0, 1:], rows[1][0, 1:]))
    least = search(
        problem,
        sides,
        yard,
        known=spots,
        likely=asked.likely,
        finest_m=max(asked.finest_m, TARGET_FINEST_M),
        within=asked.within,
        most_cells=3_000,
        near_enough=2,
    )
    assert least.spots is not None
    return tidied(problem, sides, yard, least.spots, least.score)
