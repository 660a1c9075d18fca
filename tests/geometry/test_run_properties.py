"""Laws of the shortest run that hold in every scene: moved, turned or scaled as a whole, it is as long as it was.

A run is pulled taut until a step gains less than a hundredth of a millimetre; two searches for the same run may stop
at slightly different places, and the same scene in another frame is another search. `WIDTH` allows for that.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.check import faults_in_run
from geometry.find_runs import find_runs
from geometry.runs import CableShape, End, Request, Run
from geometry.solids import Box, Cylinder, turned
from geometry.space import Obstacle, Space

WIDTH = 2e-3
CABLE = CableShape(radius_m=0.0085, clearance_m=0.005, bend_radius_m=0.070, straight_m=0.030)


def about_z(point, turn, shift=(0.0, 0.0, 0.0), scale=1.0):
    x, y, z = point
    cosine, sine = math.cos(turn), math.sin(turn)
    moved = np.array([cosine * x - sine * y, sine * x + cosine * y, z]) * scale + np.array(shift)
    return tuple(float(v) for v in moved)


def asked(turn=0.0, shift=(0.0, 0.0, 0.0), scale=1.0, seed=0):
    """Two boxes and a post between two studs, made from a seed, then turned, scaled and moved as a whole."""
    rng = np.random.default_rng(seed)
    solids = []
    for number in range(2):
        centre = rng.uniform([-0.35, -0.25, -0.1], [0.35, 0.25, 0.1])
        size = tuple(float(v) for v in rng.uniform(0.1, 0.4, 3) * scale)
        box = Box(about_z(centre, turn, shift, scale), size, turned(turn + float(rng.uniform(0, 1))))
        solids.append(Obstacle(f"box {number}", box))
    foot = (*rng.uniform(-0.3, 0.3, 2), -0.5)
    post = Cylinder(about_z(foot, turn, shift, scale), (0.0, 0.0, 1.0), 0.05 * scale, 1.0 * scale)
    solids.append(Obstacle("post", post))
    lengths = {
        f"{name}_m": getattr(CABLE, f"{name}_m") * scale for name in ("radius", "clearance", "bend_radius", "straight")
    }
    start = End(about_z((-0.8, 0.1, 0.05), turn, shift, scale), (about_z((1, 0, 0), turn), (0.0, 0.0, 1.0)))
    finish = End(about_z((0.8, -0.1, -0.05), turn, shift, scale), (about_z((-1, 0, 0), turn), about_z((0, 1, 0), turn)))
    return Space(tuple(solids)), Request("lead", start, finish, replace(CABLE, **lengths))


def run_of(space, request):
    run = find_runs(space, [request])[0]
    assert isinstance(run, Run)
    assert faults_in_run(space, request, run) == []
    return run


@settings(max_examples=8, deadline=None, derandomize=True)
@given(st.integers(0, 10_000), st.floats(-3, 3), st.tuples(*[st.floats(-5, 5)] * 3))
def test_moving_everything_changes_no_length(seed, turn, shift):
    there, here = run_of(*asked(turn, shift, seed=seed)), run_of(*asked(seed=seed))
    assert there.length_m == pytest.approx(here.length_m, rel=WIDTH)


@settings(max_examples=8, deadline=None, derandomize=True)
@given(st.integers(0, 10_000), st.floats(0.9, 1.5))
def test_scaling_everything_scales_the_length(seed, scale):
    """Lengths of the search itself (samples, margins) are not scaled: that is within the width too."""
    there, here = run_of(*asked(scale=scale, seed=seed)), run_of(*asked(seed=seed))
    assert there.length_m == pytest.approx(scale * here.length_m, rel=WIDTH)


@settings(max_examples=8, deadline=None, derandomize=True)
@given(st.integers(0, 10_000))
def test_turned_round_a_run_is_as_long(seed):
    space, request = asked(seed=seed)
    back = run_of(space, replace(request, start=request.finish, finish=request.start))
    assert back.length_m == pytest.approx(run_of(space, request).length_m, rel=WIDTH)


@settings(max_examples=8, deadline=None, derandomize=True)
@given(st.integers(0, 10_000), st.floats(0.0, 0.005))
def test_fewer_solids_and_less_clearance_never_lengthen(seed, clearance_m):
    space, request = asked(seed=seed)
    length_m = run_of(space, request).length_m
    fewer = replace(space, obstacles=space.obstacles[:-1])
    assert run_of(fewer, request).length_m <= length_m * (1 + WIDTH)
    slighter = replace(request, cable=replace(request.cable, clearance_m=clearance_m))
    assert run_of(space, slighter).length_m <= length_m * (1 + WIDTH)
