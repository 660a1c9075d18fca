"""What is solid in a job, how deep is a point in it, and how is a point written?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutlist.job.faults import Page
from cutlist.job.overlap import is_skin
from geometry.solids import Solid
from geometry.space import Obstacle

INSIDE_M = 0.0005  # a stud is measured no better
UNIT_M = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, "ft": 0.3048}
SHEET_M = 0.0006  # a skin counts as a sheet of twice this: no step along a lug misses it


@dataclass(frozen=True)
class Scene:
    """Everything solid, with its bounds."""

    names: tuple[str, ...]
    solids: tuple[Solid, ...]
    low: NDArray[np.float64]  # (n, 3)
    high: NDArray[np.float64]  # (n, 3)
    compartments: tuple[Obstacle, ...]

    def depths(self, points: NDArray[np.float64], skip: str) -> Iterator[tuple[str, NDArray[np.float64]]]:
        """How deep the points are in each solid that any of them could be in, by name."""
        near = np.all((self.low <= points.max(axis=0)) & (points.min(axis=0) <= self.high), axis=1)
        for i in np.flatnonzero(near).tolist():
            if self.names[i] != skip:
                thick_m = SHEET_M if is_skin(self.solids[i]) else 0.0
                yield self.names[i], thick_m - self.solids[i].signed_distance(points)

    def outside(self, points: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Points in no compartment; none is, where no compartment is given."""
        if not self.compartments:
            return np.zeros(len(points), dtype=bool)
        depth = np.max([-c.solid.signed_distance(points) for c in self.compartments], axis=0)
        return np.asarray(depth < -INSIDE_M)


def scene_of(named: Sequence[tuple[str, Solid]], compartments: Sequence[Obstacle]) -> Scene:
    bounds = np.array([solid.bounds() for _, solid in named]).reshape(-1, 2, 3)
    names, solids = tuple(name for name, _ in named), tuple(solid for _, solid in named)
    return Scene(names, solids, bounds[:, 0], bounds[:, 1], tuple(compartments))


def written(point: Sequence[float], page: Page) -> str:
    """A point as it would stand in this job file."""
    unit = page.coordinate_unit or "mm"
    numbers = ", ".join(f"{round(x / UNIT_M[unit], 3) + 0.0:g}" for x in point)
    return f"[{numbers}]" if page.coordinate_unit else f"[{numbers.replace(',', ' mm,')} mm]"
