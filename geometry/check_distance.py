"""The stranger's own measures: distance to a solid, points on a curve, the lowest place of a distance along a cable.

Written apart from `solids.py`, `curve.py` and the router, from the solids' and pieces' public figures alone, so that
one mistake cannot hide in both. Simple rather than quick.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from geometry.check_mesh import distance_to_mesh
from geometry.curve import Arc, Curve, Straight
from geometry.meshes import Mesh
from geometry.solids import Box, Circle, Cylinder, Prism, Solid

Numbers = NDArray[np.float64]
AlongTo = Callable[[Numbers], Numbers]  # distances from the start (n,) to a value at each (n,)

SETTLED_M = 5e-5  # the lowest value along a curve is found to within this


def own_distance(solid: Solid, points: Numbers) -> Numbers:
    """Distance (n,) from points (n, 3) to a solid's surface, negative inside, metres.

    Raises TypeError for a kind of solid that this checker was not taught.
    """
    if isinstance(solid, Box):
        return _to_box(solid, points)
    if isinstance(solid, Prism):
        return _to_prism(solid, points)
    if isinstance(solid, Cylinder):
        return _to_cylinder(solid, points)
    if isinstance(solid, Mesh):
        return distance_to_mesh(solid, points)
    raise TypeError(f"the checker cannot measure a {type(solid).__name__}")


@dataclass(frozen=True, eq=False)
class _Chart:
    """The pieces of a curve, one row each. On an arc a point is base + cos * spoke + radius * sin * heading."""

    begins_m: Numbers  # (k,) from the start of the curve
    lengths_m: tuple[float, ...]
    is_arc: NDArray[np.bool_]  # (k,)
    base: Numbers  # (k, 3) an arc's centre, a straight's start
    spoke: Numbers  # (k, 3) from the centre to the arc's start; nothing for a straight
    heading: Numbers  # (k, 3) at the piece's start
    radius_m: Numbers  # (k,); 1 for a straight, where nothing depends on it


@lru_cache(maxsize=256)
def _charted(curve: Curve) -> _Chart:
    """Worked out once for each curve: a checker asks for its points many times."""
    lengths_m = tuple(own_length_m(piece) for piece in curve.pieces)
    base, spoke, heading, radius_m = [], [], [], []
    for piece in curve.pieces:
        start, ahead, _, _ = own_ends(piece)
        arc = isinstance(piece, Arc)
        base.append(piece.centre if isinstance(piece, Arc) else start)
        spoke.append(piece.start - piece.centre if isinstance(piece, Arc) else np.zeros(3))
        heading.append(ahead)
        radius_m.append(float(np.linalg.norm(spoke[-1])) if arc else 1.0)
    begins_m = np.array([0.0, *itertools.accumulate(lengths_m[:-1])])
    is_arc = np.array([isinstance(piece, Arc) for piece in curve.pieces])
    return _Chart(begins_m, lengths_m, is_arc, np.array(base), np.array(spoke), np.array(heading), np.array(radius_m))


def own_points(curve: Curve, along_m: Numbers) -> Numbers:
    """Points (n, 3) at distances (n,) from the start of the curve."""
    chart = _charted(curve)
    on = np.maximum(np.searchsorted(chart.begins_m, along_m, side="right") - 1, 0)
    from_m = along_m - chart.begins_m[on]
    arc, radius_m = chart.is_arc[on], chart.radius_m[on]
    turn = from_m / radius_m
    out = np.where(arc, np.cos(turn), 0.0)
    ahead_m = np.where(arc, np.sin(turn) * radius_m, from_m)
    return np.asarray(chart.base[on] + out[:, None] * chart.spoke[on] + ahead_m[:, None] * chart.heading[on])


def own_whole_m(curve: Curve) -> float:
    """Length of a curve."""
    return math.fsum(_charted(curve).lengths_m)


def own_length_m(piece: Straight | Arc) -> float:
    if isinstance(piece, Straight):
        return float(np.sqrt(((piece.end - piece.start) ** 2).sum()))
    return float(np.sqrt(((piece.start - piece.centre) ** 2).sum())) * piece.angle_rad


def own_ends(piece: Straight | Arc) -> tuple[Numbers, Numbers, Numbers, Numbers]:
    """Start point, start direction, end point, end direction, each (3,)."""
    if isinstance(piece, Straight):
        heading = (piece.end - piece.start) / own_length_m(piece)
        return piece.start, heading, piece.end, heading
    spoke = piece.start - piece.centre
    (ax, ay, az), (bx, by, bz) = piece.normal.tolist(), spoke.tolist()
    sideways = np.array([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])
    radius_m = float(np.linalg.norm(spoke))
    cosine, sine = math.cos(piece.angle_rad), math.sin(piece.angle_rad)
    end = piece.centre + cosine * spoke + sine * sideways
    return piece.start, sideways / radius_m, end, (cosine * sideways - sine * spoke) / radius_m


def lowest(value: AlongTo, from_m: float, to_m: float, below_m: float) -> tuple[float, float]:
    """The lowest value of a distance between two places along a curve, and where it is: (value, along), metres.

    The value must change by no more than one metre a metre, as any distance does; so between two samples it cannot
    dip by more than half their spacing, and stretches that cannot matter are dropped. Exact to 0.05 mm if the
    lowest is below `below_m`; else (infinity, from_m).
    """
    if to_m < from_m:
        return np.inf, from_m
    count = max(2, int(np.ceil((to_m - from_m) / 0.02)))
    half_m = (to_m - from_m) / count / 2
    middles = np.asarray(from_m + half_m * (2.0 * np.arange(count) + 1.0), dtype=np.float64)
    best_m, best_at_m = float(np.inf), from_m
    while len(middles):
        values = value(middles)
        least = int(values.argmin())
        if values[least] < best_m:
            best_m, best_at_m = float(values[least]), float(middles[least])
        if half_m < SETTLED_M:
            break
        open_still = values - half_m < min(best_m - SETTLED_M, below_m)
        half_m /= 2
        middles = np.concatenate([middles[open_still] - half_m, middles[open_still] + half_m])
    return (best_m, best_at_m) if best_m < below_m else (np.inf, from_m)


def _to_box(box: Box, points: Numbers) -> Numbers:
    own = (points - np.array(box.centre)) @ np.array(box.rotation).T
    half = np.array(box.size) / 2
    nearest = np.clip(own, -half, half)
    outside = np.sqrt(((own - nearest) ** 2).sum(axis=1))
    depth = (half - np.abs(own)).min(axis=1)
    return np.where(depth > 0, -depth, outside)


def _to_prism(prism: Prism, points: Numbers) -> Numbers:
    own = (points - np.array(prism.origin)) @ np.array(prism.frame).T
    plane, height = own[:, :2], own[:, 2]
    edge, inside = _to_ring(plane, np.array(prism.footprint))
    for hole in prism.holes:
        if isinstance(hole, Circle):
            from_centre = np.sqrt(((plane - np.array(hole.centre)) ** 2).sum(axis=1))
            hole_edge, in_hole = np.abs(from_centre - hole.radius), from_centre < hole.radius
        else:
            hole_edge, in_hole = _to_ring(plane, np.array(hole))
        edge = np.minimum(edge, hole_edge)
        inside &= ~in_hole
    above = np.maximum(prism.low - height, height - prism.high)
    beside = np.where(inside, 0.0, edge)
    outside = np.sqrt(beside**2 + np.maximum(above, 0.0) ** 2)
    return np.where(inside & (above < 0), -np.minimum(edge, -above), outside)


def _to_ring(plane: Numbers, ring: Numbers) -> tuple[Numbers, NDArray[np.bool_]]:
    """Distance (n,) to a closed polygon's sides, and which points it goes round (by winding number)."""
    nearest = np.full(len(plane), np.inf)
    winding = np.zeros(len(plane))
    for corner, following in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        to_corner, to_following = corner - plane, following - plane
        side = following - corner
        share = np.clip(-(to_corner @ side) / (side @ side), 0.0, 1.0)
        nearest = np.minimum(nearest, np.hypot(*(to_corner + share[:, None] * side).T))
        turn = to_corner[:, 0] * to_following[:, 1] - to_corner[:, 1] * to_following[:, 0]
        winding += np.arctan2(turn, (to_corner * to_following).sum(axis=1))
    return nearest, np.abs(winding) > np.pi


def _to_cylinder(cylinder: Cylinder, points: Numbers) -> Numbers:
    axis = np.array(cylinder.axis)
    out = points - np.array(cylinder.base)
    height = out @ axis
    from_axis = np.sqrt(np.maximum((out**2).sum(axis=1) - height**2, 0.0))
    beside = from_axis - cylinder.radius
    beyond = np.maximum(-height, height - cylinder.height)
    outside = np.sqrt(np.maximum(beside, 0.0) ** 2 + np.maximum(beyond, 0.0) ** 2)
    return np.where((beside < 0) & (beyond < 0), np.maximum(beside, beyond), outside)
