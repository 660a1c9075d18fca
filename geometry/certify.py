"""The least clearance of a laid run, certain to a hair: between two measured places nothing can come nearer.

A point that moves by a millimetre changes its distance to anything by a millimetre at most. So the distances at both
ends of a short stretch bound the distance within it, and stretches that are not yet certain are halved.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geometry.clearances import Clearances, Indices, Numbers
from geometry.curve import Curve
from geometry.footing import Track

FIRST_STEP_M = 0.008
HALVINGS = 12


@dataclass(frozen=True, eq=False)
class Clearance:
    spare_m: float  # least of clearance less what is asked; certain: the true one is not below `certain_m`
    certain_m: float
    least_m: float  # least distance from the centreline to anything, keep-off not counted
    along_m: float  # where that is
    solid: int  # to which; -1 if nothing is near


def _measured(around: Clearances, points: Numbers, standoff_m: float) -> tuple[Indices, Numbers]:
    """The solids that can be nearest to the run or nearer than the standoff, and the distances to them."""
    within_m = standoff_m + 0.05
    while True:
        near = around.near(points, within_m)
        gaps = around.distances(points, near)
        if len(near) == around.count or (len(near) and float(gaps.min()) <= within_m):
            return near, gaps
        within_m *= 4


def clearance(around: Clearances, track: Track, curve: Curve, needed_certain_m: float = 0.0) -> Clearance:
    """Of a whole curve. Refines until `certain_m` reaches `needed_certain_m`, or a place shows that it cannot."""
    length_m = curve.length_m
    marks = [0.0, length_m]
    for foot, turned in ((track.start, False), (track.finish, True)):
        for mark in (foot.straight_m, foot.lift_off_m):
            marks += [length_m - mark if turned else mark]
    count = max(2, math.ceil(length_m / FIRST_STEP_M))
    along = np.unique(np.clip(np.concatenate([np.linspace(0, length_m, count), marks]), 0.0, length_m))
    points = curve.points_at(along)
    near, gaps = _measured(around, points, track.standoff_m)
    if not len(near):
        return Clearance(math.inf, math.inf, math.inf, 0.0, -1)
    stretches = len(along) - 1
    middle = np.repeat((along[:-1] + along[1:]) / 2, len(near))
    # what is asked is constant between the marks, so a stretch asks what its middle asks
    asked_here = track.needed(middle, length_m, np.tile(near, stretches)).reshape(stretches, len(near))
    low, high = gaps[:-1] - asked_here, gaps[1:] - asked_here
    spare_m = float(np.minimum(low, high).min())
    true = gaps + around.keep_off[near]
    open_ = np.isfinite(asked_here)
    counted = np.zeros_like(true, dtype=bool)
    counted[:-1] |= open_
    counted[1:] |= open_
    shown = np.where(counted, true, np.inf)
    at, to = np.unravel_index(int(shown.argmin()), shown.shape)
    least = (float(shown[at, to]), float(along[at]), int(near[to]))
    which = np.tile(near, stretches)
    starts, ends = np.repeat(along[:-1], len(near)), np.repeat(along[1:], len(near))
    asked, low, high = asked_here.ravel(), low.ravel(), high.ravel()
    certain_m = math.inf
    for _ in range(HALVINGS):
        bound = (low + high - (ends - starts)) / 2
        doubtful = bound < needed_certain_m
        certain_m = min(certain_m, float(bound[~doubtful].min(initial=math.inf)))
        if not doubtful.any() or spare_m < needed_certain_m:
            break
        which, starts, ends = which[doubtful], starts[doubtful], ends[doubtful]
        asked, low, high = asked[doubtful], low[doubtful], high[doubtful]
        middle = (starts + ends) / 2
        found = around.pair_distances(curve.points_at(middle), which)
        rest = found - asked
        spare_m = min(spare_m, float(rest.min()))
        truth = found + around.keep_off[which]
        if float(truth.min()) < least[0]:
            best = int(truth.argmin())
            least = (float(truth[best]), float(middle[best]), int(which[best]))
        which, asked = np.concatenate([which, which]), np.concatenate([asked, asked])
        starts, ends = np.concatenate([starts, middle]), np.concatenate([middle, ends])
        low, high = np.concatenate([low, rest]), np.concatenate([rest, high])
    if len(which):
        bound = (low + high - (ends - starts)) / 2
        certain_m = min(certain_m, float(bound.min()))
    return Clearance(spare_m, min(certain_m, spare_m), *least)
