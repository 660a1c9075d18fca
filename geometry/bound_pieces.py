"""What a lower bound is worked out on: barriers of a scene, its walls, edges near a launch, patches of a ball."""

from __future__ import annotations

import math

import numpy as np

from geometry.barriers import Barrier, barriers_of
from geometry.clearances import Clearances, Flags, Indices, Numbers
from geometry.footing import Footing
from geometry.solids import Box, Prism

HAIR_M = 1e-5  # barriers lie this much further in than the standoff
LOCAL_M = 0.02  # pieces of edges within the balls


def quartered(patch: tuple[int, float, float, float]) -> list[tuple[int, float, float, float]]:
    """A whole ball's surface into the six faces of a cube seen from its middle; a patch of a face into four."""
    face, x, y, half = patch
    if face < 0:
        return [(f, 0.0, 0.0, 1.0) for f in range(6)]
    return [(face, x + a * half / 2, y + b * half / 2, half / 2) for a in (-1, 1) for b in (-1, 1)]


def patch_balls(
    patches: list[tuple[int, float, float, float]], centre: Numbers, radius_m: float
) -> tuple[Numbers, Numbers]:
    """Middles (n, 3) of patches of a ball's surface, and how far (n,) their corners are from there: nothing on a patch
    is further."""
    face = np.array([patch[0] for patch in patches])
    x, y, half = np.array([patch[1:] for patch in patches]).T
    spot = np.arange(len(patches))
    axis, sense = face // 2, 1.0 - 2 * (face % 2)

    def on_ball(a: Numbers, b: Numbers) -> Numbers:
        place = np.empty((len(patches), 3))
        place[spot, axis], place[spot, (axis + 1) % 3], place[spot, (axis + 2) % 3] = sense, a, b
        return radius_m * place / np.linalg.norm(place, axis=1)[:, None]

    middle = on_ball(x, y)
    corners = np.array([on_ball(x + a * half, y + b * half) for a in (-1, 1) for b in (-1, 1)])
    return centre + middle, np.linalg.norm(corners - middle, axis=2).max(axis=0) + 1e-9


def edges_in_ball(barrier: Barrier, centre: Numbers, radius_m: float) -> tuple[Numbers, Indices]:
    """The barrier's edges as far as they lie in a ball, in short pieces (n, 2, 3), and which edge each is of."""
    nodes = barrier.nodes
    every = [nodes.ends[i : i + 1] if part is None else part for i, part in enumerate(nodes.parts)]
    edges = np.concatenate(every) if every else np.zeros((0, 2, 3))
    along = edges[:, 1] - edges[:, 0]
    square = np.maximum(np.einsum("ij,ij->i", along, along), 1e-18)
    middle = np.einsum("ij,ij->i", centre - edges[:, 0], along) / square
    off = edges[:, 0] + middle[:, None] * along - centre
    reach_m = np.sqrt(np.maximum(radius_m**2 - np.einsum("ij,ij->i", off, off), 0.0))
    half = (reach_m + 1e-9) / np.sqrt(square)
    low, high = np.clip(middle - half, 0, 1), np.clip(middle + half, 0, 1)
    found, of = [np.zeros((0, 2, 3))], [np.zeros(0, dtype=np.intp)]
    for k in np.flatnonzero((reach_m > 0) & (high > low)):
        count = max(1, math.ceil((high[k] - low[k]) * math.sqrt(square[k]) / LOCAL_M))
        marks = edges[k, 0] + np.linspace(low[k], high[k], count + 1)[:, None] * along[k]
        found.append(np.stack([marks[:-1], marks[1:]], axis=1))
        of.append(np.full(count, k))
    return np.concatenate(found), np.concatenate(of)


def offs(around: Clearances, feet: list[Footing], standoff_m: float) -> Numbers:
    """How far every solid is grown: less where a lug lies flat on it, so that leaving it there is allowed."""
    lies = np.full(around.count, standoff_m)
    for foot in feet:
        for solid, lies_m in zip(foot.own, foot.lies, strict=True):
            if math.isfinite(lies_m):
                lies[solid] = min(lies[solid], float(lies_m))
    return lies + around.keep_off - HAIR_M


def wall_planes(around: Clearances, off: Numbers) -> Numbers:
    """Planes (k, 4) within which the whole run stays: those of a room, if it is one and convex; else none."""
    if around.walls < 0 or not around.rooms.convex:
        return np.zeros((0, 4))
    room = around.rooms.compartments[0]
    solid = room.solid.as_prism if isinstance(room.solid, Box) else room.solid
    if not isinstance(solid, Prism):
        return np.zeros((0, 4))
    inset_m = float(off[around.walls]) + room.keep_off_m
    ring = np.array(solid.footprint)
    along = np.roll(ring, -1, axis=0) - ring
    sense = np.sign(np.sum(ring[:, 0] * np.roll(ring, -1, axis=0)[:, 1] - np.roll(ring, -1, axis=0)[:, 0] * ring[:, 1]))
    flat = sense * np.column_stack([along[:, 1], -along[:, 0]]) / np.linalg.norm(along, axis=1)[:, None]
    normals = np.vstack([np.column_stack([flat, np.zeros(len(flat))]), [[0, 0, 1], [0, 0, -1]]])
    offsets = np.concatenate([np.einsum("ij,ij->i", flat, ring), [solid.high, -solid.low]]) - inset_m
    world = normals @ solid.axes
    return np.column_stack([world, offsets + world @ np.array(solid.origin)])


def within(planes: Numbers, ends: Numbers, etas: Numbers) -> tuple[Flags, Numbers]:
    """Which stretches are not altogether outside, and each cut off at the planes."""
    if not len(planes) or not len(ends):
        return np.ones(len(ends), dtype=bool), ends
    over = ends @ planes[:, :3].T - planes[:, 3] - etas[:, None, None]  # (n, 2, k)
    one, two = over[:, 0], over[:, 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        at = one / (one - two)
    low = np.where((one > 0) & (two <= 0), at, 0.0).max(axis=1)
    high = np.where((two > 0) & (one <= 0), at, 1.0).min(axis=1)
    inside = ~((one > 1e-9) & (two > 1e-9)).any(axis=1) & (low <= high + 1e-9)
    low, high = np.clip(low - 1e-9, 0, 1), np.clip(high + 1e-9, 0, 1)
    along = ends[:, 1] - ends[:, 0]
    return inside, np.stack([ends[:, 0] + low[:, None] * along, ends[:, 0] + high[:, None] * along], axis=1)


def barriers_round(around: Clearances, solid: int, off_m: float, closed: bool) -> tuple[Barrier, ...]:
    """Made once for every solid and distance."""
    known = around.barriers
    key = (solid, off_m, closed)
    if key not in known:
        shape = around.solids[solid]
        known[key] = barriers_of(shape, off_m, closed)  # type: ignore[arg-type]
    return known[key]
