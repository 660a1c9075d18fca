"""Way points along the edges of a solid that are the same for every run past it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]
Indices = NDArray[np.intp]

SHORT_EDGE_M = 0.08  # gets one way point


@dataclass(frozen=True, eq=False)
class Lines:
    """Edges of one solid moved out to where the cable's centreline may pass."""

    starts: Numbers  # (m, 3)
    ends: Numbers  # (m, 3)


@dataclass(frozen=True, eq=False)
class Rungs:
    """Edges are numbered as the lines are."""

    edges: int  # how many
    short: Indices  # (s,) edges that get one way point, their middle
    middles: Numbers  # (s, 3)
    long: Indices  # (m,) the others
    starts: Numbers  # (m, 3)
    unit: Numbers  # (m, 3)
    lengths: Numbers  # (m,)
    of_edge: Indices  # (k,) the edge of each rung
    points: Numbers  # (k, 3) every so often along the long edges, both ends included


def rungs_on(lines: Lines, apart_m: float) -> Rungs:
    """Rungs at most `apart_m` apart."""
    along = lines.ends - lines.starts
    lengths = np.linalg.norm(along, axis=1)
    is_short = lengths < SHORT_EDGE_M + 1e-9
    short, long = np.flatnonzero(is_short), np.flatnonzero(~is_short)
    unit = along[long] / lengths[long, None]
    points, edges = [np.zeros((0, 3))], [np.zeros(0, dtype=np.intp)]
    for i, edge in enumerate(long):
        count = max(2, math.ceil(lengths[edge] / apart_m) + 1)
        points.append(lines.starts[edge] + np.linspace(0, lengths[edge], count)[:, None] * unit[i])
        edges.append(np.full(count, edge))
    return Rungs(
        len(lengths),
        short,
        (lines.starts + lines.ends)[short] / 2,
        long,
        lines.starts[long],
        unit,
        lengths[long],
        np.concatenate(edges),
        np.vstack(points),
    )
