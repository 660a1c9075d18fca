"""Quick run lengths to many places: against lengths worked by hand, and against runs laid in full."""

import math

import numpy as np
import pytest

from geometry.fields import run_lengths
from geometry.find_runs import find_runs
from geometry.runs import CableShape, Run
from geometry.solids import Box, Circle, Prism
from geometry.space import Obstacle, Space
from tests.benchmarks.scenes import CABLE, scene

THIN = CableShape(radius_m=0.001, clearance_m=0.0, bend_radius_m=0.001, straight_m=0.0)


def test_straight_when_nothing_is_in_the_way():
    found = run_lengths(Space(()), THIN, np.array([[0.0, 0, 0], [1, 0, 0]]), np.array([[3.0, 4, 0], [1, 0, 12]]))
    assert found == pytest.approx(np.array([[5.0, math.hypot(1, 12)], [math.hypot(2, 4), 12.0]]))


def test_over_a_wall():
    """Wall 1 m high and 0.2 m thick, very long; from 1 m before it to 1 m behind it at the floor: up to its two top
    edges and down again: 2 sqrt(1 + 1) + 0.2 = 3.0284 m; the 1 mm the cable keeps adds less than 5 mm."""
    wall = Obstacle("wall", Box((0.0, 0.0, 0.5), (0.2, 100.0, 1.0)))
    found = run_lengths(Space((wall,)), THIN, np.array([[-1.1, 0.0, 0.0]]), np.array([[1.1, 0.0, 0.0]]))
    below = 2 * math.sqrt(2) + 0.2
    # the floor is no obstacle here, and under the wall it is shorter: a straight line just below it
    assert found[0, 0] == pytest.approx(2.2, abs=0.005)
    deep = Obstacle("wall", Box((0.0, 0.0, -49.5), (0.2, 100.0, 101.0)))
    found = run_lengths(Space((deep,)), THIN, np.array([[-1.1, 0.0, 0.0]]), np.array([[1.1, 0.0, 0.0]]))
    assert below <= found[0, 0] <= below + 0.005


def test_through_the_only_hole():
    """The hole's middle lies sqrt(1 + 0.25) from either end: 2.2361 m, less what the hole's width saves: at most
    a radius at each side of the wall."""
    outline = ((-5, -5), (5, -5), (5, 5), (-5, 5))
    wall = Obstacle("wall", Prism.along("x", outline, -0.005, 0.005, (Circle((0.5, 0.0), 0.05),)))
    found = run_lengths(Space((wall,)), THIN, np.array([[-1.0, 0.0, 0.0]]), np.array([[1.0, 0.0, 0.0]]))
    assert 2 * math.hypot(1, 0.45) - 1e-3 <= found[0, 0] <= 2 * math.hypot(1, 0.5)


def test_a_place_in_a_closed_box_has_no_way():
    sides = ((0.5, 0, 0), (-0.5, 0, 0), (0, 0.5, 0), (0, -0.5, 0), (0, 0, 0.5), (0, 0, -0.5))
    box = tuple(Obstacle(f"side {i}", Box(at, tuple(0.02 if a else 1.04 for a in at))) for i, at in enumerate(sides))
    found = run_lengths(Space(box), CABLE, np.array([[0.0, 0.0, 0.0]]), np.array([[2.0, 0, 0], [0.2, 0, 0]]))
    assert math.isinf(found[0, 0])
    assert found[0, 1] == pytest.approx(0.2)


@pytest.mark.parametrize("seed", [3, 4])
def test_near_the_runs_laid_in_full(seed):
    """A laid run bends out of its lugs and round edges: it is longer, by some bend radii at most."""
    made = scene(20, 5, seed)
    starts = np.array([r.start.point for r in made.requests])
    finishes = np.array([r.finish.point for r in made.requests])
    quick = np.diag(run_lengths(made.space, CABLE, starts, finishes))
    for quick_m, run in zip(quick, find_runs(made.space, made.requests), strict=True):
        assert isinstance(run, Run)
        assert 0.93 * quick_m <= run.length_m <= quick_m + 6 * CABLE.bend_radius_m
