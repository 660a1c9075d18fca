"""One pole's side of the question: its bar, its terminals, and how long its runs are for bars anywhere."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutlist.layout.assignment import Index, feeder_seats, least_longest
from cutlist.layout.cells import Cells, Seat, seats_of, studs_of
from cutlist.layout.place_problem import Array, PlaceProblem, RunLengths

SLACK_M = 1e-9  # taken off every bound: no last bit of a square root may make it too long
TABLE = 4_000_000  # numbers in the largest table at a time


@dataclass(frozen=True, eq=False)
class Side:
    pole: str
    seats: tuple[Seat, ...]
    strings: Array  # (strings, 3) terminals
    feeders: Array  # (feeders, 3) far ends
    lugs_per_stud: int
    ways: Index  # (ways, feeders) studs for the feeders
    runs: RunLengths
    face_numbers: dict[str, int]  # the same for both poles

    @property
    def studs(self) -> int:
        return len(self.seats[0].studs)


@dataclass(frozen=True, eq=False)
class Reach:
    """Run lengths of q bars for each way of seating the feeders: leads (q, ways), feeders (q, ways, feeders), m."""

    leads_m: Array
    feeders_m: Array


def side_of(problem: PlaceProblem, pole: str) -> Side:
    """Raises ValueError with the reason if the bar fits nowhere or has too few studs."""
    bar = problem.bar(pole)
    seats = seats_of(problem, pole)
    if not seats:
        raise ValueError(f"the {pole} bus bar fits on none of its faces within the edge distance")
    feeders = problem.feeder_points(pole)
    used = bar.studs - bar.reserved_studs
    if used * bar.lugs_per_stud < len(problem.strings) + len(feeders):
        raise ValueError(
            f"the {pole} bus bar takes {used * bar.lugs_per_stud} lugs on {used} studs,"
            f" and {len(problem.strings) + len(feeders)} are needed"
        )
    ways = feeder_seats(used, len(feeders), bar.lugs_per_stud)
    names = sorted({face.name for face in problem.faces} | {place.face for b in problem.bars for place in b.places})
    numbers = {name: i for i, name in enumerate(names)}
    return Side(pole, seats, problem.string_points(pole), feeders, bar.lugs_per_stud, ways, problem.runs, numbers)


def run_tables(side: Side, cells: Cells, *, bounds: bool) -> tuple[Array, Array]:
    """Metres from the strings (q, strings, studs) and from the feeders (q, feeders, studs) to bars at the centres."""
    studs = studs_of(side.seats, cells)
    terminals = np.vstack([side.strings, side.feeders])
    of = side.runs.bounds if bounds else side.runs.lengths
    lies = np.repeat(np.stack([seat.lies for seat in side.seats])[cells.seat], side.studs, axis=0)
    table = of(terminals, studs.reshape(-1, 3), lies).reshape(len(terminals), len(cells), side.studs).swapaxes(0, 1)
    return table[:, : len(side.strings)], table[:, len(side.strings) :]


def reach_at_centres(side: Side, cells: Cells) -> Reach:
    """For bars at the cells' centres. Leads are exact where runs fall and then rise along the bar, else too short."""
    return _in_batches(side, cells, bounds=False, every_way=True)


def least_reach(side: Side, cells: Cells) -> Reach:
    """For bars anywhere in the cells, never too long, every way of seating the feeders."""
    return _in_batches(side, cells, bounds=True, every_way=True)


def ideal_reach(side: Side, cells: Cells) -> Reach:
    """The same with every feeder on the stud it likes best, the leads as if there were none: one way, quick."""
    return _in_batches(side, cells, bounds=True, every_way=False)


def _in_batches(side: Side, cells: Cells, *, bounds: bool, every_way: bool) -> Reach:
    per_bar = len(side.strings) * max(side.studs * (side.studs + 1) // 2, len(side.ways))
    step = max(1, TABLE // per_bar)
    parts = [
        _reach(side, cells[np.arange(start, min(start + step, len(cells)))], bounds, every_way)
        for start in range(0, max(len(cells), 1), step)
    ]
    return Reach(np.concatenate([p.leads_m for p in parts]), np.concatenate([p.feeders_m for p in parts]))


def _reach(side: Side, cells: Cells, bounds: bool, every_way: bool) -> Reach:
    strings_m, feeders_m = run_tables(side, cells, bounds=bounds)
    if every_way:
        leads_m = least_longest(strings_m, side.lugs_per_stud, side.ways)
        ends = np.arange(len(side.feeders))
        seated_m = feeders_m[:, ends[None, :], side.ways]
    else:
        no_feeder = np.empty((1, 0), dtype=np.int64)
        leads_m = least_longest(strings_m, side.lugs_per_stud, no_feeder)
        seated_m = feeders_m.min(axis=2)[:, None, :]
    if bounds:
        leads_m = np.maximum(leads_m - (cells.radius_m + SLACK_M)[:, None], 0.0)
        seated_m = np.maximum(seated_m - (cells.radius_m + SLACK_M)[:, None, None], 0.0)
    return Reach(leads_m, seated_m)
