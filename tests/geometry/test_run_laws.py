"""Laws that hold for the shortest run, whatever the scene. No length here comes from us."""

from dataclasses import replace

import pytest

from geometry.find_runs import find_runs
from geometry.runs import Run
from tests.benchmarks.scenes import scene

SCENES = [scene(10, 3, seed) for seed in (301, 302)]
ids = [made.name for made in SCENES]


@pytest.mark.parametrize("made", SCENES, ids=ids)
def test_turned_round_a_run_is_as_long(made):
    back = [replace(request, start=request.finish, finish=request.start) for request in made.requests]
    for one, two in zip(find_runs(made.space, made.requests), find_runs(made.space, back), strict=True):
        assert isinstance(one, Run)
        assert isinstance(two, Run)
        assert two.length_m == pytest.approx(one.length_m, rel=5e-4)  # to the width of the polish


@pytest.mark.parametrize("made", SCENES, ids=ids)
def test_an_obstacle_more_never_undercuts_the_bound_without_it(made):
    fewer = replace(made.space, obstacles=made.space.obstacles[:-4])
    bounds = find_runs(fewer, made.requests, prove=True)
    for bound, run in zip(bounds, find_runs(made.space, made.requests), strict=True):
        if isinstance(bound, Run) and isinstance(run, Run):
            assert run.length_m >= bound.lower_bound_m - 1e-9


@pytest.mark.parametrize("made", SCENES, ids=ids)
def test_more_clearance_never_undercuts_the_bound_with_less(made):
    bounds = find_runs(made.space, made.requests, prove=True)
    wider = [replace(request, cable=replace(request.cable, clearance_m=0.010)) for request in made.requests]
    for bound, run in zip(bounds, find_runs(made.space, wider), strict=True):
        if isinstance(bound, Run) and isinstance(run, Run):
            assert run.length_m >= bound.lower_bound_m - 1e-9
