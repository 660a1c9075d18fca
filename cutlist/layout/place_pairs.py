"""Pairs of bars: their classes side by side, whether they may stand together, and the best pair of many."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from cutlist.layout.assignment import assign, falls_then_rises
from cutlist.layout.cells import Cells, rows_apart, rows_of
from cutlist.layout.place_problem import Array, PlaceProblem
from cutlist.layout.place_sides import Reach, Side, reach_at_centres, run_tables
from cutlist.stock.price_table import Whole, distinct_rows

QUESTIONS = 200_000  # classes priced at a time
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


@dataclass(eq=False)
class Rows:
    """The classes of some bars: rows (q, ways, 1 + feeders) of lead and feeder classes, and the distinct ones."""

    cells: Cells
    table: Whole

    def __post_init__(self) -> None:
        flat = self.table.reshape(-1, self.table.shape[2])
        self.distinct, back = distinct_rows(flat)
        self.which: NDArray[np.int64] = back.reshape(self.table.shape[:2])


def score_of_pair(sides: tuple[Side, Side], yard: Yardstick, spots: tuple[Spot, Spot]) -> int:
    rows = [_true_row(side, yard, spot) for side, spot in zip(sides, spots, strict=True)]
    return int(yard.scores(rows[0], rows[1])[0, 0])


def apart_enough(
    problem: PlaceProblem, sides: tuple[Side, Side], positive: Cells, negative: Cells, reach_m: Array | float = 0.0
) -> NDArray[np.bool_]:
    """Whether bars at the centres of each pair of cells (n,) may stand there together, give or take reach_m."""
    ends = [rows_of(side.seats, cells) for side, cells in zip(sides, (positive, negative), strict=True)]
    faces = [face_numbers(side)[cells.seat] for side, cells in zip(sides, (positive, negative), strict=True)]
    return may_stand(problem, ends[0], ends[1], faces[0], faces[1], reach_m)


def may_stand(
    problem: PlaceProblem,
    first: Array,
    second: Array,
    first_face: NDArray[np.int64],
    second_face: NDArray[np.int64],
    reach_m: Array | float,
) -> NDArray[np.bool_]:
    fine = np.ones(len(first), dtype=bool)
    if problem.separation_m > 0:
        needed_m = np.broadcast_to(problem.separation_m - 1e-9 - reach_m, len(first))
        # rows are no further apart than their middles, and nearer by no more than half of both
        middles = (first[:, 0] + first[:, 1] - second[:, 0] - second[:, 1]) / 2
        apart_m = np.sqrt((middles * middles).sum(axis=1))
        half_m = _half_rows(first) + _half_rows(second)
        unsure = np.flatnonzero((apart_m >= needed_m) & (apart_m - half_m < needed_m))
        fine &= apart_m >= needed_m
        fine[unsure] = rows_apart(first[unsure], second[unsure]) >= needed_m[unsure]
    if problem.same_face is not None:
        fine &= (first_face == second_face) == problem.same_face
    return fine


def _half_rows(rows: Array) -> Array:
    """Half the length (n,) of rows of studs (n, 2, 3)."""
    along = rows[:, 1] - rows[:, 0]
    return np.asarray(np.sqrt((along * along).sum(axis=1)) / 2)


def face_numbers(side: Side) -> NDArray[np.int64]:
    return np.array([side.face_numbers[seat.face] for seat in side.seats])


def pairs_bound(problem: PlaceProblem) -> bool:
    return problem.separation_m > 0 or problem.same_face is not None


def rows_for(side: Side, yard: Yardstick, cells: Cells, reach: Reach) -> Rows:
    leads = yard.lead_class(reach.leads_m)[:, :, None]
    return Rows(cells, np.concatenate([leads, yard.feeder_class(side.pole, reach.feeders_m)], axis=2))


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
            spot = spot_at(rows[i].cells, cell, way)
            true = _true_row(sides[i], yard, spot)[0]
            if true[0] != rows[i].table[cell, way, 0]:  # the runs do not fall and then rise: the stretches misled
                table = rows[i].table.copy()
                table[cell, way, 0] = true[0]
                rows[i] = Rows(rows[i].cells, table)
                sound = False
        if sound:
            spots = [spot_at(rows[i].cells, cell, way) for i, (cell, way) in enumerate(picks)]
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
    if best is not None or not pairs_bound(problem):
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
        picks = standing_apart(problem, sides, rows, first[pair // len(second)], second[pair % len(second)])
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


def standing_apart(
    problem: PlaceProblem, sides: tuple[Side, Side], rows: list[Rows], one: Whole, two: Whole
) -> list[tuple[int, int]] | None:
    """A bar of each class that may stand together: (cell, way) of both."""
    picks = [np.argwhere((rows[i].table == row).all(axis=2)) for i, row in enumerate((one, two))]
    if pairs_bound(problem):
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


def spot_at(cells: Cells, cell: int, way: int) -> Spot:
    return Spot(int(cells.seat[cell]), float(cells.a[cell]), float(cells.b[cell]), way)


def _true_row(side: Side, yard: Yardstick, spot: Spot) -> Whole:
    """The classes (1, 1 + feeders) of one bar, its leads assigned exactly."""
    reach = reach_at_centres(side, spot.cell())
    leads_m = reach.leads_m[:, spot.way]
    strings_m, _ = run_tables(side, spot.cell(), bounds=False)
    if not falls_then_rises(strings_m[:, :, side.lead_columns(spot.seat)])[0]:
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
