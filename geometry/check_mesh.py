"""The stranger's own distance to a mesh, from its corners and triangles alone.

Written apart from `mesh_tree.py` and the kernel: a triangle is measured by its plane and its three sides, and inside is
told by counting how often a ray out passes from front to back, not by normals.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geometry.meshes import Mesh

Numbers = NDArray[np.float64]

TOGETHER = 48  # points at a time
# no side of a drawing runs along this: the ray meets no edge
RAY = np.array([0.2672612419, 0.5345224838, 0.8017837257]) + np.array([0.0137, -0.0071, 0.0003])


def distance_to_mesh(mesh: Mesh, points: Numbers) -> Numbers:
    """Distance (n,) from points (n, 3) to the surface, negative within any of its bodies; never so for a skin."""
    found = np.full(len(points), np.inf)
    for number in range(len(mesh.surface.first) - 1):
        low, high = mesh.surface.first[number : number + 2]
        corners = mesh.corners[mesh.triangles[low:high]]
        away = _to_triangles(corners, points)
        if mesh.closed:
            away = np.where(_within(corners, points), -away, away)
        found = np.minimum(found, away)
    return found


def _to_triangles(corners: Numbers, points: Numbers) -> Numbers:
    """(n,) to the nearest of the triangles (m, 3, 3): only those are measured that the boxes round them leave open."""
    low, high = corners.min(axis=1), corners.max(axis=1)
    nearest = np.empty(len(points))
    for i in range(0, len(points), TOGETHER):
        chunk = points[i : i + TOGETHER]
        # first for all of them at once, from their middle: no point is further from it than `wide`
        middle = (chunk.min(axis=0) + chunk.max(axis=0))[None] / 2
        wide = float(np.sqrt(((chunk - middle) ** 2).sum(axis=1)).max())
        from_middle = np.sqrt(_to_boxes(low, high, middle)[0])
        closest = int(from_middle.argmin())
        some = np.flatnonzero(from_middle <= _to_each(corners[closest][None], middle)[0] + 2 * wide)
        to_box = _to_boxes(low[some], high[some], chunk)
        best = _to_each(corners[some[to_box.argmin(axis=1)]], chunk)
        near, which = np.nonzero(to_box < (best**2)[:, None])
        np.minimum.at(best, near, _to_each(corners[some[which]], chunk[near]))
        nearest[i : i + TOGETHER] = best
    return nearest


def _to_boxes(low: Numbers, high: Numbers, points: Numbers) -> Numbers:
    """(n, m) squares of the distances from points to boxes."""
    square = np.zeros((len(points), len(low)))
    for axis in range(3):
        p = points[:, axis, None]
        square += np.maximum(np.maximum(low[:, axis] - p, p - high[:, axis]), 0.0) ** 2
    return square


def _to_each(corners: Numbers, points: Numbers) -> Numbers:
    """(n,) from each point to its own triangle: to the plane if the foot lies within, else to the nearest side."""
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.sqrt((normal**2).sum(axis=1))[:, None]
    height = ((points - corners[:, 0]) * normal).sum(axis=1)
    foot_in = np.ones(len(points), dtype=bool)
    beside = np.full(len(points), np.inf)
    for one, two in ((0, 1), (1, 2), (2, 0)):
        side, out = corners[:, two] - corners[:, one], points - corners[:, one]
        foot_in &= (out * np.cross(normal, side)).sum(axis=1) >= 0
        share = np.clip((out * side).sum(axis=1) / (side**2).sum(axis=1), 0.0, 1.0)
        beside = np.minimum(beside, np.sqrt(((out - share[:, None] * side) ** 2).sum(axis=1)))
    return np.where(foot_in, np.abs(height), beside)


def _within(corners: Numbers, points: Numbers) -> NDArray[np.bool_]:
    """Looking along the ray, triangles are drawn on a plane: those over the point and beyond it are counted."""
    ray = RAY / np.sqrt(RAY @ RAY)
    across = np.cross(ray, (1.0, 0.0, 0.0))
    across /= np.sqrt(across @ across)
    frame = np.array([across, np.cross(ray, across), ray])
    drawn, seen = corners @ frame.T, points @ frame.T
    low, high = drawn.min(axis=1), drawn.max(axis=1)
    inside = np.zeros(len(points), dtype=bool)
    for i in range(0, len(points), TOGETHER):
        chunk = seen[i : i + TOGETHER]
        over_any = (low[:, :2] <= chunk[:, :2].max(axis=0)) & (chunk[:, :2].min(axis=0) <= high[:, :2])
        some = np.flatnonzero(over_any.all(axis=1) & (high[:, 2] > chunk[:, 2].min()))
        p = chunk[:, None, :2]
        over_each = (low[some, :2] <= p) & (p <= high[some, :2])
        which, facet = np.nonzero(over_each.all(axis=2) & (high[some, 2] > chunk[:, None, 2]))
        t, q = drawn[some[facet]], chunk[which]
        areas = []
        for one, two in ((1, 2), (2, 0), (0, 1)):
            a, b = t[:, one] - q, t[:, two] - q
            areas.append(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
        shares = np.array(areas)
        whole = shares.sum(axis=0)
        over = (shares * np.sign(whole) >= 0).all(axis=0) & (whole != 0)
        height = (shares * t[:, :, 2].T).sum(axis=0) / np.where(whole == 0, 1.0, whole)
        passes = np.where(over & (height > q[:, 2]), np.sign(whole), 0.0)
        inside[i : i + TOGETHER] = np.bincount(which, passes, minlength=len(chunk)) > 0.5
    return inside
