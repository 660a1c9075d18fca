"""Clamps: by hand on simple structure; laws; the stranger's check agrees."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.check import faults_in_run
from geometry.curve import filleted
from geometry.runs import CableShape, End, Request, Run
from geometry.solids import Box
from geometry.space import Obstacle, Space
from geometry.supports import clamps_on, unsupported_in_words
from geometry.surroundings import Surroundings, room_grid

CABLE = CableShape(radius_m=0.0085, clearance_m=0.005, bend_radius_m=0.07, straight_m=0.03)
TWO_METRES = filleted([np.zeros(3), np.array([2.0, 0, 0])], 0.07)


def shelf(from_m, to_m, name="shelf", drop_m=0.02, **more):
    """A board under the run, its top `drop_m` below the centreline."""
    return Obstacle(name, Box(((from_m + to_m) / 2, 0, -drop_m - 0.01), (to_m - from_m, 0.4, 0.02)), **more)


def clamped(*obstacles, span_m=0.45, reach_m=0.04):
    return clamps_on(Surroundings(Space(obstacles)), TWO_METRES, span_m=span_m, reach_m=reach_m, straight_m=0.03)


def test_four_clamps_hold_two_metres_evenly():
    """2000 / 450 = 4.4, so five stretches of 400 mm and four clamps."""
    clamps, missing = clamped(shelf(-1, 3))
    assert missing == ()
    assert [clamp.along_m for clamp in clamps] == pytest.approx([0.4, 0.8, 1.2, 1.6], abs=0.003)
    assert {clamp.structure for clamp in clamps} == {"shelf"}
    assert [clamp.gap_m for clamp in clamps] == pytest.approx([0.02] * 4)


def test_clamps_are_where_the_structure_is():
    """Boards from 350 to 440 and 800 to 860 mm, and the last metre: the first two must be used."""
    clamps, missing = clamped(shelf(0.35, 0.44), shelf(0.80, 0.86), shelf(1.25, 2.0))
    assert missing == ()
    assert 0.35 - 0.035 <= clamps[0].along_m <= 0.44 + 0.035
    assert 0.80 - 0.035 <= clamps[1].along_m <= 0.86 + 0.035


def test_a_missing_clamp_is_named_with_the_nearest_structure():
    """No board from 500 to 1500 mm; a beam 100 mm off there would do if the reach were 100 mm."""
    clamps, missing = clamped(shelf(0, 0.5), shelf(1.5, 2.0), shelf(0.7, 1.3, "beam", 0.1))
    assert len(missing) == 1
    assert missing[0].from_m == pytest.approx(0.5 + math.sqrt(0.04**2 - 0.02**2), abs=0.006)
    assert missing[0].to_m == pytest.approx(1.5 - math.sqrt(0.04**2 - 0.02**2), abs=0.006)
    assert missing[0].reach_needed_m == pytest.approx(0.1, abs=0.001)
    assert "it takes clamps that reach 100 mm" in unsupported_in_words(missing[0], 0.45, 0.04)
    assert clamps[-1].along_m > 1.5


def test_nothing_near_at_all():
    clamps, missing = clamped()
    assert clamps == ()
    assert [(m.from_m, m.to_m) for m in missing] == [(0.0, 2.0)]
    assert "no structure is near" in unsupported_in_words(missing[0], 0.45, 0.04)


def test_keep_outs_hold_no_clamp():
    assert clamped(shelf(-1, 3, clampable=False))[1] != ()


def test_walls_of_the_compartment_hold_clamps_but_not_where_another_joins():
    """Two lockers that join at x = 1 (both reach over it): the run crosses there, along the floor of both."""
    left = Obstacle("left", Box((0.2, 0, 0.18), (1.64, 1, 0.4)))
    right = Obstacle("right", Box((1.9, 0, 0.18), (1.8, 1, 0.4)))
    clamps, missing = clamps_on(
        Surroundings(Space((), (left, right))), TWO_METRES, span_m=0.45, reach_m=0.025, straight_m=0.03
    )
    assert missing == ()
    assert [clamp.gap_m for clamp in clamps] == pytest.approx([0.02] * 4)
    assert [clamp.structure for clamp in clamps] == ["left", "left", "right", "right"]


@given(st.lists(st.tuples(st.floats(0, 2), st.floats(0.02, 0.6)), max_size=5), st.floats(0.2, 0.8))
@settings(max_examples=60, deadline=None)
def test_what_the_clamps_say_is_what_the_stranger_finds(boards, span_m):
    """Sound by the check exactly when nothing is missing, which is when no bare stretch is too long."""
    obstacles = tuple(shelf(a, a + w, f"board {i}") for i, (a, w) in enumerate(boards))
    space = Space(obstacles)
    clamps, missing = clamps_on(Surroundings(space), TWO_METRES, span_m=span_m, reach_m=0.04, straight_m=0.03)
    request = Request("lead", End((0, 0, 0), ((1, 0, 0),)), End((2, 0, 0), ((-1, 0, 0),)), CABLE)
    run = Run("lead", TWO_METRES, 2.0, 0.0, (0, 0, 0), "", clamps=clamps)
    faults = faults_in_run(space, request, run, span_m=span_m, reach_m=0.04)
    assert bool(missing) == bool(faults)
    side_m = math.sqrt(0.04**2 - 0.02**2)
    free = sorted((max(a - side_m, 0.03), min(a + w + side_m, 1.97)) for a, w in boards)
    held, bare = 0.0, 0.0
    for from_m, to_m in free:
        bare = max(bare, from_m - held)
        held = max(held, to_m)
    bare = max(bare, 2.0 - held)
    if abs(bare - span_m) > 0.011:  # places are looked for every 5 mm
        assert bool(missing) == (bare > span_m)


@given(st.lists(st.tuples(*[st.floats(-0.4, 0.4)] * 3), min_size=1, max_size=30))
@settings(max_examples=40, deadline=None)
def test_the_grid_is_right_to_its_blur(spots):
    obstacles = (shelf(-0.3, 0.3), Obstacle("post", Box((0.1, 0.2, 0.1), (0.05, 0.05, 0.5)), keep_off_m=0.02))
    around = Surroundings(Space(obstacles))
    grid = room_grid(around, np.full(3, -0.5), np.full(3, 0.5))
    spots = np.array(spots)
    exact = around.slack(spots, 1.0)[0]
    near = exact < 0.12
    assert np.abs(grid.slack[grid.cells(spots)] - exact)[near] == pytest.approx(0, abs=grid.blur_m + 1e-6)
