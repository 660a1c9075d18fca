"""How far it is free in front of a place, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from geometry.free_ahead import FREE_AHEAD_M, STEP_M, free_ahead_m
from geometry.solids import Box
from geometry.space import Obstacle, Space

POINTS = np.array([[0.0, -0.1, 0.5], [0.0, 0.1, 0.5]])
OUT = np.array([1.0, 0.0, 0.0])


def test_nothing_ahead():
    assert free_ahead_m(Space(()), POINTS, OUT) == FREE_AHEAD_M


def test_the_nearer_thing_counts():
    """A box from x 0.4 on before the second point only; the first looks past it to the room's end at 1.2."""
    box = Obstacle("box", Box((0.6, 0.3, 0.5), (0.4, 0.5, 0.2)))
    room = Obstacle("room", Box((0.2, 0.0, 0.5), (2.0, 2.0, 1.0)))
    assert free_ahead_m(Space((), (room,)), POINTS, OUT) == pytest.approx(1.2, abs=1.1 * STEP_M)
    assert free_ahead_m(Space((box,), (room,)), POINTS[:1], OUT) == pytest.approx(1.2, abs=1.1 * STEP_M)
    assert free_ahead_m(Space((box,), (room,)), POINTS, OUT) == pytest.approx(0.4, abs=1.1 * STEP_M)
