"""Of places that are equally good, the one a rigger would mark out: near the middle, on whole millimetres."""

from __future__ import annotations

import numpy as np

from cutlist.layout.cells import Cells, Seat, allowed_points
from cutlist.layout.place_pairs import Spot, Yardstick, apart_enough
from cutlist.layout.place_problem import PlaceProblem
from cutlist.layout.place_sides import Side, reach_at_centres
from cutlist.stock.price_table import Whole

MARKS_M = (0.005, 0.001)  # tried in this order; a place between the marks is kept only when no mark serves
WINDOW = 12  # marks to either side of where the search stands


def tidied(
    problem: PlaceProblem, sides: tuple[Side, Side], yard: Yardstick, spots: tuple[Spot, Spot], score: int
) -> tuple[Spot, Spot]:
    """The same score within a step, each bar in turn moved towards the middle of a face."""
    allowed = score + 1
    current = list(spots)
    for _ in range(2):  # the second round may use the room that the first has made
        for i in (0, 1):
            current[i] = _nearest_middle(problem, sides, yard, (current[0], current[1]), i, allowed)
    return current[0], current[1]


def _nearest_middle(
    problem: PlaceProblem,
    sides: tuple[Side, Side],
    yard: Yardstick,
    spots: tuple[Spot, Spot],
    of: int,
    allowed: int,
) -> Spot:
    side = sides[of]
    best, coarse_m = spots[of], 0.040
    marked = False
    for mark_m in (coarse_m, 0.020, 0.010, *MARKS_M):
        if mark_m < MARKS_M[0] and marked:
            break
        points = _marks(side, best, mark_m, everywhere=mark_m == coarse_m)
        found = _first_that_serves(problem, sides, yard, spots, of, allowed, points)
        if found is not None:
            best, marked = found, mark_m <= MARKS_M[0]
    return best


def _marks(side: Side, around: Spot, mark_m: float, everywhere: bool) -> Cells:
    """Bars with their centre on a mark, counted from the middle of the face."""
    parts = []
    for number, seat in enumerate(side.seats):
        if not everywhere and number != around.seat:
            continue
        axes = []
        for axis, at in ((0, around.a), (1, around.b)):
            low, high = seat.low[axis], seat.high[axis]
            if not everywhere:
                low, high = max(low, at - WINDOW * mark_m), min(high, at + WINDOW * mark_m)
            middle = seat.middle[axis]
            first, last = np.ceil((low - middle) / mark_m - 1e-9), np.floor((high - middle) / mark_m + 1e-9)
            axes.append(middle + mark_m * np.arange(first, last + 1))
        a, b = np.meshgrid(*axes, indexing="ij")
        parts.append((np.full(a.size, number), a.reshape(-1), b.reshape(-1)))
    seats, a, b = (np.concatenate(column) for column in zip(*parts, strict=True))
    return Cells(seats, a, b, np.zeros(len(a)), np.zeros(len(a)))


def _first_that_serves(
    problem: PlaceProblem,
    sides: tuple[Side, Side],
    yard: Yardstick,
    spots: tuple[Spot, Spot],
    of: int,
    allowed: int,
    points: Cells,
) -> Spot | None:
    side, other = sides[of], spots[1 - of].cell()
    points = points[allowed_points(side.seats, points)]
    beside = other[np.zeros(len(points), dtype=np.int64)]
    pair = (points, beside) if of == 0 else (beside, points)
    points = points[apart_enough(problem, sides, *pair)]
    if not len(points):
        return None
    rows = _rows(side, yard, points)
    other_row = _rows(sides[1 - of], yard, other)[0, spots[1 - of].way]
    q, ways, width = rows.shape
    mine, theirs = rows.reshape(-1, width), other_row[None, :]
    score = (yard.scores(mine, theirs) if of == 0 else yard.scores(theirs, mine).T).reshape(q, ways)
    serves = np.argwhere(score <= allowed)
    if not len(serves):
        return None
    away = np.round(_from_middle(side.seats, points), 6)[serves[:, 0]]
    cell, way = serves[
        np.lexsort((serves[:, 1], rows[serves[:, 0], serves[:, 1], 0], points.seat[serves[:, 0]], away))[0]
    ]
    return Spot(int(points.seat[cell]), float(points.a[cell]), float(points.b[cell]), int(way))


def _rows(side: Side, yard: Yardstick, points: Cells) -> Whole:
    reach = reach_at_centres(side, points)
    leads = yard.lead_class(reach.leads_m)[:, :, None]
    return np.concatenate([leads, yard.feeder_class(side.pole, reach.feeders_m)], axis=2)


def _from_middle(seats: tuple[Seat, ...], points: Cells) -> np.ndarray:
    middles = np.array([seat.middle for seat in seats])[points.seat]
    return np.hypot(points.a - middles[:, 0], points.b - middles[:, 1])
