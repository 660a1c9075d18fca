"""The compiled kernel, where there is one: the same answers as the numpy code beside each call, sooner.

`geometry/_kernel.c` is built when the package is installed. A machine without a C compiler gets the numpy code.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import ModuleType

import numpy as np
from numpy.typing import NDArray

from geometry.meshes import Mesh
from geometry.outlines import Circle
from geometry.solids import Box, Cylinder, Prism, Solid

_compiled: ModuleType | None
try:
    from geometry import _kernel as _compiled
except ImportError:
    _compiled = None

COMPILED = _compiled is not None
Numbers = NDArray[np.float64]
BOX, ROUND, PRISM, ROOMS, MESH = 0, 1, 2, 3, 4
MOST_CORNERS = 40  # of a run that the kernel pulls taut


@dataclass(frozen=True, eq=False)
class Part:
    """One solid in its own axes."""

    kind: int
    axes: Numbers  # (3, 3), one a row
    centre: Numbers  # (3,) the middle of its bounding box along them
    half: Numbers  # (3,) half the size of that box
    sides: Numbers  # (m, 4) and
    circles: Numbers  # (c, 3) of a prism's outline
    bounds: Numbers  # (2, 3) least and greatest corner in the world


_NO_SIDES, _NO_CIRCLES = np.zeros((0, 4)), np.zeros((0, 3))
WALLS = Part(ROOMS, np.zeros((3, 3)), np.zeros(3), np.zeros(3), _NO_SIDES, _NO_CIRCLES, np.zeros((2, 3)))


@lru_cache(maxsize=8192)
def part_of(solid: Solid) -> Part:
    """Worked out once for each solid: the same ones stand in many scenes."""
    axes, middle, half = own_box(solid)
    sides, circles = _NO_SIDES, _NO_CIRCLES
    if isinstance(solid, Prism):
        sides, circles = _outline(solid, axes @ (middle - np.array(solid.origin)))
    return Part(_kind(solid), axes, axes @ middle, half, sides, circles, solid.bounds())


class Packed:
    """Solids in a form the kernel reads: their own boxes, outlines, holes, triangles; then the compartments."""

    def __init__(
        self,
        solids: Sequence[Solid],
        keep_off: Sequence[float],
        rooms: Sequence[Solid],
        rooms_keep_off: Sequence[float],
        rooms_convex: bool,
    ) -> None:
        assert _compiled is not None
        everything: list[Solid | None] = [*solids, *([None] if rooms else []), *rooms]
        offs = [*keep_off, *([0.0] if rooms else []), *rooms_keep_off]
        parts = [WALLS if solid is None else part_of(solid) for solid in everything]
        first_side = np.cumsum([0, *(len(part.sides) for part in parts)])
        first_circle = np.cumsum([0, *(len(part.circles) for part in parts)])
        self.rooms_convex = rooms_convex
        self.scene = _compiled.scene(
            len(solids) + bool(rooms),
            len(everything),
            np.array([part.kind for part in parts], dtype=np.int64),
            _flat([part.axes for part in parts]),
            _flat([part.centre for part in parts]),
            _flat([part.half for part in parts]),
            np.array(offs, dtype=float),
            _index(first_side),
            _flat([part.sides for part in parts]),
            _index(first_circle),
            _flat([part.circles for part in parts]),
            *_meshes(everything),
        )

    def distances(self, points: Numbers, which: NDArray[np.intp]) -> Numbers:
        """(n, k)"""
        assert _compiled is not None
        out = np.empty((len(points), len(which)))
        _compiled.distances(self.scene, _ready(points), _index(which), out)
        return out

    def pair_distances(self, points: Numbers, which: NDArray[np.intp]) -> Numbers:
        """(n,)"""
        assert _compiled is not None
        out = np.empty(len(which))
        _compiled.pairs(self.scene, _ready(points), _index(which), out)
        return out

    def blocked_matrix(
        self, starts: Numbers, ends: Numbers, which: NDArray[np.intp], standoff_m: float
    ) -> NDArray[np.bool_]:
        """(n, k): which segment comes nearer than the standoff to which solid."""
        assert _compiled is not None
        out = np.empty((len(starts), len(which)), dtype=np.bool_)
        _compiled.blocked(
            self.scene, _ready(starts), _ready(ends), _index(which), standoff_m, self.rooms_convex, out, False
        )
        return out

    def blocked(self, starts: Numbers, ends: Numbers, which: NDArray[np.intp], standoff_m: float) -> NDArray[np.bool_]:
        """(n,): which segments come nearer than the standoff to any of the solids."""
        assert _compiled is not None
        out = np.empty(len(starts), dtype=np.bool_)
        _compiled.blocked(
            self.scene, _ready(starts), _ready(ends), _index(which), standoff_m, self.rooms_convex, out, True
        )
        return out

    def bare(self, starts: Numbers, ends: Numbers, which: NDArray[np.intp], reach_m: float) -> Numbers:
        """(n, 3): see `structure.bare_stretches`."""
        assert _compiled is not None
        out = np.empty((len(starts), 3))
        _compiled.bare(self.scene, _ready(starts), _ready(ends), _index(which), reach_m, out)
        return out

    def least_along(
        self, table: Numbers, from_m: float, to_m: float, which: NDArray[np.intp], tolerance_m: float, enough_m: float
    ) -> tuple[float, float, int]:
        """See `Clearances.least_along`; the table is a curve's."""
        assert _compiled is not None
        found: tuple[float, float, int] = _compiled.least_along(
            self.scene, table, from_m, to_m, _index(which), tolerance_m, enough_m
        )
        return found

    def spread(
        self,
        points: Numbers,
        reached: Numbers,
        onward: Numbers,
        least: Numbers,
        dear: Numbers,
        settled: NDArray[np.bool_],
        seen: NDArray[np.int8],
        active: NDArray[np.intp],
        standoff_m: float,
    ) -> tuple[float, int, NDArray[np.intp]]:
        """See `WayGraph.spread`: changes `reached`, `settled` and `seen`."""
        assert _compiled is not None
        before = np.full(len(points), -1, dtype=np.int64)
        best_m, last = _compiled.spread(
            self.scene,
            _ready(points),
            _ready(onward),
            _ready(least),
            _ready(dear),
            _index(active),
            standoff_m,
            self.rooms_convex,
            reached,
            before,
            settled,
            seen,
        )
        return best_m, last, before.astype(np.intp, copy=False)

    def polish(
        self,
        corners: int,
        values: Numbers,
        ends: Numbers,
        own: tuple[tuple[NDArray[np.intp], Numbers], tuple[NDArray[np.intp], Numbers]],
        rules: Sequence[float],
        steps: int,
        wide: bool,
    ) -> float:
        """See `polish.polished`: changes `values` and returns by how much the run still trespasses."""
        assert _compiled is not None
        (start, start_lies), (finish, finish_lies) = own
        return float(
            _compiled.polish(
                self.scene,
                corners,
                values,
                _ready(ends),
                _index(start),
                _ready(start_lies),
                _index(finish),
                _ready(finish_lies),
                np.array(rules, dtype=float),
                steps,
                wide,
            )
        )


def near(low: Numbers, high: Numbers, reach_m: Numbers, points: Numbers) -> NDArray[np.intp]:
    """Numbers of the boxes low (k, 3) to high that lie within their reach (k,) of any point. Only where COMPILED."""
    assert _compiled is not None
    out = np.empty(len(reach_m), dtype=np.bool_)
    _compiled.near(_ready(low), _ready(high), _ready(reach_m), _ready(points), out)
    return np.flatnonzero(out)


def along(table: Numbers, along_m: Numbers) -> Numbers:
    """Points (n, 3) of a curve, see `Curve.points_at`. Only where COMPILED."""
    assert _compiled is not None
    out = np.empty((len(along_m), 3))
    _compiled.along(table, _ready(along_m), out)
    return out


def to_rods(points: Numbers, rods: Numbers) -> Numbers:
    """Distances (n, m) from points (n, 3) to rods (m, 2, 3). Only where COMPILED."""
    assert _compiled is not None
    out = np.empty((len(points), len(rods)))
    _compiled.rods(_ready(points), _ready(rods), out)
    return out


def stamp(field: NDArray[np.float32], places: Numbers, reach: int, pitch_m: float, radius_m: float) -> None:
    """See `RoomGrid.stamp`; changes the field. Places (n, 3) in cells. Only where COMPILED."""
    assert _compiled is not None
    _compiled.stamp(field, *field.shape, _ready(places), reach, pitch_m, radius_m)


def between(field: NDArray[np.float32], places: Numbers) -> Numbers:
    """See `RoomGrid.between`; places (..., 3) in cells. Only where COMPILED."""
    assert _compiled is not None
    out = np.empty(places.shape[:-1])
    _compiled.between(field, *field.shape, _ready(places), out)
    return out


def reach(
    tables: Sequence[NDArray], limit: float, reached: Numbers, before: NDArray, seen: NDArray
) -> tuple[float, int]:
    """See `geometry.reach.reach`: changes the last three. Only where COMPILED."""
    assert _compiled is not None
    found: tuple[float, int] = _compiled.reach(*(np.ascontiguousarray(t) for t in tables), limit, reached, before, seen)
    return found


def non_negative(square: Numbers, linear: Numbers) -> Numbers | None:
    """The u >= 0 with least u.Q.u / 2 - c.u; None if it does not settle. Only where COMPILED."""
    assert _compiled is not None
    out = np.empty(len(linear))
    return out if _compiled.non_negative(_ready(square), _ready(linear), out) else None


def own_box(solid: Solid) -> tuple[Numbers, Numbers, Numbers]:
    """A solid's own axes (3, 3), the middle of its bounding box along them (3,), and half its size (3,)."""
    if isinstance(solid, Box):
        return solid.axes, np.array(solid.centre), solid.half
    if isinstance(solid, Cylinder):
        half = np.array([solid.radius, solid.radius, solid.height / 2])
        return np.array(solid.frame), np.array(solid.base) + solid.unit * solid.height / 2, half
    if isinstance(solid, Prism):
        corners = np.array(solid.footprint)
        low = np.append(corners.min(axis=0), solid.low)
        high = np.append(corners.max(axis=0), solid.high)
        return solid.axes, solid.to_world((low + high) / 2), (high - low) / 2
    low, high = solid.bounds()
    return np.eye(3), (low + high) / 2, (high - low) / 2


def _outline(prism: Prism, middle: Numbers) -> tuple[Numbers, Numbers]:
    """Sides (m, 4) and round holes (c, 3) of a prism, about the middle of its bounding box in its own axes."""
    rings = [np.array(ring) for ring in (prism.footprint, *(h for h in prism.holes if not isinstance(h, Circle)))]
    sides = [np.hstack([ring, np.roll(ring, -1, axis=0)]) - np.tile(middle[:2], 2) for ring in rings]
    circles = [(*(np.array(h.centre) - middle[:2]), h.radius) for h in prism.holes if isinstance(h, Circle)]
    return np.vstack(sides), np.array(circles).reshape(-1, 3)


def _kind(solid: Solid) -> int:
    if isinstance(solid, Mesh):
        return MESH
    return BOX if isinstance(solid, Box) else ROUND if isinstance(solid, Cylinder) else PRISM


def _meshes(solids: Sequence[Solid | None]) -> tuple[NDArray, ...]:
    """Where each solid's bodies begin, each body's triangles and boxes; then all triangles and boxes."""
    trees = [solid.tree if isinstance(solid, Mesh) else None for solid in solids]
    meshes = [tree for tree in trees if tree is not None]
    bodies = [tree.bodies if tree is not None else 0 for tree in trees]
    facets = [int(n) for tree in meshes for n in np.diff(tree.first_facet)]
    boxes = [int(n) for tree in meshes for n in np.diff(tree.first_box)]
    begins = (np.concatenate([[0], np.cumsum(counts, dtype=np.int64)]) for counts in (bodies, facets, boxes))
    first_body, first_facet, first_box = (np.ascontiguousarray(begin, dtype=np.int64) for begin in begins)
    return first_body, first_facet, first_box, _flat([t.facets for t in meshes]), _flat([t.boxes for t in meshes])


def _flat(parts: Sequence[Numbers]) -> Numbers:
    return np.ascontiguousarray(np.concatenate([part.ravel() for part in parts])) if parts else np.zeros(0)


def _ready(values: Numbers) -> Numbers:
    return np.ascontiguousarray(values, dtype=np.float64)


def _index(values: NDArray[np.intp]) -> NDArray[np.int64]:
    return np.ascontiguousarray(values, dtype=np.int64)
