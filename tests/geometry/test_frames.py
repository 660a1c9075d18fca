"""The angle between two lugs: by hand for plane and corkscrew runs, and laws that must hold."""

import doctest
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry import frames
from geometry.curve import Curve, Straight, filleted
from geometry.frames import carried, lug_angle_deg, turned

coordinate = st.floats(-1.0, 1.0)


def test_examples_in_the_docstrings_run():
    assert doctest.testmod(frames).failed == 0


def test_a_run_in_one_plane_keeps_its_flat():
    """All bends turn about z, so a flat that looks along z never turns."""
    run = filleted([np.array(p, float) for p in [(0, 0, 0), (1, 0, 0), (1, 1, 0), (3, 1, 0), (3, -1, 0)]], 0.1)
    assert lug_angle_deg(run, (0, 0, 1), (0, 0, 1)) == pytest.approx(0)


def test_three_bends_about_three_axes_by_hand():
    """Along x, then y, then z, then x: bends about z, x and y, each of 90 degrees.

    Worked: a flat looking at z: about z it stays z; about x it becomes -y; about y it stays -y. The run ends
    along x. From -y to z about x: -y x z = -x, so the turn is -90 degrees.
    """
    run = filleted([np.array(p, float) for p in [(0, 0, 0), (1, 0, 0), (1, 1, 0), (1, 1, 1), (2, 1, 1)]], 0.1)
    assert carried(run, np.array([0.0, 0, 1])) == pytest.approx(np.array([0.0, -1, 0]), abs=1e-12)
    assert lug_angle_deg(run, (0, 0, 1), (0, 0, 1)) == pytest.approx(-90)


def test_a_face_that_looks_along_the_cable_has_no_angle():
    run = Curve((Straight(np.zeros(3), np.array([1.0, 0, 0])),))
    assert lug_angle_deg(run, (1, 0, 0), (0, 0, 1)) is None


def test_half_a_turn_is_plus_180():
    run = Curve((Straight(np.zeros(3), np.array([1.0, 0, 0])),))
    assert lug_angle_deg(run, (0, 0, 1), (0, 0, -1)) == 180


@given(st.lists(st.tuples(coordinate, coordinate, coordinate), min_size=3, max_size=6, unique=True))
def test_carrying_keeps_lengths_and_the_direction_of_travel(corners):
    """Carrying is a rotation, and it carries the first direction of travel into the last."""
    try:
        run = filleted([np.array(c) for c in corners], 0.01)
    except ValueError:
        return
    there = carried(run, run.start_direction)
    assert there == pytest.approx(run.end_direction, abs=1e-6)
    up = np.array([0.3, -0.4, 0.5])
    assert np.linalg.norm(carried(run, up)) == pytest.approx(float(np.linalg.norm(up)))


@given(st.floats(-math.pi, math.pi))
def test_turning_the_second_stud_turns_the_angle(angle):
    run = filleted([np.array(p, float) for p in [(0, 0, 0), (1, 0, 0), (1, 1, 0), (1, 1, 1)]], 0.1)
    base = np.array([1.0, 0, 0])
    before = lug_angle_deg(run, (0, 0, 1), base)
    after = lug_angle_deg(run, (0, 0, 1), turned(base, run.end_direction, angle))
    assert before is not None
    assert after is not None
    assert math.cos(math.radians(after - before) - angle) == pytest.approx(1)


def test_reversing_the_run_and_its_studs_keeps_the_angle():
    """Seen from the other end the cable has the same twist between its flats, clockwise for both."""
    run = filleted([np.array(p, float) for p in [(0, 0, 0), (1, 0, 0), (1, 1, 0), (1, 1, 1)]], 0.1)
    there = lug_angle_deg(run, (0, 0.6, 0.8), (0.8, 0.6, 0))
    assert lug_angle_deg(run.reversed(), (0.8, 0.6, 0), (0, 0.6, 0.8)) == pytest.approx(there)
