"""A curve of straights and arcs, against formulas written out here."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.curve import filleted

coordinate = st.floats(-1.0, 1.0)
points = st.lists(st.tuples(coordinate, coordinate, coordinate), min_size=3, max_size=6)


def test_one_right_angle_corner():
    """Legs of 1 m with a corner rounded to 0.1 m: 2 (1 - 0.1) + pi/2 0.1, by hand."""
    curve = filleted([(0, 0, 0), (1, 0, 0), (1, 1, 0)], 0.1)
    assert curve.length_m == pytest.approx(1.8 + math.pi / 2 * 0.1, abs=1e-12)
    # a quarter of the way round the bend lies on the circle about (0.9, 0.1)
    middle = curve.points_at([0.9 + math.pi / 8 * 0.1 * 2])[0]
    assert np.hypot(middle[0] - 0.9, middle[1] - 0.1) == pytest.approx(0.1)
    assert middle[0] == pytest.approx(0.9 + 0.1 * math.sin(math.pi / 4))


def test_no_room_for_the_bend_is_said():
    with pytest.raises(ValueError, match="no room for a bend of radius"):
        filleted([(0, 0, 0), (0.05, 0, 0), (0.05, 1, 0)], 0.1)


def test_folding_back_is_said():
    with pytest.raises(ValueError, match="folds straight back"):
        filleted([(0, 0, 0), (1, 0, 0), (0.2, 0, 0)], 0.1)


@given(points)
def test_points_lie_where_the_pieces_say(vertices):
    try:
        curve = filleted(np.array(vertices), 0.03)
    except ValueError:
        return
    before = 0.0
    for piece in curve.pieces:
        along = np.linspace(0.0, piece.length_m, 5)
        assert np.allclose(curve.points_at(before + along[1:-1]), piece.points_at(along[1:-1]), atol=1e-9)
        before += piece.length_m
    # law: a polyline with its corners rounded is no longer than the polyline, nor shorter than the chord
    polyline = sum(math.dist(a, b) for a, b in pairwise(vertices))
    assert math.dist(vertices[0], vertices[-1]) - 1e-9 <= curve.length_m <= polyline + 1e-9


@given(points)
def test_reversing_keeps_length_and_points(vertices):
    try:
        curve = filleted(np.array(vertices), 0.03)
    except ValueError:
        return
    back = curve.reversed()
    assert back.length_m == pytest.approx(curve.length_m)
    along = np.linspace(0, curve.length_m, 7)
    assert np.allclose(back.points_at(curve.length_m - along), curve.points_at(along), atol=1e-7)
