"""A pair of places for the bus bars and all that follows from it: studs, runs, target, what is built."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutlist.bank.bus_bars import BarPlace
from cutlist.layout.assignment import assign
from cutlist.layout.place_costs import Build, PlaceCosts
from cutlist.layout.place_pairs import Spot, room_left
from cutlist.layout.place_problem import PlaceProblem
from cutlist.layout.place_sides import Side, run_tables
from cutlist.stock.price_table import Whole


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
    layouts = [layout_of(problem, side, spot) for side, spot in zip(sides, spots, strict=True)]
    build = costs.build(class_row(costs, layouts[0]), class_row(costs, layouts[1]), least_drop=least_drop)
    total_um = costs.leads_bought * sum(build.lead_cuts_um) + sum(build.feeder_cuts_um)
    target_m = max(max(layout.lead_runs_m) for layout in layouts)
    return Placing(layouts[0], layouts[1], target_m, build, total_um, spots)


def class_row(costs: PlaceCosts, layout: PoleLayout) -> Whole:
    """The class (1, 1 + feeders) of one pole as laid out."""
    lead = costs.lead_class(np.array([max(layout.lead_runs_m)]))
    feeders = np.array([layout.feeder_runs_m]).reshape(1, -1)
    return np.column_stack([lead, costs.feeder_class(layout.pole, feeders)])


def layout_of(problem: PlaceProblem, side: Side, spot: Spot) -> PoleLayout:
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
