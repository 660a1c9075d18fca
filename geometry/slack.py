"""Ways over way points pulled taut: each point slides where it may, along its edge or across its hole.

Way points stand some decimetres apart along an edge, and on the axis of a hole. A way over them is longer than need
be; pulled taut it is as short as the edges and holes it passes allow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometry.clearances import Clearances, Indices, Numbers, Rooms
from geometry.launches import bend_ends
from geometry.outlines import Circle
from geometry.solids import Prism
from geometry.way_graph import EDGES_OF_ONE, WayGraph

SWEEPS = 12  # of moving each point between its neighbours
STILL_M = 2e-4  # points that move less change a length by much less: it is least there
FIXED, EDGE, HOLE = 0, 1, 2


@dataclass(frozen=True, eq=False)
class Slack:
    """Where each way point (n,) may slide: from a to b on an edge; within a radius of a, across b, in a hole."""

    kind: Indices
    a: Numbers
    b: Numbers
    radius_m: Numbers


@dataclass(frozen=True, eq=False)
class Launch:
    """Where lugs' straights end (n, 3), and their ways (n, 3)."""

    points: Numbers
    ways: Numbers


def slack_of(graph: WayGraph) -> Slack:
    points, edges = graph.points, graph.way.edges
    kind = np.full(len(points), FIXED, dtype=np.intp)
    a, b, radius_m = points.copy(), points.copy(), np.zeros(len(points))
    for solid in np.unique(edges // EDGES_OF_ONE).tolist():
        if solid == graph.around.walls:
            continue
        mine = np.flatnonzero(edges // EDGES_OF_ONE == solid)
        number = edges[mine] % EDGES_OF_ONE
        starts, ends = _round(graph.around, solid, graph.standoff_m)
        on_edge = number < len(starts)
        kind[mine[on_edge]] = EDGE
        a[mine[on_edge]] = starts[number[on_edge]]
        b[mine[on_edge]] = ends[number[on_edge]]
        for point, hole in zip(mine[~on_edge], number[~on_edge] - EDGES_OF_ONE // 2, strict=True):
            kind[point] = HOLE
            a[point], b[point], radius_m[point] = _play(graph.around, solid, int(hole), graph.standoff_m, points[point])
    return Slack(kind, a, b, radius_m)


def _round(around: Clearances, solid: int, standoff_m: float) -> tuple[Numbers, Numbers]:
    """The solid's edges moved out by the standoff halfway between their two faces; longer by as much at each end.

    What keeps its standoff and goes round an edge crosses the plane halfway between the faces there or further out.
    """
    shape = around.solids[solid]
    assert not isinstance(shape, Rooms)  # compartments have no edges: see the caller
    edges = shape.edges()
    off_m = standoff_m + around.keep_off[solid]
    out = edges.first_normals + edges.second_normals
    out = off_m * out / np.linalg.norm(out, axis=1)[:, None]
    along = edges.ends - edges.starts
    along = off_m * along / np.linalg.norm(along, axis=1)[:, None]
    return edges.starts + out - along, edges.ends + out + along


def _play(
    around: Clearances, solid: int, number: int, standoff_m: float, point: Numbers
) -> tuple[Numbers, Numbers, float]:
    """Of a hole: the middle of the mouth that is nearest to a way point (or of the hole, if that lies within it), the
    hole's axis, and how far off it a cable may pass at the most."""
    prism = around.solids[solid]
    assert isinstance(prism, Prism)
    hole = prism.holes[number]
    middle = np.array(hole.centre) if isinstance(hole, Circle) else np.mean(hole, axis=0)
    half_m = hole.radius if isinstance(hole, Circle) else float(np.linalg.norm(np.array(hole) - middle, axis=1).max())
    foot = prism.to_world(np.append(middle, 0.0))
    axis = prism.to_world(np.append(middle, 1.0)) - foot
    height = float(np.clip((point - foot) @ axis, prism.low, prism.high))
    return foot + height * axis, axis, max(half_m - standoff_m - around.keep_off[solid], 0.0)


def pulled(slack: Slack, points: Numbers, chains: Indices, first: Launch, last: Launch, radius_m: float) -> Numbers:
    """Way points (n, m, 3) of taut ways over chains (n, m) of way points, -1 where a chain has ended. They begin at the
    first launches (n) and end at the last ones, each by the bend that turns least; what has ended stands there."""
    count, most = chains.shape
    there = chains >= 0
    at = np.where(there, chains, 0)
    way = np.full((count, most + 2, 3), np.inf)
    way[:, 1:-1] = np.where(there[:, :, None], points[at], last.points[:, None])
    kind = np.where(there, slack.kind[at], FIXED)
    rows = np.arange(count)
    length = there.sum(axis=1)
    ended = np.arange(most + 2) > length[:, None]
    for _ in range(SWEEPS):
        before = way.copy()
        way[:, 0] = bend_ends(first.points, first.ways, way[:, 1], radius_m)
        way = np.where(ended[:, :, None], bend_ends(last.points, last.ways, way[rows, length], radius_m)[:, None], way)
        for i in range(most):
            for which, slid in ((EDGE, _along_edge), (HOLE, _across_hole)):
                some = np.flatnonzero(kind[:, i] == which)
                if len(some):
                    mine = at[some, i]
                    way[some, i + 1] = slid(
                        way[some, i], way[some, i + 2], slack.a[mine], slack.b[mine], slack.radius_m[mine]
                    )
        if float(np.abs(way - before).max(initial=0.0)) < STILL_M:
            break
    return way[:, 1:-1]


def _along_edge(before: Numbers, after: Numbers, a: Numbers, b: Numbers, _: Numbers) -> Numbers:
    """Unfold: both neighbours in one plane through the edge, joined by a straight line."""
    along = b - a
    length = np.linalg.norm(along, axis=1)
    unit = along / np.maximum(length, 1e-12)[:, None]
    feet, heights = [], []
    for end in (before, after):
        out = end - a
        foot = np.einsum("ij,ij->i", out, unit)
        feet.append(foot)
        heights.append(np.linalg.norm(out - foot[:, None] * unit, axis=1) + 1e-9)
    best = (feet[0] * heights[1] + feet[1] * heights[0]) / (heights[0] + heights[1])
    return np.asarray(a + np.clip(best, 0.0, length)[:, None] * unit)


def _across_hole(before: Numbers, after: Numbers, centre: Numbers, axis: Numbers, radius_m: Numbers) -> Numbers:
    """Where the straight line crosses the hole there; at its rim if it would cross outside."""
    along = after - before
    rise = np.einsum("ij,ij->i", along, axis)
    safe = np.where(np.abs(rise) > 1e-12, rise, 1.0)
    share = np.clip(np.einsum("ij,ij->i", centre - before, axis) / safe, 0.0, 1.0)
    off = before + share[:, None] * along - centre
    off -= np.einsum("ij,ij->i", off, axis)[:, None] * axis
    far = np.linalg.norm(off, axis=1)
    return np.asarray(centre + off * np.minimum(1.0, radius_m / np.maximum(far, 1e-12))[:, None])
