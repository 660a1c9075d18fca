"""Places worth a first look: where the leads of one bar, or its feeders, or all its cable together are shortest.

Often the best places are among them to the last tenth of a millimetre (a piece that just fits a remnant, a run that
just holds a mark), where halving cells comes near very slowly.
"""

from __future__ import annotations

import numpy as np

from cutlist.layout.cells import Cells, allowed_points, joined
from cutlist.layout.place_problem import Array
from cutlist.layout.place_sides import Side, reach_at_centres, run_tables

STEPS = 4  # to either side of the middle of what is looked at
ROUNDS = 20  # each looks at half the width: from a metre to a thousandth of a millimetre
AIMS = 3  # leads, feeders, all cable


def likely_places(side: Side) -> Cells:
    """One bar for each way of mounting it and each aim: leads, feeders, and all together as short as can be.

    Runs bend upwards all over a free face, so what is best on a coarse grid lies beside what is best on a fine one;
    among obstacles the point found is only near a good one.
    """
    found = [_shortest(side, aim) for aim in range(AIMS)]
    seats = np.repeat(np.arange(len(side.seats)), AIMS)
    points = _points(seats, np.stack(found, axis=1).reshape(-1, 2))
    return joined([points[allowed_points(side.seats, points)]])


def _shortest(side: Side, aim: int) -> Array:
    """The point (seats, 2) of each way of mounting the bar where this aim's cable is shortest."""
    seats = np.arange(len(side.seats))
    low, high = (np.array([getattr(seat, end) for seat in side.seats]) for end in ("low", "high"))
    middle, half = (low + high) / 2, (high - low) / 2
    marks = np.arange(-STEPS, STEPS + 1) / STEPS
    a, b = (axis.reshape(-1) for axis in np.meshgrid(marks, marks, indexing="ij"))
    for _ in range(ROUNDS):
        points = middle[:, None, :] + half[:, None, :] * np.stack([a, b], axis=1)[None]
        points = np.clip(points, low[:, None], high[:, None])
        values = _values(side, _points(np.repeat(seats, len(a)), points.reshape(-1, 2)), aim)
        middle = points[seats, values.reshape(len(seats), len(a)).argmin(axis=1)]
        half = half / 2
    return middle


def _points(seats: np.ndarray, at: Array) -> Cells:
    none = np.zeros(len(seats))
    return Cells(np.asarray(seats, dtype=np.int64), at[:, 0], at[:, 1], none, none)


def _values(side: Side, cells: Cells, aim: int) -> Array:
    """Metres (q,): the longest lead, the feeders, or all cable of the pole; infinite where no bar may be."""
    if aim == 1:  # the leads, which take long, do not matter
        _, feeders_m = run_tables(side, cells, bounds=False)
        ends = np.arange(len(side.feeders))
        values = feeders_m[:, ends[None, :], side.ways].sum(axis=2).min(axis=1)
    else:
        reach = reach_at_centres(side, cells)
        every_m = reach.leads_m if aim == 0 else len(side.strings) * reach.leads_m + reach.feeders_m.sum(axis=2)
        values = every_m.min(axis=1)
    return np.where(allowed_points(side.seats, cells), values, np.inf)
