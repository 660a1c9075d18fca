"""The cells of a proof, looked at by its check: what they cover, and the least cuts of a bar anywhere in them.

Worked out from the problem and the cells alone, for all cells of a pole at once.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutlist.layout.bus_bar_places import SeatName
from cutlist.layout.cells import Cells
from cutlist.layout.place_outlines import nowhere_within
from cutlist.layout.place_prices import cuts_of
from cutlist.layout.place_problem import Array, BarRow, PlaceProblem
from cutlist.stock.price_table import Whole

NOTHING_M = 1e-10  # taken off a bound, so that no last bit of a square root makes it too long
SAME_M = 1e-8  # borders nearer than this are one
Index = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Leaves:
    """The cells of one pole in which a bar may stand."""

    bar: BarRow
    cells: Cells
    face: NDArray[np.str_]  # of each
    ends: Array  # (q, 2, 3) first and last stud of the whole bar at the centre
    first_stud: Index  # of those in use
    reach_m: Array  # from the centre to the furthest place of the cell
    lies: Array  # (q, 2, 3) a lug lies along the first, one way or the other; the studs point along the second

    def __getitem__(self, some: Index) -> Leaves:
        return Leaves(
            self.bar,
            self.cells[some],
            self.face[some],
            self.ends[some],
            self.first_stud[some],
            self.reach_m[some],
            self.lies[some],
        )


@dataclass(frozen=True)
class _Mounting:
    """One way of mounting the bar, and the rectangle of its centres; a place stated has none."""

    seat: SeatName
    origin: Array
    u: Array
    v: Array
    along: Array
    out: Array
    low: tuple[float, float]
    high: tuple[float, float]


def _mountings(problem: PlaceProblem, bar: BarRow) -> list[_Mounting]:
    found = []
    reach_m = (bar.studs - 1) / 2 * bar.pitch_m
    nowhere = np.zeros(3)
    for first in _stretches_that_serve(problem, bar):
        for place in bar.places:
            centre, along, out = (np.array(x, dtype=float) for x in (place.centre, place.along, place.out))
            none = (0.0, 0.0)
            found.append(_Mounting((place.face, 0, first), centre, nowhere, nowhere, along, out, none, none))
        for face in (f for f in problem.faces if f.name in bar.faces):
            for turn in bar.turns if bar.studs > 1 else bar.turns[:1]:
                a, b = (reach_m, 0.0) if turn in (0, 180) else (0.0, reach_m)
                low_a, low_b = face.edge_m + a, face.edge_m + b
                high_a, high_b = face.width_m - low_a, face.height_m - low_b
                if high_a >= low_a - 1e-9 and high_b >= low_b - 1e-9:
                    u, v, origin = (np.array(x, dtype=float) for x in (face.u, face.v, face.origin))
                    high = (max(high_a, low_a), max(high_b, low_b))
                    seat = (face.name, turn, first)
                    along = {0: u, 90: v, 180: -u, 270: -v}[turn]
                    found.append(_Mounting(seat, origin, u, v, along, np.cross(u, v), (low_a, low_b), high))
    return found


def takes(problem: PlaceProblem, pole: str, feeder: bool) -> set[int]:
    """The studs of the whole bar, from 0, on which a lug of some conductor of leads, or of feeders, may go."""
    choices = problem.feeder_conductors if feeder else problem.lead_conductors
    names = [c.name for c in choices]
    if problem.pairs is not None and (problem.feeders or not feeder):
        names = [pair[1 if feeder else 0] for pair in problem.pairs]
    found: set[int] = set()
    for choice in choices:
        studs = choice.positive_studs if pole == "positive" else choice.negative_studs
        if choice.name in names:
            found |= set(range(problem.bar(pole).studs)) if studs is None else set(studs)
    return found


def stretches(problem: PlaceProblem, bar: BarRow, lugs_per_stud: int) -> list[int]:
    """The first stud of every row of neighbouring studs in use on which leads and feeders find room.

    The others are kept free, each for the lug of a lead.
    """
    leads, feeders = len(problem.strings), len(problem.feeders_of(bar.pole))
    lead_studs, feeder_studs = takes(problem, bar.pole, False), takes(problem, bar.pole, True)
    found = []
    for first in range(bar.reserved_studs + 1):
        used = range(first, first + bar.studs - bar.reserved_studs)
        kept_for_leads = all(stud in used or stud in lead_studs for stud in range(bar.studs))
        only = [0, 0, 0]  # studs for leads alone, for feeders alone, for both
        for stud in used:
            if stud in lead_studs or stud in feeder_studs:
                only[2 if stud in lead_studs and stud in feeder_studs else 1 if stud in feeder_studs else 0] += 1
        # what finds no room on studs of its own shares the others
        over = max(leads - only[0] * lugs_per_stud, 0) + max(feeders - only[1] * lugs_per_stud, 0)
        if kept_for_leads and over <= only[2] * lugs_per_stud:
            found.append(first)
    return found


def _stretches_that_serve(problem: PlaceProblem, bar: BarRow) -> list[int]:
    if not limited(problem, bar.pole):
        return list(range(bar.reserved_studs + 1))
    return stretches(problem, bar, bar.lugs_per_stud)


def limited(problem: PlaceProblem, pole: str) -> bool:
    """Whether a stud of the bar is closed to some lug that leads, or feeders, may have."""
    every = set(range(problem.bar(pole).studs))
    feeders = bool(problem.feeders_of(pole))
    return takes(problem, pole, False) != every or (feeders and takes(problem, pole, True) != every)


def cover_faults(problem: PlaceProblem, bar: BarRow, cells: Cells, seats: Sequence[SeatName]) -> Iterator[str]:
    """Every way of mounting the bar is there, and its rectangle is filled by cells that do not overlap."""
    expected = _mountings(problem, bar)
    if [m.seat for m in expected] != list(seats):
        yield f"the proof speaks of other ways of mounting the {bar.pole} bus bar than there are"
        return
    if len(cells) and not 0 <= cells.seat.min() <= cells.seat.max() < len(seats):
        yield f"the proof has cells of a way of mounting the {bar.pole} bus bar that there is not"
        return
    for number, mounting in enumerate(expected):
        (low_a, low_b), (high_a, high_b) = mounting.low, mounting.high
        mine = cells[cells.seat == number]
        a0, a1 = mine.a - mine.half_a, mine.a + mine.half_a
        b0, b1 = mine.b - mine.half_b, mine.b + mine.half_b
        # a side without length counts as one, so that lines and points have an area too
        wide, tall = high_a > low_a + 1e-9, high_b > low_b + 1e-9
        area = (a1 - a0 if wide else np.ones(len(mine))) * (b1 - b0 if tall else np.ones(len(mine)))
        whole = (high_a - low_a if wide else 1.0) * (high_b - low_b if tall else 1.0)
        inside = (a0 > low_a - 1e-9) & (a1 < high_a + 1e-9) & (b0 > low_b - 1e-9) & (b1 < high_b + 1e-9)
        if not inside.all() or abs(area.sum() - whole) > 1e-9 or _overlap(a0, a1, b0, b1, wide, tall):
            yield f"the cells do not cover {mounting.seat[0]} once for the {bar.pole} bus bar"


def _overlap(a0: Array, a1: Array, b0: Array, b1: Array, wide: bool, tall: bool) -> bool:
    """Whether two rectangles share more than a border."""
    if len(a0) < 2:
        return False
    if not wide or not tall:
        if not wide and not tall:
            return True
        low, high = (a0, a1) if wide else (b0, b1)
        order = np.argsort(low, kind="stable")
        return bool((low[order][1:] < high[order][:-1] - 1e-9).any())
    # between two neighbouring lines across the face every rectangle is a stretch of that strip
    lines = np.unique(np.concatenate([a0, a1]))
    lines = lines[np.concatenate([[True], np.diff(lines) > SAME_M])]
    first, last = np.searchsorted(lines, a0 + SAME_M), np.searchsorted(lines, a1 - SAME_M)
    spans = last - first + 1
    owner = np.repeat(np.arange(len(a0)), spans)
    strip = np.repeat(first, spans) + np.arange(len(owner)) - np.repeat(np.cumsum(spans) - spans, spans)
    order = np.lexsort((b0[owner], strip))
    owner, strip = owner[order], strip[order]
    return bool(((strip[1:] == strip[:-1]) & (b0[owner[1:]] < b1[owner[:-1]] - 1e-9)).any())


def leaves_of(problem: PlaceProblem, bar: BarRow, cells: Cells) -> Leaves:
    """Those that a forbidden zone, or the height asked for, does not rule out as a whole."""
    mountings = _mountings(problem, bar)
    half_m = (bar.studs - 1) / 2 * bar.pitch_m
    ends = np.empty((len(cells), 2, 3))
    open_ = np.ones(len(cells), dtype=bool)
    for number, mounting in enumerate(mountings):
        mine = np.flatnonzero(cells.seat == number)
        a, b = cells.a[mine], cells.b[mine]
        da, db = cells.half_a[mine], cells.half_b[mine]
        centres = mounting.origin + a[:, None] * mounting.u + b[:, None] * mounting.v
        ends[mine] = np.stack([centres - half_m * mounting.along, centres + half_m * mounting.along], axis=1)
        face = next((f for f in problem.faces if f.name == mounting.seat[0] and f.name in bar.faces), None)
        if face is None or not mounting.u.any():
            continue
        ra, rb = (half_m, 0.0) if mounting.seat[1] in (0, 180) else (0.0, half_m)
        for a0, b0, a1, b1 in face.forbidden:
            shut = (a - da > a0 - ra) & (a + da < a1 + ra) & (b - db > b0 - rb) & (b + db < b1 + rb)
            open_[mine[shut]] = False
        if face.outline or face.forbidden_outlines:
            middles, reach_m = np.column_stack([a, b]), np.hypot(da, db)
            open_[mine[nowhere_within(face, middles, (ra, rb), reach_m)]] = False
        if bar.lowest_z_m is not None:
            rise_m = da * abs(mounting.u[2]) + db * abs(mounting.v[2])
            open_[mine[ends[mine][:, :, 2].min(axis=1) + rise_m < bar.lowest_z_m]] = False
    faces = np.array([m.seat[0] for m in mountings])[cells.seat]
    firsts = np.array([m.seat[2] for m in mountings], dtype=np.int64)[cells.seat]
    lies = np.array([[np.cross(m.out, m.along), m.out] for m in mountings])[cells.seat]
    every = Leaves(bar, cells, faces, ends, firsts, np.hypot(cells.half_a, cells.half_b), lies)
    return every[np.flatnonzero(open_)]


def least_runs(problem: PlaceProblem, leaves: Leaves) -> tuple[Array, Array]:
    """Metres from strings (q, strings, studs) and feeders (q, feeders, studs) that no bar in the cell undercuts."""
    bar = leaves.bar
    strings, feeders = problem.string_points(bar.pole), problem.feeder_points(bar.pole)
    used = bar.studs - bar.reserved_studs
    share = (leaves.first_stud[:, None] + np.arange(used)) / max(bar.studs - 1, 1)
    points = leaves.ends[:, None, 0] + share[:, :, None] * (leaves.ends[:, 1] - leaves.ends[:, 0])[:, None]
    lies = np.repeat(leaves.lies, points.shape[1], axis=0)
    table = problem.runs.bounds(np.vstack([strings, feeders]), points.reshape(-1, 3), lies)
    table = np.moveaxis(table.reshape(len(table), len(points), used), 0, 1) - leaves.reach_m[:, None, None] - NOTHING_M
    table = np.maximum(table, 0.0)
    for rows, feeder in ((slice(0, len(strings)), False), (slice(len(strings), None), True)):
        open_ = np.isin(leaves.first_stud[:, None] + np.arange(used), sorted(takes(problem, bar.pole, feeder)))
        table[:, rows] = np.where(open_[:, None, :], table[:, rows], np.inf)
    return table[:, : len(strings)], table[:, len(strings) :]


def least_cuts(problem: PlaceProblem, leaves: Leaves) -> Whole:
    """One row of cuts a leaf: every feeder on the stud it likes best, the leads as if there were no feeders."""
    strings_m, feeders_m = least_runs(problem, leaves)
    leads_m = _longest_of(problem, leaves, strings_m, [()])[:, 0]
    return cuts_of(problem, leaves.bar.pole, leads_m, feeders_m.min(axis=2))


def least_cuts_of_ways(problem: PlaceProblem, leaves: Leaves) -> tuple[Index, Whole]:
    """(leaf, cuts): a row for every leaf and every way of seating the feeders."""
    strings_m, feeders_m = least_runs(problem, leaves)
    bar = leaves.bar
    count = feeders_m.shape[1]
    ways = [
        way
        for way in itertools.product(range(strings_m.shape[2]), repeat=count)
        if all(way.count(stud) <= bar.lugs_per_stud for stud in way)
    ]
    leads_m = _longest_of(problem, leaves, strings_m, ways)
    seated_m = feeders_m[:, np.arange(count)[None, :], np.array(ways, dtype=np.int64).reshape(len(ways), count)]
    owner = np.repeat(np.arange(len(leaves.cells)), len(ways))
    return owner, cuts_of(problem, bar.pole, leads_m.reshape(-1), seated_m.reshape(len(owner), count))


def _longest_of(problem: PlaceProblem, leaves: Leaves, runs_m: Array, ways: Sequence[tuple[int, ...]]) -> Array:
    """(q, ways): counted on the studs that take a lead alone, which differ with the first stud in use."""
    bar, open_ = leaves.bar, takes(problem, leaves.bar.pole, False)
    if len(open_) == bar.studs:
        return _longest(runs_m, bar.lugs_per_stud, ways)
    longest = np.full((len(runs_m), len(ways)), np.inf)
    for first in np.unique(leaves.first_stud).tolist():
        mine = np.flatnonzero(leaves.first_stud == first)
        columns = [stud for stud in range(runs_m.shape[2]) if first + stud in open_]
        among = [tuple(columns.index(stud) if stud in columns else -1 for stud in way) for way in ways]
        longest[mine] = _longest(runs_m[mine][:, :, columns], bar.lugs_per_stud, among)
    return longest


def _longest(runs_m: Array, lugs_per_stud: int, ways: Sequence[tuple[int, ...]]) -> Array:
    """(q, ways): what the longest lead cannot be shorter than, by counting.

    A row of neighbouring studs holds only so many lugs. Of one string more than that, one must end outside the row.
    """
    q, strings, studs = runs_m.shape
    longest = np.full((q, len(ways)), -np.inf)
    for first, last in [(0, 0), *itertools.combinations(range(studs + 1), 2)]:
        outside = [stud for stud in range(studs) if not first <= stud < last]
        rooms = [lugs_per_stud * (last - first) - sum(first <= stud < last for stud in way) for way in ways]
        if min(rooms) >= strings:
            continue
        leave_m = runs_m[:, :, outside].min(axis=2) if outside else np.full((q, strings), np.inf)
        leave_m = np.sort(leave_m, axis=1)
        for number, room in enumerate(rooms):
            if room < strings:  # at least strings - room of them leave: the one of those that has it furthest
                np.maximum(longest[:, number], leave_m[:, strings - room - 1], out=longest[:, number])
    return longest
