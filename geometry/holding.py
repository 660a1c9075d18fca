"""Where should clamps go on a run that is still being pulled taut, and by how much are they out of reach?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geometry.bends import Rounded
from geometry.clearances import Flags, Indices, Numbers
from geometry.structure import Structure

SAMPLE_M = 0.01
ACROSS_M = 0.003  # no two samples lie further apart than this much more than `SAMPLE_M`
FURTHER_M = 0.3  # structure further out of reach than this pulls at nothing
BAND_M = 1e-3  # out of reach by so much is not counted: the places looked at shift a little from step to step
A_CLAMP_COSTS_M = 0.002  # of reach: fewer clamps are liked, but reach comes first


@dataclass(frozen=True, eq=False)
class Holds:
    """Places for clamps along one run."""

    pieces: Indices  # (t,) of the run, see `Rounded.points`
    shares: Numbers  # (t,)
    spare: Numbers  # (t,) reach less the gap: negative where structure is out of reach
    slopes: Numbers  # (t, 3) unit: in which direction the gap grows
    missed_m: float  # by how much the worst of them is out of reach, beyond `BAND_M`


@dataclass(frozen=True, eq=False)
class Holding:
    """What clamps ask of a run; reach and span a little less than the rules', so that they are kept for certain."""

    structure: Structure
    reach_m: float
    span_m: float
    straight_m: float  # behind each lug: no clamp sits there
    over_m: tuple[float, float] = (0.0, 0.0)  # by how much start and finish may hang further than the span

    def most_m(self, stretches: int) -> Numbers:
        """How long each of that many stretches from hold to hold may be."""
        most = np.full(stretches, self.span_m)
        if stretches == 1:
            return most + max(self.over_m)
        most[0] += self.over_m[0]
        most[-1] += self.over_m[1]
        return most

    def best_holds(self, run: Rounded) -> Holds:
        """Places no further apart than the span, those least out of reach (least sum), fewest of equal ones."""
        pieces, shares, along = _samples(run)
        whole_m = float(run.length_m[0])
        points = run.points(pieces, shares)[0]
        which = self.structure.near(points, self.reach_m + FURTHER_M)
        if len(which):
            all_gaps = self.structure.gaps(points, which)
            nearest = all_gaps.argmin(axis=1)
            gaps = all_gaps[np.arange(len(points)), nearest]
        else:
            nearest, gaps = np.zeros(len(points), dtype=np.intp), np.full(len(points), math.inf)
        gaps = np.minimum(gaps, self.reach_m + FURTHER_M)
        inner = (along >= self.straight_m) & (along <= whole_m - self.straight_m)
        chosen = _least_missed(along, gaps - self.reach_m, inner, whole_m, self.span_m, self.over_m)
        if chosen is None:  # too short for a place between its lugs' straights, and too long to hang
            chosen, gaps = np.zeros(1, dtype=np.intp), np.full(len(gaps), self.reach_m + FURTHER_M)
        missed_m = max(float((gaps[chosen] - self.reach_m).max(initial=0.0)) - BAND_M, 0.0)
        useful = chosen[gaps[chosen] < self.reach_m + FURTHER_M]
        slopes = np.zeros((len(useful), 3))
        if len(useful):
            slopes = self.structure.slopes(points[useful], which[nearest[useful]])
        return Holds(pieces[useful], shares[useful], self.reach_m - gaps[useful], slopes, missed_m)


def stretches_m(runs: Rounded, holds: Holds) -> Numbers:
    """From the stud to the first hold, from hold to hold, from the last to the stud: (B, t + 1) of B runs."""
    lengths = np.empty((len(runs.vertices), 2 * runs.radii.shape[1] + 1))
    lengths[:, 0::2] = runs.straights
    lengths[:, 1::2] = runs.radii * runs.turns
    ends = np.cumsum(lengths, axis=1)
    at = ends[:, holds.pieces] - (1 - holds.shares) * lengths[:, holds.pieces]
    return np.diff(np.column_stack([np.zeros(len(ends)), at, ends[:, -1]]), axis=1)


def _samples(run: Rounded) -> tuple[Indices, Numbers, Numbers]:
    """Piece, share of it and metres along the run of places close to each other."""
    lengths = np.empty(2 * run.radii.shape[1] + 1)
    lengths[0::2] = np.maximum(run.straights[0], 0.0)
    lengths[1::2] = run.radii[0] * run.turns[0]
    counts = np.maximum(np.ceil(lengths / SAMPLE_M).astype(int), 1)
    pieces = np.repeat(np.arange(len(lengths)), counts)
    number = np.arange(len(pieces)) - np.repeat(np.cumsum(counts) - counts, counts)
    shares = (number + 0.5) / counts[pieces]
    before = np.cumsum(lengths) - lengths
    return pieces, shares, before[pieces] + shares * lengths[pieces]


def _least_missed(
    along: Numbers, out_m: Numbers, usable: Flags, whole_m: float, span_m: float, over_m: tuple[float, float]
) -> Indices | None:
    """Which places take clamps: the sum of what they are out of reach is least. Dynamic programming along the run."""
    places = np.flatnonzero(usable)
    if whole_m <= span_m + max(over_m):
        return np.zeros(0, dtype=np.intp)
    at, price = along[places], np.maximum(out_m[places], 0.0) + A_CLAMP_COSTS_M
    total, before = np.empty(len(places)), np.full(len(places), -1, dtype=np.intp)
    first = np.searchsorted(at, at - span_m)
    for i in range(len(places)):
        if at[i] <= span_m + over_m[0]:
            total[i] = price[i]
        elif first[i] == i:
            total[i] = math.inf
        else:
            best = first[i] + int(total[first[i] : i].argmin())
            total[i], before[i] = total[best] + price[i], best
    ends = np.flatnonzero(at >= whole_m - span_m - over_m[1])
    if not len(ends) or not np.isfinite(total[ends]).any():
        return None
    last = int(ends[total[ends].argmin()])
    chain = []
    while last >= 0:
        chain.append(last)
        last = int(before[last])
    return places[np.array(chain[::-1], dtype=np.intp)]
