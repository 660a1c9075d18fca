"""Which lines of a mesh are drawn: its sharp edges, its borders, and its outline as seen from somewhere."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from geometry.meshes import Mesh

Points = NDArray[np.float64]  # (n, 3)
SHARP_RAD = math.radians(25.0)
SAME_M = 1e-6


def sharp_lines(mesh: Mesh) -> tuple[Points, ...]:
    """Edges that are seen from everywhere, as polylines."""
    folds = mesh.creases
    kept = np.abs(folds.angle_rad) > SHARP_RAD
    return _chained(folds.starts[kept], folds.ends[kept])


def lines_seen(mesh: Mesh, towards: Points) -> tuple[Points, ...]:
    """The sharp edges, and those beyond which the surface turns away from an eye far off in this direction (3,)."""
    folds = mesh.creases
    one, two = folds.first_normals @ towards, folds.second_normals @ towards
    kept = (np.abs(folds.angle_rad) > SHARP_RAD) | ((one > 0) != (two > 0))
    return _chained(folds.starts[kept], folds.ends[kept])


def triangles_seen(mesh: Mesh, towards: Points) -> Points:
    """(k, 3, 3) the triangles that face that eye; of a skin all."""
    corners = mesh.corners[mesh.triangles]
    if not mesh.closed:
        return corners
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    facing = normals @ towards
    return corners[facing > 1e-9 * np.linalg.norm(normals, axis=1)]


def _chained(starts: Points, ends: Points) -> tuple[Points, ...]:
    """Lines end to end in as few polylines as come of following them in order."""
    places = np.rint(np.vstack([starts, ends]) / SAME_M)
    _, number = np.unique(places, axis=0, return_inverse=True)
    one, two = number.reshape(2, -1).tolist()
    at: dict[int, list[int]] = {}
    for line, ends_of in enumerate(zip(one, two, strict=True)):
        for place in ends_of:
            at.setdefault(place, []).append(line)
    left = [True] * len(one)
    chains: list[Points] = []
    for first in range(len(one)):
        if not left[first]:
            continue
        left[first] = False
        chain, here = [starts[first], ends[first]], two[first]
        while True:
            onward = [i for i in at[here] if left[i]]
            if not onward:
                break
            line = onward[0]
            left[line] = False
            chain.append(ends[line] if one[line] == here else starts[line])
            here = two[line] if one[line] == here else one[line]
        chains.append(np.array(chain))
    return tuple(chains)
