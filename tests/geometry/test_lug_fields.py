"""Least lengths with lugs and bends: against lengths worked out by hand, and never above the runs that are laid."""

from __future__ import annotations

import math

import numpy as np
import pytest

from geometry.find_runs import find_runs
from geometry.lug_fields import LugField, Source
from geometry.runs import CableShape, End, NoRun
from geometry.solids import Box
from geometry.space import Obstacle, Space
from tests.benchmarks.scenes import scene

CABLE = CableShape(radius_m=0.006, clearance_m=0.005, bend_radius_m=0.06, straight_m=0.0)
OUT = np.array([[0.0, 0.0, 1.0]])


def _length(space: Space, source: Source, stud: tuple[float, ...], way: tuple[float, ...]) -> float:
    field = LugField(space, CABLE, [source])
    return float(field.lengths(np.array([stud]), np.array([way]), OUT).metres[0, 0])


def test_straight_ahead_is_the_distance():
    """Both lugs on one line, facing each other: nothing to bend."""
    source = Source(End((0.0, 0.0, 0.0), ((1.0, 0.0, 0.0),)), 0.04)
    assert _length(Space(()), source, (1.0, 0.0, 0.0), (1.0, 0.0, 0.0)) == pytest.approx(1.0, abs=1e-9)


def test_a_quarter_turn_by_hand():
    """From the lug along x, 40 mm straight, a quarter turn of radius 60, then up y to a lug that lies along y:
    40 + 60 pi / 2 + (500 - 60 - 40) + 40."""
    source = Source(End((0.0, 0.0, 0.0), ((1.0, 0.0, 0.0),)), 0.04)
    by_hand = 0.04 + 0.06 * math.pi / 2 + (0.5 - 0.06 - 0.04) + 0.04
    assert _length(Space(()), source, (0.1, 0.5, 0.0), (0.0, 1.0, 0.0)) == pytest.approx(by_hand, abs=1e-6)


def test_of_two_directions_the_shorter_counts():
    """A lug that may point either way, and a stud straight behind it."""
    both = Source(End((0.0, 0.0, 0.0), ((1.0, 0.0, 0.0), (-1.0, 0.0, 0.0))), 0.04)
    assert _length(Space(()), both, (-1.0, 0.0, 0.0), (1.0, 0.0, 0.0)) == pytest.approx(1.0, abs=1e-9)


def test_over_a_wall_by_hand():
    """Both lugs point up, 1 m apart, a wall of no great breadth between them, its top 0.5 above the lugs' ends.

    No cable passes lower than the standoff of 11 mm above the top halfway between the faces of each edge; way points on
    those lines, 11 / sqrt 2 mm off along and up, and straight lines to them from where the lugs end cannot be longer
    than any cable. The lugs' bends, under a right angle, add R (b - sin b) for the angle b between up and the slope."""
    wall = Obstacle("wall", Box((0.5, 0.0, 0.0), (0.02, 4.0, 1.08)))
    source = Source(End((0.0, 0.0, 0.0), ((0.0, 0.0, 1.0),)), 0.04)
    field = LugField(Space((wall,)), CABLE, [source])
    found = field.lengths(np.array([[1.0, 0.0, 0.0]]), np.array([[0.0, 0.0, 1.0]]), np.array([[-1.0, 0.0, 0.0]]))
    off = 0.011 / math.sqrt(2)
    rise, run = 0.54 + off - 0.04, 0.49 - off
    least = 2 * 0.04 + 2 * math.hypot(rise, run) + 0.02 + 2 * off
    angle = math.atan2(run, rise)
    bends = 2 * 0.06 * (angle - math.sin(angle))
    assert least <= found.metres[0, 0] <= least + bends + 0.002


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_never_above_the_run_that_is_laid(seed):
    """Law: what is laid among random boxes is no shorter, but for what way points that stand apart may add (0.5 %).

    Where both agree to a fifth of the way the bound is worth having: half of the runs must."""
    made = scene(12, 8, seed)
    space, requests = made.space, made.requests
    near = 0
    looked = 0
    for request in requests:
        run = find_runs(space, [request], explain=False)[0]
        if isinstance(run, NoRun):
            continue
        cable = request.cable
        shape = CableShape(cable.radius_m, cable.clearance_m, cable.bend_radius_m, 0.0)
        field = LugField(space, shape, [Source(request.start, cable.straight_m)])
        least = min(
            float(
                field.lengths(np.array([request.finish.point]), np.array([way]), np.array([np.roll(way, 1)])).metres[
                    0, 0
                ]
            )
            for way in np.array(request.finish.directions, dtype=float)
        )
        looked += 1
        near += run.length_m < 1.2 * least
        assert least <= run.length_m * 1.005
    assert looked >= 5
    assert near >= looked / 2


def test_slopes_are_those_of_the_lengths():
    """Law: a small step of the stud changes the length by the slope along it, as long as the way is of one kind."""
    wall = Obstacle("wall", Box((0.5, 0.3, 0.0), (0.02, 1.0, 3.0)))
    source = Source(End((0.0, 0.0, 0.0), ((0.0, 1.0, 0.0), (1.0, 0.0, 0.0))), 0.03)
    field = LugField(Space((wall,)), CABLE, [source])
    draw = np.random.default_rng(4)
    studs = np.column_stack([np.full(40, 1.2), draw.uniform(-0.3, 0.6, 40), draw.uniform(-0.3, 0.3, 40)])
    ways, outs = np.broadcast_to([0.0, 0.0, 1.0], (40, 3)), np.broadcast_to([-1.0, 0.0, 0.0], (40, 3))
    here = field.lengths(studs, ways, outs)
    step = 1e-4
    for axis in (np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0])):
        there = field.lengths(studs + step * axis, ways, outs)
        same = here.kind == there.kind
        assert same.mean() > 0.9
        grown = (there.metres - here.metres)[same] / step
        assert np.median(np.abs(grown - (here.slope @ axis)[same])) < 0.01
