"""Branch and bound over the places of both bars.

Each pole's places are cut into cells. Within a cell no run is shorter than at its centre less the cell's reach, so a
cell is out once the best it could do, beside the best the other pole's cells could do, is no better than the best
pair of places found. Cells that stay are halved. Bounds are taken on rounded cuts, which lets the gap close to nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from cutlist.layout.assignment import assign, falls_then_rises
from cutlist.layout.cells import (
    Cells,
    allowed_points,
    at_borders,
    halved,
    joined,
    rows_apart,
    rows_of,
    shut_cells,
    whole_seats,
)
from cutlist.layout.place_problem import Array, PlaceProblem
from cutlist.layout.place_sides import Reach, Side, ideal_reach, least_reach, reach_at_centres, run_tables
from cutlist.stock.price_table import IMPOSSIBLE, Whole, distinct_rows

FIRST_CELL_M = 0.080
FINEST_M = 0.00002  # cells are not halved below this size: far below what a person can mark
MOST_CELLS = 60_000  # a pole: beyond this the search stops and says what it could not exclude
LOPSIDED = 12  # a pole with so many more cells waits until the other, which may rule them all out, is cut finer
QUESTIONS = 200_000  # classes priced at a time
PAIRS = 2_000_000  # pairs of cells looked at together
CLOSE_LOOKS = 200  # pairs of classes of which every bar is tried


class Yardstick(Protocol):
    """What is minimised. Classes are whole numbers that never fall when a run grows; nor does the score."""

    def lead_class(self, runs_m: Array) -> Whole: ...

    def feeder_class(self, pole: str, runs_m: Array) -> Whole: ...

    def scores(self, positive: Whole, negative: Whole) -> Whole: ...


@dataclass(frozen=True)
class Spot:
    """A bar at a point of a seat, the feeders seated one way."""

    seat: int
    a: float
    b: float
    way: int

    def cell(self) -> Cells:
        return Cells(np.array([self.seat]), np.array([self.a]), np.array([self.b]), np.zeros(1), np.zeros(1))


@dataclass(frozen=True, eq=False)
class Found:
    spots: tuple[Spot, Spot] | None  # positive, negative
    score: int  # IMPOSSIBLE without spots
    bound: int  # nothing scores less
    examined: int  # cells
    finest_m: float  # size of the smallest cell
    leaves: tuple[Cells, Cells]  # the cells that together cover every place, of each pole
    open_cells: int  # that could not be excluded


@dataclass(eq=False)
class Rows:
    """The classes of some bars: rows (q, ways, 1 + feeders) of lead and feeder classes, and the distinct ones."""

    cells: Cells
    table: Whole

    def __post_init__(self) -> None:
        flat = self.table.reshape(-1, self.table.shape[2])
        self.distinct, back = distinct_rows(flat)
        self.which: NDArray[np.int64] = back.reshape(self.table.shape[:2])


def search(
    problem: PlaceProblem,
    sides: tuple[Side, Side],
    yard: Yardstick,
    *,
    known: tuple[Spot, Spot] | None = None,
    finest_m: float = FINEST_M,
    most_cells: int = MOST_CELLS,
    near_enough: int = 0,
    progress: Callable[[str], None] | None = None,
) -> Found:
    """The pair of places of least score, and what no pair can fall below.

    `known` is a pair to start from. The search ends when the two are no more than `near_enough` apart, or cells get
    smaller than `finest_m` or too many.
    """
    best, cutoff = known, IMPOSSIBLE
    if known is not None:
        cutoff = score_of_pair(sides, yard, known)
    alive = [whole_seats(side.seats, FIRST_CELL_M) for side in sides]
    leaves: list[list[Cells]] = [[], []]
    examined, finest, lowest = 0, FIRST_CELL_M, IMPOSSIBLE
    while True:
        for i, side in enumerate(sides):
            shut = shut_cells(side.seats, alive[i])
            leaves[i].append(alive[i][shut])
            alive[i] = alive[i][~shut]
            examined += len(shut)
        centres = [_rows_at_centres(side, yard, cells) for side, cells in zip(sides, alive, strict=True)]
        better = best_pair(problem, sides, yard, centres, cutoff)
        if better is not None:
            best, cutoff = better
        bounds = [np.empty(0, dtype=np.int64)] * 2
        for reach_of in (ideal_reach, least_reach):
            if min(len(cells) for cells in alive) == 0:
                break
            rows = [_rows(side, yard, cells, reach_of(side, cells)) for side, cells in zip(sides, alive, strict=True)]
            bounds = [_bounds(yard, rows, i, cutoff) for i in (0, 1)]
            for i in (0, 1):
                out = bounds[i] >= cutoff
                leaves[i].append(alive[i][out])
                alive[i], bounds[i] = alive[i][~out], bounds[i][~out]
                rows[i] = Rows(rows[i].cells[~out], rows[i].table[~out])
        if min(len(cells) for cells in alive) > 0 and _pairs_bound(problem):
            kept = _with_partner(problem, sides, yard, rows, cutoff)
            if kept is not None:
                for i in (0, 1):
                    leaves[i].append(alive[i][~kept[i]])
                    alive[i], bounds[i] = alive[i][kept[i]], bounds[i][kept[i]]
        if min(len(cells) for cells in alive) == 0:
            lowest = cutoff
            break
        lowest = max(int(bounds[0].min()), int(bounds[1].min()))
        sizes = [2 * float(np.maximum(c.half_a, c.half_b).max()) for c in alive]  # nothing for places that are fixed
        size = min((s for s in sizes if s > 0), default=0.0)
        finest = min(finest, size)
        if progress is not None:
            progress(
                f"cells of {size * 1000:.3g} mm: {len(alive[0])} and {len(alive[1])} may still hold a better place"
            )
        if size <= finest_m or max(len(c) for c in alive) > most_cells or cutoff - lowest <= near_enough:
            break
        fewer = min(len(cells) for cells in alive)
        alive = [halved(cells) if len(cells) <= LOPSIDED * max(fewer, 16) else cells for cells in alive]
    open_cells = sum(len(cells) for cells in alive) if lowest < cutoff else 0
    for i in (0, 1):
        leaves[i].append(alive[i])
    covered = (joined(leaves[0]), joined(leaves[1]))
    return Found(best, cutoff, min(lowest, cutoff), examined, finest, covered, open_cells)


def score_of_pair(sides: tuple[Side, Side], yard: Yardstick, spots: tuple[Spot, Spot]) -> int:
    rows = [_true_row(side, yard, spot) for side, spot in zip(sides, spots, strict=True)]
    return int(yard.scores(rows[0], rows[1])[0, 0])


def apart_enough(
    problem: PlaceProblem, sides: tuple[Side, Side], positive: Cells, negative: Cells, reach_m: Array | float = 0.0
) -> NDArray[np.bool_]:
    """Whether bars at the centres of each pair of cells (n,) may stand there together, give or take reach_m."""
    ends = [rows_of(side.seats, cells) for side, cells in zip(sides, (positive, negative), strict=True)]
    faces = [_face_numbers(side)[cells.seat] for side, cells in zip(sides, (positive, negative), strict=True)]
    return _may_stand(problem, ends[0], ends[1], faces[0], faces[1], reach_m)


def _may_stand(
    problem: PlaceProblem,
    first: Array,
    second: Array,
    first_face: NDArray[np.int64],
    second_face: NDArray[np.int64],
    reach_m: Array | float,
) -> NDArray[np.bool_]:
    fine = np.ones(len(first), dtype=bool)
    if problem.separation_m > 0:
        fine &= rows_apart(first, second) + reach_m >= problem.separation_m - 1e-9
    if problem.same_face is not None:
        fine &= (first_face == second_face) == problem.same_face
    return fine


def _face_numbers(side: Side) -> NDArray[np.int64]:
    return np.array([side.face_numbers[seat.face] for seat in side.seats])


def _pairs_bound(problem: PlaceProblem) -> bool:
    return problem.separation_m > 0 or problem.same_face is not None


def _rows(side: Side, yard: Yardstick, cells: Cells, reach: Reach) -> Rows:
    leads = yard.lead_class(reach.leads_m)[:, :, None]
    return Rows(cells, np.concatenate([leads, yard.feeder_class(side.pole, reach.feeders_m)], axis=2))


def _rows_at_centres(side: Side, yard: Yardstick, cells: Cells) -> Rows:
    points = joined([cells, at_borders(side.seats, cells)])
    fit = points[allowed_points(side.seats, points)]
    return _rows(side, yard, fit, reach_at_centres(side, fit))


def _bounds(yard: Yardstick, rows: list[Rows], of: int, cutoff: int) -> Whole:
    """For each cell of one pole (q,) what no place in it scores below, beside any cell of the other pole."""
    mine, other = rows[of].distinct, undominated(rows[1 - of].distinct)
    bound = scores_beside(yard, of, mine, other.min(axis=0)[None, :])[:, 0]
    near = np.flatnonzero(bound < cutoff)
    if len(other) > 1 and len(near):
        bound[near] = scores_beside(yard, of, mine[near], other).min(axis=1)
    return bound[rows[of].which].min(axis=1)


def scores_beside(yard: Yardstick, of: int, mine: Whole, other: Whole) -> Whole:
    """Every class of mine (m) beside every class of the other pole (n): (m, n)."""
    table = np.empty((len(mine), len(other)), dtype=np.int64)
    step = max(1, QUESTIONS // len(other))
    for start in range(0, len(mine), step):
        some = mine[start : start + step]
        table[start : start + step] = yard.scores(some, other) if of == 0 else yard.scores(other, some).T
    return table


def undominated(rows: Whole) -> Whole:
    """The distinct rows (n, k) that no other row is nowhere above."""
    order = np.lexsort(rows.T[::-1])
    if rows.shape[1] <= 2:
        last = rows[order, -1]
        falls = np.concatenate([[True], last[1:] < np.minimum.accumulate(last)[:-1]])
        return rows[order[falls]] if rows.shape[1] == 2 else rows[order[:1]]
    kept = np.empty((0, rows.shape[1]), dtype=rows.dtype)
    for row in rows[order]:
        if not len(kept) or not (kept <= row).all(axis=1).any():
            kept = np.vstack([kept, row])
    return kept


def _with_partner(
    problem: PlaceProblem, sides: tuple[Side, Side], yard: Yardstick, rows: list[Rows], cutoff: int
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]] | None:
    """For each cell of both poles whether a cell of the other stands far enough off and makes a better pair.

    None when there are too many pairs to look at.
    """
    first, second = rows
    if len(first.cells) * len(second.cells) > PAIRS or len(first.distinct) * len(second.distinct) > PAIRS:
        return None
    good = scores_beside(yard, 0, first.distinct, second.distinct) < cutoff
    by_cell = np.zeros((len(first.cells), good.shape[1]), dtype=bool)
    for way in range(first.which.shape[1]):
        by_cell |= good[first.which[:, way]]
    both = np.zeros((len(first.cells), len(second.cells)), dtype=bool)
    for way in range(second.which.shape[1]):
        both |= by_cell[:, second.which[:, way]]
    ends = [rows_of(side.seats, r.cells) for side, r in zip(sides, rows, strict=True)]
    faces = [_face_numbers(side)[r.cells.seat] for side, r in zip(sides, rows, strict=True)]
    reach_m = [r.cells.radius_m for r in rows]

    def together(i: NDArray[np.int64], j: NDArray[np.int64]) -> NDArray[np.bool_]:
        room_m = reach_m[0][i] + reach_m[1][j]
        return _may_stand(problem, ends[0][i], ends[1][j], faces[0][i], faces[1][j], room_m)

    return _has_partner(both, together), _has_partner(both.T, lambda j, i: together(i, j))


def _has_partner(
    good: NDArray[np.bool_], together: Callable[[NDArray[np.int64], NDArray[np.int64]], NDArray[np.bool_]]
) -> NDArray[np.bool_]:
    """For each row whether one of its good columns may stand beside it: a few columns first, all only where needed."""
    found = np.zeros(len(good), dtype=bool)
    for column in np.unique(np.linspace(0, good.shape[1] - 1, 9).astype(np.int64)):
        rows = np.flatnonzero(good[:, column] & ~found)
        found[rows] = together(rows, np.full(len(rows), column))
    left = np.flatnonzero(~found)
    step = max(1, QUESTIONS // good.shape[1])
    for start in range(0, len(left), step):
        some = left[start : start + step]
        row, column = np.nonzero(good[some])
        fine = together(some[row], column)
        found[some[row[fine]]] = True
    return found


def best_pair(
    problem: PlaceProblem, sides: tuple[Side, Side], yard: Yardstick, rows: list[Rows], cutoff: int
) -> tuple[tuple[Spot, Spot], int] | None:
    """The pair of these bars that scores least, below the cutoff; None if there is none."""
    while len(rows[0].cells) and len(rows[1].cells):
        pair = _claimed_pair(problem, sides, yard, rows, cutoff)
        if pair is None:
            return None
        claimed, picks = pair
        sound = True
        for i, (cell, way) in enumerate(picks):
            spot = _spot(rows[i].cells, cell, way)
            true = _true_row(sides[i], yard, spot)[0]
            if true[0] != rows[i].table[cell, way, 0]:  # the runs do not fall and then rise: the stretches misled
                table = rows[i].table.copy()
                table[cell, way, 0] = true[0]
                rows[i] = Rows(rows[i].cells, table)
                sound = False
        if sound:
            spots = [_spot(rows[i].cells, cell, way) for i, (cell, way) in enumerate(picks)]
            return (spots[0], spots[1]), claimed
    return None


def _claimed_pair(
    problem: PlaceProblem, sides: tuple[Side, Side], yard: Yardstick, rows: list[Rows], cutoff: int
) -> tuple[int, list[tuple[int, int]]] | None:
    wanted = []
    for i in (0, 1):
        score = scores_beside(yard, i, rows[i].distinct, rows[1 - i].distinct.min(axis=0)[None, :])[:, 0]
        order = np.argsort(score, kind="stable")
        wanted.append(rows[i].distinct[order[score[order] < cutoff]])
    if not len(wanted[0]) or not len(wanted[1]):
        return None
    most = int(QUESTIONS**0.5)
    best = _undominated_pair(problem, sides, yard, rows, wanted, cutoff)
    if best is not None or not _pairs_bound(problem):
        return best
    first, second = wanted[0][:most], wanted[1][:most]
    score = scores_beside(yard, 0, first, second).reshape(-1)
    order = np.argsort(score, kind="stable")
    order = order[score[order] < cutoff]
    for last in (False, True):  # one bar of each class, the first or the last: most classes hold but a few
        picks = [_one_of_each(rows[i], classes, last) for i, classes in enumerate((first, second))]
        one, two = picks[0][order // len(second)], picks[1][order % len(second)]
        fine = np.flatnonzero(apart_enough(problem, sides, rows[0].cells[one[:, 0]], rows[1].cells[two[:, 0]]))
        if len(fine):
            pair = fine[0]
            chosen = [(int(cell), int(way)) for cell, way in (one[pair], two[pair])]
            return int(score[order[pair]]), chosen
    return None


def _undominated_pair(
    problem: PlaceProblem, sides: tuple[Side, Side], yard: Yardstick, rows: list[Rows], wanted: list[Whole], cutoff: int
) -> tuple[int, list[tuple[int, int]]] | None:
    """The best pair of classes that are nowhere bettered, if bars of both may stand together."""
    first, second = undominated(wanted[0]), undominated(wanted[1])
    score = scores_beside(yard, 0, first, second).reshape(-1)
    for pair in np.argsort(score, kind="stable")[:CLOSE_LOOKS]:
        if score[pair] >= cutoff:
            break
        picks = _standing_apart(problem, sides, rows, first[pair // len(second)], second[pair % len(second)])
        if picks is not None:
            return int(score[pair]), picks
    return None


def _one_of_each(rows: Rows, classes: Whole, last: bool) -> NDArray[np.int64]:
    """A bar (cell, way) of each of the classes (n, 1 + feeders): (n, 2)."""
    flat = rows.which.reshape(-1)
    held = np.zeros(len(rows.distinct), dtype=np.int64)
    order = np.arange(len(flat)) if last else np.arange(len(flat))[::-1]
    held[flat[order]] = order  # the last one written stays
    numbers = {tuple(row): i for i, row in enumerate(rows.distinct.tolist())}
    chosen = held[[numbers[tuple(row)] for row in classes.tolist()]]
    return np.column_stack([chosen // rows.which.shape[1], chosen % rows.which.shape[1]])


def _standing_apart(
    problem: PlaceProblem, sides: tuple[Side, Side], rows: list[Rows], one: Whole, two: Whole
) -> list[tuple[int, int]] | None:
    """A bar of each class that may stand together: (cell, way) of both."""
    picks = [np.argwhere((rows[i].table == row).all(axis=2)) for i, row in enumerate((one, two))]
    if _pairs_bound(problem):
        step = max(1, QUESTIONS // len(picks[1]))
        for start in range(0, len(picks[0]), step):
            some = picks[0][start : start + step]
            i, j = np.repeat(np.arange(len(some)), len(picks[1])), np.tile(np.arange(len(picks[1])), len(some))
            fine = apart_enough(problem, sides, rows[0].cells[some[i, 0]], rows[1].cells[picks[1][j, 0]])
            if fine.any():
                pair = int(np.argmax(fine))
                chosen = (some[i[pair]], picks[1][j[pair]])
                return [(int(cell), int(way)) for cell, way in chosen]
        return None
    return [(int(cell), int(way)) for cell, way in (picks[0][0], picks[1][0])]


def _spot(cells: Cells, cell: int, way: int) -> Spot:
    return Spot(int(cells.seat[cell]), float(cells.a[cell]), float(cells.b[cell]), way)


def _true_row(side: Side, yard: Yardstick, spot: Spot) -> Whole:
    """The classes (1, 1 + feeders) of one bar, its leads assigned exactly."""
    reach = reach_at_centres(side, spot.cell())
    leads_m = reach.leads_m[:, spot.way]
    strings_m, _ = run_tables(side, spot.cell(), bounds=False)
    if not falls_then_rises(strings_m)[0]:
        studs = assign(strings_m[0], room_left(side, spot.way))
        runs_m = [np.inf] if studs is None else [strings_m[0, i, stud] for i, stud in enumerate(studs)]
        leads_m = np.array([max(runs_m)])
    feeders = yard.feeder_class(side.pole, reach.feeders_m[:, spot.way])
    return np.column_stack([yard.lead_class(leads_m), feeders])


def room_left(side: Side, way: int) -> list[int]:
    """Lugs each stud still takes once the feeders are seated this way."""
    room = [side.lugs_per_stud] * side.studs
    for stud in side.ways[way]:
        room[int(stud)] -= 1
    return room
