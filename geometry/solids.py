"""Solids with exact signed distance: boxes, prisms, cylinders.

Distances are in metres, negative inside. All work on arrays of points (n, 3).
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]


class Solid(Protocol):
    def signed_distance(self, points: Points) -> NDArray[np.float64]:
        """Distance (n,) from each of points (n, 3) to the surface, negative inside."""
        ...

    def bounds(self) -> Points:
        """Least and greatest corner, (2, 3)."""
        ...
