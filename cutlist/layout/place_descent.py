"""From a good pair of places to the best one near it: each bar moved in turn, then both together."""

from __future__ import annotations

import numpy as np

from cutlist.layout.cells import Cells, allowed_points
from cutlist.layout.place_pairs import Rows, Spot, Yardstick, apart_enough, rows_for, score_of_pair
from cutlist.layout.place_problem import PlaceProblem
from cutlist.layout.place_sides import Side, reach_at_centres

STEPS_M = (0.040, 0.020, 0.010, 0.005)  # the last is what a person can mark
TO_EITHER_SIDE = 3  # steps
ROUNDS = 12


def descended(
    problem: PlaceProblem, sides: tuple[Side, Side], yard: Yardstick, spots: tuple[Spot, Spot], score: int
) -> tuple[tuple[Spot, Spot], int]:
    """The same pair, or one near it that scores less; and its score."""
    for again in range(ROUNDS):
        before = score
        for step_m in STEPS_M[2:] if again else STEPS_M:
            for moved in ((True, False), (False, True), (True, True)):
                found = _best_move(problem, sides, yard, spots, score, moved, step_m)
                if found is not None:
                    spots, score = found
        if score == before:
            break
    return spots, score


def _best_move(
    problem: PlaceProblem,
    sides: tuple[Side, Side],
    yard: Yardstick,
    spots: tuple[Spot, Spot],
    score: int,
    moved: tuple[bool, bool],
    step_m: float,
) -> tuple[tuple[Spot, Spot], int] | None:
    points = [
        _around(side, spot, step_m if moves else 0.0) for side, spot, moves in zip(sides, spots, moved, strict=True)
    ]
    fine = apart_enough(problem, sides, points[0], points[1])
    for side, cells in zip(sides, points, strict=True):
        fine &= allowed_points(side.seats, cells)
        for number, seat in enumerate(side.seats):
            mine = cells.seat == number
            inside = (cells.a >= seat.low[0]) & (cells.a <= seat.high[0])
            inside &= (cells.b >= seat.low[1]) & (cells.b <= seat.high[1])
            fine &= ~mine | inside
    points = [cells[fine] for cells in points]
    if not len(points[0]):
        return None
    rows = [
        rows_for(side, yard, cells, reach_at_centres(side, cells)) for side, cells in zip(sides, points, strict=True)
    ]
    table = _scores(yard, rows)
    for pair in np.argsort(table, axis=None, kind="stable")[:3].tolist():
        if table.reshape(-1)[pair] >= score:
            return None
        cell, one, two = np.unravel_index(pair, table.shape)
        tried = tuple(
            Spot(int(cells.seat[cell]), float(cells.a[cell]), float(cells.b[cell]), int(way))
            for cells, way in zip(points, (one, two), strict=True)
        )
        # leads are told too short where runs do not fall and then rise along the bar
        true = score_of_pair(sides, yard, (tried[0], tried[1]))
        if true < score:
            return (tried[0], tried[1]), true
    return None


def _around(side: Side, spot: Spot, step_m: float) -> Cells:
    """As many places for a bar that stays as for one that moves, so that the two lists go side by side."""
    steps = np.arange(-TO_EITHER_SIDE, TO_EITHER_SIDE + 1) * step_m
    a, b = np.meshgrid(spot.a + steps, spot.b + steps, indexing="ij")
    if side.seats[spot.seat].place is not None:
        a, b = np.full(a.shape, spot.a), np.full(b.shape, spot.b)
    none = np.zeros(a.size)
    return Cells(np.full(a.size, spot.seat), a.reshape(-1), b.reshape(-1), none, none)


def _scores(yard: Yardstick, rows: list[Rows]) -> np.ndarray:
    """(n, ways, ways): pair by pair, every way of seating one bar's feeders beside every way of the other's."""
    count = len(rows[0].cells)
    ways = [r.table.shape[1] for r in rows]
    known = yard.scores(rows[0].distinct, rows[1].distinct)
    one, two = rows[0].which, rows[1].which
    return np.asarray(known[one[:, :, None], two[:, None, :]]).reshape(count, ways[0], ways[1])
