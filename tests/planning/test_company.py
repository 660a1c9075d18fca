"""Cables that lie together share their warmth; cables that only cross do not."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from cutlist.planning.wires import LEAST_TOGETHER_M, _lasting


def test_a_crossing_is_no_bundle_and_a_stretch_side_by_side_is() -> None:
    near = np.array([False, True, True, False] + [True] * 8 + [False])
    assert _lasting(near, 0.02).tolist() == [False] * 4 + [True] * 8 + [False]


@given(st.lists(st.booleans(), min_size=1), st.floats(0.01, 0.2))
def test_what_is_left_is_near_and_long_enough(near: list[bool], step_m: float) -> None:
    kept = _lasting(np.array(near), step_m).tolist()
    assert all(n for k, n in zip(kept, near, strict=True) if k)
    stretches = [s for s in "".join("x" if k else " " for k in kept).split() if s]
    assert all(len(s) * step_m >= LEAST_TOGETHER_M - 1e-8 for s in stretches)
