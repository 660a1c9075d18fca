"""How far apart do two cables lie?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geometry import kernel
from geometry.curve import Arc, Curve, cross
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
    def hard_rods_balls(self) -> tuple[Numbers, Numbers]:
        """The middle of each of those (m, 3) and half its length (m,)."""
        rods = self.hard_rods
        return rods.mean(axis=1), np.linalg.norm(rods[:, 1] - rods[:, 0], axis=1) / 2

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
    y = cross(x, np.eye(3)[int(np.argmin(np.abs(x)))])
    y /= np.linalg.norm(y)
    frame = [(float(v[0]), float(v[1]), float(v[2])) for v in (x, y, cross(x, y), (start + end) / 2)]
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
    places = _Places(curve, loose_m, from_m, to_m)
    least, name, where_m = float(np.inf), "", 0.0
    for other in others:
        found = places.nearest(other, radius_m, least)
        if found is not None and found[0] < least:
            (least, where_m), name = found, other.name
    return least, name, where_m


def cables_met(curve: Curve, loose_m: float, others: Sequence[LaidCable], radius_m: float) -> tuple[str, ...]:
    """Every other cable in which a cable along this curve would lie; as `nearest_cable` measures."""
    places = _Places(curve, loose_m, 0.0, curve.length_m)
    found = ((other.name, places.nearest(other, radius_m, math.inf)) for other in others)
    return tuple(name for name, nearest in found if nearest is not None and nearest[0] < 0)


class _Places:
    """Places close together along a stretch of a curve."""

    def __init__(self, curve: Curve, loose_m: float, from_m: float, to_m: float) -> None:
        self.curve, self.loose_m = curve, loose_m
        self.along = np.linspace(from_m, to_m, max(2, int(np.ceil((to_m - from_m) / FINE_M)) + 1))
        self.points = curve.points_at(self.along)
        self.low, self.high = self.points.min(axis=0), self.points.max(axis=0)

    def nearest(self, other: LaidCable, radius_m: float, least_m: float) -> tuple[float, float] | None:
        """Least distance between skins and where; None: it is not within 40 mm, or not less than `least_m`."""
        near_m = radius_m + other.radius_m + 0.04
        their_along, theirs, their_low, their_high = other.traced
        if (their_low > self.high + near_m).any() or (their_high < self.low - near_m).any():
            return None
        mine = np.flatnonzero(((self.points > their_low - near_m) & (self.points < their_high + near_m)).all(axis=1))
        if not len(mine):
            return None
        stacks = _stacks(self.curve, other)
        # first roughly, to leave what is far off
        rough = mine[:: max(1, int(COARSE_M / FINE_M))]
        points = self.points[rough]
        square = (points**2).sum(axis=1)[:, None] + (theirs**2).sum(axis=1)[None, :]
        apart = np.sqrt(np.maximum(square - 2 * points @ theirs.T, 0.0))
        if stacks:
            loose_m = self.loose_m - COARSE_M, other.loose_m - COARSE_M
            apart[_stacked(stacks, self.curve, other, loose_m, self.along[rough], their_along)] = np.inf
        closest_m = float(apart.min())
        if closest_m - radius_m - other.radius_m - 2 * COARSE_M > min(0.04, least_m):
            return None
        close = rough[apart.min(axis=1) < closest_m + 3 * COARSE_M]
        near = mine[np.abs(self.along[mine][:, None] - self.along[close][None, :]).min(axis=1) <= COARSE_M]
        gaps = to_rods(self.points[near], other.rods)
        if stacks:
            loose_m = self.loose_m, other.loose_m
            gaps[_stacked(stacks, self.curve, other, loose_m, self.along[near], other.rods_along)] = np.inf
        best = gaps.min(axis=1)
        if not len(best):
            return None
        at = int(best.argmin())
        return float(best[at]) - radius_m - other.radius_m, float(self.along[near[at]])


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


def _stacks(curve: Curve, other: LaidCable) -> list[tuple[bool, bool]]:
    """Which ends share a stud: pairs (at the start of the curve, at the start of the other)."""
    mine, theirs = ((True, curve.start), (False, curve.end)), ((True, other.curve.start), (False, other.curve.end))
    near_m = 2 * other.radius_m
    return [(a, b) for a, point in mine for b, stud in theirs if math.dist(point, stud) < near_m]


def _stacked(
    stacks: Sequence[tuple[bool, bool]],
    curve: Curve,
    other: LaidCable,
    loose_m: tuple[float, float],
    mine: Numbers,
    yours: Numbers,
) -> NDArray[np.bool_]:
    """Pairs (m, n) of places behind lugs that share a stud."""
    out = np.zeros((len(mine), len(yours)), dtype=bool)
    for at_start, at_their_start in stacks:
        from_end = mine if at_start else curve.length_m - mine
        from_stud = yours if at_their_start else other.curve.length_m - yours
        out |= (from_end[:, None] <= loose_m[0]) & (from_stud[None, :] <= loose_m[1])
    return out
