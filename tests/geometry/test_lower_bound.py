"""Lower bounds: inside what they must be inside of, and never above a run that can be laid."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.barriers import BODY, barriers_of, convex_parts
from geometry.bends import turn_in
from geometry.clearances import Clearances
from geometry.find_runs import find_runs
from geometry.footing import footings
from geometry.kernel import COMPILED
from geometry.launches import least_between, least_to, shortfall_m
from geometry.lower_bound import lower_bound
from geometry.runs import CableShape, End, Request, Run
from geometry.solids import Box, Circle, Cylinder, Prism, turned
from geometry.space import Obstacle, Space
from tests.benchmarks.scenes import scene

USUAL = CableShape(radius_m=0.0085, clearance_m=0.005, bend_radius_m=0.070, straight_m=0.030)
ELL = ((0.0, 0.0), (0.3, 0.0), (0.3, 0.08), (0.1, 0.08), (0.1, 0.25), (0.0, 0.25))
SOLIDS = [
    Box((0.1, -0.2, 0.3), (0.2, 0.3, 0.1), turned(0.4)),
    Cylinder((0.0, 0.0, 0.0), (0.3, 0.2, 1.0), 0.11, 0.4),
    Prism.along("y", ELL, 0.0, 0.2),
    Prism.along("x", ((0, 0), (0.4, 0), (0.1, 0.3)), 0.0, 0.2),
    Prism.along("x", ((-1, -1), (1, -1), (1, 1), (-1, 1)), 0.0, 0.012, (Circle((0.1, 0.2), 0.055),)),
    Prism.along(
        "z", ((-1, -1), (1, -1), (1, 1), (-1, 1)), 0.0, 0.012, (((0.1, 0.1), (0.3, 0.1), (0.3, 0.2), (0.1, 0.2)),)
    ),
]
needs_kernel = pytest.mark.skipif(not COMPILED, reason="the proof runs in C only")


@pytest.mark.parametrize("solid", SOLIDS, ids=lambda solid: type(solid).__name__)
@pytest.mark.parametrize("off_m", [0.005, 0.0135, 0.04])
def test_barriers_forbid_only_what_the_solid_forbids(solid, off_m):
    """Every place in a barrier is nearer to the solid than asked, measured with the solid's own exact distance."""
    rng = np.random.default_rng(5)
    inside = 0
    for barrier in barriers_of(solid, off_m):
        if barrier.kind == BODY:
            rows = barrier.groups[0]
            points = barrier.ball[:3] + rng.uniform(-1, 1, (4000, 3)) * barrier.ball[3]
            points = points[(points @ rows[:, :3].T < rows[:, 3]).all(axis=1)]
        else:
            flat = rng.uniform(-1.2, 1.2, (4000, 2))
            flat[:2000] = np.array([0.15, 0.17]) + 0.12 * flat[:2000]
            outline, *holes = barrier.groups
            there = (flat @ outline[:, :2].T < outline[:, 3]).all(axis=1)
            for hole in holes:
                there &= ~(flat @ hole[:, :2].T <= hole[:, 3]).all(axis=1)
            points = barrier.frame[:3] + flat[there] @ barrier.frame[3:9].reshape(2, 3)
        inside += len(points)
        assert solid.signed_distance(points).max() < off_m
    assert inside > 200


def test_an_outline_is_cut_into_convex_parts_of_the_same_area():
    """The L is 0.3 x 0.08 + 0.1 x 0.17 = 0.041 m2."""
    parts = convex_parts(np.array(ELL))

    def area(ring):
        after = np.roll(ring, -1, axis=0)
        return float(np.sum(ring[:, 0] * after[:, 1] - after[:, 0] * ring[:, 1])) / 2

    assert len(parts) == 2
    assert sum(area(part) for part in parts) == pytest.approx(0.041)


def test_shortfall_by_hand():
    """A quarter turn at R = 70 mm: R (pi / 2 - 1) = 39.956 mm; over 0 m nothing is lost."""
    assert shortfall_m(math.pi / 2, 0.07, 1.0) == pytest.approx(0.07 * (math.pi / 2 - 1))
    assert shortfall_m(math.pi / 2, 0.07, 0.0) == pytest.approx(0.0)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.3, 2.0), st.floats(0.0, math.pi))
def test_bend_then_straight_is_met_exactly(far_m, angle):
    """Where the whole turn may count, the bound is the length of the bend and straight that leads there."""
    place = far_m * np.array([math.cos(angle), math.sin(angle), 0.0])
    exact_m, turn, _ = turn_in(place[None], np.zeros(3), np.array([1.0, 0, 0]), 0.07)
    bound_m, _ = least_to(np.array([[place, place]]), np.zeros(1), np.zeros(3), np.array([1.0, 0, 0]), 0.07, 1.0)
    assert bound_m[0] <= exact_m[0] + 1e-9
    if turn[0] < math.pi:
        assert bound_m[0] == pytest.approx(exact_m[0], rel=1e-4)


def test_between_two_lugs_square_to_the_way():
    """1 m apart, both lugs turned the same way to the side: each end loses R (pi / 2 - 1), so the least is
    1 m + 2 R (pi / 2 - 1): a quarter circle of length R pi / 2 at each end takes the cable R further."""
    up = np.array([0.0, 0.0, 1.0])
    bound_m = least_between(np.zeros(3), up, 1.0, np.array([1.0, 0, 0]), up, 1.0, 0.07)
    assert bound_m == pytest.approx(1.0 + 2 * 0.07 * (math.pi / 2 - 1), abs=1e-3)


def proof_of(space, request, run):
    around = Clearances(space)
    starts, _ = footings(around, request.start, request.cable)
    finishes, _ = footings(around, request.finish, request.cable)
    everything = np.arange(len(space.obstacles))
    return lower_bound(
        around, starts, finishes, request.cable.standoff_m, request.cable.bend_radius_m, 1.2 * run.length_m, everything
    )


@needs_kernel
@pytest.mark.parametrize(("solids", "seed"), [(10, 201), (10, 202), (10, 203), (50, 201)])
def test_no_run_is_shorter_than_the_bound(solids, seed):
    """With a goal far above the run: nothing but the proof keeps the bound below it. All solids are looked at."""
    made = scene(solids, 2, seed)
    for request, run in zip(made.requests, find_runs(made.space, made.requests), strict=True):
        assert isinstance(run, Run)
        assert proof_of(made.space, request, run).least_m <= run.length_m + 1e-9


@needs_kernel
@settings(max_examples=5, deadline=None)
@given(st.floats(-0.25, 0.25), st.floats(-0.2, 0.2), st.sampled_from([0.0142, 0.02, 0.05]), st.booleans())
def test_through_a_round_hole(y, z, radius, turned_away):
    """The hole is a true circle; the lug points at the wall or away from it."""
    plate = Prism.along("x", ((-2, -2), (2, -2), (2, 2), (-2, 2)), 0.0, 0.010, (Circle((0.0, 0.0), radius),))
    space = Space((Obstacle("bulkhead", plate),), (Obstacle("room", Box((0.0, 0.0, 0.0), (2.4, 4.0, 4.0))),))
    way = (-1.0, 0.0, 0.0) if turned_away else (1.0, 0.0, 0.0)
    request = Request("hole", End((-0.4, y, z), (way,)), End((0.5, -z, y), ((-1.0, 0, 0), (0, 1.0, 0))), USUAL)
    run = find_runs(space, [request])[0]
    if isinstance(run, Run):
        least_m = proof_of(space, request, run).least_m
        assert least_m <= run.length_m + 1e-9
        # past the rim: the way over the hole's middle, less its radius on both sides, is no longer than any run
        there_m = math.dist((-0.4, y, z), (0, 0, 0)) + math.dist((0, 0, 0), (0.5, -z, y)) - 2 * radius
        assert least_m >= 0.98 * there_m - 0.01


@needs_kernel
def test_round_a_wall_by_hand():
    """A thin wall 6 m wide that ends 0.6 m above the floor; both studs 0.3 m off it, 0.5 m below its top, lugs up.

    The way over the top is at least 2 sqrt(0.3^2 + 0.5^2) = 1.166 m for a thread; the cable's bound lies between that
    and the run.
    """
    wall = Obstacle("wall", Box((0.0, 0.0, -0.7), (0.02, 6.0, 2.6)))
    request = Request("over", End((-0.31, 0, 0.1), ((0, 0, 1.0),)), End((0.31, 0, 0.1), ((0, 0, 1.0),)), USUAL)
    run = find_runs(Space((wall,)), [request], prove=True)[0]
    assert isinstance(run, Run)
    assert 2 * math.hypot(0.3, 0.5) < run.lower_bound_m <= run.length_m
    assert run.gap < 0.02


@needs_kernel
def test_fewer_directions_never_lower_the_bound():
    """Whoever may use two directions is bound by less than whoever may use one of them; a law of any minimum."""
    made = scene(10, 1, 7)
    request = made.requests[0]
    ways = ((1.0, 0, 0), (-1.0, 0, 0), (0, 1.0, 0))
    runs = {}
    for way in (*((w,) for w in ways), ways):
        run = find_runs(made.space, [replace(request, start=replace(request.start, directions=way))], prove=True)[0]
        if isinstance(run, Run):
            runs[way] = run
    if ways in runs:
        for way, run in runs.items():
            assert runs[ways].lower_bound_m <= run.length_m + 1e-9, way
