"""No run: the narrowest place is named, with the millimetres that it lacks, and a proof is called one only if it is."""

import math

import pytest

from geometry.find_runs import find_runs
from geometry.kernel import COMPILED
from geometry.runs import CableShape, End, NoRun, Request
from geometry.solids import Box, Circle, Prism
from geometry.space import Obstacle, Penetration, Space

CABLE = CableShape(radius_m=0.010, clearance_m=0.005, bend_radius_m=0.060, straight_m=0.030)
ROOM = Obstacle("room", Box((0.0, 0.0, 0.0), (2.0, 1.0, 1.0)))
START, FINISH = End((-0.5, 0.1, 0.0), ((1.0, 0, 0),)), End((0.5, -0.1, 0.0), ((-1.0, 0, 0),))


def refused(space, finish=FINISH):
    found = find_runs(space, [Request("lead", START, finish, CABLE)])[0]
    assert isinstance(found, NoRun)
    return found


def test_a_hole_half_a_millimetre_too_small():
    """The cable with its clearance is 30 mm; the hole 29.5 mm."""
    outline = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    plate = Obstacle("wall", Prism.along("x", outline, -0.005, 0.005, (Circle((0.0, 0.0), 0.01475),)))
    gland = Penetration("gland", "wall", (0, 0, 0), (1, 0, 0), 0.0295, math.pi * 0.01475**2, 0.01)
    found = refused(Space((plate,), (ROOM,), (gland,)))
    assert found.obstacle == "gland"
    assert found.missing_m == pytest.approx(0.0005, abs=1e-4)
    assert '"gland" is 0.5 mm too narrow' in found.reason
    assert found.at == pytest.approx((0, 0, 0), abs=0.02)
    assert found.proved == COMPILED


def test_a_slot_too_narrow():
    """Two blocks across the room leave 26 mm between them; 30 mm are needed: 4 mm are missing."""
    left = Obstacle("left block", Box((0.0, 0.513, 0.0), (0.2, 1.0, 1.2)))
    right = Obstacle("right block", Box((0.0, -0.513, 0.0), (0.2, 1.0, 1.2)))
    found = refused(Space((left, right), (ROOM,)))
    assert found.missing_m == pytest.approx(0.004, abs=7e-4)
    assert "left block" in found.reason
    assert "right block" in found.reason
    assert found.proved == COMPILED


def test_a_solid_across_the_whole_section():
    across = Obstacle("tank", Box((0.0, 0.0, 0.0), (0.2, 1.2, 1.2)))
    found = refused(Space((across,), (ROOM,)))
    assert "not even a thread" in found.reason
    assert found.proved == COMPILED


def test_a_closed_box():
    """Six plates round the far stud."""
    plates = []
    for axis, name in enumerate("xyz"):
        for side in (-1, 1):
            centre, size = [0.5, -0.1, 0.0], [0.44, 0.44, 0.44]
            centre[axis] += side * 0.2
            size[axis] = 0.02
            plates.append(Obstacle(f"{name}{side}", Box(tuple(centre), tuple(size))))
    found = refused(Space(tuple(plates), (ROOM,)))
    assert "not even a thread" in found.reason
    assert found.proved == COMPILED


def test_a_terminal_that_faces_a_wall():
    """The wall stands 25 mm before the stud; the lug's straight is 30 mm and its end keeps 15 mm: 20 mm are missing."""
    wall = Obstacle("wall", Box((0.4, 0.0, 0.0), (0.15, 0.5, 0.5)))
    found = refused(Space((wall,), (ROOM,)))
    assert found.obstacle == "wall"
    assert found.missing_m == pytest.approx(0.020, abs=1e-3)
    assert found.proved
