"""Cables that share a way: laid beside each other, sound by the stranger's checks, or named."""

import doctest
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry import lanes
from geometry.apart import LaidCable, nearest_cable
from geometry.bundles import _lug_rods, side_by_side
from geometry.check import faults_in_run
from geometry.check_cables import faults_between, faults_in_fill
from geometry.curve import filleted
from geometry.find_runs import find_runs
from geometry.lanes import hole_capacity, ring_lanes
from geometry.runs import CableShape, End, Request
from geometry.solids import Box, Circle, Prism
from geometry.space import Obstacle, Penetration, Space

CABLE = CableShape(radius_m=0.0085, clearance_m=0.005, bend_radius_m=0.07, straight_m=0.03)


def test_examples_in_the_docstrings_run():
    assert doctest.testmod(lanes).failed == 0


def through_one_hole(count, diameter_m):
    """Studs 30 mm apart on both sides of a bulkhead with one round hole."""
    outline = ((-1.1, -0.1), (1.1, -0.1), (1.1, 1.3), (-1.1, 1.3))
    bulkhead = Obstacle("bulkhead", Prism.along("x", outline, -0.006, 0.006, (Circle((0, 0.6), diameter_m / 2),)))
    hole = Penetration("hole", "bulkhead", (0, 0, 0.6), (1, 0, 0), diameter_m, math.pi * diameter_m**2 / 4, 0.012)
    room = Obstacle("room", Box((0, 0, 0.6), (2.4, 2.0, 1.2)))
    requests = []
    for i in range(count):
        y = (i - (count - 1) / 2) * 0.03
        start, finish = End((-0.8, y, 0.3), ((0, 0, 1),)), End((0.8, y, 0.9), ((0, 0, -1),))
        requests.append(Request(f"lead {i + 1:02d}", start, finish, CABLE))
    return Space((bulkhead,), (room,), (hole,)), requests


@pytest.mark.parametrize(("count", "diameter_m"), [(8, 0.080), (16, 0.110)])
def test_leads_through_one_hole_lie_beside_each_other(count, diameter_m):
    space, requests = through_one_hole(count, diameter_m)
    runs = find_runs(space, requests)
    assert faults_between(runs, [CABLE] * count) != []  # as shortest they all hug the same edge of the hole
    made = side_by_side(space, requests, runs)
    assert made.crossing == ()
    assert faults_between(made.runs, [CABLE] * count) == []
    assert faults_in_fill(space.penetrations, made.runs, [CABLE] * count) == []
    for request, run in zip(requests, made.runs, strict=True):
        assert faults_in_run(space, request, run) == []


def test_a_hole_too_small_names_who_finds_no_lane():
    """A 40 mm hole: middles of 17 mm cables keep 13.5 mm from its edge, so they lie within a circle of 6.5 mm radius.

    There two cables cannot be 17 mm apart: one fits.
    """
    space, requests = through_one_hole(3, 0.040)
    made = side_by_side(space, requests, find_runs(space, requests))
    assert len(made.crossing) == 2
    assert all("no place was found beside lead" in words for words in made.crossing)
    assert all('3 cables pass "hole", 1 fit' in words for words in made.crossing)


@pytest.mark.parametrize(
    ("diameter_m", "fitting"), [(0.026, 0), (0.0271, 1), (0.045, 2), (0.0467, 3), (0.080, 8), (0.110, 16)]
)
def test_how_many_fit_a_hole(diameter_m, fitting):
    """17 mm cables, 5 mm clear of the edge.

    By hand: 1 needs 17 + 10 = 27 mm; 2: 34 + 10 = 44; 3: 2.1547 x 17 + 10 = 46.63; beyond seven 40 % of the area:
    80 mm: 0.4 x 80^2 / 17^2 = 8.9; 110 mm: 0.4 x 110^2 / 17^2 = 16.7.
    """
    hole = Penetration("hole", "wall", (0, 0, 0), (1, 0, 0), diameter_m, math.pi * diameter_m**2 / 4, 0.01)
    assert hole_capacity(hole, CABLE) == fitting


def test_lugs_of_no_length_keep_nobody_out():
    """Law: where no lug is known nothing is kept free for it. The first cable's way leads past the stud where the
    second, still to come, begins: both are laid."""
    shape = CableShape(0.006, 0.005, 0.030, 0.0)
    ways = tuple((x, y, 0.0) for x, y in ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0)))
    ends = [((-0.3, 0.0, 0.0), (0.3, 0.0, 0.0)), ((0.0, 0.004, 0.0), (0.0, 0.4, 0.0))]
    requests = [
        Request(name, End(start, ways), End(finish, ways), shape)
        for name, (start, finish) in zip(("first", "second"), ends, strict=True)
    ]
    space = Space(())
    runs = find_runs(space, requests)
    assert [_lug_rods(request, run) for request, run in zip(requests, runs, strict=True)] == [(), ()]
    made = side_by_side(space, requests, runs)
    assert len(made.runs) == 2
    assert all(run.length_m > 0.39 for run in made.runs)


def test_runs_that_are_apart_stay_as_they_are():
    space = Space(())
    requests = [
        Request(f"lead {i}", End((0, 0.1 * i, 0), ((1, 0, 0),)), End((1, 0.1 * i, 0), ((-1, 0, 0),)), CABLE)
        for i in range(3)
    ]
    runs = find_runs(space, requests)
    made = side_by_side(space, requests, runs)
    assert all(a is b for a, b in zip(runs, made.runs, strict=True))
    assert made.longer_m == 0


@given(st.floats(0.02, 0.08), st.floats(0.008, 0.02))
def test_lanes_in_a_hole_are_apart_and_inside(radius_m, pitch_m):
    lanes_found = ring_lanes(radius_m, pitch_m)
    assert np.linalg.norm(lanes_found, axis=1).max() <= radius_m + 1e-9
    apart = np.linalg.norm(lanes_found[:, None] - lanes_found[None], axis=2) + np.eye(len(lanes_found))
    assert apart.min() >= pitch_m - 1e-9


@given(st.tuples(*[st.floats(-0.3, 0.3)] * 3), st.floats(0.1, 1.0))
@settings(max_examples=40, deadline=None)
def test_the_distance_between_cables_against_the_stranger(shift, turn):
    """The check by halving and the rods used in laying were written apart."""
    one = filleted([np.zeros(3), np.array([0.5, 0, 0]), np.array([0.5, 0.5, 0.1])], 0.07)
    corner = np.array([0.2 * math.cos(turn), 0.2 * math.sin(turn), 0.1])
    two = filleted([np.array(shift), np.array(shift) + corner, np.array(shift) + corner + (0, 0.1, 0.5)], 0.03)
    least_m = nearest_cable(one, 0.0, 0.0, one.length_m, (LaidCable("two", two, 0.01, 0.0),), 0.01)[0]
    fine = np.linalg.norm(one.sampled(0.001)[:, None] - two.sampled(0.001)[None], axis=2).min() - 0.02
    if fine < -0.01:  # middles nearer than 10 mm: sampling every 1 mm no longer tells a tenth
        assert least_m < -0.0095
    elif fine < 0.035:
        assert least_m == pytest.approx(fine, abs=3e-4)
    else:
        assert least_m > 0.034


def test_cables_that_only_cross_hop_over_one_another():
    """Two straight runs that meet at right angles: one goes over the other, and no further than a bow would.

    By hand: centrelines 17 mm apart; a bow of four arcs of radius R turning by t is 2 R (1 - cos t) high and
    4 R (t - sin t) longer than straight. With R = 70 mm and 17.6 mm of height (17 mm and the slack of two rods):
    cos t = 1 - 17.6 / 140, t = 0.507, 280 (0.507 - sin 0.507) = 6.0 mm. Bends are pulled 0.6 % wide: under 6.5 mm.
    """
    ways = (("across", (0, -0.5, 0), (0, 0.5, 0), (0, 1, 0)), ("along", (-0.6, 0, 0), (0.6, 0, 0), (1, 0, 0)))
    requests = [
        Request(name, End(start, (out,)), End(end, (tuple(-v for v in out),)), CABLE) for name, start, end, out in ways
    ]
    space = Space(())
    runs = find_runs(space, requests)
    assert len(faults_between(runs, [CABLE] * 2)) == 1
    made = side_by_side(space, requests, runs)
    assert made.crossing == ()
    assert faults_between(made.runs, [CABLE] * 2) == []
    longer_mm = [(now.length_m - was.length_m) * 1000 for now, was in zip(made.runs, runs, strict=True)]
    assert longer_mm[0] == 0  # the shorter run chooses first
    assert 0 < longer_mm[1] < 6.5
    for request, run in zip(requests, made.runs, strict=True):
        assert faults_in_run(space, request, run) == []
