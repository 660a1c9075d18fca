"""A run as corners: straight legs that meet in corners, each rounded with a radius of its own.

Many ways to lay one cable are compared at once, so lengths and limits are worked out on whole arrays: corners
(c, v, 3) and radii (c, v), the radii at both ends being 0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.curve import Arc, Curve, Straight, cross, size

Numbers = NDArray[np.float64]

SHARPEST_RAD = math.radians(150.0)  # an arc that turns more is shown as two corners
MEET_M = 1e-9


@dataclass(frozen=True, eq=False)
class Corners:
    points: Numbers  # (v, 3) m: stud, corners, stud
    radii: Numbers  # (v,) m, 0 at both ends

    @property
    def length_m(self) -> float:
        return float(lengths_m(self.points[None], self.radii[None])[0])

    def reversed(self) -> Corners:
        return Corners(self.points[::-1], self.radii[::-1])


def corners_of(curve: Curve) -> Corners:
    """The corners of a curve: where the straights before and after each arc would meet."""
    points, radii = [np.asarray(curve.start, dtype=float)], [0.0]
    for piece in curve.pieces:
        if isinstance(piece, Straight):
            continue
        parts = math.ceil(piece.angle_rad / SHARPEST_RAD)
        angle = piece.angle_rad / parts
        reach = piece.radius_m / math.cos(angle / 2)
        for part in range(parts):
            middle = piece.points_at(np.array([(part + 0.5) * angle * piece.radius_m]))[0]
            points.append(piece.centre + (middle - piece.centre) * reach / piece.radius_m)
            radii.append(piece.radius_m)
    points.append(np.asarray(curve.end, dtype=float))
    radii.append(0.0)
    return Corners(np.array(points), np.array(radii))


def rounded(corners: Corners) -> Curve:
    """The curve through these corners. Raises ValueError if two bends would overlap or a corner folds back."""
    points, radii = corners.points, corners.radii
    if not bool(fits(points[None], radii[None], 0.0)[0]):
        raise ValueError("two bends of the run overlap")
    _, directions, angles = _legs(points[None])
    pieces: list[Straight | Arc] = []
    here = points[0]
    for i, angle in enumerate(angles[0], start=1):
        if angle < 1e-9:
            continue
        tangent_m = radii[i] * math.tan(angle / 2)
        entry = points[i] - tangent_m * directions[0, i - 1]
        if float((entry - here) @ directions[0, i - 1]) > MEET_M:
            pieces.append(Straight(here, entry))
        else:
            entry = here
        normal = cross(directions[0, i - 1], directions[0, i])
        normal /= size(normal)
        pieces.append(Arc(entry + radii[i] * cross(normal, directions[0, i - 1]), entry, normal, float(angle)))
        here = points[i] + tangent_m * directions[0, i]
    if float(np.linalg.norm(points[-1] - here)) > MEET_M:
        pieces.append(Straight(here, points[-1]))
    if not pieces:
        raise ValueError("a run needs two points that differ")
    return Curve(tuple(pieces))


def lengths_m(points: Numbers, radii: Numbers) -> Numbers:
    """Developed lengths (c,): legs, less what each rounded corner saves."""
    legs, _, angles = _legs(points)
    saved = radii[:, 1:-1] * (2 * np.tan(angles / 2) - angles)
    return legs.sum(axis=1) - saved.sum(axis=1)


def fits(points: Numbers, radii: Numbers, straight_m: float) -> NDArray[np.bool_]:
    """Which (c,) can be laid: every leg holds its bends, first and last leg `straight_m` more, no corner folds back."""
    legs, _, angles = _legs(points)
    tangents = np.zeros(radii.shape)
    tangents[:, 1:-1] = radii[:, 1:-1] * np.tan(np.minimum(angles, math.pi - 1e-6) / 2)
    room = legs - tangents[:, :-1] - tangents[:, 1:]
    room[:, 0] -= straight_m
    room[:, -1] -= straight_m
    if room.shape[1] == 1:
        room += straight_m  # one leg: its two straights may overlap
    fitting = (room > -MEET_M).all(axis=1) & (angles < math.radians(170.0)).all(axis=1)
    return np.asarray(fitting, dtype=np.bool_)


def turning_rad(points: Numbers) -> Numbers:
    """Total turning (c,)."""
    return _legs(points)[2].sum(axis=1)


def usable(corners: Corners, straight_m: float) -> Numbers:
    """Where each leg is straight: from and to (legs, 2), from its first corner, the lugs' straights left out."""
    legs, _, angles = _legs(corners.points[None])
    tangents = np.zeros(len(corners.radii))
    tangents[1:-1] = corners.radii[1:-1] * np.tan(angles[0] / 2)
    spans = np.column_stack([tangents[:-1], legs[0] - tangents[1:]])
    spans[0, 0] += straight_m
    spans[-1, 1] -= straight_m
    return spans


def samples(points: Numbers, radii: Numbers, count: int) -> Numbers:
    """Points (c, count, 3) spread evenly along each of the rounded polylines, both ends included."""
    legs, directions, angles = _legs(points)
    radius = radii[:, 1:-1]
    tangents = np.zeros(radii.shape)
    tangents[:, 1:-1] = radius * np.tan(angles / 2)
    straights = np.maximum(legs - tangents[:, :-1] - tangents[:, 1:], 0.0)
    lengths = np.zeros((len(points), straights.shape[1] + radius.shape[1]))
    lengths[:, 0::2], lengths[:, 1::2] = straights, radius * angles
    ends = np.cumsum(lengths, axis=1)
    wanted = np.linspace(0.0, 1.0, count)[None, :] * ends[:, -1:]
    index = (wanted[:, :, None] >= ends[:, None, :-1]).sum(axis=2)  # piece of each sample
    row = np.arange(len(points))[:, None]
    into = wanted - np.where(index > 0, ends[row, np.maximum(index - 1, 0)], 0.0)
    leg = index // 2
    heading = directions[row, leg]
    on_straight = points[row, leg] + (tangents[row, leg] + into)[..., None] * heading
    if radius.shape[1] == 0:
        return on_straight
    bend = np.minimum(leg, radius.shape[1] - 1)
    r = np.maximum(radius[row, bend], 1e-9)[..., None]
    out = directions[row, bend + 1]
    into_bend = directions[row, bend]
    side = out - (out * into_bend).sum(axis=-1, keepdims=True) * into_bend
    side /= np.maximum(np.linalg.norm(side, axis=-1, keepdims=True), 1e-12)
    turn = into[..., None] / r
    entry = points[row, bend + 1] - tangents[row, bend + 1][..., None] * into_bend
    on_arc = entry + r * (np.sin(turn) * into_bend + (1 - np.cos(turn)) * side)
    return np.where((index % 2 == 1)[..., None], on_arc, on_straight)


def _legs(points: Numbers) -> tuple[Numbers, Numbers, Numbers]:
    """Leg lengths (c, v-1), directions (c, v-1, 3), turning at each inner corner (c, v-2)."""
    out = np.diff(points, axis=1)
    legs = np.sqrt(np.einsum("cij,cij->ci", out, out))
    directions = out / np.maximum(legs, 1e-15)[..., None]
    one, two = directions[:, :-1], directions[:, 1:]
    # from half-angle sines and cosines: exact for small turns, where an arc cosine is not
    over, under = two - one, two + one
    angles = 2 * np.arctan2(
        np.sqrt(np.einsum("cij,cij->ci", over, over)), np.sqrt(np.einsum("cij,cij->ci", under, under))
    )
    return legs, directions, angles
