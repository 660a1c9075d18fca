"""Where on a mounting face can no bus bar stand, because something is there already?

A stud nearer to a solid than a cable keeps from it cannot be left in any direction, and no part of a bar may lie in a
solid. What that takes of a face becomes rectangles like those that a job forbids: one rule for search, proof and maps.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from cutlist.bank.site import MountingFace
from geometry.clearances import Clearances
from geometry.space import Space

Mask = NDArray[np.bool_]
Rectangle = tuple[int, int, int, int]  # of squares: first along u, first along v, after the last along u, along v
STEP_M = 0.005  # squares into which a face is divided: what a person can mark
ROUND_M = 5e-4  # a rounded outline bulges no more than this between the corners of squares
TOUCH_M = 1e-9  # at exactly the standoff a cable is clear


def free_faces(
    space: Space, faces: Sequence[MountingFace], standoff_m: float, body_m: float
) -> tuple[MountingFace, ...]:
    """The faces with what is taken among their forbidden parts.

    standoff_m: from the middle of a cable to anything. body_m: how far a bar reaches beyond its studs. Up to a square
    more is taken than must be.
    """
    around = Clearances(space)
    return tuple(
        replace(face, forbidden=(*face.forbidden, *_zones(around, face, standoff_m, body_m))) for face in faces
    )


def _zones(
    around: Clearances, face: MountingFace, standoff_m: float, body_m: float
) -> list[tuple[float, float, float, float]]:
    counts = [max(1, math.ceil(size / STEP_M - 1e-9)) for size in (face.width_m, face.height_m)]
    step_a, step_b = face.width_m / counts[0], face.height_m / counts[1]
    a, b = np.meshgrid(step_a * np.arange(counts[0] + 1), step_b * np.arange(counts[1] + 1), indexing="ij")
    points = np.array(face.origin) + a.reshape(-1, 1) * np.array(face.u) + b.reshape(-1, 1) * np.array(face.v)
    zones = []
    for solid in around.near(points, standoff_m):
        gaps = around.distances(points, np.array([solid]))[:, 0].reshape(a.shape)
        taken = _squares(gaps < standoff_m - TOUCH_M)
        inside = gaps + around.keep_off[solid] < -TOUCH_M
        if inside.any():
            taken |= _spread(_squares(inside), math.ceil(body_m / step_a), math.ceil(body_m / step_b))
        zones += [
            (i * step_a - ROUND_M, j * step_b - ROUND_M, i_end * step_a + ROUND_M, j_end * step_b + ROUND_M)
            for i, j, i_end, j_end in rectangles(taken)
        ]
    return zones


def _squares(corners: Mask) -> Mask:
    """Squares any of whose corners is marked."""
    return corners[:-1, :-1] | corners[1:, :-1] | corners[:-1, 1:] | corners[1:, 1:]


def _spread(marked: Mask, along_u: int, along_v: int) -> Mask:
    """Marked, and what is within so many squares of it both ways."""
    wider = marked.copy()
    for way in range(1, along_u + 1):
        wider[way:] |= marked[:-way]
        wider[:-way] |= marked[way:]
    result = wider.copy()
    for way in range(1, along_v + 1):
        result[:, way:] |= wider[:, :-way]
        result[:, :-way] |= wider[:, way:]
    return result


def rectangles(taken: Mask) -> list[Rectangle]:
    """Rectangles of taken squares that together hold all of them, each as large as it can be where it begins.

    They overlap: a cell of the search is ruled out by one rectangle that holds it, not by two side by side.

    >>> rectangles(np.array([[True, True, False], [True, True, True]]))
    [(0, 0, 2, 2), (1, 0, 2, 3)]
    """
    left = taken.copy()
    found = []
    while left.any():
        i, j = (int(k) for k in np.unravel_index(int(left.argmax()), left.shape))
        i, j, i_end, j_end = max(
            (_grown(taken, i, j, first) for first in (0, 1)), key=lambda r: int(left[r[0] : r[2], r[1] : r[3]].sum())
        )
        left[i:i_end, j:j_end] = False
        found.append((i, j, i_end, j_end))
    return found


def _grown(taken: Mask, i: int, j: int, first: int) -> Rectangle:
    """From one taken square as far as all is taken: along one axis, then along the other."""
    low, high = [i, j], [i + 1, j + 1]
    for axis in (first, 1 - first):
        lines = taken[low[0] : high[0]] if axis == 1 else taken[:, low[1] : high[1]]
        whole = np.atleast_1d(lines.all(axis=1 - axis))
        while low[axis] > 0 and whole[low[axis] - 1]:
            low[axis] -= 1
        while high[axis] < len(whole) and whole[high[axis]]:
            high[axis] += 1
    return low[0], low[1], high[0], high[1]
