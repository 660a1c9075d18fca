"""What stands on a mounting face takes a part of it: against distances worked by hand, and by dense sampling."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutlist.bank.site import MountingFace
from cutlist.layout.taken_zones import STEP_M, free_faces, rectangles
from geometry.check_distance import own_distance
from geometry.solids import Box, Cylinder
from geometry.space import Obstacle, Space

FACE = MountingFace("panel", (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), 0.6, 0.4)


def zones(solid, standoff_m, body_m, keep_off_m=0.0):
    space = Space((Obstacle("solid", solid, keep_off_m),))
    return free_faces(space, [FACE], standoff_m, body_m)[0].forbidden


def test_a_box_on_the_face():
    """Box from 100 to 200 along and 100 to 150 up, through the face; cables keep 12 mm, bars reach 5 mm on.

    Of the points every 5 mm, (90, 95) is sqrt(10^2 + 5^2) = 11.2 mm off and (90, 90) is sqrt(200) = 14.1 mm off. So 90
    to 210 along and 95 to 155 up are nearer than 12 mm, and 95 to 205 along and 90 to 160 up: with the squares that
    these points touch 85 to 215 and 90 to 160, and 90 to 210 and 85 to 165; and half a millimetre more.
    """
    found = zones(Box((0.15, 0.0, 0.125), (0.1, 0.1, 0.05)), 0.012, 0.005)
    assert len(found) == 2
    wide, tall = sorted(found, key=lambda r: r[0])
    assert wide == pytest.approx((0.0845, 0.0895, 0.2155, 0.1605))
    assert tall == pytest.approx((0.0895, 0.0845, 0.2105, 0.1655))


def test_a_bar_reaches_beyond_its_studs():
    """The same box, cables thin: no stud within 20 mm of what is in the face, 80 to 220 and 80 to 170."""
    found = zones(Box((0.15, 0.0, 0.125), (0.1, 0.1, 0.05)), 0.003, 0.02)
    assert found == (pytest.approx((0.0795, 0.0795, 0.2205, 0.1705)),)


def test_behind_the_face_at_the_standoff_nothing_is_taken():
    """The board that carries the stand-offs is 20 mm behind: clear for 20 mm, taken as a whole for 21."""
    board = Box((0.3, -0.05, 0.2), (2.0, 0.06, 2.0))
    assert zones(board, 0.020, 0.03) == ()
    assert zones(board, 0.021, 0.03) == (pytest.approx((-5e-4, -5e-4, 0.6005, 0.4005)),)
    assert len(zones(board, 0.011, 0.03, keep_off_m=0.010)) == 1


@pytest.mark.parametrize("seed", range(4))
def test_what_is_left_is_free_and_what_is_taken_is_near(seed):
    """Dense sampling, distances by the stranger: outside the zones nothing is nearer than the standoff; inside, nothing
    is further than it and the diagonal of a square, or than the bar's reach."""
    random = np.random.default_rng(seed)
    standoff_m, body_m = 0.0135, 0.01
    turn = random.uniform(0, math.pi)
    rotation = ((math.cos(turn), 0, math.sin(turn)), (0, 1, 0), (-math.sin(turn), 0, math.cos(turn)))
    solids = [
        Box((*random.uniform(0.1, 0.3, 1), random.uniform(-0.05, 0.05), 0.15), (0.12, 0.08, 0.05), rotation),
        Cylinder((0.45, -0.03, 0.25), (0.0, 1.0, 0.0), random.uniform(0.02, 0.06), 0.05),
    ]
    space = Space(tuple(Obstacle(str(i), solid) for i, solid in enumerate(solids)))
    forbidden = free_faces(space, [FACE], standoff_m, body_m)[0].forbidden
    assert forbidden
    a, b = random.uniform(0, 0.6, 20_000), random.uniform(0, 0.4, 20_000)
    points = np.stack([a, np.zeros(len(a)), b], axis=1)
    nearest = np.min([own_distance(solid, points) for solid in solids], axis=0)
    taken = np.zeros(len(a), dtype=bool)
    for a0, b0, a1, b1 in forbidden:
        taken |= (a > a0) & (a < a1) & (b > b0) & (b < b1)
    assert nearest[~taken].min() >= standoff_m
    assert nearest[taken].max() <= max(standoff_m, math.sqrt(2) * (body_m + STEP_M)) + math.sqrt(2) * (STEP_M + 5e-4)


@given(st.lists(st.lists(st.booleans(), min_size=5, max_size=5), min_size=1, max_size=6))
def test_rectangles_hold_what_is_taken_and_nothing_else(rows):
    taken = np.array(rows)
    held = np.zeros_like(taken)
    for i, j, i_end, j_end in rectangles(taken):
        assert taken[i:i_end, j:j_end].all()
        held[i:i_end, j:j_end] = True
    assert (held == taken).all()
