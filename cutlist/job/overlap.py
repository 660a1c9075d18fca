"""Do two solids overlap, how deep, and which way out is nearest."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from geometry.meshes import Mesh
from geometry.solids import Box, Solid

TOUCHING_M = 0.002  # a case on its shelf may stand this deep in it: tapes are read so
SMALLEST_CELL_M = 0.001
MOST_CELLS = 200_000


def box_overlap_m(one: Box, other: Box) -> float:
    """How deep two boxes are in each other: the least move that parts them. Negative when they are apart.

    Source: separating axis theorem; the 15 axes are the faces of both and the products of their edges.

    >>> round(box_overlap_m(Box((0, 0, 0), (1, 1, 1)), Box((0.9, 0, 0), (1, 1, 1))), 6)
    0.1
    """
    a, b = one.axes, other.axes
    products = np.cross(a[:, None, :], b[None, :, :]).reshape(9, 3)
    lengths = np.linalg.norm(products, axis=1)
    # parallel edges have no product; their axes are among the faces
    products = products[lengths > 1e-6] / lengths[lengths > 1e-6][:, None]
    axes = np.vstack([a, b, products])
    apart = np.abs(axes @ (np.array(other.centre) - np.array(one.centre)))
    reach = np.abs(axes @ a.T) @ one.half + np.abs(axes @ b.T) @ other.half
    return float((reach - apart).min())


def overlaps(case: Box, solid: Solid) -> bool:
    """Whether they share more than the touch of a battery on its shelf."""
    return overlap_m(case, solid) > TOUCHING_M


def overlap_m(case: Box, solid: Solid) -> float:
    """How deep the case is in the solid, or a skin in the case; not above 0 when by no more than a touch."""
    if isinstance(solid, Box):
        return box_overlap_m(case, solid)
    return pierced_m(case, solid) if is_skin(solid) else deepest_m(case, solid)


def is_skin(solid: Solid) -> bool:
    return isinstance(solid, Mesh) and not solid.closed


def pierced_m(case: Box, skin: Solid) -> float:
    """About how deep a surface without an inside reaches into the case; 0 when by no more than a touch.

    As `deepest_m`: a part is left out when no place of the skin in it can be deeper than what was found.
    """
    half, centres, deepest = case.half.copy(), np.zeros((1, 3)), 0.0
    while len(centres) and half.max() >= SMALLEST_CELL_M and len(centres) <= MOST_CELLS:
        apart = skin.signed_distance(centres @ case.axes + np.array(case.centre))
        depth = (case.half - np.abs(centres)).min(axis=1)
        # a step of the distance leads to the skin, and out of the case by no more than that
        deepest = max(deepest, float((depth - apart).max()))
        reach = float(np.linalg.norm(half))
        centres = centres[(apart <= reach) & (depth + reach > max(TOUCHING_M, deepest * 1.02))]
        half, centres = _halved(half, centres)
    return deepest if deepest > TOUCHING_M else 0.0


def deepest_m(case: Box, solid: Solid) -> float:
    """About how deep the case reaches into the solid; 0 when by no more than a touch.

    The case is halved again and again; a part whose middle is further from the solid than its corners are from the
    middle is left out. So nothing is missed, however thin.
    """
    half = np.maximum(case.half, 1e-6)
    centres: NDArray[np.float64] = np.zeros((1, 3))
    deepest = 0.0
    for _ in range(60):
        depth = -solid.signed_distance(centres @ case.axes + np.array(case.centre))
        deepest = max(deepest, float(depth.max()))
        reach = float(np.linalg.norm(half))
        hopeful = depth + reach > max(TOUCHING_M, deepest * 1.02)
        centres = centres[hopeful]
        if not len(centres) or half.max() < SMALLEST_CELL_M or len(centres) > MOST_CELLS:
            break
        half, centres = _halved(half, centres)
    return deepest if deepest > TOUCHING_M else 0.0


def _halved(half: NDArray[np.float64], centres: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Every part cut in two across its longest side."""
    axis = int(np.argmax(half))
    step = np.zeros(3)
    step[axis] = half[axis] / 2
    return np.where(np.arange(3) == axis, half / 2, half), np.vstack([centres - step, centres + step])


def nearest_free_shift(
    case: Box, solids: Sequence[Solid], step_m: float = 0.01, furthest_m: float = 0.6
) -> tuple[float, float, float] | None:
    """The least move along x, y or z, in whole steps, after which the case overlaps nothing; None within reach.

    Up is tried before down and sideways before either, for equal moves.
    """
    ways = [(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)]
    bounds = np.array([solid.bounds() for solid in solids])
    low, high = case.bounds()
    for distance in np.arange(step_m, furthest_m + step_m / 2, step_m):
        for way in ways:
            shift = distance * np.array(way, dtype=float)
            near = np.all((bounds[:, 0] < high + shift) & (low + shift < bounds[:, 1]), axis=1)
            moved = Box(tuple(np.array(case.centre) + shift), case.size, case.rotation)
            if not any(overlaps(moved, solids[i]) for i in np.flatnonzero(near).tolist()):
                return (float(shift[0]), float(shift[1]), float(shift[2]))
    return None
