"""What every place on a face would cost, the other bus bar standing where that suits it best."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from cutlist.bank.bus_bars import BarPlace
from cutlist.layout.cells import Cells, allowed_points, joined, whole_seats
from cutlist.layout.place_costs import POLES, PlaceCosts
from cutlist.layout.place_pairs import Spot, Yardstick, scores_beside, undominated
from cutlist.layout.place_problem import Array, PlaceProblem
from cutlist.layout.place_sides import Reach, Side, reach_at_centres, run_tables, side_of
from cutlist.layout.stud_fits import cases, firsts_of
from cutlist.layout.yardsticks import Coarse, LeastCost
from cutlist.stock.price_table import IMPOSSIBLE, SPLIT, Whole


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
    longest_lead: str  # whose run sets the length
    limit: str = ""  # the limit that forbids this place; "" when it can be built
    laid_um: int | None = None  # leads and feeders of both poles, as cut; None where nothing can be built


class View:
    """The problem with its two sides and its prices, worked out once. With unlike studs it is one case of it.

    `coarse_um`: runs are rounded up to this, so that fewer prices are asked; a cost is then never told too low.
    """

    def __init__(self, problem: PlaceProblem, costs: PlaceCosts | None = None, coarse_um: int = 0) -> None:
        self.problem = problem
        self.costs = PlaceCosts(problem) if costs is None else costs.with_limits(problem)
        self.sides = (side_of(problem, "positive"), side_of(problem, "negative"))
        least = LeastCost(self.costs)
        self.yard: Yardstick = Coarse(least, coarse_um, up=True) if coarse_um else least

    def places(self, of: int, step_m: float) -> Cells:
        """Where the bar of a pole may stand, about step_m apart, each way of mounting it on a grid of its own."""
        side = self.sides[of]
        cells = whole_seats(side.seats, step_m)
        return cells[allowed_points(side.seats, cells)]

    def places_on_one_grid(self, of: int, step_m: float) -> Cells:
        """The same at the middles of equal squares of each face, however the bar is mounted; places stated as such."""
        side = self.sides[of]
        parts = []
        for number, seat in enumerate(side.seats):
            if seat.place is not None:
                a, b = np.zeros(1), np.zeros(1)
            else:
                columns = [_middles(2 * seat.middle[i], step_m, seat.low[i], seat.high[i]) for i in (0, 1)]
                a, b = (x.reshape(-1) for x in np.meshgrid(*columns, indexing="ij"))
            none = np.zeros(len(a))
            parts.append(Cells(np.full(len(a), number), a, b, none, none))
        cells = joined(parts)
        return cells[allowed_points(side.seats, cells)]

    def rows(self, side: Side, reach: Reach) -> Whole:
        leads = self.yard.lead_class(reach.leads_m)[:, :, None]
        return np.concatenate([leads, self.yard.feeder_class(side.pole, reach.feeders_m)], axis=2)

    def money(self, units: int) -> Decimal | None:
        return None if units >= IMPOSSIBLE else self.costs.measure.money(units * SPLIT)


def _middles(size_m: float, step_m: float, low_m: float, high_m: float) -> np.ndarray:
    """Middles of the equal parts of a side that are allowed; the middle of what is allowed when none is."""
    count = max(1, round(size_m / step_m))
    middles = (np.arange(count) + 0.5) * size_m / count
    kept = middles[(middles >= low_m - 1e-9) & (middles <= high_m + 1e-9)]
    return kept if len(kept) else np.array([(low_m + high_m) / 2])


class Grid:
    """Places of one bar with their runs and classes."""

    def __init__(self, view: View, of: int, places: Cells) -> None:
        side = view.sides[of]
        self.cells = places
        self.reach = reach_at_centres(side, self.cells)
        self.rows = view.rows(side, self.reach)  # (q, ways, 1 + feeders)


def face_map(
    problem: PlaceProblem, costs: PlaceCosts | None = None, *, step_m: float, coarse_um: int = 0
) -> tuple[MapPoint, ...]:
    """Every place of both bars at the middles of squares of the faces, about step_m wide."""
    return cheapest_points([_map_of(view, step_m) for view in views_of_cases(problem, costs, coarse_um)])


def _map_of(view: View, step_m: float) -> tuple[MapPoint, ...]:
    grids = [Grid(view, i, view.places_on_one_grid(i, step_m)) for i in (0, 1)]
    return (*points_of(view, grids, 0), *points_of(view, grids, 1))


def views_of_cases(problem: PlaceProblem, costs: PlaceCosts | None = None, coarse_um: int = 0) -> list[View]:
    """One for each group of conductors that find studs enough."""
    asked = cases(problem)
    if asked[0] is problem:
        return [View(problem, costs, coarse_um)]
    of_all = PlaceCosts(problem) if costs is None else costs.with_limits(problem)
    found = []
    for case in asked:
        if firsts_of(case, "positive") and firsts_of(case, "negative"):
            found.append(View(case, of_all.of_case(case), coarse_um))
    return found


def cheapest_points(maps: Sequence[tuple[MapPoint, ...]]) -> tuple[MapPoint, ...]:
    """Of the same place in several maps the one that costs least; a place that is in one map only as it is there."""
    if len(maps) == 1:
        return maps[0]
    best: dict[tuple[str, BarPlace, int], MapPoint] = {}
    for point in (p for points in maps for p in points):
        key = (point.pole, point.place, point.turn)
        if key not in best or _dearness(point) < _dearness(best[key]):
            best[key] = point
    return tuple(sorted(best.values(), key=lambda p: POLES.index(p.pole)))


def _dearness(point: MapPoint) -> tuple[bool, int, float]:
    return point.units is None, point.units or 0, point.longest_m


def least_beside(view: View, grids: Sequence[Grid], of: int) -> tuple[Whole, Whole, Whole]:
    """For each place of one pole the least cost beside any place of the other, the way of seating the feeders, and the
    classes (q, 1 + feeders) of that other place."""
    rows = grids[of].rows
    other = grids[1 - of].rows
    profile = undominated(other.reshape(-1, other.shape[2]))
    kinds, which = np.unique(rows.reshape(-1, rows.shape[2]), axis=0, return_inverse=True)
    score = scores_beside(view.yard, of, kinds, profile)
    which = which.reshape(rows.shape[:2])
    least = score.min(axis=1)[which]
    way = least.argmin(axis=1)
    kind = np.take_along_axis(which, way[:, None], axis=1)[:, 0]
    return np.take_along_axis(least, way[:, None], axis=1)[:, 0], way, profile[score.argmin(axis=1)[kind]]


def points_of(view: View, grids: Sequence[Grid], of: int) -> tuple[MapPoint, ...]:
    side, grid = view.sides[of], grids[of]
    if not len(grid.cells) or not len(grids[1 - of].cells):
        return ()
    least, way, beside = least_beside(view, grids, of)
    laid_um = _Laid(view, of)
    longest = _longest(view, side, grid.cells)
    over_v = _over_v(view, grids, of, np.flatnonzero(least >= IMPOSSIBLE))
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
                _known(grid.reach.leads_m[q], int(way[q])),
                longest[q],
                _limit(over_v[q]) if q in over_v else "",
                None if units >= IMPOSSIBLE else laid_um(grid.rows[q, way[q]], beside[q]),
            )
        )
    return tuple(points)


def _known(leads_m: Array, way: int) -> float:
    """The longest lead of a way of seating the feeders; of any where this one does not suit how the bar lies there."""
    return float(leads_m[way]) if math.isfinite(leads_m[way]) else float(leads_m.min())


class _Laid:
    """Cable of leads and feeders for two classes; the same classes are asked for at many places."""

    def __init__(self, view: View, of: int) -> None:
        self.view, self.of = view, of
        self.known: dict[tuple[bytes, bytes], int] = {}

    def __call__(self, mine: Whole, other: Whole) -> int:
        key = (mine.tobytes(), other.tobytes())
        if key not in self.known:
            rows = [row[None] for row in ((mine, other) if self.of == 0 else (other, mine))]
            build = self.view.costs.build(rows[0], rows[1])
            leads_um = self.view.costs.leads_bought * sum(build.lead_cuts_um)
            self.known[key] = leads_um + sum(build.feeder_cuts_um)
        return self.known[key]


def _over_v(view: View, grids: Sequence[Grid], of: int, which: Whole) -> dict[int, float]:
    """For places at which nothing can be built: volts over the drop limit at best; infinite without stock."""
    if not len(which):
        return {}
    other = grids[1 - of].rows
    profile = undominated(other.reshape(-1, other.shape[2]))
    found = {}
    for q in which.tolist():
        mine = grids[of].rows[q]
        over = view.costs.least_over(mine, profile) if of == 0 else view.costs.least_over(profile, mine)
        found[q] = float(over.min())
    return found


def _limit(over_v: float) -> str:
    return f"drop {over_v:.3f} V over the limit" if math.isfinite(over_v) else "no stock is long enough"


def _longest(view: View, side: Side, cells: Cells) -> list[str]:
    """The lead that cannot be made shorter at each place, whichever stud it gets."""
    strings_m, _ = run_tables(side, cells, bounds=False)
    names = [f"{string.name} {side.pole}" for string in view.problem.strings]
    return [names[i] for i in strings_m.min(axis=2).argmax(axis=1).tolist()]


def spot_of(cells: Cells, q: int, way: int) -> Spot:
    return Spot(int(cells.seat[q]), float(cells.a[q]), float(cells.b[q]), way)
