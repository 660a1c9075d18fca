"""Where the bus bars go: places, studs, target, conductors and spools decided together, with a proof.

Least cost first; among places of that cost the fewest metres, then the least target, then the middle of the face.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import partial

import numpy as np

from cutlist.bank.bus_bars import BarPlace
from cutlist.layout.assignment import assign
from cutlist.layout.cells import Cells
from cutlist.layout.likely_places import likely_places
from cutlist.layout.place_costs import Build, Pairs, PlaceCosts
from cutlist.layout.place_descent import descended
from cutlist.layout.place_pairs import Spot, room_left, score_of_pair
from cutlist.layout.place_problem import PlaceProblem
from cutlist.layout.place_search import FINEST_M, FIRST_CELL_M, Found, search
from cutlist.layout.place_sides import Side, run_tables, side_of
from cutlist.layout.stud_fits import cases
from cutlist.layout.tidy_places import tidied
from cutlist.layout.yardsticks import DROP_STEP_V, LeastCost, LeastDrop, LeastMetres, LeastTarget
from cutlist.progress import Progress, silent
from cutlist.stock.price_table import IMPOSSIBLE, SPLIT, Whole
from geometry.cores import beside


@dataclass(frozen=True)
class PoleLayout:
    pole: str
    place: BarPlace
    turn: int
    string_studs: tuple[tuple[str, int], ...]  # stud of each string's lead, counted from 0 along the whole bar
    feeder_studs: tuple[tuple[str, int], ...]
    lead_runs_m: tuple[float, ...]  # in the order of the problem's strings
    feeder_runs_m: tuple[float, ...]


@dataclass(frozen=True)
class Placing:
    """A pair of places and all that follows from it."""

    positive: PoleLayout
    negative: PoleLayout
    target_m: float  # the longest lead of both poles
    build: Build
    total_um: int  # of all leads and feeders, as cut
    spots: tuple[Spot, Spot]

    @property
    def worst_drop_v(self) -> float:
        return max(self.build.drops_v, default=0.0)


CLEARLY_LESS = 0.01  # share of the cable
ANY_COST = 0.99  # share of a cost below which nothing better is looked for: the first places found will do
METRES_FINEST_M, TARGET_FINEST_M = 0.002, 0.0002  # cells in the search for fewest metres, for the least target
COARSE_DROP_M = 0.02  # cells in the search for the least drop, when the cost is not asked for exactly either
SeatName = tuple[str, int, int]  # face, turn, first stud in use
Likely = tuple[Cells, Cells] | None  # places of each pole worth a first look


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
    found, spots = _settled(_Asked(problem, costs, sides, likely, finest_m, within), found, closer)
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


def placing(
    problem: PlaceProblem,
    costs: PlaceCosts,
    sides: tuple[Side, Side],
    spots: tuple[Spot, Spot],
    *,
    least_drop: bool = False,
) -> Placing:
    """Studs, runs, target and what to build for bars at these spots.

    Raises ValueError if nothing in stock serves.
    """
    layouts = [_layout(problem, side, spot) for side, spot in zip(sides, spots, strict=True)]
    build = costs.build(class_row(costs, layouts[0]), class_row(costs, layouts[1]), least_drop=least_drop)
    total_um = costs.leads_bought * sum(build.lead_cuts_um) + sum(build.feeder_cuts_um)
    target_m = max(max(layout.lead_runs_m) for layout in layouts)
    return Placing(layouts[0], layouts[1], target_m, build, total_um, spots)


def class_row(costs: PlaceCosts, layout: PoleLayout) -> Whole:
    """The class (1, 1 + feeders) of one pole as laid out."""
    lead = costs.lead_class(np.array([max(layout.lead_runs_m)]))
    feeders = np.array([layout.feeder_runs_m]).reshape(1, -1)
    return np.column_stack([lead, costs.feeder_class(layout.pole, feeders)])


def _layout(problem: PlaceProblem, side: Side, spot: Spot) -> PoleLayout:
    seat = side.seats[spot.seat]
    strings_m, feeders_m = run_tables(side, spot.cell(), bounds=False)
    studs = assign(strings_m[0], room_left(side, spot.way))
    assert studs is not None  # a spot is only kept when its studs suffice
    seats = side.ways[spot.way]
    first = seat.first_stud
    return PoleLayout(
        side.pole,
        seat.bar_place(spot.a, spot.b),
        seat.turn,
        tuple((s.name, first + stud) for s, stud in zip(problem.strings, studs, strict=True)),
        tuple((f.name, first + int(stud)) for f, stud in zip(problem.feeders_of(side.pole), seats, strict=True)),
        tuple(float(strings_m[0, i, stud]) for i, stud in enumerate(studs)),
        tuple(float(feeders_m[0, i, stud]) for i, stud in enumerate(seats)),
    )


@dataclass(frozen=True)
class _Asked:
    """What is asked for, and how closely."""

    problem: PlaceProblem
    costs: PlaceCosts
    sides: tuple[Side, Side]
    likely: Likely
    finest_m: float
    within: float


def _settled(asked: _Asked, found: Found, closer: int) -> tuple[Found, tuple[Spot, Spot]]:
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


def _looked_closer(asked: _Asked, found: Found, most_cells: int) -> Found:
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


def _fewer_metres(asked: _Asked, spots: tuple[Spot, Spot], cost: int) -> tuple[Spot, Spot]:
    """A pair near this one that costs no more and takes clearly less cable, if there is one; a look that costs little.

    Where cost is known no finer, a little cable is not worth bars that have come as near to each other as they may.
    """
    yard = LeastMetres(asked.costs, cost)
    laid_um = score_of_pair(asked.sides, yard, spots)
    fewer, fewer_um = descended(asked.problem, asked.sides, yard, spots, laid_um)
    return fewer if fewer_um < (1 - CLEARLY_LESS) * laid_um else spots


def _fewest_metres(asked: _Asked, found: Found) -> tuple[Spot, Spot]:
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


def _least_target(asked: _Asked, spots: tuple[Spot, Spot]) -> tuple[Spot, Spot]:
    problem, costs, sides = asked.problem, asked.costs, asked.sides
    layouts = [_layout(problem, side, spot) for side, spot in zip(sides, spots, strict=True)]
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
