"""A run laid past two boards: worked by hand.

Along x at y 0; the left board ends at x 1.0, the right one begins at x 2.0; both faces are 30 mm away from the run.
With 50 mm counted as near, the run lies along the left board up to x 1.0 + sqrt(50^2 - 30^2) mm = 1.04, and along the
right one from x 2.0 - 0.04 on.
"""

from __future__ import annotations

import numpy as np
import pytest

from geometry.beside import STEP_M, lies_along
from geometry.curve import filleted
from geometry.solids import Box
from geometry.space import Obstacle, Space
from geometry.surroundings import Surroundings


def board(name: str, x_m: float, clampable: bool = True) -> Obstacle:
    return Obstacle(name, Box((x_m, 0.04, 0.0), (1.0, 0.02, 1.0)), clampable=clampable)


def test_stretches_begin_and_end_where_the_boards_do() -> None:
    curve = filleted([np.zeros(3), np.array([3.0, 0.0, 0.0])], 0.06)
    space = Space((board("left board", 0.5), board("right board", 2.5), board("glass", 1.5, clampable=False)))
    left, right = lies_along(Surroundings(space), curve, 0.05)
    assert (left.structure, right.structure) == ("left board", "right board")
    assert (left.from_m, right.to_m) == (0.0, 3.0)
    assert left.to_m == pytest.approx(1.04, abs=1.01 * STEP_M)
    assert right.from_m == pytest.approx(1.96, abs=1.01 * STEP_M)


def test_far_from_everything_it_lies_along_nothing() -> None:
    curve = filleted([np.zeros(3), np.array([3.0, 0.0, 0.0])], 0.06)
    assert lies_along(Surroundings(Space((board("left board", 0.5),))), curve, 0.02) == ()
