"""Outlines of faces as the check of bus-bar places sees them: worked out again, by winding and by walking.

Nothing is shared with the search (`face_outlines`) but the problem.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from cutlist.bank.site import MountingFace
from cutlist.layout.place_problem import Array
from geometry.outlines import Vertex

HAIR_M = 1e-7
STEP_M = 0.0005  # at which a row is walked along


def depth_within(outline: Sequence[Vertex], points: Array) -> Array:
    """Metres (n,) from points (n, 2) to the outline, negative for those that it does not wind round.

    >>> depth_within(((0, 0), (1, 0), (1, 1), (0, 1)), np.array([(0.5, 0.4), (2.0, 0.5)])).round(6).tolist()
    [0.4, -1.0]
    """
    nearest, turned = np.full(len(points), np.inf), np.zeros(len(points))
    for (x0, y0), (x1, y1) in zip(outline, (*outline[1:], outline[0]), strict=True):
        px, py = points[:, 0] - x0, points[:, 1] - y0
        dx, dy = x1 - x0, y1 - y0
        share = np.clip((px * dx + py * dy) / (dx * dx + dy * dy), 0.0, 1.0)
        nearest = np.minimum(nearest, np.hypot(px - share * dx, py - share * dy))
        qx, qy = points[:, 0] - x1, points[:, 1] - y1
        turned += np.arctan2(px * qy - py * qx, px * qx + py * qy)
    return np.asarray(np.where(np.abs(turned) > np.pi, nearest, -nearest))


def nowhere_within(face: MountingFace, middles: Array, half: tuple[float, float], reach_m: Array) -> NDArray[np.bool_]:
    """Whether every row whose middle lies within reach_m (q,) of middles (q, 2) breaks an outline: nothing it does
    while it moves so far mends what is wrong at its middle, its quarters or its ends.
    """
    broken = np.zeros(len(middles), dtype=bool)
    for share in (-1.0, -0.5, 0.0, 0.5, 1.0):
        points = middles + share * np.array(half)
        if face.outline:
            broken |= depth_within(face.outline, points) + reach_m < face.edge_m
        for zone in face.forbidden_outlines:
            broken |= depth_within(zone, points) > reach_m
    return broken


def row_stands(face: MountingFace, first: Array, last: Array) -> bool:
    """Whether a row keeps its edge from the outline and stays out of forbidden ones, walked along step by step.

    Finer than a step nothing is seen; a person's pencil is broader.
    """
    steps = max(2, int(np.ceil(float(np.linalg.norm(last - first)) / STEP_M)) + 1)
    points = first + np.linspace(0.0, 1.0, steps)[:, None] * (last - first)
    if face.outline and depth_within(face.outline, points).min() < face.edge_m - HAIR_M:
        return False
    return all(depth_within(zone, points).max() <= HAIR_M for zone in face.forbidden_outlines)
