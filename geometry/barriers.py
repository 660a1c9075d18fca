"""Flat-sided bodies and sheets inside what a cable keeps off: what no centreline can pass, in a form to prove it by.

A solid grown by the standoff is round at its edges. A convex body is put inside it that touches it along one line off
every edge; a pierced plate becomes a few sheets with holes no smaller than the centreline's. Whatever these forbid, the
solid forbids; what they allow may still be forbidden. A taut way among them turns at their edges only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.outlines import Circle, Region
from geometry.solids import Box, Cylinder, Prism, Solid

Numbers = NDArray[np.float64]

BODY, SHEET = 0, 1
FACETS = 16  # of something round
DIAGONAL = math.sqrt(0.5)
SHRUNK_M = 1e-8  # faces are taken this much further in, so that rounding never puts them outside


@dataclass(frozen=True, eq=False)
class Nodes:
    """Stretches (n, 2, 3) at which a way may turn, thickened by `etas` (n,); what each stands for, if for several."""

    ends: Numbers
    etas: Numbers
    parts: tuple[Numbers | None, ...]  # (k, 2, 3) edges in place of a thick node; None: it is an edge itself


@dataclass(frozen=True, eq=False)
class Barrier:
    """A convex body: its faces (r, 4), inside where x . normal < offset. Or a sheet in the plane of its frame: first
    its outline, then its holes, each convex, as rows (r, 4) of plane normal, 0 and offset."""

    kind: int
    groups: tuple[Numbers, ...]
    frame: Numbers  # (12,) origin, two axes across, the axis through; zero for a body
    ball: Numbers  # (4,) centre and radius of a ball that holds it
    nodes: Nodes


def barriers_of(solid: Solid, off_m: float, closed: bool = False) -> tuple[Barrier, ...]:
    """Barriers within the solid grown by `off_m` > 0. None for solids of other kinds: they then forbid nothing.

    `closed`: flat faces at the whole distance too, which closes narrow slots at the price of three times the edges.
    """
    if isinstance(solid, Box):
        solid = solid.as_prism
    if isinstance(solid, Cylinder):
        return (_body(_round_points(solid, off_m, closed), off_m),)
    if not isinstance(solid, Prism):
        return ()
    parts = convex_parts(np.array(solid.footprint))
    if solid.holes:
        return tuple(sheet for part in parts for sheet in _sheets(solid, part, off_m))
    return tuple(
        _body(solid.to_world(_prism_points(part, solid.low, solid.high, off_m, closed)), off_m) for part in parts
    )


def convex_parts(outline: Numbers) -> list[Numbers]:
    """The outline (n, 2) cut into convex ones along diagonals, each counter-clockwise."""
    ring = outline if _area(outline) > 0 else outline[::-1]
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    turns = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    inward = np.flatnonzero(turns < -1e-12)
    if not len(inward):
        return [ring[turns > 1e-15]]
    i, count = int(inward[0]), len(ring)
    region = Region(tuple((float(x), float(y)) for x, y in ring))
    for j in sorted(range(count), key=lambda j: float(np.linalg.norm(ring[j] - ring[i]))):
        if j in (i, (i + 1) % count, (i - 1) % count):
            continue
        cut = ring[i] + np.linspace(0, 1, 41)[1:-1, None] * (ring[j] - ring[i])
        if (region.distance(cut) < -1e-9).all():
            one = ring[np.arange(i, i + (j - i) % count + 1) % count]
            two = ring[np.arange(j, j + (i - j) % count + 1) % count]
            return [*convex_parts(one), *convex_parts(two)]
    return []  # nothing is forbidden rather than too much


def _area(ring: Numbers) -> float:
    following = np.roll(ring, -1, axis=0)
    return float(np.sum(ring[:, 0] * following[:, 1] - following[:, 0] * ring[:, 1])) / 2


def _side_normals(ring: Numbers) -> Numbers:
    along = np.roll(ring, -1, axis=0) - ring
    return np.column_stack([along[:, 1], -along[:, 0]]) / np.linalg.norm(along, axis=1)[:, None]


def _rims(ring: Numbers, off_m: float) -> Numbers:
    """Every side of a convex outline moved out, its two ends (2 n, 2)."""
    out = off_m * _side_normals(ring)
    return np.vstack([ring + out, np.roll(ring, -1, axis=0) + out])


def _mitred(ring: Numbers, off_m: float) -> Numbers:
    """Every corner of a convex outline moved out by `off_m` along its bisector."""
    normals = _side_normals(ring)
    both = normals + np.roll(normals, 1, axis=0)
    return ring + off_m * both / np.linalg.norm(both, axis=1)[:, None]


def _prism_points(ring: Numbers, low: float, high: float, off_m: float, closed: bool) -> Numbers:
    """Points at exactly `off_m` from a convex prism, off the middle of every edge's round."""
    points = []
    rims, corners = _rims(ring, off_m * DIAGONAL), _mitred(ring, off_m)
    for level, sense in ((low, -1.0), (high, 1.0)):
        points.append(np.column_stack([rims, np.full(len(rims), level + sense * off_m * DIAGONAL)]))
        points.append(np.column_stack([corners, np.full(len(corners), level)]))
        if closed:
            for faces, at in ((_rims(ring, off_m), level), (ring, level + sense * off_m)):
                points.append(np.column_stack([faces, np.full(len(faces), at)]))
    return np.vstack(points)


def _round_points(bar: Cylinder, off_m: float, closed: bool) -> Numbers:
    turn = 2 * math.pi * np.arange(FACETS) / FACETS
    ring = np.column_stack([np.cos(turn), np.sin(turn)])
    levels = ((0.0, off_m), (bar.height, off_m))
    caps = ((-off_m * DIAGONAL, off_m * DIAGONAL), (bar.height + off_m * DIAGONAL, off_m * DIAGONAL))
    tops = ((-off_m, 0.0), (bar.height + off_m, 0.0)) if closed else ()
    levels = (*levels, *tops)
    local = np.vstack([np.column_stack([(bar.radius + out) * ring, np.full(FACETS, z)]) for z, out in (*levels, *caps)])
    return local @ np.array(bar.frame) + np.array(bar.base)


def _body(points: Numbers, off_m: float) -> Barrier:
    from scipy.spatial import ConvexHull

    hull = ConvexHull(points)
    rows = np.unique(np.round(hull.equations, 10), axis=0) * np.array([1.0, 1.0, 1.0, -1.0])
    rows[:, 3] -= SHRUNK_M
    one = np.repeat(np.arange(len(hull.simplices)), 3)
    two, skipped = hull.neighbors.ravel(), np.tile(np.arange(3), len(hull.simplices))
    flat = np.einsum("ij,ij->i", hull.equations[one, :3], hull.equations[two, :3]) > 1 - 1e-10
    kept = np.flatnonzero((one < two) & ~flat)
    ends = np.array([points[np.delete(hull.simplices[one[k]], skipped[k])] for k in kept])
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    ball = np.append(middle, np.linalg.norm(points - middle, axis=1).max() + 1e-6)
    return Barrier(BODY, (rows,), np.zeros(12), ball, _gathered(ends, 1.6 * off_m))


def _gathered(ends: Numbers, short_m: float) -> Nodes:
    """Short edges that meet are one thick node to begin with."""
    lengths = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    whole = np.flatnonzero(lengths > short_m)
    short = np.flatnonzero(lengths <= short_m)
    corners = ends[short]
    apart = corners[:, None, :, None] - corners[None, :, None, :]
    meet = (np.einsum("abijk,abijk->abij", apart, apart) < 1e-14).any(axis=(2, 3))
    left = np.ones(len(short), dtype=bool)
    clusters = []
    while left.any():
        cluster = np.zeros(len(short), dtype=bool)
        fresh = cluster.copy()
        fresh[int(left.argmax())] = True
        while fresh.any():
            cluster |= fresh
            left &= ~fresh
            fresh = meet[fresh].any(axis=0) & left
        clusters.append(short[cluster])
    kept = ends[whole]
    return _joined(kept, [ends[cluster] for cluster in clusters])


def _joined(edges: Numbers, clusters: list[Numbers]) -> Nodes:
    middles, etas = [], []
    for cluster in clusters:
        corners = cluster.reshape(-1, 3)
        middle = (corners.min(axis=0) + corners.max(axis=0)) / 2
        middles.append([middle, middle])
        etas.append(float(np.linalg.norm(corners - middle, axis=1).max()))
    ends = np.concatenate([edges.reshape(-1, 2, 3), np.array(middles).reshape(-1, 2, 3)])
    return Nodes(ends, np.concatenate([np.zeros(len(edges)), etas]), (*([None] * len(edges)), *clusters))


def _sheets(plate: Prism, part: Numbers, off_m: float) -> list[Barrier]:
    """Three sheets: in the middle of the plate, and off its faces where the rims' rounds are at their middle."""
    found = []
    skin = off_m * DIAGONAL
    levels = (
        (plate.low - skin, _rims(part, skin), skin),
        ((plate.low + plate.high) / 2, _mitred(part, off_m), off_m),
        (plate.high + skin, _rims(part, skin), skin),
    )
    for level, corners, inset_m in levels:
        outer = _hull_ring(corners)
        holes = [ring for hole in plate.holes if (ring := _hole_ring(hole, inset_m)) is not None]
        groups = [_rows(outer, -SHRUNK_M), *(_rows(hole, SHRUNK_M) for hole in holes)]

        def lifted(ring: Numbers, level: float = level) -> Numbers:
            world = plate.to_world(np.column_stack([ring, np.full(len(ring), level)]))
            return np.stack([world, np.roll(world, -1, axis=0)], axis=1)

        origin = plate.to_world(np.array([0.0, 0.0, level]))
        edges = lifted(outer)
        corners_there = edges[:, 0]
        middle = (corners_there.min(axis=0) + corners_there.max(axis=0)) / 2
        ball = np.append(middle, np.linalg.norm(corners_there - middle, axis=1).max() + 1e-6)
        nodes = _joined(edges, [lifted(hole) for hole in holes])
        found.append(Barrier(SHEET, tuple(groups), np.concatenate([origin, plate.axes.ravel()]), ball, nodes))
    return found


def _hull_ring(points: Numbers) -> Numbers:
    from scipy.spatial import ConvexHull

    return points[ConvexHull(points).vertices]


def _rows(ring: Numbers, wider_m: float) -> Numbers:
    normals = _side_normals(ring)
    return np.column_stack([normals, np.zeros(len(ring)), np.einsum("ij,ij->i", normals, ring) + wider_m])


def _hole_ring(hole: Circle | tuple[tuple[float, float], ...], inset_m: float) -> Numbers | None:
    """A convex outline that holds every place of the hole at least `inset_m` from its rim; None: there is none."""
    if isinstance(hole, Circle):
        left_m = hole.radius - inset_m
        if left_m <= 0:
            return None
        turn = 2 * math.pi * (np.arange(FACETS) + 0.5) / FACETS
        reach = left_m / math.cos(math.pi / FACETS)
        return np.array(hole.centre) + reach * np.column_stack([np.cos(turn), np.sin(turn)])
    outer = _hull_ring(np.array(hole))
    rows = _rows(outer, 0.0)
    ring = outer
    for row in rows:  # cut off what lies nearer than the inset to this side
        over = ring @ row[:2] - (row[3] - inset_m)
        kept: list[Numbers] = []
        for k in range(len(ring)):
            here, there = over[k], over[(k + 1) % len(ring)]
            if here <= 0:
                kept.append(ring[k])
            if (here < 0 < there) or (there < 0 < here):
                kept.append(ring[k] + here / (here - there) * (ring[(k + 1) % len(ring)] - ring[k]))
        if len(kept) < 3:
            return None
        ring = np.array(kept)
    return ring if _area(ring) > 1e-10 else None
