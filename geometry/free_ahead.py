"""How far it is free in front of a place: room for hands and a spanner."""

from __future__ import annotations

import numpy as np

from geometry.clearances import Clearances, Numbers
from geometry.space import Space

FREE_AHEAD_M = 1.5  # further is not looked
STEP_M = 0.005


def free_ahead_m(space: Space, points: Numbers, way: Numbers) -> float:
    """The least over the points (n, 3), along the unit way (3,), until something solid or the end of the compartments.

    >>> free_ahead_m(Space(()), np.zeros((1, 3)), np.array([1.0, 0.0, 0.0]))
    1.5
    """
    around = Clearances(space)
    everything = np.arange(len(around.names))
    if not len(everything):
        return FREE_AHEAD_M
    steps = np.arange(0.0, FREE_AHEAD_M + STEP_M / 2, STEP_M)
    along = points[:, None] + steps[None, :, None] * way
    gaps = around.distances(along.reshape(-1, 3), everything).min(axis=1).reshape(len(points), len(steps))
    inside = gaps < 0
    last_free = np.where(inside.any(axis=1), np.maximum(inside.argmax(axis=1) - 1, 0), len(steps) - 1)
    return float(steps[last_free.min()])
