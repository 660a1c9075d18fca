"""Many rounded polylines at once: their lengths, how their bends fit, points on them.

A run in the making is a polyline whose every corner is rounded by an arc. To know in which direction to move a
corner the same run is laid a few dozen times, each a little different: B of them, all in one array.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.curve import Arc, Curve, Straight, cross, size

Numbers = NDArray[np.float64]
Indices = NDArray[np.intp]

STRAIGHT_RAD = 1e-7  # a corner that turns less is none


@dataclass(frozen=True, eq=False)
class Rounded:
    """B polylines of k corners. Leg j runs from corner j - 1 to corner j; corner 0 of k is the first between ends."""

    vertices: Numbers  # (B, k + 2, 3) m, both ends included
    radii: Numbers  # (B, k) m
    ways: Numbers  # (B, k + 1, 3) unit directions of the legs
    legs: Numbers  # (B, k + 1) m, corner to corner
    turns: Numbers  # (B, k) rad
    tangents: Numbers  # (B, k) m, corner to where its arc begins

    @property
    def length_m(self) -> Numbers:
        """Developed length (B,)."""
        saved = 2 * self.tangents - self.radii * self.turns
        return self.legs.sum(axis=1) - saved.sum(axis=1)

    @property
    def straights(self) -> Numbers:
        """Straight part of each leg (B, k + 1) m; negative where two bends overlap."""
        rest = self.legs.copy()
        rest[:, :-1] -= self.tangents
        rest[:, 1:] -= self.tangents
        return rest

    def points(self, pieces: Indices, shares: Numbers) -> Numbers:
        """Points (B, n, 3): at these shares (n,) of these pieces (n,). Piece 2 j is leg j, piece 2 j + 1 corner j."""
        on_leg = pieces % 2 == 0
        result = np.empty((len(self.vertices), len(pieces), 3))
        if on_leg.any():
            leg = pieces[on_leg] // 2
            pad = np.zeros((len(self.vertices), 1))
            first = np.concatenate([pad, self.tangents], axis=1)[:, leg]
            last = np.concatenate([self.tangents, pad], axis=1)[:, leg]
            along = first + shares[on_leg] * (self.legs[:, leg] - first - last)
            result[:, on_leg] = self.vertices[:, leg] + along[..., None] * self.ways[:, leg]
        if not on_leg.all():
            corner = pieces[~on_leg] // 2
            turn, radius = self.turns[:, corner], self.radii[:, corner]
            before, after = self.ways[:, corner], self.ways[:, corner + 1]
            here = shares[~on_leg] * turn
            side = (after - np.cos(turn)[..., None] * before) / np.maximum(np.sin(turn), 1e-9)[..., None]
            entry = self.vertices[:, corner + 1] - self.tangents[:, corner, None] * before
            ahead, aside = radius * np.sin(here), 2 * radius * np.sin(here / 2) ** 2
            result[:, ~on_leg] = entry + ahead[..., None] * before + aside[..., None] * side
        return result


def rounded(vertices: Numbers, radii: Numbers) -> Rounded:
    """Polylines (B, k + 2, 3) with corners of radii (B, k)."""
    steps = np.diff(vertices, axis=1)
    legs = np.sqrt(np.einsum("bji,bji->bj", steps, steps))
    ways = steps / np.maximum(legs, 1e-12)[..., None]
    before, after = ways[:, :-1], ways[:, 1:]
    # half the turn from the sum and difference of the two ways: exact near 0 and near pi
    over, under = after - before, after + before
    sine = np.sqrt(np.einsum("bji,bji->bj", over, over))
    cosine = np.sqrt(np.einsum("bji,bji->bj", under, under))
    slope = sine / np.maximum(cosine, 1e-3)
    return Rounded(vertices, radii, ways, legs, 2 * np.arctan(slope), radii * slope)


def as_curve(run: Rounded) -> Curve:
    """The first of the polylines as a curve of straights and arcs.

    Raises ValueError if two bends overlap by more than a hair.
    """
    vertices, ways, turns = run.vertices[0], run.ways[0], run.turns[0]
    pieces: list[Straight | Arc] = []
    here = vertices[0]
    for j, straight_m in enumerate(run.straights[0]):
        if straight_m < -1e-7:
            raise ValueError(f"two bends overlap by {-straight_m * 1000:.4f} mm")
        if j == len(turns):
            break
        if turns[j] < STRAIGHT_RAD:
            continue
        entry = vertices[j + 1] - run.tangents[0, j] * ways[j]
        if float(ways[j] @ (entry - here)) > 1e-9:
            pieces.append(Straight(here, entry))
        normal = cross(ways[j], ways[j + 1])
        normal /= size(normal)
        pieces.append(Arc(entry + run.radii[0, j] * cross(normal, ways[j]), entry, normal, float(turns[j])))
        here = vertices[j + 1] + run.tangents[0, j] * ways[j + 1]
    if np.linalg.norm(vertices[-1] - here) > 1e-9 or not pieces:
        pieces.append(Straight(here, vertices[-1]))
    return Curve(tuple(pieces))


def turn_in(points: Numbers, start: Numbers, way: Numbers, radius_m: float) -> tuple[Numbers, Numbers, Numbers]:
    """Shortest bend-then-straight from start, leaving along way, to each of points (n, 3), arriving any way.

    Returns the length (n,), infinite for points inside the bend's circle; the angle turned (n,); and the unit
    direction (n, 3), square to way, towards which the bend turns. Source: plane geometry, see the comments.
    """
    out = points - start
    ahead = out @ way
    across = out - ahead[:, None] * way
    aside = np.sqrt(np.einsum("ij,ij->i", across, across))
    side = across / np.maximum(aside, 1e-12)[:, None]
    straight_on = aside < 1e-12
    if straight_on.any():
        side[straight_on] = _square_to(way)
    # in the plane of way and side the circle's centre is (0, R); the point lies at R(sin a, -cos a) + l(cos a, sin a)
    # from it, which is (l - iR) turned by the angle a
    square = ahead**2 + (aside - radius_m) ** 2 - radius_m**2
    tangent = np.sqrt(np.maximum(square, 0.0))
    angle = np.arctan2(aside - radius_m, ahead) + np.arctan2(radius_m, tangent)
    angle = np.mod(angle + 1e-12, 2 * math.pi) - 1e-12
    length = np.where(square < -1e-12, np.inf, radius_m * angle + tangent)
    return length, np.maximum(angle, 0.0), side


def turn_corners(start: Numbers, way: Numbers, side: Numbers, angle_rad: float, radius_m: float) -> list[Numbers]:
    """Corners of the polyline whose rounding is one bend from start, along way, turning towards side."""
    count = max(1, math.ceil(angle_rad / 1.3))
    step = angle_rad / count
    reach = radius_m * math.tan(step / 2)
    corners, here, heading, left = [], start, way, side
    for _ in range(count):
        corner = here + reach * heading
        corners.append(corner)
        heading, left = (
            math.cos(step) * heading + math.sin(step) * left,
            math.cos(step) * left - math.sin(step) * heading,
        )
        here = corner + reach * heading
    return corners


def polyline(points: Sequence[Numbers]) -> Numbers:
    """Corners (k, 3) without those that repeat the one before."""
    kept = [np.asarray(points[0], dtype=float)]
    for point in points[1:]:
        if np.linalg.norm(point - kept[-1]) > 1e-6:
            kept.append(np.asarray(point, dtype=float))
    return np.array(kept)


def _square_to(way: Numbers) -> Numbers:
    across = cross(way, np.eye(3)[int(np.argmin(np.abs(way)))])
    return across / np.linalg.norm(across)
