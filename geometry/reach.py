"""Least lengths among stretches that barriers do not hide from each other: the tables that `_reach.h` searches in C."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from geometry import kernel
from geometry.barriers import Barrier

Numbers = NDArray[np.float64]
Indices = NDArray[np.intp]
PIECE, SOURCE, SINK = 0, 1, 2


@dataclass(frozen=True, eq=False)
class Network:
    ends: Numbers  # (n, 2, 3)
    etas: Numbers  # (n,)
    role: NDArray[np.int8]  # (n,)
    foot: NDArray[np.int64]  # (n,) of sources and sinks: which launch they belong to; of pieces: which edge
    first: Numbers  # (n,) of sources and sinks: least length from the launch to there
    floor_from: Numbers  # (f, n) least length from each launch to each stretch, whatever lies between
    floor_to: Numbers  # (t, n) the same at the other end
    direct: Numbers  # (f, t) least length from launch to launch


@dataclass(frozen=True, eq=False)
class PackedBarriers:
    barriers: tuple[Barrier, ...]
    kind: NDArray[np.int64]
    first_group: NDArray[np.int64]
    first_row: NDArray[np.int64]
    rows: Numbers
    frames: Numbers
    balls: Numbers


def packed_barriers(barriers: Sequence[Barrier]) -> PackedBarriers:
    groups = list(chain.from_iterable(barrier.groups for barrier in barriers))
    return PackedBarriers(
        tuple(barriers),
        np.array([barrier.kind for barrier in barriers], dtype=np.int64),
        np.cumsum([0, *(len(barrier.groups) for barrier in barriers)]).astype(np.int64),
        np.cumsum([0, *(len(group) for group in groups)]).astype(np.int64),
        np.ascontiguousarray(np.vstack([np.zeros((0, 4)), *groups])),
        np.ascontiguousarray(np.array([barrier.frame for barrier in barriers]).reshape(-1, 12)),
        np.ascontiguousarray(np.array([barrier.ball for barrier in barriers]).reshape(-1, 4)),
    )


def reach(
    network: Network, packed: PackedBarriers, onward: Numbers, limit_m: float, seen: NDArray[np.int8]
) -> tuple[float, int, Numbers, Indices]:
    """From all sources: the least length of a chain to a sink and its last node (-1: none below the limit), the least
    length to every node (n,), and the node before each (n,). Of a sink the length is that of the whole chain.

    `onward` (n,) is never more than what is left to go; chains that reach the limit are not followed. `seen` (s, s)
    remembers for every pair how many barriers are known not to hide it (-1: hidden).
    """
    count = len(network.ends)
    half = np.linalg.norm(network.ends[:, 1] - network.ends[:, 0], axis=1) / 2 + network.etas
    mid = np.column_stack([network.ends.mean(axis=1), half])
    reached = np.where(network.role == SOURCE, network.first, np.inf)
    before = np.full(count, -1, dtype=np.int64)
    nodes = np.column_stack([network.ends.reshape(-1, 6), network.etas])
    best_m, last = kernel.reach(
        (
            nodes,
            mid,
            network.role,
            network.foot,
            network.first,
            network.floor_from,
            network.floor_to,
            network.direct,
            onward,
            packed.kind,
            packed.first_group,
            packed.first_row,
            packed.rows,
            packed.frames,
            packed.balls,
        ),
        limit_m,
        reached,
        before,
        seen,
    )
    return best_m, last, reached, before
