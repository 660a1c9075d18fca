"""What other places would cost: a map of each face, the best different places, small moves, and cost against drop."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np

from cutlist.layout.bus_bar_places import Places
from cutlist.layout.cells import allowed_points, centres_of
from cutlist.layout.face_maps import (
    Grid,
    MapPoint,
    View,
    cheapest_points,
    least_beside,
    points_of,
    spot_of,
    views_of_cases,
)
from cutlist.layout.least_scrap import scrap_beside
from cutlist.layout.place_costs import PlaceCosts
from cutlist.layout.place_descent import descended
from cutlist.layout.place_pairs import Spot, apart_enough, scores_beside
from cutlist.layout.place_problem import PlaceProblem
from cutlist.layout.place_search import search
from cutlist.layout.place_sides import reach_at_centres
from cutlist.layout.placings import Placing, class_row, placing
from cutlist.layout.stud_fits import case_with
from cutlist.layout.yardsticks import DROP_STEP_V, LeastCost, LeastDrop
from cutlist.stock.price_table import IMPOSSIBLE, SPLIT, Whole

MAP_STEP_M = 0.050
DIFFERENT_M = 0.100  # two pairs of places differ when one of the bars is this far off, or turned, not end for end
MOVE_M = 0.050
LONGEST_STEP_M = 2.0  # how much longer all runs are made in looking for the next cost step
FRONT_STEP = 0.003  # a drop that can be made smaller by no more than this share is the least there is
FRONT_POINTS = 8
FRONT_CELL_M = 0.01  # the front is told within this, and within this share of the cost
FRONT_WITHIN = 0.01
SAME_MONEY = Decimal("0.005")
MOST_PAIRED = 400  # places of a pole that are paired with each other


@dataclass(frozen=True)
class Move:
    """The bar moved by 50 mm, the other one staying; studs may change."""

    pole: str
    along: str  # "+u", "-u", "+v", "-v" of the face
    more: Decimal | None  # money more than the best; None: cannot be built there, or metres are counted
    more_um: int | None = None  # cable bought more, where metres are counted
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


def landscape(
    problem: PlaceProblem,
    places: Places,
    *,
    step_m: float = MAP_STEP_M,
    count: int = 10,
    costs: PlaceCosts | None = None,
    front: bool = True,
) -> Landscape:
    """Without `front` cost is not held against drop, which takes a search for each point of it.

    With unlike studs the map is told for all conductors, the rest for those whose lugs go on the same studs as the
    best's. Raises ValueError if there is no best pair of places to compare with.
    """
    if places.best is None:
        raise ValueError(f"no landscape without places: {places.why_not}")
    build = places.best.build
    case = case_with(problem, build.lead_conductor, build.feeder_conductor)
    view = View(problem, costs) if case is problem else _view_of_case(problem, case, costs)
    grids = [Grid(view, i, view.places(i, step_m)) for i in (0, 1)]
    points = [(*points_of(view, grids, 0), *points_of(view, grids, 1))]
    if case is not problem:
        for other in views_of_cases(problem, costs):
            if other.problem.pairs != case.pairs:
                theirs = [Grid(other, i, other.places(i, step_m)) for i in (0, 1)]
                points.append((*points_of(other, theirs, 0), *points_of(other, theirs, 1)))
    return Landscape(
        cheapest_points(points),
        _different(view, grids, places.best, count),
        tuple(_moves(view, places.best)),
        _to_next_step(view, places.best),
        _front(view, places.best) if front else (),
    )


def _view_of_case(problem: PlaceProblem, case: PlaceProblem, costs: PlaceCosts | None) -> View:
    of_all = PlaceCosts(problem) if costs is None else costs.with_limits(problem)
    return View(case, of_all.of_case(case))


def best_on_grid(problem: PlaceProblem, step_m: float) -> Decimal | None:
    """Least money among places about step_m apart, the likeliest of each pole paired: as if tried one by one.

    None if none serves.
    """
    found = [_best_on_grid(view, step_m) for view in views_of_cases(problem)]
    return min((cost for cost in found if cost is not None), default=None)


def _best_on_grid(view: View, step_m: float) -> Decimal | None:
    problem = view.problem
    grids = [Grid(view, i, view.places(i, step_m)) for i in (0, 1)]
    least = [least_beside(view, grids, of) for of in (0, 1)]
    picks = [np.argsort(score, kind="stable")[:MOST_PAIRED] for score, _, _ in least]
    rows = [grid.rows[pick, way[pick]] for grid, pick, (_, way, _) in zip(grids, picks, least, strict=True)]
    score = scores_beside(view.yard, 0, rows[0], rows[1])
    i, j = np.unravel_index(np.argsort(score, axis=None, kind="stable"), score.shape)
    fine = apart_enough(problem, view.sides, grids[0].cells[picks[0][i]], grids[1].cells[picks[1][j]])
    best = int(score[i[fine], j[fine]].min(initial=IMPOSSIBLE))
    return view.money(best)


def _different(view: View, grids: list[Grid], best: Placing, count: int) -> tuple[Placing, ...]:
    """The best, then the next best of the grid that stand apart and differ from all before."""
    least, ways, chosen = [], [], []
    for of in (0, 1):
        score, way, _ = least_beside(view, grids, of)
        order = np.argsort(score, kind="stable")
        chosen.append(_spread(view, of, grids[of], order[score[order] < IMPOSSIBLE]))
        least.append(score)
        ways.append(way)
    if not len(chosen[0]) or not len(chosen[1]):
        return (best,)
    rows = [grids[of].rows[chosen[of], ways[of][chosen[of]]] for of in (0, 1)]
    score = _scrap_or_cost(view, rows[0], rows[1]).reshape(-1)
    rank = np.empty(len(score), dtype=np.int64)  # of one cost those with less cable first
    rank[np.lexsort((view.costs.total_um(rows[0], rows[1]).reshape(-1), score))] = np.arange(len(score))
    centres = [centres_of(view.sides[of].seats, grids[of].cells[chosen[of]]) for of in (0, 1)]
    turns = [np.array([s.turn % 180 for s in view.sides[of].seats])[grids[of].cells.seat[chosen[of]]] for of in (0, 1)]
    one, two = (x.reshape(-1) for x in np.meshgrid(*(np.arange(len(c)) for c in chosen), indexing="ij"))
    cells = [grids[0].cells[chosen[0][one]], grids[1].cells[chosen[1][two]]]
    open_ = apart_enough(view.problem, view.sides, cells[0], cells[1]) & (score < IMPOSSIBLE)
    found = [best]
    while len(found) < count:
        last = found[-1]
        same = np.ones(len(one), dtype=bool)
        for of, (index, layout) in enumerate(((one, last.positive), (two, last.negative))):
            near = np.linalg.norm(centres[of] - np.array(layout.place.centre), axis=1) < DIFFERENT_M
            same &= (near & (turns[of] == layout.turn % 180))[index]
        open_ &= ~same
        left = np.flatnonzero(open_)
        if not len(left):
            break
        pair = left[rank[left].argmin()]
        spots = [
            spot_of(grids[of].cells, chosen[of][index[pair]], int(ways[of][chosen[of][index[pair]]]))
            for of, index in ((0, one), (1, two))
        ]
        found.append(placing(view.problem, view.costs, view.sides, (spots[0], spots[1])))
    return tuple(found)


def _scrap_or_cost(view: View, positive: Whole, negative: Whole) -> Whole:
    """What is least first for the job: cable left over where it asks for least waste, else cost."""
    if view.problem.stock.rules.least_waste:
        return scrap_beside(view.costs, positive, negative)[0]
    return scores_beside(view.yard, 0, positive, negative)


def _spread(view: View, of: int, grid: Grid, order: Whole) -> Whole:
    """At most MOST_PAIRED places of a pole, the cheapest of each face and turn in turn."""
    seats = grid.cells.seat[order]
    rank = np.empty(len(order), dtype=np.int64)
    for number in range(len(view.sides[of].seats)):
        mine = seats == number
        rank[mine] = np.arange(mine.sum())
    return order[np.argsort(rank, kind="stable")[:MOST_PAIRED]]


def _moves(view: View, best: Placing) -> list[Move]:
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
                moves.append(Move(side.pole, name, None, why_not="off the face"))
            elif not allowed_points(side.seats, cell)[0]:
                moves.append(Move(side.pole, name, None, why_not="forbidden, or taken by what stands there"))
            elif not apart_enough(view.problem, view.sides, *((cell, other) if of == 0 else (other, cell)))[0]:
                moves.append(Move(side.pole, name, None, why_not="too near the other bus bar"))
            else:
                rows = view.rows(side, reach_at_centres(side, cell))[0]
                units = int(scores_beside(view.yard, of, rows, beside).min())
                if units >= IMPOSSIBLE:
                    moves.append(Move(side.pole, name, None, why_not="a limit is broken or no stock is long enough"))
                else:
                    more = units - base
                    metres = view.costs.measure.first == "metres"
                    money = view.costs.measure.money(more * SPLIT)
                    moves.append(Move(side.pole, name, money, more if metres else None))
    return moves


def _score(view: View, best: Placing, longer_m: float = 0.0) -> int:
    rows = []
    for layout in (best.positive, best.negative):
        longer = replace(
            layout,
            lead_runs_m=tuple(run + longer_m for run in layout.lead_runs_m),
            feeder_runs_m=tuple(run + longer_m for run in layout.feeder_runs_m),
        )
        rows.append(class_row(view.costs, longer))
    return int(view.yard.scores(rows[0], rows[1])[0, 0])


def _to_next_step(view: View, best: Placing) -> float | None:
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


def _front(view: View, best: Placing) -> tuple[FrontPoint, ...]:
    """Cost against drop: from the best to the least drop there is, the drop limits tightened in even steps, each time
    the least cost that still holds them."""
    front = [FrontPoint(best.build.money, best.worst_drop_v, best)]
    problem = view.problem
    end = _least_drop(view) if problem.circuits else None
    if end is None:
        return tuple(front)
    first, last = _used_share(problem, best), _used_share(problem, end)
    for share in np.linspace(first, last, FRONT_POINTS)[1:].tolist() if last < first * (1 - FRONT_STEP) else ():
        placed = end if share == last else None
        limits = tuple(replace(c, drop_limit_v=c.drop_limit_v * share * (1 + 1e-9)) for c in problem.circuits)
        tighter = replace(problem, circuits=limits)
        costs = view.costs.with_limits(tighter)
        found = search(
            tighter,
            view.sides,
            LeastCost(costs),
            known=None if placed is None else placed.spots,
            finest_m=FRONT_CELL_M,
            within=FRONT_WITHIN,
            most_cells=5_000,
            coarsely=True,
        )
        if found.spots is not None:
            spots, _ = descended(tighter, view.sides, LeastCost(costs), found.spots, found.score)
            placed = placing(tighter, costs, view.sides, spots)
        if placed is None or placed.worst_drop_v > front[-1].worst_drop_v - 1e-6:
            continue
        while front and _paid(placed) <= _paid(front[-1].placing) + SAME_MONEY:
            front.pop()  # no more buys a smaller drop
        front.append(FrontPoint(placed.build.money, placed.worst_drop_v, placed))
    return tuple(front)


def _paid(placed: Placing) -> Decimal:
    """Money; where it is not counted, millimetres bought."""
    return Decimal(placed.build.bought_mm) if placed.build.money is None else placed.build.money


def _least_drop(view: View) -> Placing | None:
    """The places and conductors of least drop, to a hundredth of the limit."""
    limit_v = max(circuit.drop_limit_v for circuit in view.problem.circuits)
    found = search(
        view.problem,
        view.sides,
        LeastDrop(view.costs),
        finest_m=FRONT_CELL_M,
        near_enough=round(FRONT_WITHIN * limit_v / DROP_STEP_V),
        most_cells=5_000,
        coarsely=True,
    )
    if found.spots is None:
        return None
    return placing(view.problem, view.costs, view.sides, found.spots, least_drop=True)


def _used_share(problem: PlaceProblem, placed: Placing) -> float:
    pairs = zip(placed.build.drops_v, problem.circuits, strict=True)
    return max((drop / c.drop_limit_v for drop, c in pairs if c.drop_limit_v > 0), default=0.0)
