"""How far apart do two cables lie?"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geometry import kernel
from geometry.curve import Arc, Curve
from geometry.kernel import COMPILED
from geometry.runs import Request, Run
from geometry.solids import Box
from geometry.surroundings import Numbers

COARSE_M = 0.02
CHORD_M = 0.008  # bends in pieces so long: a chord of 8 mm leaves a 70 mm arc by 0.11 mm
STRAIGHT_M = 0.06
ROD_M = 2e-6  # a rod as a solid is so thick
FINE_M = 0.003  # seen 1.5 mm out of step, two crossing cables of 17 mm seem 0.07 mm too far apart


@dataclass(frozen=True, eq=False)
class LaidCable:
    """A cable that lies already; others keep out of it."""

    name: str
    curve: Curve
    radius_m: float
    loose_m: float  # along the cable from each stud, where lugs that share a stud stack and cables are dressed apart

    @cached_property
    def traced(self) -> tuple[Numbers, Numbers, Numbers, Numbers]:
        """Places along it (n,), their points (n, 3), and the box round them."""
        along = np.linspace(0.0, self.curve.length_m, int(np.ceil(self.curve.length_m / COARSE_M)) + 2)
        points = self.curve.points_at(along)
        return along, points, points.min(axis=0), points.max(axis=0)

    @cached_property
    def rods(self) -> Numbers:
        """The cable as straight rods (m, 2, 3), bends in pieces of `CHORD_M`."""
        return self._rods[0]

    @cached_property
    def rods_along(self) -> Numbers:
        """How far along the cable the middle of each rod lies (m,)."""
        return self._rods[1]

    @cached_property
    def _rods(self) -> tuple[Numbers, Numbers]:
        return self._cut(CHORD_M, STRAIGHT_M)

    @cached_property
    def hard_rods(self) -> Numbers:
        """The same in as few rods (m, 2, 3) as keep within 0.25 mm of bends of 70 mm."""
        return self._hard[0]

    @cached_property
    def hard_rods_along(self) -> Numbers:
        """How far along the cable the middle of each of those lies (m,)."""
        return self._hard[1]

    @cached_property
    def rod_solids(self) -> tuple[Box, ...]:
        """Each of those as a solid as good as a line."""
        return tuple(_rod(rod[0], rod[1]) for rod in self.hard_rods)

    @cached_property
    def _hard(self) -> tuple[Numbers, Numbers]:
        return self._cut(0.012, 0.3)

    def _cut(self, bend_m: float, straight_m: float) -> tuple[Numbers, Numbers]:
        marks = [0.0]
        for piece in self.curve.pieces:
            long_m = bend_m if isinstance(piece, Arc) else straight_m
            parts = max(1, math.ceil(piece.length_m / long_m))
            marks += [marks[-1] + piece.length_m * k / parts for k in range(1, parts + 1)]
        along = np.array(marks)
        kept = np.concatenate([[True], np.diff(along) > 1e-6])
        along = along[kept]
        points = self.curve.points_at(along)
        return np.stack([points[:-1], points[1:]], axis=1), (along[:-1] + along[1:]) / 2


def _rod(start: Numbers, end: Numbers) -> Box:
    way = end - start
    long_m = float(np.linalg.norm(way))
    x = way / long_m
    y = np.cross(x, np.eye(3)[int(np.argmin(np.abs(x)))])
    y /= np.linalg.norm(y)
    frame = [(float(v[0]), float(v[1]), float(v[2])) for v in (x, y, np.cross(x, y), (start + end) / 2)]
    return Box(frame[3], (long_m, ROD_M, ROD_M), (frame[0], frame[1], frame[2]))


def as_laid(request: Request, run: Run) -> LaidCable:
    """The run as a cable that others keep out of."""
    cable = request.cable
    return LaidCable(request.name, run.curve, cable.radius_m, cable.straight_m + cable.bend_radius_m)


def nearest_cable(
    curve: Curve, loose_m: float, from_m: float, to_m: float, others: tuple[LaidCable, ...], radius_m: float
) -> tuple[float, str, float]:
    """Least distance between skins on the stretch from `from_m` to `to_m` of the curve, to which cable, and where.

    Told only if the skins come nearer to each other than 40 mm; else (infinity, "", 0). Negative: they lie in each
    other. Right to 0.15 mm.
    """
    along = np.linspace(from_m, to_m, max(2, int(np.ceil((to_m - from_m) / FINE_M)) + 1))
    points = curve.points_at(along)
    low, high = points.min(axis=0), points.max(axis=0)
    least, name, where_m = float(np.inf), "", 0.0
    for other in others:
        near_m = radius_m + other.radius_m + 0.04
        their_along, theirs, their_low, their_high = other.traced
        if (their_low > high + near_m).any() or (their_high < low - near_m).any():
            continue
        mine = np.flatnonzero(((points > their_low - near_m) & (points < their_high + near_m)).all(axis=1))
        if not len(mine):
            continue
        # first roughly, to leave what is far off
        rough = mine[:: max(1, int(COARSE_M / FINE_M))]
        square = (points[rough] ** 2).sum(axis=1)[:, None] + (theirs**2).sum(axis=1)[None, :]
        apart = np.sqrt(np.maximum(square - 2 * points[rough] @ theirs.T, 0.0))
        apart[_stacked(curve, loose_m - COARSE_M, along[rough], other, their_along, COARSE_M)] = np.inf
        closest_m = float(apart.min())
        if closest_m - radius_m - other.radius_m - 2 * COARSE_M > min(0.04, least):
            continue
        close = rough[apart.min(axis=1) < closest_m + 3 * COARSE_M]
        near = mine[np.abs(along[mine][:, None] - along[close][None, :]).min(axis=1) <= COARSE_M]
        gaps = to_rods(points[near], other.rods)
        gaps[_stacked(curve, loose_m, along[near], other, other.rods_along, 0.0)] = np.inf
        best = gaps.min(axis=1)
        value = float(best.min(initial=np.inf)) - radius_m - other.radius_m
        if value < least:
            least, name, where_m = value, other.name, float(along[near[int(best.argmin())]])
    return least, name, where_m


def to_rods(points: Numbers, rods: Numbers) -> Numbers:
    """Distances (n, m) from points (n, 3) to rods (m, 2, 3)."""
    if COMPILED:
        return kernel.to_rods(points, rods)
    base, way = rods[:, 0], rods[:, 1] - rods[:, 0]
    square = (way**2).sum(axis=1)
    share = np.clip((points @ way.T - (base * way).sum(axis=1)) / square, 0.0, 1.0)
    out_square = (points**2).sum(axis=1)[:, None] + (base**2).sum(axis=1) - 2 * points @ base.T
    along = points @ way.T - (base * way).sum(axis=1)
    return np.asarray(np.sqrt(np.maximum(out_square - 2 * share * along + share**2 * square, 0.0)))


def _stacked(
    curve: Curve, loose_m: float, mine: Numbers, other: LaidCable, yours: Numbers, less_m: float
) -> NDArray[np.bool_]:
    """Pairs (m, n) of places behind lugs that share a stud."""
    out = np.zeros((len(mine), len(yours)), dtype=bool)
    whole_m, their_m = curve.length_m, other.curve.length_m
    for point, from_end in ((curve.start, mine), (curve.end, whole_m - mine)):
        for stud, from_stud in ((other.curve.start, yours), (other.curve.end, their_m - yours)):
            if float(np.linalg.norm(point - stud)) < 2 * other.radius_m:
                out |= (from_end[:, None] <= loose_m) & (from_stud[None, :] <= other.loose_m - less_m)
    return out
