"""Runs that clamps can hold: by hand past one beam; laws on random rooms; the stranger agrees."""

from __future__ import annotations

from dataclasses import replace

import pytest

from geometry.check import faults_in_run
from geometry.equal import equal_runs
from geometry.find_runs import find_runs
from geometry.runs import CableShape, End, Request, Run
from geometry.solids import Box
from geometry.space import Obstacle, Space
from geometry.supports import clamps_on
from geometry.surroundings import Surroundings
from tests.benchmarks.scenes import scene

CABLE = CableShape(radius_m=0.0085, clearance_m=0.005, bend_radius_m=0.07, straight_m=0.03)
ACROSS = Request("S1", End((0.0, 0.0, 0.0), ((1.0, 0.0, 0.0),)), End((2.0, 0.0, 0.0), ((-1.0, 0.0, 0.0),)), CABLE)
RULES = {"span_m": 0.45, "reach_m": 0.04}


def beam(y_m: float) -> Obstacle:
    """Along x from 0.2 to 1.8, its near face at y_m."""
    return Obstacle("beam", Box((1.0, y_m + 0.05, 0.0), (1.6, 0.1, 0.1)))


def run_past(*obstacles: Obstacle, **rules: float) -> Run:
    (run,) = find_runs(Space(obstacles), [ACROSS], **rules)
    assert isinstance(run, Run)
    return run


def test_two_metres_in_the_air_go_along_the_beam_beside_them() -> None:
    """Straight across nothing holds 2 m. The beam's face is at y 0.2: a hold there has its centreline at 0.16 or more.

    From stud to beam is at most 450 mm of cable, so both are reached as the crow flies at x 0.42 at the latest, and
    between them the run lies along the beam: no shorter than two slants of 0.42 x 0.16 and 1.16 m: 2.059 m.
    """
    run = run_past(beam(0.2), **RULES)
    assert {clamp.structure for clamp in run.clamps} == {"beam"}
    assert not clamps_on(Surroundings(Space((beam(0.2),))), run.curve, **RULES, straight_m=0.03)[1]
    assert faults_in_run(Space((beam(0.2),)), ACROSS, run, **RULES) == []
    slant_m = (0.42**2 + 0.16**2) ** 0.5
    assert 2 * slant_m + 2 * (1 - 0.42) - 0.01 < run.length_m < 2.15


def test_what_is_held_already_is_left_as_it_is() -> None:
    """A beam 30 mm from the straight way holds it from x 0.2 to 1.8."""
    assert run_past(beam(0.03), **RULES).length_m == pytest.approx(2.0, abs=1e-6)


def test_a_stud_far_from_structure_hangs_as_far_as_it_must_and_no_further() -> None:
    """The beam begins at x 0.7. Its corner is 728 mm from the stud, its reach ends 40 mm before that: 688 mm.

    So the first 688 mm hang whatever is done; the rest is held.
    """
    short = Obstacle("beam", Box((1.25, 0.25, 0.0), (1.1, 0.1, 0.1)))
    run = run_past(short, **RULES)
    (missing,) = clamps_on(Surroundings(Space((short,))), run.curve, **RULES, straight_m=0.03)[1]
    assert missing.from_m == 0.0
    assert 0.688 < missing.to_m < 0.688 + 0.05


def test_a_shorter_span_or_reach_never_makes_a_run_shorter() -> None:
    """What is held every 450 mm within 40 mm is held every 900 mm and within 80 mm as well."""
    lengths_m = [
        run_past(beam(0.2), span_m=span_m, reach_m=reach_m).length_m
        for span_m, reach_m in ((0.45, 0.04), (0.45, 0.08), (0.9, 0.08))
    ]
    assert lengths_m == sorted(lengths_m, reverse=True)
    assert lengths_m[0] > lengths_m[-1] + 0.01


def test_where_nothing_can_hold_it_the_run_is_given_and_what_is_missing_is_told() -> None:
    glass = replace(beam(0.2), clampable=False)
    run = run_past(glass, **RULES)
    (missing,) = clamps_on(Surroundings(Space((glass,))), run.curve, **RULES, straight_m=0.03)[1]
    assert run.clamps == ()
    assert missing.to_m - missing.from_m == pytest.approx(run.length_m)


@pytest.mark.parametrize("seed", [1, 2])
def test_in_random_rooms_held_runs_pass_the_stranger_and_are_no_shorter(seed: int) -> None:
    made = scene(10, 4, seed)
    clamping = Surroundings(made.space)
    held = 0
    for request, short, run in zip(
        made.requests, find_runs(made.space, made.requests), find_runs(made.space, made.requests, **RULES), strict=True
    ):
        assert isinstance(short, Run)
        assert isinstance(run, Run)
        missing = clamps_on(clamping, run.curve, **RULES, straight_m=request.cable.straight_m)[1]
        assert faults_in_run(made.space, request, run, **({} if missing else RULES)) == []
        assert run.length_m >= run.lower_bound_m - 1e-9
        held += not missing
    assert held >= 3


def test_surplus_that_cannot_be_clamped_is_laid_all_the_same() -> None:
    """Beside a bare wall of glass: a lead 300 mm longer than its way is laid at its length, held by no clamp there."""
    space = Space((beam(0.03), Obstacle("glass", Box((1.0, -0.6, 0.0), (4.0, 0.1, 4.0)), clampable=False)))
    (run,) = find_runs(space, [ACROSS], **RULES)
    assert isinstance(run, Run)
    equal = equal_runs(space, [ACROSS], [run], target_m=2.9, **RULES)
    (laid,) = equal.runs
    assert isinstance(laid, Run)
    assert laid.length_m == pytest.approx(equal.target_m, abs=5e-4)
    assert equal.target_m == 2.9
    assert faults_in_run(space, ACROSS, laid, target_m=2.9) == []
