"""Bus bars put where one would put them without looking: what the joint answer is held against."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import product

import numpy as np

from cutlist.layout.cells import Cells, allowed_points, centres_of, joined, whole_seats
from cutlist.layout.place_costs import PlaceCosts
from cutlist.layout.place_pairs import Spot, apart_enough
from cutlist.layout.place_problem import ConductorChoice, PlaceProblem
from cutlist.layout.place_sides import Side, reach_at_centres, side_of
from cutlist.layout.placings import Placing, placing
from cutlist.layout.stud_fits import cases
from cutlist.stock.cut_plan import Piece
from cutlist.stock.first_fit_bill import first_fit_bill

STEP_M = 0.020  # between the places looked at, round the middle of a face
NEAREST = 300  # of them, for each bar


@dataclass(frozen=True)
class Naive:
    """Both bars as near the middles of their first faces as they may stand, the smallest conductors, cuts first-fit."""

    placing: Placing
    holds_drop: bool  # False: no conductor holds the drop limit there; the one of least drop is counted
    money: Decimal | None  # cable and lugs of both poles; None when the measure is metres
    bought_um: int
    laid_um: int  # cable in leads, feeders and what else is cut from the same spools


def naive_answer(problem: PlaceProblem, costs: PlaceCosts) -> Naive | None:
    """None where the bars cannot stand so, or the stock does not yield the pieces first-fit.

    Runs are those of the problem, as the search has them. The smallest conductors are the leads' first, then the
    feeders', of those that carry their current and hold the drop there.
    """
    stands = [(case, _in_the_middle(case)) for case in cases(problem)]
    free = replace(problem, circuits=())
    found, holds = None, True
    for rule in (problem, free):
        for as_if in _smallest_first(rule):
            case, at = next(one for one in stands if _speaks_of(one[0], as_if))
            if at is None:
                continue
            try:
                found = placing(as_if, PlaceCosts(as_if), *at)
            except ValueError:
                continue
            if not holds:
                found = placing(case, costs.of_case(case), *at, least_drop=True)
            break
        if found is not None:
            break
        holds = False
    if found is None:
        return None
    pieces = pieces_built(problem, found)
    bill = first_fit_bill(pieces, problem.stock, in_money=costs.measure.first == "money")
    if bill is None:
        return None
    money = None if bill.money is None else bill.money + _other_price(problem, found)
    return Naive(found, holds, money, bill.bought_um, sum(p.length_um for p in pieces))


Stand = tuple[tuple[Side, Side], tuple[Spot, Spot]]


def _in_the_middle(problem: PlaceProblem) -> Stand | None:
    """Both bars as near the middles as they may stand; None where they cannot."""
    try:
        sides = (side_of(problem, "positive"), side_of(problem, "negative"))
    except ValueError:  # studs that take its lugs do not suffice
        return None
    spots = _middle_spots(problem, sides)
    return None if spots is None else (sides, spots)


def _speaks_of(case: PlaceProblem, as_if: PlaceProblem) -> bool:
    """Whether the one pair of conductors of a problem is among those of a case."""
    lead, feeder = as_if.lead_conductors[0], next(iter(as_if.feeder_conductors), None)
    return case.together(lead, feeder)


def pieces_built(problem: PlaceProblem, placed: Placing) -> tuple[Piece, ...]:
    """Every piece that is cut for a pair of places, what does not move with them included."""
    build = placed.build
    pieces = []
    for pole, cut_um in zip(("positive", "negative"), build.lead_cuts_um, strict=True):
        for string in (s for s in problem.strings if not s.later):
            pieces.append(Piece(f"{string.name} {pole}", build.lead_conductor, problem.colour_of(pole), cut_um))
    for feeder, cut_um in zip(problem.feeders, build.feeder_cuts_um, strict=True):
        pieces.append(Piece(feeder.name, build.feeder_conductor, problem.colour_of(feeder.pole), cut_um))
    for number, other in enumerate(problem.other_pieces):
        conductor = build.feeder_conductor if other.as_feeders and build.feeder_conductor else other.conductor
        for copy in range(other.count):
            pieces.append(Piece(f"other {number} {copy}", conductor, other.colour, other.length_um))
    colours = {problem.positive_colour, problem.negative_colour}  # the price of other colours is the same anywhere
    return tuple(p for p in pieces if p.length_um > 0 and p.colour in colours)


def _smallest_first(problem: PlaceProblem) -> list[PlaceProblem]:
    """The problem with one pair of conductors after the other, most ohms first."""
    feeders: tuple[ConductorChoice | None, ...] = problem.feeder_conductors if problem.feeders else (None,)
    pairs = [
        (lead, feeder) for lead, feeder in product(problem.lead_conductors, feeders) if problem.together(lead, feeder)
    ]
    pairs.sort(key=lambda p: (-p[0].ohm_per_m, -(p[1].ohm_per_m if p[1] else 0.0), p[0].name))
    return [replace(problem, lead_conductors=(a,), feeder_conductors=(b,) if b else ()) for a, b in pairs]


def _other_price(problem: PlaceProblem, placed: Placing) -> Decimal:
    lead = next(c for c in problem.lead_conductors if c.name == placed.build.lead_conductor)
    feeder = next((c for c in problem.feeder_conductors if c.name == placed.build.feeder_conductor), None)
    return problem.other_price(lead, feeder)


def _middle_spots(problem: PlaceProblem, sides: tuple[Side, Side]) -> tuple[Spot, Spot] | None:
    """Of the pairs that may stand together the one nearest to the middles, each bar in its first turn."""
    near = [_round_the_middle(side) for side in sides]
    if not len(near[0][0]) or not len(near[1][0]):
        return None
    one, two = (x.reshape(-1) for x in np.meshgrid(*(np.arange(len(cells)) for cells, _ in near), indexing="ij"))
    fine = np.flatnonzero(apart_enough(problem, sides, near[0][0][one], near[1][0][two]))
    if not len(fine):
        return None
    # of the same distance in sum, that which moves neither far
    off = np.column_stack([near[0][1][one[fine]], near[1][1][two[fine]]])
    best = fine[int(np.argmin(np.round((off**2).sum(axis=1), 9)))]
    first, second = (
        _spot(side, cells, int(i[best])) for side, (cells, _), i in zip(sides, near, (one, two), strict=True)
    )
    return first, second


def _round_the_middle(side: Side) -> tuple[Cells, np.ndarray]:
    """The places nearest to the middle of the first face, and how far off each is."""
    first = side.seats[0]
    like = (first.face, first.turn, first.first_stud)
    seats = [i for i, s in enumerate(side.seats) if (s.face, s.turn, s.first_stud) == like]
    cells = whole_seats(side.seats, STEP_M)
    middle = Cells(*(np.array([x]) for x in (seats[0], *_middle_of(side, seats[0]), 0.0, 0.0)))
    cells = joined([middle, cells[np.isin(cells.seat, seats)]])
    cells = cells[allowed_points(side.seats, cells)]
    if not len(cells):
        return cells, np.empty(0)
    seat = side.seats[seats[0]]
    wanted = seat.centres(*(np.array([x]) for x in _middle_of(side, seats[0])))
    off_m = np.linalg.norm(centres_of(side.seats, cells) - wanted, axis=1)
    order = np.argsort(off_m, kind="stable")[:NEAREST]
    return cells[order], off_m[order]


def _middle_of(side: Side, seat: int) -> tuple[float, float]:
    low, high = side.seats[seat].low, side.seats[seat].high
    return (low[0] + high[0]) / 2, (low[1] + high[1]) / 2


def _spot(side: Side, cells: Cells, q: int) -> Spot:
    """Feeders seated where leads are shortest, then feeders."""
    reach = reach_at_centres(side, cells[np.array([q])])
    ways = sorted(
        range(reach.leads_m.shape[1]),
        key=lambda w: (round(float(reach.leads_m[0, w]), 6), float(reach.feeders_m[0, w].sum()), w),
    )
    return Spot(int(cells.seat[q]), float(cells.a[q]), float(cells.b[q]), ways[0])
