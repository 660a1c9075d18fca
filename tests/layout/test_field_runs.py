"""Run lengths read from a table of taut ways: against straight lines, and against the way round a wall by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cutlist.bank.site import MountingFace
from cutlist.layout.bus_bar_places import find_places
from cutlist.layout.field_runs import FieldRuns
from geometry.runs import CableShape
from geometry.solids import Box
from geometry.space import Obstacle, Space
from tests.layout.place_cases import problem_of
from tests.layout.test_reference_places import CEILING

CABLE = CableShape(radius_m=0.008, clearance_m=0.005, bend_radius_m=0.05, straight_m=0.03)
FACE = MountingFace("A", (1.0, -0.3, 0.2), (0, 1, 0), (0, 0, 1), 0.6, 0.4)
TERMINALS = np.array([[0.0, 0.0, 0.3], [0.1, 0.4, 0.9]])


def studs(count: int = 200) -> np.ndarray:
    draw = np.random.default_rng(7)
    a, b = draw.uniform(0, 0.6, count), draw.uniform(0, 0.4, count)
    return np.column_stack([np.ones(count), -0.3 + a, 0.2 + b])


def test_in_free_space_a_run_is_a_straight_line():
    """Law: with nothing in the way the taut way is the straight line; it is convex, so interpolating can only add:
    at most (half the grid's diagonal)^2 / (2 x distance), here 0.035^2 / 1.8 = 0.7 mm."""
    runs = FieldRuns(Space(()), CABLE, TERMINALS, [FACE])
    straight = np.linalg.norm(TERMINALS[:, None] - studs()[None], axis=2)
    assert runs.lengths(TERMINALS, studs()) == pytest.approx(straight, abs=0.0008)
    assert (runs.lengths(TERMINALS, studs()) >= straight - 1e-9).all()
    assert runs.bounds(TERMINALS, studs()) == pytest.approx(straight, abs=1e-9)


def test_behind_a_wall_bounds_are_never_above_the_way_itself():
    """Law: the bound at a stud is not above the taut way to it, and no stud's way is shorter than the straight line.

    The wall stands across, from far below to 0.7 high, 20 thick: the way over its top at the cable's standoff of 13 mm
    is never shorter than over the edge's middle line (0.5, y, 0.7), and way points 0.6 m apart along the edge make it
    longer by no more than 5 % here."""
    wall = Obstacle("wall", Box((0.5, 0.0, -0.65), (0.02, 4.0, 2.7)))
    runs = FieldRuns(Space((wall,)), CABLE, TERMINALS[:1], [FACE])
    points = studs(40)
    bound, length = runs.bounds(TERMINALS[:1], points), runs.lengths(TERMINALS[:1], points)
    direct = runs._field.lengths_m(points)
    over = [min(_over(TERMINALS[0], p, y) for y in np.linspace(-0.5, 0.5, 501)) for p in points]
    assert (bound <= direct + 1e-9).all()
    assert (direct[0] >= np.array(over) - 1e-6).all()
    assert direct[0] == pytest.approx(np.array(over), rel=0.05)
    assert length == pytest.approx(direct, abs=0.03)
    assert bound == pytest.approx(direct, abs=0.05)


def _over(start: np.ndarray, end: np.ndarray, y: float) -> float:
    edge = (0.5, y, 0.7)
    return math.dist(start, edge) + math.dist(edge, end)


def test_in_free_space_the_places_are_those_of_straight_runs():
    """The smallest circle again (46.08, see there), runs read from the table: a cut of 1275 leaves 2 mm to spare."""
    problem = problem_of(CEILING)
    ends = np.vstack([problem.string_points(pole) for pole in ("positive", "negative")])
    found = find_places(replace(problem, runs=FieldRuns(Space(()), CABLE, ends, problem.faces)))
    assert found.cost == find_places(problem).cost
    assert found.certificate.gap < 0.01
