"""Whether the proof that comes with bus-bar places holds: that no pair of cells can hold a cheaper pair of places.

The cells of each pole must cover every place once, and the least cuts that any two of them could come to must cost no
less than the bound, unless their bars cannot stand together.

Prices never fall when a cut grows. So one price excludes many pairs at once: what the least cuts of a group of cells
cost beside the least cuts of another group, no pair of the two groups undercuts. Where that is not enough the groups
are halved, down to single rows of cuts.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from cutlist.layout.bus_bar_places import Certificate
from cutlist.layout.place_leaves import (
    Index,
    Leaves,
    cover_faults,
    least_cuts,
    least_cuts_of_ways,
    leaves_of,
    limited,
    stretches,
    takes,
)
from cutlist.layout.place_prices import HAIR_M, POLES, joined_rows, prices_of
from cutlist.layout.place_problem import Array, PlaceProblem
from cutlist.stock.price_table import Whole

FEW = 1_500  # pairs of cells of which it is looked up whether bars may stand in both
AT_A_TIME = 400_000  # distances between studs


def proof_faults(problem: PlaceProblem, proof: Certificate) -> Iterator[str]:
    """With unlike studs a proof is one for each group of conductors whose lugs go on the same studs; together they
    speak of all for which the studs suffice."""
    told = [pair for part in (proof, *proof.others) for pair in part.pairs or every_pair(problem)]
    for lead, feeder in every_pair(problem):
        if (lead, feeder) not in told and narrowed(problem, lead, feeder) is not None:
            yield f"the proof does not speak of leads of {lead}{f' beside feeders of {feeder}' if feeder else ''}"
            return
    for part in (proof, *proof.others):
        pairs = part.pairs or every_pair(problem)
        about = [narrowed(problem, *pair) for pair in pairs]
        first = about[0]
        if first is None or any(one is None or one.bars != first.bars for one in about):
            yield "the proof speaks of conductors together whose lugs go on different studs"
            return
        of_all = [takes(replace(problem, pairs=pairs), pole, feeder) for pole in POLES for feeder in (False, True)]
        if any(
            takes(one, pole, feeder) != studs
            for one in about
            if one is not None
            for (pole, feeder), studs in zip(itertools.product(POLES, (False, True)), of_all, strict=True)
            if not feeder or problem.feeders_of(pole)
        ):
            yield "the proof speaks of conductors together whose lugs go on different studs"
            return
        faults = list(_faults_of_part(replace(first, pairs=pairs), part, proof.bound))
        if faults:
            yield from faults
            return


def every_pair(problem: PlaceProblem) -> tuple[tuple[str, str], ...]:
    """The conductors of leads and feeders that may be built together; the feeders' "" where there are none."""
    feeders = [c.name for c in problem.feeder_conductors] if problem.feeders else [""]
    leads = [c.name for c in problem.lead_conductors]
    allowed = {(a, b if problem.feeders else "") for a, b in problem.pairs or itertools.product(leads, feeders)}
    return tuple(pair for pair in itertools.product(leads, feeders) if pair in allowed)


def narrowed(problem: PlaceProblem, lead: str, feeder: str) -> PlaceProblem | None:
    """The problem as it is for these conductors alone, lugs stacked as far as their studs are short of room.

    None: there are not studs enough that take them.
    """
    one = replace(problem, pairs=((lead, feeder),))
    bars = []
    for bar in one.bars:
        if limited(one, bar.pole) or bar.most_lugs is not None:
            most = bar.lugs_per_stud if bar.most_lugs is None else bar.most_lugs
            room = [n for n in range(bar.lugs_per_stud, most + 1) if stretches(one, bar, n)]
            if not room:
                return None
            bar = replace(bar, lugs_per_stud=room[0])
        bars.append(bar)
    return replace(one, bars=(bars[0], bars[1]))


def _faults_of_part(problem: PlaceProblem, proof: Certificate, bound: int) -> Iterator[str]:
    sides = []
    for pole, cells, seats in zip(POLES, proof.leaves, proof.seats, strict=True):
        bar = problem.bar(pole)
        faults = list(cover_faults(problem, bar, cells, seats))
        if faults:
            yield from faults
            return
        sides.append(leaves_of(problem, bar, cells))
    if not all(len(leaves.cells) for leaves in sides):
        return  # one of the bars may stand nowhere
    # most cells are out before it is asked which stud each feeder takes
    for every_way in (False, True):
        groups = []
        for leaves in sides:
            owner, rows = (
                least_cuts_of_ways(problem, leaves)
                if every_way
                else (np.arange(len(leaves.cells)), least_cuts(problem, leaves))
            )
            groups.append(_Group(leaves, owner, rows, np.arange(len(rows))))
        left = _not_excluded(problem, (groups[0], groups[1]), bound, stop_at_first=every_way)
        if not all(len(some) for some in left):
            return
        sides = [leaves[some] for leaves, some in zip(sides, left, strict=True)]
    where = [f"{leaves.face[0]} ({leaves.cells.a[0]:.3f}, {leaves.cells.b[0]:.3f}) m" for leaves in sides]
    yield f"cells round {where[0]} and {where[1]} could hold places that cost less than the bound"


@dataclass(frozen=True, eq=False)
class _Group:
    """Some of the rows of cuts of a pole, each with the cell it belongs to."""

    leaves: Leaves
    owner: Index  # of every row of the pole
    rows: Whole
    some: Index  # those in the group

    @cached_property
    def least(self) -> Whole:
        return np.asarray(self.rows[self.some].min(axis=0))

    @cached_property
    def spread(self) -> Whole:
        return np.asarray(self.rows[self.some].max(axis=0) - self.least)

    @cached_property
    def cells(self) -> Index:
        return np.unique(self.owner[self.some])

    @cached_property
    def halves(self) -> tuple[_Group, _Group]:
        """By the cut that differs most."""
        column = self.rows[self.some, int(self.spread.argmax())]
        low, high = column.min(), column.max()
        below = column <= (low + high) // 2
        return (
            _Group(self.leaves, self.owner, self.rows, self.some[below]),
            _Group(self.leaves, self.owner, self.rows, self.some[~below]),
        )


def _not_excluded(
    problem: PlaceProblem, poles: tuple[_Group, _Group], bound: int, *, stop_at_first: bool
) -> tuple[Index, Index]:
    """The cells of both poles that no price and no distance keeps from holding a pair below the bound."""
    left: tuple[list[Index], list[Index]] = ([], [])
    pairs = [poles]
    while pairs:
        least = [np.array([pair[i].least for pair in pairs]) for i in (0, 1)]
        cheap = np.flatnonzero(_prices(problem, least[0], least[1]) < bound)
        further: list[tuple[_Group, _Group]] = []
        for one, two in (pairs[k] for k in cheap):
            spread = int(one.spread.max()), int(two.spread.max())
            worth_a_look = len(one.cells) * len(two.cells) <= FEW or max(spread) == 0
            if worth_a_look and not _some_stand_together(problem, one, two):
                continue
            if max(spread) == 0:
                left[0].append(one.cells)
                left[1].append(two.cells)
                if stop_at_first:
                    return left[0][0], left[1][0]
            else:  # both at once where they differ much alike: fewer rounds
                ones, twos = (
                    group.halves if 3 * mine >= max(spread) else (group,)
                    for group, mine in zip((one, two), spread, strict=True)
                )
                further += itertools.product(ones, twos)
        pairs = further
    return (_all_of(left[0]), _all_of(left[1]))


def _all_of(parts: list[Index]) -> Index:
    return np.unique(np.concatenate(parts)) if parts else np.empty(0, dtype=np.int64)


def _prices(problem: PlaceProblem, positive: Whole, negative: Whole) -> Whole:
    return prices_of(problem, *joined_rows(problem, positive, negative))


def _some_stand_together(problem: PlaceProblem, one: _Group, two: _Group) -> bool:
    """Whether two bars somewhere in these cells may stand there together, as far as distance and faces tell."""
    if problem.separation_m <= 0 and problem.same_face is None:
        return True
    first, second = one.leaves[one.cells], two.leaves[two.cells]
    step = max(1, AT_A_TIME // (len(second.cells) * one.leaves.bar.studs * two.leaves.bar.studs))
    for start in range(0, len(first.cells), step):
        some = first[np.arange(start, min(start + step, len(first.cells)))]
        fine = np.ones((len(some.cells), len(second.cells)), dtype=bool)
        if problem.same_face is not None:
            fine &= (some.face[:, None] == second.face[None, :]) == problem.same_face
        # studs lie on the rows: where two are too near, the rows are
        points = [_studs(leaves).reshape(-1, 1, 3) for leaves in (some, second)]
        off = points[0] - points[1].swapaxes(0, 1)
        between = np.sqrt((off * off).sum(axis=2)).reshape(len(some.cells), some.bar.studs, len(second.cells), -1)
        room_m = problem.separation_m - HAIR_M - some.reach_m[:, None] - second.reach_m[None, :]
        fine &= between.min(axis=(1, 3)) >= room_m
        for i, j in np.argwhere(fine):
            if least_between(some.ends[i], second.ends[j]) >= room_m[i, j]:
                return True
    return False


def _studs(leaves: Leaves) -> Array:
    share = (np.arange(leaves.bar.studs) / max(leaves.bar.studs - 1, 1))[None, :, None]
    return np.asarray(leaves.ends[:, :1] + share * (leaves.ends[:, 1:] - leaves.ends[:, :1]))


def least_between(one: Array, two: Array) -> float:
    """Distance between two straight rows, by halving the stretch of one that can hold the nearest point."""
    d, e = one[1] - one[0], two[1] - two[0]

    def at(share: float) -> float:
        p = one[0] + share * d
        t = float(np.clip(np.dot(p - two[0], e) / max(float(np.dot(e, e)), 1e-18), 0.0, 1.0))
        return float(np.linalg.norm(p - two[0] - t * e))

    low, high = 0.0, 1.0
    for _ in range(80):  # the distance is convex along the row
        first, second = low + (high - low) / 3, high - (high - low) / 3
        low, high = (low, second) if at(first) <= at(second) else (first, high)
    return min(at(0.0), at(1.0), at((low + high) / 2))
