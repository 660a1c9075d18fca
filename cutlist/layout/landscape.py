"""What other places would cost: a map of each face, the best different places, small moves, and cost against drop."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np

from cutlist.bank.bus_bars import BarPlace
from cutlist.layout.bus_bar_places import Places, Placing, class_row, placing
from cutlist.layout.cells import Cells, allowed_points, centres_of, whole_seats
from cutlist.layout.place_costs import PlaceCosts
from cutlist.layout.place_pairs import Spot, apart_enough, scores_beside, undominated
from cutlist.layout.place_problem import PlaceProblem
from cutlist.layout.place_search import search
from cutlist.layout.place_sides import Reach, Side, reach_at_centres, run_tables, side_of
from cutlist.layout.yardsticks import LeastCost
from cutlist.stock.price_table import IMPOSSIBLE, SPLIT, Whole

MAP_STEP_M = 0.050
DIFFERENT_M = 0.100  # two pairs of places differ when one of the bars is this far off, or turned
MOVE_M = 0.050
LONGEST_STEP_M = 2.0  # how much longer all runs are made in looking for the next cost step
FRONT_STEP = 0.03  # the drop limit is tightened by this share from one point of the front to the next
FRONT_POINTS = 8
MOST_PAIRED = 400  # places of a pole that are paired with each other


@dataclass(frozen=True)
class MapPoint:
    """One place of one bar, the other bar where it suits this one best (their distance apart is not looked at)."""

    pole: str
    place: BarPlace
    turn: int
    a_m: float  # along u and v of the face
    b_m: float
    cost: Decimal | None  # money; None where nothing can be built, or when the cost is not money
    units: int | None  # the cost in whole units of the measure; None where nothing can be built
    longest_m: float  # lead of this pole
    limited_by: str  # what sets the cost here, or forbids the place


@dataclass(frozen=True)
class Move:
    """The bar moved by 50 mm, the other one staying; studs may change."""

    pole: str
    along: str  # "+u", "-u", "+v", "-v" of the face
    more: Decimal | None  # money more than the best; None: cannot be built there
    why_not: str = ""


@dataclass(frozen=True)
class FrontPoint:
    cost: Decimal | None
    worst_drop_v: float
    placing: Placing


@dataclass(frozen=True)
class Landscape:
    points: tuple[MapPoint, ...]
    best: tuple[Placing, ...]  # the best first; each different from those before it
    moves: tuple[Move, ...]
    to_next_step_m: float | None  # all runs may turn out this much longer before the cost steps up; None: 2 m or more
    front: tuple[FrontPoint, ...]  # cost against drop, least cost first


def landscape(problem: PlaceProblem, places: Places, *, step_m: float = MAP_STEP_M, count: int = 10) -> Landscape:
    """Raises ValueError if there is no best pair of places to compare with."""
    if places.best is None:
        raise ValueError(f"no landscape without places: {places.why_not}")
    view = _View(problem)
    grids = [_Grid(view, i, step_m) for i in (0, 1)]
    points = [point for i in (0, 1) for point in _map(view, grids, i)]
    return Landscape(
        tuple(points),
        _different(view, grids, places.best, count),
        tuple(_moves(view, places.best)),
        _to_next_step(view, places.best),
        _front(view, places.best),
    )


def best_on_grid(problem: PlaceProblem, step_m: float) -> Decimal | None:
    """Least money among places about step_m apart, the likeliest of each pole paired: as if tried one by one.

    None if none serves.
    """
    view = _View(problem)
    grids = [_Grid(view, i, step_m) for i in (0, 1)]
    least = [_least_beside(view, grids, of) for of in (0, 1)]
    picks = [np.argsort(score, kind="stable")[:MOST_PAIRED] for score, _ in least]
    rows = [grid.rows[pick, way[pick]] for grid, pick, (_, way) in zip(grids, picks, least, strict=True)]
    score = scores_beside(view.yard, 0, rows[0], rows[1])
    i, j = np.unravel_index(np.argsort(score, axis=None, kind="stable"), score.shape)
    fine = apart_enough(problem, view.sides, grids[0].cells[picks[0][i]], grids[1].cells[picks[1][j]])
    best = int(score[i[fine], j[fine]].min(initial=IMPOSSIBLE))
    return view.money(best)


class _View:
    """The problem with its two sides and its prices, worked out once."""

    def __init__(self, problem: PlaceProblem) -> None:
        self.problem = problem
        self.costs = PlaceCosts(problem)
        self.sides = (side_of(problem, "positive"), side_of(problem, "negative"))
        self.yard = LeastCost(self.costs)

    def rows(self, side: Side, reach: Reach) -> Whole:
        leads = self.yard.lead_class(reach.leads_m)[:, :, None]
        return np.concatenate([leads, self.yard.feeder_class(side.pole, reach.feeders_m)], axis=2)

    def money(self, units: int) -> Decimal | None:
        return None if units >= IMPOSSIBLE else self.costs.measure.money(units * SPLIT)


class _Grid:
    """Places of one bar about step_m apart, with their runs and classes."""

    def __init__(self, view: _View, of: int, step_m: float) -> None:
        side = view.sides[of]
        cells = whole_seats(side.seats, step_m)
        self.cells = cells[allowed_points(side.seats, cells)]
        self.reach = reach_at_centres(side, self.cells)
        self.rows = view.rows(side, self.reach)  # (q, ways, 1 + feeders)


def _least_beside(view: _View, grids: list[_Grid], of: int) -> tuple[Whole, Whole]:
    """For each place of one pole the least cost beside any place of the other, and the way of seating the feeders."""
    rows = grids[of].rows
    other = grids[1 - of].rows
    profile = undominated(other.reshape(-1, other.shape[2]))
    kinds, which = np.unique(rows.reshape(-1, rows.shape[2]), axis=0, return_inverse=True)
    least = scores_beside(view.yard, of, kinds, profile).min(axis=1)[which.reshape(rows.shape[:2])]
    way = least.argmin(axis=1)
    return np.take_along_axis(least, way[:, None], axis=1)[:, 0], way


def _map(view: _View, grids: list[_Grid], of: int) -> list[MapPoint]:
    side, grid = view.sides[of], grids[of]
    least, way = _least_beside(view, grids, of)
    points = []
    for q in range(len(grid.cells)):
        seat = side.seats[grid.cells.seat[q]]
        a, b = float(grid.cells.a[q]), float(grid.cells.b[q])
        units = int(least[q])
        points.append(
            MapPoint(
                side.pole,
                seat.bar_place(a, b),
                seat.turn,
                a,
                b,
                view.money(units),
                None if units >= IMPOSSIBLE else units,
                float(grid.reach.leads_m[q, way[q]]),
                _limit(view, grids, of, q) if units >= IMPOSSIBLE else _longest(view, side, grid.cells, q),
            )
        )
    return points


def _limit(view: _View, grids: list[_Grid], of: int, q: int) -> str:
    other = grids[1 - of].rows
    profile = undominated(other.reshape(-1, other.shape[2]))
    mine = grids[of].rows[q]
    over = view.costs.least_over(mine, profile) if of == 0 else view.costs.least_over(profile, mine)
    least_v = float(over.min())
    return f"drop {least_v:.3f} V over the limit" if math.isfinite(least_v) else "no stock is long enough"


def _longest(view: _View, side: Side, cells: Cells, q: int) -> str:
    """The string whose lead cannot be made shorter here, whichever stud it gets."""
    strings_m, _ = run_tables(side, cells[np.array([q])], bounds=False)
    return f"{view.problem.strings[int(strings_m[0].min(axis=1).argmax())].name} {side.pole}"


def _different(view: _View, grids: list[_Grid], best: Placing, count: int) -> tuple[Placing, ...]:
    """The best, then the next best of the grid that stand apart and differ from all before."""
    least, ways, chosen = [], [], []
    for of in (0, 1):
        score, way = _least_beside(view, grids, of)
        order = np.argsort(score, kind="stable")
        chosen.append(_spread(view, of, grids[of], order[score[order] < IMPOSSIBLE]))
        least.append(score)
        ways.append(way)
    if not len(chosen[0]) or not len(chosen[1]):
        return (best,)
    rows = [grids[of].rows[chosen[of], ways[of][chosen[of]]] for of in (0, 1)]
    score = scores_beside(view.yard, 0, rows[0], rows[1])
    centres = [centres_of(view.sides[of].seats, grids[of].cells[chosen[of]]) for of in (0, 1)]
    turns = [np.array([s.turn for s in view.sides[of].seats])[grids[of].cells.seat[chosen[of]]] for of in (0, 1)]
    one, two = (x.reshape(-1) for x in np.meshgrid(*(np.arange(len(c)) for c in chosen), indexing="ij"))
    cells = [grids[0].cells[chosen[0][one]], grids[1].cells[chosen[1][two]]]
    open_ = apart_enough(view.problem, view.sides, cells[0], cells[1]) & (score.reshape(-1) < IMPOSSIBLE)
    found = [best]
    while len(found) < count:
        last = found[-1]
        same = np.ones(len(one), dtype=bool)
        for of, (index, layout) in enumerate(((one, last.positive), (two, last.negative))):
            near = np.linalg.norm(centres[of] - np.array(layout.place.centre), axis=1) < DIFFERENT_M
            same &= (near & (turns[of] == layout.turn))[index]
        open_ &= ~same
        left = np.flatnonzero(open_)
        if not len(left):
            break
        pair = left[score.reshape(-1)[left].argmin()]
        spots = [
            _spot(grids[of].cells, chosen[of][index[pair]], int(ways[of][chosen[of][index[pair]]]))
            for of, index in ((0, one), (1, two))
        ]
        found.append(placing(view.problem, view.costs, view.sides, (spots[0], spots[1])))
    return tuple(found)


def _spread(view: _View, of: int, grid: _Grid, order: Whole) -> Whole:
    """At most MOST_PAIRED places of a pole, the cheapest of each face and turn in turn."""
    seats = grid.cells.seat[order]
    rank = np.empty(len(order), dtype=np.int64)
    for number in range(len(view.sides[of].seats)):
        mine = seats == number
        rank[mine] = np.arange(mine.sum())
    return order[np.argsort(rank, kind="stable")[:MOST_PAIRED]]


def _spot(cells: Cells, q: int, way: int) -> Spot:
    return Spot(int(cells.seat[q]), float(cells.a[q]), float(cells.b[q]), way)


def _moves(view: _View, best: Placing) -> list[Move]:
    moves = []
    base = _score(view, best)
    for of, (side, spot) in enumerate(zip(view.sides, best.spots, strict=True)):
        seat = side.seats[spot.seat]
        if seat.place is not None:
            continue
        beside = class_row(view.costs, (best.negative, best.positive)[of])
        for name, da, db in (("+u", MOVE_M, 0), ("-u", -MOVE_M, 0), ("+v", 0, MOVE_M), ("-v", 0, -MOVE_M)):
            a, b = spot.a + da, spot.b + db
            cell = Spot(spot.seat, a, b, 0).cell()
            other = best.spots[1 - of].cell()
            if not (seat.low[0] <= a <= seat.high[0] and seat.low[1] <= b <= seat.high[1]):
                moves.append(Move(side.pole, name, None, "off the face"))
            elif not allowed_points(side.seats, cell)[0]:
                moves.append(Move(side.pole, name, None, "a forbidden zone"))
            elif not apart_enough(view.problem, view.sides, *((cell, other) if of == 0 else (other, cell)))[0]:
                moves.append(Move(side.pole, name, None, "too near the other bus bar"))
            else:
                rows = view.rows(side, reach_at_centres(side, cell))[0]
                units = int(scores_beside(view.yard, of, rows, beside).min())
                if units >= IMPOSSIBLE:
                    moves.append(Move(side.pole, name, None, "a limit is broken or no stock is long enough"))
                else:
                    moves.append(Move(side.pole, name, view.costs.measure.money((units - base) * SPLIT)))
    return moves


def _score(view: _View, best: Placing, longer_m: float = 0.0) -> int:
    rows = []
    for layout in (best.positive, best.negative):
        longer = replace(
            layout,
            lead_runs_m=tuple(run + longer_m for run in layout.lead_runs_m),
            feeder_runs_m=tuple(run + longer_m for run in layout.feeder_runs_m),
        )
        rows.append(class_row(view.costs, longer))
    return int(view.yard.scores(rows[0], rows[1])[0, 0])


def _to_next_step(view: _View, best: Placing) -> float | None:
    """How much longer every run may turn out at the same cost, to a hundredth of a millimetre."""
    base = _score(view, best)
    low_m, high_m = 0.0, LONGEST_STEP_M
    if _score(view, best, high_m) <= base:
        return None
    while high_m - low_m > 1e-5:
        middle_m = (low_m + high_m) / 2
        if _score(view, best, middle_m) <= base:
            low_m = middle_m
        else:
            high_m = middle_m
    return low_m


def _front(view: _View, best: Placing) -> tuple[FrontPoint, ...]:
    """Cost against drop: the drop limits tightened step by step, each time the least cost that still holds them."""
    front = [FrontPoint(best.build.money, best.worst_drop_v, best)]
    problem, sides = view.problem, view.sides
    share = _used_share(problem, best)
    while problem.circuits and len(front) < FRONT_POINTS and share > 0:
        share -= max(FRONT_STEP * share, 1e-9)
        tighter = replace(
            problem, circuits=tuple(replace(c, drop_limit_v=c.drop_limit_v * share) for c in problem.circuits)
        )
        costs = view.costs.with_limits(tighter)
        found = search(tighter, sides, LeastCost(costs), finest_m=0.002, most_cells=5_000)
        if found.spots is None:
            break
        placed = placing(tighter, costs, sides, found.spots)
        if placed.build.money == front[-1].cost:
            front.pop()  # the same money buys a smaller drop
        front.append(FrontPoint(placed.build.money, placed.worst_drop_v, placed))
        share = min(share, _used_share(problem, placed))
    return tuple(front)


def _used_share(problem: PlaceProblem, placed: Placing) -> float:
    pairs = zip(placed.build.drops_v, problem.circuits, strict=True)
    return max((drop / c.drop_limit_v for drop, c in pairs if c.drop_limit_v > 0), default=0.0)
