"""Places worth a first look: where the leads of one bar, or its feeders, or all its cable together are shortest.

Often the best places are among them to the last tenth of a millimetre (a piece that just fits a remnant, a run that
just holds a mark), where halving cells comes near very slowly.
"""

from __future__ import annotations

import numpy as np

from cutlist.layout.cells import Cells, allowed_points, joined
from cutlist.layout.place_problem import Array
from cutlist.layout.place_sides import Side, reach_at_centres

STEPS = 4  # to either side of the middle of what is looked at
ROUNDS = 20  # each looks at half the width: from a metre to a thousandth of a millimetre
AIMS = 3


def likely_places(side: Side) -> Cells:
    """One bar for each way of mounting it and each aim: leads, feeders, and all together as short as can be.

    Runs bend upwards all over a free face, so what is best on a coarse grid lies beside what is best on a fine one;
    among obstacles the point found is only near a good one.
    """
    count = len(side.seats)
    low, high = (np.array([getattr(seat, end) for seat in side.seats]) for end in ("low", "high"))
    middle = np.repeat((low + high) / 2, AIMS, axis=0)  # (seats x aims, 2)
    half = np.repeat((high - low) / 2, AIMS, axis=0)
    low, high = np.repeat(low, AIMS, axis=0), np.repeat(high, AIMS, axis=0)
    seats, aims = np.repeat(np.arange(count), AIMS), np.tile(np.arange(AIMS), count)
    marks = np.arange(-STEPS, STEPS + 1) / STEPS
    a, b = (axis.reshape(-1) for axis in np.meshgrid(marks, marks, indexing="ij"))
    for _ in range(ROUNDS):
        points = middle[:, None, :] + half[:, None, :] * np.stack([a, b], axis=1)[None]
        points = np.clip(points, low[:, None], high[:, None])
        values = _values(side, np.repeat(seats, len(a)), points.reshape(-1, 2)).reshape(AIMS, len(seats), len(a))
        best = values[aims, np.arange(len(seats))].argmin(axis=1)
        middle = points[np.arange(len(seats)), best]
        half = half / 2
    found = _points(seats, middle)
    return joined([found[allowed_points(side.seats, found)]])


def _points(seats: np.ndarray, at: Array) -> Cells:
    none = np.zeros(len(seats))
    return Cells(np.asarray(seats, dtype=np.int64), at[:, 0], at[:, 1], none, none)


def _values(side: Side, seats: np.ndarray, at: Array) -> Array:
    """Metres (aims, q): the longest lead, the feeders, and all cable of the pole; infinite where no bar may be."""
    cells = _points(seats, at)
    reach = reach_at_centres(side, cells)
    feeders_m = reach.feeders_m.sum(axis=2)
    every_m = len(side.strings) * reach.leads_m + feeders_m
    values = np.array([table.min(axis=1) for table in (reach.leads_m, feeders_m, every_m)])
    return np.where(allowed_points(side.seats, cells), values, np.inf)
