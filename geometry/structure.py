"""Which solids take a clamp, and how far does a straight go without one of them within reach?"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from geometry.clearances import Clearances, Indices, Numbers

SAMPLE_M = 0.004  # along a segment, where there is no compiled kernel


@dataclass(frozen=True, eq=False)
class Structure:
    """What clamps may be fixed to. Solids have the numbers of `Clearances`; its walls stand for all compartments."""

    around: Clearances
    reach_m: float  # of a clamp: from the centreline to the surface it is fixed to

    @cached_property
    def solids(self) -> Indices:
        space = self.around.space
        found = [i for i, obstacle in enumerate(space.obstacles) if obstacle.clampable]
        if any(room.clampable for room in space.compartments):
            found.append(self.around.walls)
        return np.array(found, dtype=np.intp)

    def near(self, points: Numbers, within_m: float) -> Indices:
        """Those that may come within this of any of the points."""
        return np.intersect1d(self.around.near(points, within_m), self.solids)

    def gaps(self, points: Numbers, which: Indices) -> Numbers:
        """Distances (n, k) from points to the surfaces of these solids; their keep-off is no part of that."""
        found = self.around.distances(points, which) + self.around.keep_off[which]
        return np.asarray(np.abs(found), dtype=np.float64)

    def slopes(self, points: Numbers, which: Indices) -> Numbers:
        """Unit directions (n, 3) in which the distance from point i to the surface of solid which[i] grows."""
        within = self.around.pair_distances(points, which) + self.around.keep_off[which] < 0
        return np.asarray(self.around.slopes(points, which) * np.where(within, -1.0, 1.0)[:, None])


def bare_stretches(structure: Structure, starts: Numbers, ends: Numbers, which: Indices) -> Numbers:
    """How far segments (n,) go without structure: (n, 3).

    What lies before the first place within reach of one of the solids `which`, the longest stretch between two such
    places, and what lies behind the last. A segment that is nowhere within reach has infinity at both its ends.
    """
    around = structure.around
    if around.packed is not None:
        return around.packed.bare(starts, ends, which, structure.reach_m)
    lengths = np.linalg.norm(ends - starts, axis=1)
    found = np.empty((len(starts), 3))
    for i, length_m in enumerate(lengths):
        along = np.linspace(0.0, length_m, max(2, math.ceil(length_m / SAMPLE_M) + 1))
        points = starts[i] + (along / max(length_m, 1e-12))[:, None] * (ends[i] - starts[i])
        gaps = structure.gaps(points, which) if len(which) else np.full((len(along), 1), np.inf)
        held = along[gaps.min(axis=1) <= structure.reach_m]
        inside = float(np.diff(held).max(initial=0.0)) if len(held) else 0.0
        found[i] = (held[0], inside, length_m - held[-1]) if len(held) else (np.inf, 0.0, np.inf)
    return found


def in_a_row(one: Numbers, one_m: Numbers, two: Numbers, two_m: Numbers) -> Numbers:
    """Bare stretches (n, 3) of two segments of these lengths (n,), the second where the first ends."""
    head = np.where(np.isfinite(one[:, 0]), one[:, 0], one_m + two[:, 0])
    tail = np.where(np.isfinite(two[:, 2]), two[:, 2], two_m + one[:, 2])
    between = np.where(np.isfinite(one[:, 2]) & np.isfinite(two[:, 0]), one[:, 2] + two[:, 0], 0.0)
    return np.column_stack([head, np.maximum(np.maximum(one[:, 1], two[:, 1]), between), tail])
