"""One pole's side of the question: its bar, its terminals, and how long its runs are for bars anywhere."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from cutlist.layout.assignment import Index, feeder_seats, least_longest
from cutlist.layout.cells import Cells, Seat, seats_of, studs_of
from cutlist.layout.place_problem import Array, PlaceProblem, RunLengths
from cutlist.layout.stud_fits import BarFit, firsts_of, fit_of

SLACK_M = 1e-9  # taken off every bound: no last bit of a square root may make it too long
TABLE = 4_000_000  # numbers in the largest table at a time


@dataclass(frozen=True, eq=False)
class SeatFit:
    """What the studs in use of a bar take, counted from the first of them."""

    leads: Index  # studs that take a lead
    feeders: Index  # and a feeder
    ways: NDArray[np.bool_]  # (ways,) of seating the feeders: those that seat all and leave the leads room
    seats: Index  # (ways, feeders) the feeders' studs counted among `leads`; -1: on another


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
    fits: dict[int, SeatFit] | None = None  # of unlike studs, by the first stud in use; None: each takes every lug

    @property
    def studs(self) -> int:
        return len(self.seats[0].studs)

    def lead_columns(self, seat: int) -> Index:
        """Studs in use that take a lead, of a bar mounted so."""
        return np.arange(self.studs) if self.fits is None else self.fits[self.seats[seat].first_stud].leads

    @cached_property
    def firsts(self) -> Index:
        """The first stud in use of each way of mounting the bar."""
        return np.array([seat.first_stud for seat in self.seats], dtype=np.int64)


@dataclass(frozen=True, eq=False)
class Reach:
    """Run lengths of q bars for each way of seating the feeders: leads (q, ways), feeders (q, ways, feeders), m."""

    leads_m: Array
    feeders_m: Array


def side_of(problem: PlaceProblem, pole: str) -> Side:
    """Raises ValueError with the reason if the bar fits nowhere or has too few studs."""
    bar = problem.bar(pole)
    if not firsts_of(problem, pole):
        raise ValueError(f"the {pole} bus bar has too few studs that take the lugs of the leads and feeders")
    seats = seats_of(problem, pole)
    if not seats:
        raise ValueError(f"the {pole} bus bar fits on none of its faces within the edge distance")
    feeders = problem.feeder_points(pole)
    used = bar.studs - bar.reserved_studs
    fit = fit_of(problem, pole)
    if used * bar.lugs_per_stud < len(problem.strings) + len(feeders):
        raise ValueError(
            f"the {pole} bus bar takes {used * bar.lugs_per_stud} lugs on {used} studs,"
            f" and {len(problem.strings) + len(feeders)} are needed"
        )
    ways = feeder_seats(used, len(feeders), bar.lugs_per_stud)
    names = sorted({face.name for face in problem.faces} | {place.face for b in problem.bars for place in b.places})
    numbers = {name: i for i, name in enumerate(names)}
    strings = problem.string_points(pole)
    fits = None
    if fit is not None:
        ways, fits = _fitting(fit, ways, {seat.first_stud for seat in seats}, len(strings), bar.lugs_per_stud)
    return Side(pole, seats, strings, feeders, bar.lugs_per_stud, ways, problem.runs, numbers, fits)


def _fitting(
    fit: BarFit, ways: Index, firsts: Iterable[int], strings: int, lugs_per_stud: int
) -> tuple[Index, dict[int, SeatFit]]:
    """The ways of seating the feeders that some way of mounting the bar allows, and what each takes."""
    used = np.arange(fit.studs - fit.reserved)
    found = {}
    for first in sorted(firsts):
        leads, feeders = (used[np.isin(used + first, sorted(some))] for some in (fit.leads, fit.feeders))
        among = np.full(len(used), -1, dtype=np.int64)
        among[leads] = np.arange(len(leads))
        seats = among[ways]
        room = len(leads) * lugs_per_stud - (seats >= 0).sum(axis=1)
        found[first] = SeatFit(leads, feeders, np.isin(ways, feeders).all(axis=1) & (room >= strings), seats)
    some = np.any([one.ways for one in found.values()], axis=0)
    return ways[some], {first: replace(one, ways=one.ways[some], seats=one.seats[some]) for first, one in found.items()}


def run_tables(side: Side, cells: Cells, *, bounds: bool) -> tuple[Array, Array]:
    """Metres from the strings (q, strings, studs) and from the feeders (q, feeders, studs) to bars at the centres.

    Infinite to studs that do not take their lugs.
    """
    studs = studs_of(side.seats, cells)
    terminals = np.vstack([side.strings, side.feeders])
    of = side.runs.bounds if bounds else side.runs.lengths
    lies = np.repeat(np.stack([seat.lies for seat in side.seats])[cells.seat], side.studs, axis=0)
    table = of(terminals, studs.reshape(-1, 3), lies).reshape(len(terminals), len(cells), side.studs).swapaxes(0, 1)
    strings_m, feeders_m = table[:, : len(side.strings)], table[:, len(side.strings) :]
    for first, fit in (side.fits or {}).items():
        mine = np.flatnonzero(side.firsts[cells.seat] == first)
        for runs_m, taking in ((strings_m, fit.leads), (feeders_m, fit.feeders)):
            others = np.setdiff1d(np.arange(side.studs), taking)
            runs_m[mine[:, None], :, others[None, :]] = np.inf
    return strings_m, feeders_m


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
        leads_m = _leads(side, cells, strings_m, side.ways)
        ends = np.arange(len(side.feeders))
        seated_m = feeders_m[:, ends[None, :], side.ways]
    else:
        leads_m = _leads(side, cells, strings_m, None)
        seated_m = feeders_m.min(axis=2)[:, None, :]
    if bounds:
        leads_m = np.maximum(leads_m - (cells.radius_m + SLACK_M)[:, None], 0.0)
        seated_m = np.maximum(seated_m - (cells.radius_m + SLACK_M)[:, None, None], 0.0)
    return Reach(leads_m, seated_m)


def _leads(side: Side, cells: Cells, strings_m: Array, ways: Index | None) -> Array:
    """The least longest lead (q, ways) for each way of seating the feeders; `ways` None: (q, 1), as if there were none.

    Infinite where a way of mounting the bar does not allow a way of seating.
    """
    no_feeder = np.empty((1, 0), dtype=np.int64)
    if side.fits is None:
        return least_longest(strings_m, side.lugs_per_stud, no_feeder if ways is None else ways)
    leads_m = np.full((len(cells), 1 if ways is None else len(ways)), np.inf)
    for first, fit in side.fits.items():
        mine = np.flatnonzero(side.firsts[cells.seat] == first)
        seats = no_feeder if ways is None else fit.seats
        found_m = least_longest(strings_m[mine][:, :, fit.leads], side.lugs_per_stud, seats)
        leads_m[mine] = found_m if ways is None else np.where(fit.ways, found_m, np.inf)
    return leads_m
