"""A solid of triangles: a hull, a casting, anything drawn elsewhere. Its distance is exact, its edges are chosen."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometry.mesh_surface import Surface, Triples, surface_of
from geometry.mesh_tree import MeshTree, tree_of
from geometry.solids import Edges, Points

Numbers = NDArray[np.float64]
BENT_RAD = np.radians(0.5)  # less between two triangles is no edge
ACUTE = -0.7  # cosine between the faces' normals: round a sharper edge a cable bends twice
NEXT_EDGES = 6  # of those that are left, reached from each in a straight line
MOST_TURN_RAD = np.radians(75.0)  # beyond that it is another side
MOST_EDGES = 160  # shown to the searcher: the run it finds is pulled taut on the true surface


@dataclass(frozen=True, eq=False)
class Creases:
    """Sides of triangles: convex where the angle between the faces' normals counts as positive."""

    starts: Points  # (k, 3) m
    ends: Points  # (k, 3) m
    first_normals: Points  # (k, 3) unit
    second_normals: Points  # (k, 3) unit
    angle_rad: Numbers  # (k,) 0: flat; a skin's border has half a turn


@dataclass(frozen=True, eq=False)
class Mesh:
    """Closed bodies of triangles, together; or, where not `closed`, a skin that has two sides and no inside.

    `corners` (n, 3) in metres; `triangles` (m, 3) hold their numbers. Either way round is read: bodies are turned to
    face outwards. Raises NotAMesh (a ValueError) for triangles that make no such thing: see `surface_of`.

    >>> wedge = Mesh([(0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1)], [(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)])
    >>> [round(float(d), 6) for d in wedge.signed_distance([(0.1, 0.2, 0.2), (0.2, 0.2, -0.5), (1.3, 0.4, 0.0)])]
    [-0.1, 0.5, 0.5]
    """

    corners: Points
    triangles: Triples
    closed: bool = True

    def __post_init__(self) -> None:
        surface = self.surface
        object.__setattr__(self, "corners", surface.corners)
        object.__setattr__(self, "triangles", surface.triangles)

    @cached_property
    def surface(self) -> Surface:
        corners = np.asarray(self.corners, dtype=float).reshape(-1, 3)
        return surface_of(corners, np.asarray(self.triangles, dtype=np.intp).reshape(-1, 3), self.closed)

    @cached_property
    def tree(self) -> MeshTree:
        return tree_of(self.surface)

    def signed_distance(self, points: ArrayLike) -> Numbers:
        """Distance (n,) from each of points (n, 3) to the surface, negative inside."""
        # the kernel packs meshes too, so it stands above this module
        from geometry.kernel import COMPILED, Packed

        places = np.asarray(points, dtype=float).reshape(-1, 3)
        if not COMPILED:
            return self.tree.signed_distance(places)
        if "_packed" not in self.__dict__:
            object.__setattr__(self, "_packed", Packed([self], [0.0], [], [], False))
        packed: Packed = self.__dict__["_packed"]
        return packed.distances(places, np.zeros(1, dtype=np.intp))[:, 0]

    def bounds(self) -> Points:
        """Least and greatest corner, (2, 3)."""
        used = self.corners[self.triangles.reshape(-1)]
        return np.array([used.min(axis=0), used.max(axis=0)])

    def edges(self) -> Edges:
        """Convex edges for runs outside, on a rounded part as many as show its shape; both sides of a skin."""
        return self._edges

    def inner_edges(self) -> Edges:
        """The edges for runs inside, where the mesh is the wall of a compartment."""
        return self._inner_edges

    @cached_property
    def _edges(self) -> Edges:
        folds = self.creases
        if self.closed:
            return _shown(folds, folds.angle_rad)
        back = Creases(folds.starts, folds.ends, -folds.first_normals, -folds.second_normals, -folds.angle_rad)
        border = np.isclose(folds.angle_rad, np.pi)
        both = _joined(folds, back)
        # a border is one edge whichever side it is seen from
        return _shown(both, np.where(np.concatenate([border, border]), np.abs(both.angle_rad), both.angle_rad))

    @cached_property
    def _inner_edges(self) -> Edges:
        folds = self.creases
        back = Creases(folds.starts, folds.ends, -folds.first_normals, -folds.second_normals, -folds.angle_rad)
        return _shown(back, back.angle_rad)

    @cached_property
    def creases(self) -> Creases:
        """Every side of a triangle with the faces beside it; of a skin's border, its triangle and the way out."""
        triangles, corners = self.triangles, self.corners
        a, b, c = (corners[triangles[:, k]] for k in range(3))
        normals = np.cross(b - a, c - a)
        normals /= np.linalg.norm(normals, axis=1)[:, None]
        sides = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
        facing = np.concatenate([triangles[:, 2], triangles[:, 0], triangles[:, 1]])
        owner = np.tile(np.arange(len(triangles)), 3)
        low, high = sides.min(axis=1), sides.max(axis=1)
        order = np.lexsort((owner, high, low))
        same = (low[order][1:] == low[order][:-1]) & (high[order][1:] == high[order][:-1])
        one, two = order[:-1][same], order[1:][same]
        sense = np.ones(len(one))
        if not self.closed:  # a skin's triangles need not face alike
            sense[sides[one, 0] == sides[two, 0]] = -1.0
        first, second = normals[owner[one]], sense[:, None] * normals[owner[two]]
        start, end = corners[sides[one, 0]], corners[sides[one, 1]]
        across = np.linalg.norm(np.cross(first, second), axis=1)
        below = np.einsum("ij,ij->i", first, corners[facing[two]] - start)
        angle = np.arctan2(across, np.einsum("ij,ij->i", first, second)) * np.where(below < 0, 1.0, -1.0)
        found = Creases(start, end, first, second, angle)
        paired = np.zeros(len(order), dtype=bool)
        paired[one] = paired[two] = True
        lone = np.flatnonzero(~paired)
        if not len(lone):
            return found
        start, end = corners[sides[lone, 0]], corners[sides[lone, 1]]
        out = np.cross(end - start, normals[owner[lone]])
        out /= np.linalg.norm(out, axis=1)[:, None]
        return _joined(found, Creases(start, end, normals[owner[lone]], out, np.full(len(lone), np.pi)))


def _joined(one: Creases, two: Creases) -> Creases:
    return Creases(
        np.vstack([one.starts, two.starts]),
        np.vstack([one.ends, two.ends]),
        np.vstack([one.first_normals, two.first_normals]),
        np.vstack([one.second_normals, two.second_normals]),
        np.concatenate([one.angle_rad, two.angle_rad]),
    )


def _shown(folds: Creases, angle_rad: Numbers) -> Edges:
    """The convex ones, thinned out where there are many; an acute one as two."""
    convex = np.flatnonzero(angle_rad > BENT_RAD)
    weights = angle_rad[convex] * _lengths(folds, convex)
    kept = convex[_spread_out((folds.starts + folds.ends)[convex] / 2, weights)]
    starts, ends = folds.starts[kept], folds.ends[kept]
    first, second = folds.first_normals[kept], folds.second_normals[kept]
    middle = first + second
    flat = np.linalg.norm(middle, axis=1) < 1e-6
    middle[flat] = np.cross(ends - starts, first)[flat]
    middle /= np.linalg.norm(middle, axis=1)[:, None]
    if len(kept) < len(convex):
        starts, ends, first, second = _around(starts, ends, first, second, middle)
    acute = np.einsum("ij,ij->i", first, second) < ACUTE
    return Edges(
        np.vstack([starts, starts[acute]]),
        np.vstack([ends, ends[acute]]),
        np.vstack([first, second[acute]]),
        np.vstack([np.where(acute[:, None], middle, second), middle[acute]]),
    )


def _around(starts: Points, ends: Points, first: Points, second: Points, middle: Points) -> tuple[Points, ...]:
    """The edges that are left of a rounded part, moved out until a straight line to the next one clears the surface.

    On a round of radius r, edges `turn` apart stand r (1 / cos(turn / 2) - 1) off, their faces half that turn to
    either side: so a polygon is put round a circle.
    """
    places = (starts + ends) / 2
    apart = np.linalg.norm(places[:, None] - places[None], axis=2)
    np.fill_diagonal(apart, np.inf)
    next_to = np.argsort(apart, axis=1, kind="stable")[:, :NEXT_EDGES]
    rows = np.arange(len(places))[:, None]
    turn = np.arccos(np.clip(np.einsum("ik,ijk->ij", middle, middle[next_to]), -1.0, 1.0))
    below = np.einsum("ijk,ik->ij", places[next_to] - places[:, None], middle) < 0
    turn[~below | (turn > MOST_TURN_RAD)] = 0.0
    widest = turn.argmax(axis=1)
    half = turn[rows[:, 0], widest] / 2
    radius_m = apart[rows[:, 0], next_to[rows[:, 0], widest]] / np.maximum(2 * np.sin(half), 1e-9)
    out = (radius_m * (1 / np.cos(half) - 1))[:, None] * middle
    along = (ends - starts) / np.linalg.norm(ends - starts, axis=1)[:, None]
    tilt = np.tan(half)[:, None] * np.cross(along, middle)
    wide, other = middle - tilt, middle + tilt
    wide /= np.linalg.norm(wide, axis=1)[:, None]
    other /= np.linalg.norm(other, axis=1)[:, None]
    wider = (np.einsum("ij,ij->i", first, second) > np.cos(2 * half))[:, None]
    return starts + out, ends + out, np.where(wider, wide, first), np.where(wider, other, second)


def _lengths(folds: Creases, which: NDArray[np.intp]) -> Numbers:
    return np.asarray(np.linalg.norm(folds.ends[which] - folds.starts[which], axis=1))


def _spread_out(middles: Points, weights: Numbers) -> NDArray[np.intp]:
    """At most `MOST_EDGES` of them, the weightiest of each cell of a grid."""
    order = np.lexsort((np.arange(len(weights)), -np.round(weights, 12)))
    if len(order) <= MOST_EDGES:
        return np.sort(order)
    low = middles.min(axis=0)
    cell_m = float((middles.max(axis=0) - low).max()) / MOST_EDGES**0.5
    while True:
        cells = np.floor((middles[order] - low) / cell_m).astype(np.int64)
        _, first = np.unique(cells, axis=0, return_index=True)
        if len(first) <= MOST_EDGES:
            return np.sort(order[first])
        cell_m *= 1.15
