"""Scenes to route in, made from a seed: a room with boxes, prisms, cylinders and pierced bulkheads.

Invented, and the same for everybody: `scene(50, 8, seed=1)` is one room with 50 solids and 8 leads asked for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geometry.clearances import Clearances
from geometry.runs import CableShape, End, Point, Request
from geometry.solids import Box, Circle, Cylinder, Prism, Solid, turned
from geometry.space import Obstacle, Penetration, Space

# 17 mm cable, 5 mm clear of everything, as the benchmark of issue and methods has it
CABLE = CableShape(radius_m=0.0085, clearance_m=0.005, bend_radius_m=0.070, straight_m=0.030)
WAYS: tuple[Point, ...] = ((1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1))
STUD_ROOM_M = 0.15  # of free space in front of each lug


@dataclass(frozen=True)
class Scene:
    name: str
    space: Space
    requests: tuple[Request, ...]


def scene(solids: int, leads: int, seed: int, clampable: float = 1.0) -> Scene:
    """A room that grows with the number of solids, so that it is about as crowded at 10 as at 1,000.

    `clampable` is the share of solids that a clamp may be fixed to.
    """
    rng = np.random.default_rng([seed, solids])
    size = np.array([3.0, 2.0, 1.6]) * (solids / 50) ** (1 / 3)
    size = np.maximum(size, [2.4, 1.6, 1.2])
    walls = max(1, round(solids / 40))
    obstacles: list[Obstacle] = []
    holes: list[Penetration] = []
    for i in range(walls):
        obstacle, found = _bulkhead(rng, f"bulkhead {i + 1}", size, (i + 1) / (walls + 1))
        obstacles.append(obstacle)
        holes += found
    while len(obstacles) < solids:
        number = len(obstacles) + 1
        may_clamp = bool(rng.random() < clampable)
        obstacles.append(Obstacle(f"solid {number}", _solid(rng, size), clampable=may_clamp))
    room = Obstacle("room", Box(_point(size / 2), _point(size)))
    space = Space(tuple(obstacles), (room,), tuple(holes))
    return Scene(f"{solids} solids, seed {seed}", space, _leads(rng, space, size, leads))


def _bulkhead(
    rng: np.random.Generator, name: str, size: np.ndarray, share: float
) -> tuple[Obstacle, list[Penetration]]:
    """Across the room, with round and square holes."""
    thick_m, at_m = 0.012, share * size[0]
    openings: list[Circle | tuple[tuple[float, float], ...]] = []
    holes: list[Penetration] = []
    tries = 0
    wanted = 3 + int(size[1] * size[2])
    while len(holes) < wanted and tries < 400:
        tries += 1
        y, z = rng.uniform(0.15, size[1] - 0.15), rng.uniform(0.12, size[2] - 0.12)
        if any(math.hypot(y - h.centre[1], z - h.centre[2]) < 0.25 for h in holes):
            continue
        label, centre = f"{name}, hole {len(holes) + 1}", (at_m, y, z)
        if rng.random() < 0.6:
            radius = rng.uniform(0.03, 0.06)
            openings.append(Circle((y, z), radius))
            holes.append(Penetration(label, name, centre, (1, 0, 0), 2 * radius, math.pi * radius**2, thick_m))
        else:
            half = rng.uniform(0.04, 0.09)
            openings.append(((y - half, z - half), (y + half, z - half), (y + half, z + half), (y - half, z + half)))
            holes.append(Penetration(label, name, centre, (1, 0, 0), 2 * half, 4 * half**2, thick_m))
    outline = ((-0.1, -0.1), (size[1] + 0.1, -0.1), (size[1] + 0.1, size[2] + 0.1), (-0.1, size[2] + 0.1))
    plate = Prism.along("x", outline, at_m - thick_m / 2, at_m + thick_m / 2, tuple(openings))
    return Obstacle(name, plate), holes


def _solid(rng: np.random.Generator, size: np.ndarray) -> Solid:
    centre = rng.uniform([0, 0, 0], size)
    kind = rng.random()
    if kind < 0.55:
        return Box(
            _point(centre), _point(rng.uniform(0.08, 0.45, 3)), turned(rng.choice([0.0, rng.uniform(0, math.pi)]))
        )
    if kind < 0.8:
        way = rng.normal(size=3) if rng.random() < 0.5 else np.eye(3)[rng.integers(3)]
        return Cylinder(_point(centre), _point(way), rng.uniform(0.02, 0.15), rng.uniform(0.2, 0.9))
    if kind < 0.9:
        a, b, c, d = rng.uniform(0.15, 0.35), rng.uniform(0.15, 0.35), rng.uniform(0.05, 0.1), rng.uniform(0.05, 0.1)
        ell = ((0.0, 0.0), (a, 0.0), (a, d), (c, d), (c, b), (0.0, b))
        return Prism(ell, 0.0, rng.uniform(0.1, 0.5), frame=turned(rng.uniform(0, 6)), origin=_point(centre))
    corners = int(rng.integers(3, 7))
    turn = np.sort((np.arange(corners) + rng.uniform(0, 0.6, corners)) * 2 * math.pi / corners)
    radius = rng.uniform(0.08, 0.25)
    outline = tuple((float(radius * math.cos(t)), float(radius * math.sin(t))) for t in turn)
    axis = "xyz"[int(rng.integers(3))]
    frame = Prism.along(axis, ((0, 0), (1, 0), (0, 1)), 0, 1).frame
    return Prism(outline, 0.0, rng.uniform(0.1, 0.5), frame=frame, origin=_point(centre))


def _leads(rng: np.random.Generator, space: Space, size: np.ndarray, count: int) -> tuple[Request, ...]:
    around = Clearances(space)
    everything = np.arange(around.count)
    requests: list[Request] = []
    while len(requests) < count:
        ends: list[End] = []
        while len(ends) < 2:
            point = rng.uniform([0.1, 0.1, 0.1], size - 0.1)
            free = []
            for way in WAYS:
                along = point + np.linspace(0, STUD_ROOM_M, 16)[:, None] * np.array(way)
                if around.distances(along, everything).min() > CABLE.standoff_m + 0.002:
                    free.append(way)
            if free:
                chosen = tuple(free[i] for i in sorted(rng.permutation(len(free))[: 1 + int(rng.integers(3))]))
                ends.append(End(_point(point), chosen))
        apart_m = math.dist(ends[0].point, ends[1].point)
        if 0.5 < apart_m < 2.6:
            requests.append(Request(f"lead {len(requests) + 1}", ends[0], ends[1], CABLE))
    return tuple(requests)


def _point(values: np.ndarray) -> Point:
    return (float(values[0]), float(values[1]), float(values[2]))
