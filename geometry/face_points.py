"""Where a cable may run along structure: points just off faces, walls, floor and ceiling."""

from __future__ import annotations

import numpy as np

from geometry.clearances import Clearances, Indices, Numbers, Rooms
from geometry.rungs import rungs_on
from geometry.structure import Structure
from geometry.waypoints import Waypoints, edge_waypoints, hole_waypoints, no_waypoints, offset_edges, room_waypoints

APART_M = 0.18  # points on faces
OFF_M = 0.003  # further from the face than the cable must be
EDGES_OF_ONE = 100_000  # numbers kept for one solid, as `WayGraph` has them
FIRST_ON_FACE = 60_000  # of those, from here on: points on faces


def face_waypoints(structure: Structure, low: Numbers, high: Numbers, standoff_m: float) -> Waypoints:
    """Points off every surface that takes a clamp, in the box from `low` to `high` (3,).

    They lie under the points of a lattice that is the same for the whole site, so that points on faces square to the
    site's axes stand above and beside each other, from face to face: a rigger lays along lines.
    """
    origin = _corner(structure.around)
    first, last = np.floor((low - origin) / APART_M), np.ceil((high - origin) / APART_M)
    axes = [c + APART_M * np.arange(a, b + 1) for c, a, b in zip(origin, first, last, strict=True)]
    lattice = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    around, which = structure.around, structure.near(lattice, APART_M)
    points, edges = [], []
    for solid in which.tolist():
        off_m = standoff_m + float(around.keep_off[solid]) + OFF_M
        if off_m > structure.reach_m:
            continue
        mine = _beside(around, lattice, solid, off_m)
        points.append(mine)
        edges.append(solid * EDGES_OF_ONE + FIRST_ON_FACE + np.arange(len(mine)))
    if not points:
        return no_waypoints()
    return Waypoints(np.vstack(points), np.concatenate(edges).astype(np.intp))


def _corner(around: Clearances) -> Numbers:
    """The site's least corner, so that a site moved as a whole has the same points."""
    rooms = around.space.compartments
    bounds = [room.solid.bounds()[0] for room in rooms] or list(around.low)
    return np.min(bounds, axis=0) if bounds else np.zeros(3)


def _beside(around: Clearances, lattice: Numbers, solid: int, off_m: float) -> Numbers:
    """The lattice points within its spacing of one solid's surface, moved to where they are `off_m` from it."""
    bound_m = off_m + APART_M
    near = ((lattice >= around.low[solid] - bound_m) & (lattice <= around.high[solid] + bound_m)).all(axis=1)
    points = lattice[near]
    keep_off_m = float(around.keep_off[solid])
    for last in (False, True):
        gaps = around.distances(points, np.array([solid], dtype=np.intp))[:, 0] + keep_off_m
        good = np.abs(gaps - off_m) < (1e-4 if last else 0.75 * APART_M)
        points, gaps = points[good], gaps[good]
        if not last and len(points):
            which = np.full(len(points), solid, dtype=np.intp)
            points = points - (gaps - off_m)[:, None] * around.slopes(points, which)
    return points


def all_waypoints(
    around: Clearances, solids: Indices, from_: Numbers, to: Numbers, standoff_m: float, apart_m: float
) -> Waypoints:
    """Of every one of these solids: off its edges, in the mouths of its holes, from room to room."""
    found = no_waypoints()
    for solid in solids.tolist():
        first = solid * EDGES_OF_ONE
        if isinstance(around.solids[solid], Rooms):
            found = found.joined(room_waypoints(around, first, standoff_m))
            continue
        lines = offset_edges(around, solid, standoff_m)
        found = found.joined(edge_waypoints(rungs_on(lines, apart_m), first, from_, to))
        found = found.joined(hole_waypoints(around, solid, first + EDGES_OF_ONE // 2, standoff_m))
    return found


def thinned(found: Waypoints, apart_m: float) -> Waypoints:
    """One of those that share a cube of this size, the first."""
    cubes = np.floor(found.points / apart_m).astype(np.intp)
    _, kept = np.unique(cubes, axis=0, return_index=True)
    kept.sort()
    return Waypoints(found.points[kept], found.edges[kept])
