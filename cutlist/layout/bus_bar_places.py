"""Where the bus bars go: places, studs, target, conductors and spools decided together, with a proof.

Least cost first; among places of that cost the fewest metres, then the least target, then the middle of the face.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from cutlist.layout.cells import Cells
from cutlist.layout.likely_places import likely_places
from cutlist.layout.place_costs import Pairs, PlaceCosts
from cutlist.layout.place_descent import descended
from cutlist.layout.place_problem import PlaceProblem
from cutlist.layout.place_search import FINEST_M, FIRST_CELL_M, Found, search
from cutlist.layout.place_sides import Side, side_of
from cutlist.layout.placings import Placing, placing
from cutlist.layout.settled_places import Asked, Likely, settled
from cutlist.layout.stud_fits import cases
from cutlist.layout.yardsticks import DROP_STEP_V, LeastCost, LeastDrop
from cutlist.progress import Progress, silent
from cutlist.stock.price_table import IMPOSSIBLE, SPLIT

ANY_COST = 0.99  # share of a cost below which nothing better is looked for: the first places found will do
COARSE_DROP_M = 0.02  # cells in the search for the least drop, when the cost is not asked for exactly either
SeatName = tuple[str, int, int]  # face, turn, first stud in use


@dataclass(frozen=True)
class Certificate:
    """What no other place on these faces can beat, and how that was shown.

    `bound` and `cost` are in the stock's whole units (`PlaceCosts.measure`); `leaves` are the cells that cover all
    places of each pole: in no pair of them can two bars cost less than `bound`.
    """

    cost: int
    bound: int
    examined: int  # cells
    open_cells: int  # not excluded; 0 when the cost is proved
    finest_m: float  # smallest cell
    speaks_of: str  # whose length: "straight runs", "run-length bounds"
    leaves: tuple[Cells, Cells]
    seats: tuple[tuple[SeatName, ...], tuple[SeatName, ...]]  # what the leaves' seat numbers mean, of each pole
    pairs: Pairs = None  # of conductors that the leaves speak of: whose lugs go on the same studs; None: all
    others: tuple[Certificate, ...] = ()  # of the other conductors that find studs enough

    @property
    def gap(self) -> float:
        """As a share of the cost; 0: proved least."""
        return (self.cost - self.bound) / self.cost if self.cost > self.bound else 0.0


@dataclass(frozen=True)
class Places:
    measure: str  # what cost is counted in: "money" or "metres" bought
    best: Placing | None
    cost: Decimal | None  # in money; None otherwise
    least_cost: Decimal | None  # proved: no places cost less
    certificate: Certificate | None
    why_not: str = ""  # when nothing is best
    nearest: Placing | None = None  # when the drop limit holds nowhere: where the drop is least
    over_v: float = 0.0  # and how far it is over the limit there


def find_places(
    problem: PlaceProblem,
    *,
    finest_m: float = FINEST_M,
    within: float = 0.0,
    closer: int = 0,
    costs: PlaceCosts | None = None,
    progress: Progress = silent,
) -> Places:
    """The best places, proved as far as the certificate tells; or why there are none.

    Cells are not made smaller than `finest_m`; places better by less than the share `within` are looked for only as
    long as no more than `closer` cells of a pole may hold them. `costs`: what is known already, of a problem that
    differs in where the bars may go or in its drop limits only.
    """
    costs = PlaceCosts(problem) if costs is None else costs.with_limits(problem)
    asked = cases(problem)
    if asked[0] is problem:
        return _found(_Case(problem, costs), finest_m, within, closer, progress)
    return _best_of_cases([_Case(case, costs.of_case(case)) for case in asked], finest_m, within, closer, progress)


@dataclass(frozen=True)
class _Case:
    """The question for conductors whose lugs go on the same studs, and what they cost."""

    problem: PlaceProblem
    costs: PlaceCosts


def _best_of_cases(asked: Sequence[_Case], finest_m: float, within: float, closer: int, progress: Progress) -> Places:
    """The best places of all cases; the others' only as far as it takes to show that they are no better.

    The bound is the least of all. A case for which the studs do not suffice has no places and no bound.
    """
    found: list[Places] = []
    best: Places | None = None
    for case in sorted(asked, key=_quick_score):
        below = IMPOSSIBLE if best is None or best.certificate is None else best.certificate.cost
        places = _found(case, finest_m, within, closer, progress, below)
        found.append(places)
        if places.best is not None:
            best = places
    if best is None:
        # where drop limits hold nowhere the places that miss them least; else the first reason
        return replace(min(found, key=lambda p: (p.nearest is None, p.over_v)), certificate=None)
    shown = [places.certificate for places in found if places.certificate is not None]
    main = best.certificate
    assert main is not None
    certificate = replace(
        main,
        bound=min(one.bound for one in shown),
        examined=sum(one.examined for one in shown),
        open_cells=sum(one.open_cells for one in shown),
        finest_m=min(one.finest_m for one in shown),
        others=tuple(one for one in shown if one is not main),
    )
    costs = asked[0].costs
    return replace(best, least_cost=costs.measure.money(certificate.bound * SPLIT), certificate=certificate)


def _quick_score(case: _Case) -> int:
    """Of the first places found, whatever they cost: cases that promise most are searched first."""
    try:
        sides = (side_of(case.problem, "positive"), side_of(case.problem, "negative"))
    except ValueError:
        return IMPOSSIBLE
    yard = LeastCost(case.costs)
    return search(case.problem, sides, yard, finest_m=FIRST_CELL_M, within=ANY_COST, coarsely=True).score


def _found(
    case: _Case, finest_m: float, within: float, closer: int, progress: Progress, below: int | None = None
) -> Places:
    """The best places of one case. `below`, of one case of several: those that cost less than so many units, and a
    certificate where there are none such too."""
    problem, costs = case.problem, case.costs
    try:
        sides = (side_of(problem, "positive"), side_of(problem, "negative"))
    except ValueError as fault:
        return _none(costs, str(fault))
    yard = LeastCost(costs)
    # where what is better by a little is not looked for, halving cells alone is quick enough
    likely = None if within else (likely_places(sides[0]), likely_places(sides[1]))
    found = search(
        problem,
        sides,
        yard,
        likely=likely,
        finest_m=finest_m,
        within=within,
        below=IMPOSSIBLE if below is None else below,
        coarsely=True,
        progress=progress,
    )
    if found.spots is None:
        dearer = below is not None and below < IMPOSSIBLE  # places there may be, but none that is looked for
        none = _none(costs, "") if dearer else _why_none(problem, costs, sides, found, likely, within)
        return none if below is None else replace(none, certificate=_certificate(problem, sides, found))
    spots, score = descended(problem, sides, yard, found.spots, found.score)
    found = replace(found, spots=spots, score=score)
    found, spots = settled(Asked(problem, costs, sides, likely, finest_m, within), found, closer)
    best = placing(problem, costs, sides, spots)
    return Places(
        costs.measure.first,
        best,
        best.build.money,
        costs.measure.money(found.bound * SPLIT),
        _certificate(problem, sides, found),
    )


def _certificate(problem: PlaceProblem, sides: tuple[Side, Side], found: Found) -> Certificate:
    names = [tuple((seat.face, seat.turn, seat.first_stud) for seat in side.seats) for side in sides]
    return Certificate(
        cost=found.score,
        bound=found.bound,
        examined=found.examined,
        open_cells=found.open_cells,
        finest_m=found.finest_m,
        speaks_of=problem.runs.speaks_of,
        leaves=found.leaves,
        seats=(names[0], names[1]),
        pairs=problem.pairs,
    )


def serves(problem: PlaceProblem, costs: PlaceCosts, finest_m: float) -> bool:
    """Whether a pair of places is found that holds every rule and limit, at whatever cost."""
    costs = costs.with_limits(problem)
    for case in cases(problem):
        try:
            sides = (side_of(case, "positive"), side_of(case, "negative"))
        except ValueError:
            continue
        yard = LeastCost(costs.of_case(case))
        if search(case, sides, yard, finest_m=finest_m, within=ANY_COST, coarsely=True).spots is not None:
            return True
    return False


def _why_none(
    problem: PlaceProblem,
    costs: PlaceCosts,
    sides: tuple[Side, Side],
    found: Found,
    likely: Likely,
    within: float,
) -> Places:
    """Which rule leaves no place: the drop, the distance between the bars, or the stock and the rules on length."""
    proved = "" if found.bound >= IMPOSSIBLE else " (none was found; that there is none is not proved)"
    near_v = within * max((c.drop_limit_v for c in problem.circuits), default=0.0)
    nearest = search(
        problem,
        sides,
        LeastDrop(costs),
        likely=likely,
        finest_m=COARSE_DROP_M if within else 0.0002,
        near_enough=round(near_v / DROP_STEP_V),
        coarsely=True,
    )
    if nearest.spots is not None:
        over_v = nearest.score * DROP_STEP_V
        placed = placing(problem, costs, sides, nearest.spots, least_drop=True)
        reason = f"the drop limit holds nowhere: at the best place the drop is {over_v:.4f} V over it{proved}"
        return replace(_none(costs, reason), nearest=placed, over_v=over_v)
    free = replace(problem, separation_m=0.0, same_face=None)
    if search(free, sides, LeastDrop(costs), likely=likely, finest_m=0.005).spots is not None:
        where = {True: " on one face", False: " on different faces", None: ""}[problem.same_face]
        return _none(costs, f"the two bus bars cannot stand {problem.separation_m * 1000:.0f} mm apart{where}{proved}")
    return _none(
        costs, f"no conductor in stock is long enough, or a rule on the length of runs is broken everywhere{proved}"
    )


def _none(costs: PlaceCosts, why: str) -> Places:
    return Places(costs.measure.first, None, None, None, None, why)
