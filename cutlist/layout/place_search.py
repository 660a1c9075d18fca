"""Branch and bound over the places of both bars.

Each pole's places are cut into cells. Within a cell no run is shorter than at its centre less the cell's reach, so a
cell is out once the best it could do, beside the best the other pole's cells could do, is no better than the best
pair of places found. Cells that stay are halved. Bounds are taken on rounded cuts, which lets the gap close to nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutlist.layout.cells import (
    Cells,
    allowed_points,
    at_borders,
    halved,
    joined,
    rows_of,
    shut_cells,
    whole_seats,
)
from cutlist.layout.place_descent import descended
from cutlist.layout.place_pairs import (
    Rows,
    Spot,
    Yardstick,
    best_pair,
    face_numbers,
    may_stand,
    pairs_bound,
    rows_for,
    score_of_pair,
    scores_beside,
    undominated,
)
from cutlist.layout.place_problem import PlaceProblem
from cutlist.layout.place_sides import Side, ideal_reach, least_reach, reach_at_centres
from cutlist.layout.yardsticks import Coarse
from cutlist.progress import Progress, silent
from cutlist.stock.price_table import IMPOSSIBLE, Whole

FIRST_CELL_M = 0.080
FINEST_M = 0.00002  # cells are not halved below this size: far below what a person can mark
MOST_CELLS = 60_000  # a pole: beyond this the search stops and says what it could not exclude
LOPSIDED = 12  # a pole with so many more cells waits until the other, which may rule them all out, is cut finer
COARSENESS = 0.5  # of the cells' size: runs rounded to that are told apart well enough
PAIRS = 10_000_000  # pairs of cells looked at together
NEAR_M = 0.03  # cells no larger than this are looked at more closely where they promise most
AT_ONCE = 64  # partners of each cell looked at together, the best first


@dataclass(frozen=True, eq=False)
class Found:
    spots: tuple[Spot, Spot] | None  # positive, negative
    score: int  # IMPOSSIBLE without spots
    bound: int  # nothing scores less
    examined: int  # cells
    finest_m: float  # size of the smallest cell
    leaves: tuple[Cells, Cells]  # the cells that together cover every place, of each pole
    open_cells: int  # that could not be excluded


def search(
    problem: PlaceProblem,
    sides: tuple[Side, Side],
    yard: Yardstick,
    *,
    known: tuple[Spot, Spot] | None = None,
    likely: tuple[Cells, Cells] | None = None,
    finest_m: float = FINEST_M,
    most_cells: int = MOST_CELLS,
    near_enough: int = 0,
    within: float = 0.0,
    below: int = IMPOSSIBLE,
    coarsely: bool = False,
    progress: Progress = silent,
) -> Found:
    """The pair of places of least score, if that is below `below`, and what no pair can fall below.

    `known` is a pair to start from, `likely` are places of each pole to look at first. The search ends when the two are
    no more than `near_enough` apart, or cells get smaller than `finest_m` or too many. `coarsely`: while cells are
    large runs are rounded to half their size. `within`: what could be better by less than this share of the score is
    not looked for.
    """
    best, cutoff = known, below
    if known is not None:
        cutoff = min(cutoff, score_of_pair(sides, yard, known))
    alive = [whole_seats(side.seats, FIRST_CELL_M) for side in sides]
    leaves: list[list[Cells]] = [[], []]
    examined, finest, lowest = 0, FIRST_CELL_M, IMPOSSIBLE
    least_cut = IMPOSSIBLE
    if likely is not None:
        first = best_pair(problem, sides, yard, [_rows(s, yard, p) for s, p in zip(sides, likely, strict=True)], cutoff)
        if first is not None:
            best, cutoff = first
    while True:
        for i, side in enumerate(sides):
            shut = shut_cells(side.seats, alive[i])
            leaves[i].append(alive[i][shut])
            alive[i] = alive[i][~shut]
            examined += len(shut)
        least, most = _coarsened(problem, yard, finest) if coarsely else (yard, yard)
        centres = [_rows_at_centres(side, most, cells) for side, cells in zip(sides, alive, strict=True)]
        better = best_pair(problem, sides, most, centres, cutoff)
        if better is not None:
            best, cutoff = better[0], min(better[1], score_of_pair(sides, yard, better[0]))
        slack = round(within * cutoff) if cutoff < IMPOSSIBLE else 0
        bounds = [np.empty(0, dtype=np.int64)] * 2
        for reach_of in (ideal_reach, least_reach):
            if min(len(cells) for cells in alive) == 0:
                break
            rows = [
                rows_for(side, least, cells, reach_of(side, cells)) for side, cells in zip(sides, alive, strict=True)
            ]
            bounds = [_bounds(least, rows, i, cutoff - slack) for i in (0, 1)]
            least_cut = min(least_cut, cutoff - slack)  # what has been cut off so far may be that good
            for i in (0, 1):
                out = bounds[i] >= cutoff - slack
                leaves[i].append(alive[i][out])
                alive[i], bounds[i] = alive[i][~out], bounds[i][~out]
                rows[i] = Rows(rows[i].cells[~out], rows[i].table[~out])
        if min(len(cells) for cells in alive) > 0 and pairs_bound(problem):
            together = _bounds_together(problem, sides, least, rows, cutoff - slack)
            if together is not None:
                best, cutoff = _better_than_bounded(problem, sides, yard, rows, together, best, cutoff)
                for i in (0, 1):
                    kept = together[i] < cutoff - slack
                    leaves[i].append(alive[i][~kept])
                    alive[i], bounds[i] = alive[i][kept], np.maximum(bounds[i], together[i])[kept]
        if min(len(cells) for cells in alive) == 0:
            lowest = least_cut
            break
        lowest = min(max(int(bounds[0].min()), int(bounds[1].min())), least_cut)
        sizes = [2 * float(np.maximum(c.half_a, c.half_b).max()) for c in alive]  # nothing for places that are fixed
        size = min((s for s in sizes if s > 0), default=0.0)
        cut = _to_halve(alive, [s > finest_m for s in sizes])
        finest = min(finest, size)
        progress(f"placing bus bars: {len(alive[0])} and {len(alive[1])} cells of {size * 1000:.3g} mm may be better")
        if not any(cut) or max(len(c) for c in alive) > most_cells or cutoff - lowest <= near_enough:
            break
        alive = [halved(cells) if yes else cells for cells, yes in zip(alive, cut, strict=True)]
    open_cells = sum(len(cells) for cells in alive) if lowest < cutoff else 0
    for i in (0, 1):
        leaves[i].append(alive[i])
    covered = (joined(leaves[0]), joined(leaves[1]))
    return Found(best, cutoff, min(lowest, cutoff), examined, finest, covered, open_cells)


def _to_halve(alive: list[Cells], large: list[bool]) -> list[bool]:
    """Which poles are cut finer: those with large cells, but one with very many waits for the other if that can be."""
    waits = [len(alive[i]) > LOPSIDED * max(len(alive[1 - i]), 16) and large[1 - i] for i in (0, 1)]
    return [large[i] and not waits[i] for i in (0, 1)]


def _better_than_bounded(
    problem: PlaceProblem,
    sides: tuple[Side, Side],
    yard: Yardstick,
    rows: list[Rows],
    together: tuple[Whole, Whole],
    best: tuple[Spot, Spot] | None,
    cutoff: int,
) -> tuple[tuple[Spot, Spot] | None, int]:
    """The best pair so far, or a better one near the cells that promise most."""
    promising = [int(bound.argmin()) for bound in together]
    cells = [r.cells[np.array([k])] for r, k in zip(rows, promising, strict=True)]
    if best is None or max(float(c.radius_m[0]) for c in cells) > NEAR_M:
        return best, cutoff
    start = tuple(Spot(int(c.seat[0]), float(c.a[0]), float(c.b[0]), 0) for c in cells)
    spots, score = descended(problem, sides, yard, (start[0], start[1]), IMPOSSIBLE)
    return (spots, score) if score < cutoff else (best, cutoff)


def _coarsened(problem: PlaceProblem, yard: Yardstick, cell_m: float) -> tuple[Yardstick, Yardstick]:
    """One that never scores too much and one that never scores too little, both with few classes in such cells."""
    steps = round(cell_m * COARSENESS * 1e6 / problem.round_up_um)
    if steps <= 1:
        return yard, yard
    step_um = steps * problem.round_up_um
    return Coarse(yard, step_um, up=False), Coarse(yard, step_um, up=True)


def _rows_at_centres(side: Side, yard: Yardstick, cells: Cells) -> Rows:
    points = joined([cells, at_borders(side.seats, cells)])
    return _rows(side, yard, points[allowed_points(side.seats, points)])


def _rows(side: Side, yard: Yardstick, points: Cells) -> Rows:
    return rows_for(side, yard, points, reach_at_centres(side, points))


def _bounds(yard: Yardstick, rows: list[Rows], of: int, cutoff: int) -> Whole:
    """For each cell of one pole (q,) what no place in it scores below, beside any cell of the other pole."""
    mine, other = rows[of].distinct, undominated(rows[1 - of].distinct)
    bound = scores_beside(yard, of, mine, other.min(axis=0)[None, :])[:, 0]
    near = np.flatnonzero(bound < cutoff)
    if len(other) > 1 and len(near):
        bound[near] = scores_beside(yard, of, mine[near], other).min(axis=1)
    return bound[rows[of].which].min(axis=1)


def _bounds_together(
    problem: PlaceProblem, sides: tuple[Side, Side], yard: Yardstick, rows: list[Rows], cutoff: int
) -> tuple[Whole, Whole] | None:
    """For each cell of both poles what no place in it scores below, beside any cell of the other that stands far enough
    off; the cutoff where that is more. None when there are too many pairs to look at.
    """
    first, second = rows
    if len(first.cells) * len(second.cells) > PAIRS or len(first.distinct) * len(second.distinct) > PAIRS:
        return None
    score = scores_beside(yard, 0, first.distinct, second.distinct)
    by_cell = score[first.which[:, 0]]
    for way in range(1, first.which.shape[1]):
        np.minimum(by_cell, score[first.which[:, way]], out=by_cell)
    both = by_cell[:, second.which[:, 0]]
    for way in range(1, second.which.shape[1]):
        np.minimum(both, by_cell[:, second.which[:, way]], out=both)
    ends = [rows_of(side.seats, r.cells) for side, r in zip(sides, rows, strict=True)]
    faces = [face_numbers(side)[r.cells.seat] for side, r in zip(sides, rows, strict=True)]
    reach_m = [r.cells.radius_m for r in rows]

    def together(i: NDArray[np.int64], j: NDArray[np.int64]) -> NDArray[np.bool_]:
        room_m = reach_m[0][i] + reach_m[1][j]
        return may_stand(problem, ends[0][i], ends[1][j], faces[0][i], faces[1][j], room_m)

    least = _least_standing(both, together, cutoff)
    return least, _least_standing(both.T, lambda j, i: together(i, j), cutoff)


def _least_standing(
    score: Whole, together: Callable[[NDArray[np.int64], NDArray[np.int64]], NDArray[np.bool_]], cutoff: int
) -> Whole:
    """For each row the least score below the cutoff among the columns that may stand beside it; else the cutoff."""
    least = np.full(len(score), cutoff, dtype=np.int64)
    left = np.flatnonzero(score.min(axis=1) < cutoff)
    score = score[left]
    while len(left):
        width = min(AT_ONCE, score.shape[1])
        near = np.argpartition(score, width - 1, axis=1)[:, :width]
        values = np.take_along_axis(score, near, axis=1)
        row, column = np.nonzero(values < cutoff)
        fine = np.zeros(values.shape, dtype=bool)
        fine[row, column] = together(left[row], near[row, column])
        best = np.where(fine, values, cutoff).min(axis=1)
        # one that was not looked at may do better only where all looked at score less
        done = (best < cutoff) | (values.max(axis=1) >= cutoff) | (width == score.shape[1])
        least[left[done]] = best[done]
        np.put_along_axis(score, near, cutoff, axis=1)
        left, score = left[~done], score[~done]
    return least
