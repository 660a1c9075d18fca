"""The triangle nearest to a point, soon: triangles in a tree of boxes, with what tells inside from outside.

The sign of a distance is taken from the surface's normal at the nearest place: of the triangle, or, on a side or a
corner, of all triangles that meet there, each by its angle. Source: J. A. Baerentzen and H. Aanaes, "Signed distance
computation using the angle weighted pseudonormal", IEEE TVCG 11 (2005): for a closed surface that sign is exact.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from geometry.mesh_surface import Surface

Numbers = NDArray[np.float64]
FACET = 30  # numbers a triangle: three corners, then the normals of itself, its three sides and its three corners
LEAF = 4  # triangles at most in a box that is not halved
AT_ONCE = 400_000  # pairs of point and triangle measured in one go


@dataclass(frozen=True, eq=False)
class MeshTree:
    """Box 2 k + 1 and box 2 k + 2 hold the first and the second half of the triangles of box k."""

    facets: Numbers  # (m, FACET)
    boxes: Numbers  # (b, 6) least and greatest corner
    first_facet: NDArray[np.int64]  # (bodies + 1,)
    first_box: NDArray[np.int64]  # (bodies + 1,)

    @property
    def bodies(self) -> int:
        return len(self.first_facet) - 1

    def signed_distance(self, points: Numbers) -> Numbers:
        """(n,) from points (n, 3): to the nearest body, negative inside one."""
        bodies = [self._to_body(body, points) for body in range(self.bodies)]
        return np.asarray(np.minimum.reduce(bodies))

    def _to_body(self, body: int, points: Numbers) -> Numbers:
        facets = self.facets[self.first_facet[body] : self.first_facet[body + 1]]
        middles, radii, near = self._rounds[body]
        found = np.empty(len(points))
        step = max(1, AT_ONCE // len(facets))
        for i in range(0, len(points), step):
            chunk = points[i : i + step]
            # no further than the nearest middle, and the triangle round it
            furthest_m, _ = near.query(chunk)
            away = np.linalg.norm(chunk[:, None] - middles[None], axis=2) - radii
            which, facet = np.nonzero(away <= furthest_m[:, None] + 1e-12)
            off, normal = offs(chunk[which], facets[facet])
            square = np.einsum("ij,ij->i", off, off)
            order = np.lexsort((facet, square, which))
            first = order[np.searchsorted(which[order], np.arange(len(chunk)))]
            inside = np.einsum("ij,ij->i", off[first], normal[first]) < 0
            found[i : i + step] = np.where(inside, -1.0, 1.0) * np.sqrt(square[first])
        return found

    @cached_property
    def _rounds(self):
        """Of each body: middles of its triangles, radii of the balls round them, and the middles in a search tree."""
        from scipy.spatial import cKDTree

        rounds = []
        for low, high in pairwise(self.first_facet.tolist()):
            corners = self.facets[low:high, :9].reshape(-1, 3, 3)
            middles = corners.mean(axis=1)
            rounds.append((middles, np.linalg.norm(corners - middles[:, None], axis=2).max(axis=1), cKDTree(middles)))
        return rounds


def offs(points: Numbers, facets: Numbers) -> tuple[Numbers, Numbers]:
    """From the nearest place of triangle i to point i (n, 3), and the normal of the surface at that place (n, 3)."""
    a, b, c = facets[:, 0:3], facets[:, 3:6], facets[:, 6:9]
    ab, ac = b - a, c - a

    def along(corner: Numbers) -> tuple[Numbers, Numbers]:
        out = points - corner
        return np.einsum("ij,ij->i", ab, out), np.einsum("ij,ij->i", ac, out)

    (d1, d2), (d3, d4), (d5, d6) = along(a), along(b), along(c)
    va, vb, vc = d3 * d6 - d5 * d4, d5 * d2 - d1 * d6, d1 * d4 - d3 * d2
    # the parts of space nearest to a corner, a side or the middle, in the order in which they are asked
    cases = [
        (d1 <= 0) & (d2 <= 0),
        (d3 >= 0) & (d4 <= d3),
        (vc <= 0) & (d1 >= 0) & (d3 <= 0),
        (d6 >= 0) & (d5 <= d6),
        (vb <= 0) & (d2 >= 0) & (d6 <= 0),
        (va <= 0) & (d4 >= d3) & (d5 >= d6),
    ]
    case = np.select(cases, [4, 5, 1, 6, 3, 2], 0)

    def part(top: Numbers, rest: Numbers) -> Numbers:
        whole = top + rest
        return top / np.where(whole == 0, 1.0, whole)

    zero, one = np.zeros(len(points)), np.ones(len(points))
    whole = np.where(va + vb + vc == 0, 1.0, va + vb + vc)
    to_c = part(d4 - d3, d5 - d6)
    v = np.select([case == 0, case == 1, case == 2, case == 5], [vb / whole, part(d1, -d3), 1.0 - to_c, one], zero)
    w = np.select([case == 0, case == 3, case == 2, case == 6], [vc / whole, part(d2, -d6), to_c, one], zero)
    nearest = a + v[:, None] * ab + w[:, None] * ac
    normals = facets[:, 9:].reshape(-1, 7, 3)
    return points - nearest, normals[np.arange(len(points)), case]


def tree_of(surface: Surface) -> MeshTree:
    facets, boxes = [], []
    every = _facets(surface)
    for low, high in pairwise(surface.first.tolist()):
        own, own_boxes = _halved(every[low:high])
        facets.append(own)
        boxes.append(own_boxes)
    first_box = np.concatenate([[0], np.cumsum([len(part) for part in boxes])])
    return MeshTree(
        np.ascontiguousarray(np.vstack(facets)),
        np.ascontiguousarray(np.vstack(boxes)),
        surface.first.astype(np.int64),
        first_box.astype(np.int64),
    )


def boxes_needed(triangles: int) -> int:
    """How many boxes the tree over so many triangles has.

    >>> [boxes_needed(n) for n in (1, 4, 5, 8, 9)]
    [1, 1, 3, 3, 7]
    """
    count, largest = 1, triangles
    while largest > LEAF:
        count, largest = 2 * count + 1, (largest + 1) // 2
    return count


def _facets(surface: Surface) -> Numbers:
    """(m, FACET), triangle by triangle. The normals of a skin are nothing: it has no inside."""
    corners = surface.corners[surface.triangles]
    facets = np.zeros((len(corners), FACET))
    facets[:, :9] = corners.reshape(-1, 9)
    if not surface.closed:
        return facets
    triangles = surface.triangles
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    facets[:, 9:12] = normals
    body = np.searchsorted(surface.first, np.arange(len(triangles)), side="right")
    # a body's own corners: two bodies may touch in one
    owned = triangles + body[:, None] * len(surface.corners)
    numbers, own = np.unique(owned, return_inverse=True)
    own = own.reshape(-1, 3)
    at_corner = np.zeros((len(numbers), 3))
    for k in range(3):
        one, two = corners[:, (k + 1) % 3] - corners[:, k], corners[:, (k + 2) % 3] - corners[:, k]
        angle = np.arctan2(np.linalg.norm(np.cross(one, two), axis=1), np.einsum("ij,ij->i", one, two))
        np.add.at(at_corner, own[:, k], angle[:, None] * normals)
    facets[:, 21:30] = at_corner[own].reshape(-1, 9)
    sides = np.concatenate([own[:, [k, (k + 1) % 3]] for k in range(3)])
    _, side = np.unique(np.sort(sides, axis=1), axis=0, return_inverse=True)
    side = side.reshape(-1)
    at_side = np.zeros((int(side.max()) + 1, 3))
    np.add.at(at_side, side, np.tile(normals, (3, 1)))
    facets[:, 12:21] = at_side[side].reshape(3, -1, 3).transpose(1, 0, 2).reshape(-1, 9)
    return facets


def _halved(facets: Numbers) -> tuple[Numbers, Numbers]:
    """The triangles in the order of the tree, and its boxes."""
    order = np.arange(len(facets))
    corners = facets[:, :9].reshape(-1, 3, 3)
    least, most, middles = corners.min(axis=1), corners.max(axis=1), corners.mean(axis=1)
    # boxes that stand for no triangle have no inside and are never looked at
    boxes = np.tile([np.inf] * 3 + [-np.inf] * 3, (boxes_needed(len(facets)), 1))
    waiting = [(0, 0, len(facets))]
    while waiting:
        k, low, high = waiting.pop()
        mine = order[low:high]
        boxes[k] = np.concatenate([least[mine].min(axis=0), most[mine].max(axis=0)])
        if high - low <= LEAF:
            continue
        axis = int(np.argmax(middles[mine].max(axis=0) - middles[mine].min(axis=0)))
        order[low:high] = mine[np.argsort(middles[mine, axis], kind="stable")]
        half = low + (high - low + 1) // 2
        waiting += [(2 * k + 1, low, half), (2 * k + 2, half, high)]
    return facets[order], boxes
