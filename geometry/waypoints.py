"""Where a taut cable may bend: points just off the edges of solids, in the mouths of holes, round the lugs."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geometry.clearances import Clearances, Indices, Numbers, Rooms
from geometry.footing import Footing
from geometry.meshes import Mesh
from geometry.outlines import Circle
from geometry.rungs import SHORT_EDGE_M, Lines, Rungs
from geometry.solids import Edges, Prism

JUST_OFF_M = 3e-4
APART_M = 0.3  # way points along a long edge


@dataclass(frozen=True, eq=False)
class Waypoints:
    points: Numbers  # (n, 3)
    edges: Indices  # (n,) number of the edge each lies on; the same edge, the same way round

    def joined(self, other: Waypoints) -> Waypoints:
        return Waypoints(np.vstack([self.points, other.points]), np.concatenate([self.edges, other.edges]))


def no_waypoints() -> Waypoints:
    return Waypoints(np.zeros((0, 3)), np.zeros(0, dtype=np.intp))


def offset_edges(around: Clearances, solid: int, standoff_m: float) -> Lines:
    """The solid's convex edges, off both faces by the standoff; longer by as much at each end."""
    shape = around.solids[solid]
    if isinstance(shape, Rooms):
        raise ValueError("compartments have no edges of their own: see room_waypoints")
    return _moved_out(shape.edges(), standoff_m + around.keep_off[solid] + JUST_OFF_M)


def _moved_out(edges: Edges, off_m: float) -> Lines:
    both = edges.first_normals + edges.second_normals
    mitre = both / (1 + np.einsum("ij,ij->i", edges.first_normals, edges.second_normals))[:, None]
    along = edges.ends - edges.starts
    along /= np.linalg.norm(along, axis=1)[:, None]
    lengths = np.linalg.norm(edges.ends - edges.starts, axis=1)[:, None]
    further = np.where(lengths < SHORT_EDGE_M, 0.0, off_m)  # the facets of something round meet as they are
    return Lines(edges.starts + off_m * mitre - further * along, edges.ends + off_m * mitre + further * along)


def edge_waypoints(rungs: Rungs, first_edge: int, start: Numbers, finish: Numbers) -> Waypoints:
    """Points on a solid's offset edges: its rungs, and on long edges where start to finish is least."""
    if not rungs.edges:
        return no_waypoints()
    feet, heights = [], []
    for end in (start, finish):
        out = end - rungs.starts
        foot = np.einsum("ij,ij->i", out, rungs.unit)
        feet.append(foot)
        heights.append(np.linalg.norm(out - foot[:, None] * rungs.unit, axis=1) + 1e-9)
    # unfold: both ends in one plane through the edge, joined by a straight line
    best = (feet[0] * heights[1] + feet[1] * heights[0]) / (heights[0] + heights[1])
    best = np.clip(best, 0.0, rungs.lengths)
    found = np.vstack([rungs.middles, rungs.starts + best[:, None] * rungs.unit, rungs.points])
    number = np.concatenate([rungs.short, rungs.long, rungs.of_edge])
    first: dict[tuple[float, ...], int] = {}
    for i, place in enumerate((np.round(found, 4) + 0.0).tolist()):  # 0.0: there is no -0.0 then
        first.setdefault(tuple(place), i)
    kept = list(first.values())
    return Waypoints(found[kept], first_edge + number[kept])


def hole_waypoints(around: Clearances, solid: int, first_edge: int, standoff_m: float) -> Waypoints:
    """On the axis of every hole that goes through a prism: its middle and just outside either mouth."""
    prism = around.solids[solid]
    if not isinstance(prism, Prism) or not prism.holes:
        return no_waypoints()
    points, edges = [], []
    off_m = standoff_m + around.keep_off[solid] + JUST_OFF_M
    for number, hole in enumerate(prism.holes):
        middle = np.array(hole.centre) if isinstance(hole, Circle) else np.mean(hole, axis=0)
        for height in (prism.low - off_m, (prism.low + prism.high) / 2, prism.high + off_m):
            points.append(prism.to_world(np.append(middle, height)))
            edges.append(first_edge + number)
    return Waypoints(np.array(points), np.array(edges, dtype=np.intp))


def room_waypoints(around: Clearances, first_edge: int, standoff_m: float) -> Waypoints:
    """Where two compartments overlap, and at a compartment's inner corners: the ways from room to room."""
    if around.walls < 0:
        return no_waypoints()
    points: list[Numbers] = []
    rooms = around.space.compartments
    for i, room in enumerate(rooms):
        off_m = standoff_m + room.keep_off_m + JUST_OFF_M
        if isinstance(room.solid, Prism):
            points.extend(_inner_corners(room.solid, off_m))
        if isinstance(room.solid, Mesh):
            points.extend(_along(_moved_out(room.solid.inner_edges(), off_m)))
        for other in rooms[i + 1 :]:
            low = np.maximum(room.solid.bounds()[0], other.solid.bounds()[0]) + off_m
            high = np.minimum(room.solid.bounds()[1], other.solid.bounds()[1]) - off_m
            if (high >= low).all():
                share = np.array(np.meshgrid(*[(0.0, 0.5, 1.0)] * 3, indexing="ij")).reshape(3, -1).T
                points.extend(low + share * (high - low))
    if not points:
        return no_waypoints()
    return Waypoints(np.array(points), first_edge + np.arange(len(points)))


def _along(lines: Lines) -> list[Numbers]:
    """The middles of lines, and more places on those that are long."""
    found = []
    for start, end in zip(lines.starts, lines.ends, strict=True):
        count = math.ceil(float(np.linalg.norm(end - start)) / APART_M)
        shares = (np.arange(count) + 0.5) / count
        found.extend(start + shares[:, None] * (end - start))
    return found


def _inner_corners(room: Prism, off_m: float) -> list[Numbers]:
    """Points off the inward-pointing corners of a room's outline, at three heights."""
    corners = np.array(room.footprint)
    before, after = corners - np.roll(corners, 1, axis=0), np.roll(corners, -1, axis=0) - corners
    before /= np.linalg.norm(before, axis=1)[:, None]
    after /= np.linalg.norm(after, axis=1)[:, None]
    turn = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    following = np.roll(corners, -1, axis=0)
    sense = np.sign(np.sum(corners[:, 0] * following[:, 1] - following[:, 0] * corners[:, 1]))
    found = []
    for i in np.flatnonzero(turn * sense < -1e-9):
        inward = sense * (np.array([-before[i, 1], before[i, 0]]) + np.array([-after[i, 1], after[i, 0]]))
        inward /= 1 + float(before[i] @ after[i])
        for height in np.linspace(
            room.low + off_m, room.high - off_m, max(3, math.ceil((room.high - room.low) / APART_M))
        ):
            found.append(room.to_world(np.append(corners[i] + off_m * inward, height)))
    return found


def lug_waypoints(foot: Footing, first_edge: int, radius_m: float) -> Waypoints:
    """After a quarter turn from the lug to each of four sides, and straight on."""
    across = np.cross(foot.way, np.eye(3)[int(np.argmin(np.abs(foot.way)))])
    across /= np.linalg.norm(across)
    up = np.cross(foot.way, across)
    sides = [across, up, -across, -up, *((s + t) / math.sqrt(2) for s in (across, -across) for t in (up, -up))]
    points = [foot.clear + radius_m * (foot.way + side) for side in sides]
    points += [foot.clear + radius_m * (foot.way + 1.6 * side) for side in sides[:4]]
    points += [foot.clear + reach * radius_m * foot.way for reach in (1.0, 2.5)]
    return Waypoints(np.array(points), first_edge + np.arange(len(points)))
