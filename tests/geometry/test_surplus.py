"""Surplus: exact by formulas worked by hand, sound by the stranger's check, refused where there is no room."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.apart import LaidCable
from geometry.check import faults_in_run
from geometry.check_cables import faults_between
from geometry.corners import Corners, corners_of, lengths_m, rounded, samples
from geometry.curve import filleted
from geometry.equal import equal_runs
from geometry.runs import CableShape, End, NoRun, Request, Run
from geometry.solids import Box
from geometry.space import Obstacle, Space
from geometry.surplus import lay_at_length
from geometry.surplus_shapes import profiles

CABLE = CableShape(radius_m=0.0085, clearance_m=0.005, bend_radius_m=0.07, straight_m=0.03)


def points(*corners):
    return [np.array(corner, dtype=float) for corner in corners]


def asked(curve, name="lead", cable=CABLE):
    return Request(
        name,
        End(tuple(curve.start), (tuple(curve.start_direction),)),
        End(tuple(curve.end), (tuple(-curve.end_direction),)),
        cable,
    )


def as_run(curve, name="lead", clearance_m=0.005):
    return Run(name, curve, curve.length_m, clearance_m, (0, 0, 0), "")


# A lead along the back wall of a locker, 13.6 mm from it, with a tank in front.
LOCKER = Space(
    (Obstacle("tank", Box((1.2, 0.2, 1.2), (0.4, 0.4, 0.4))),),
    (Obstacle("locker", Box((1.2, 0.5, 1), (2.4, 1.0, 2))),),
)
ALONG_WALL = filleted(
    points((0.3, 0.25, 0.5), (0.3, 0.25, 0.7), (0.3, 0.0136, 0.7), (2.0, 0.0136, 0.7), (2.0, 0.0136, 1), (2, 0.2, 1)),
    0.07,
)


def test_a_bow_by_hand():
    """Four arcs of 60 degrees and 70 mm: chord 4 x 70 sin 60 = 242.49 mm, surplus 280 (pi/3 - sin 60) = 50.73 mm."""
    chord_m, surplus_m = 0.28 * math.sin(math.pi / 3), 0.28 * (math.pi / 3 - math.sin(math.pi / 3))
    bows = [p for p in profiles(chord_m, surplus_m, 0.07) if p.name == "bow"]
    assert len(bows) == 1
    assert bows[0].radius_m == pytest.approx(0.07)
    assert bows[0].turning_rad == pytest.approx(4 * math.pi / 3)
    assert bows[0].height_m == pytest.approx(0.07)  # 2 x 70 (1 - cos 60)


def test_a_shallow_bow_follows_the_parabola_rule():
    """Surplus of a shallow bow is close to 8/3 h^2 / chord (arc length of a flat curve to second order)."""
    bow = min((p for p in profiles(2.0, 0.004, 0.07) if p.name == "bow"), key=lambda p: p.turning_rad)
    assert 8 / 3 * bow.height_m**2 / bow.chord_m == pytest.approx(0.004, rel=0.01)


def test_a_hairpin_by_hand():
    """300 mm at radius 70: 4 x 70 (pi/2 - 1) = 159.82 mm in the bends, legs (300 - 159.82) / 2 = 70.09 mm."""
    hairpin = next(p for p in profiles(0.28, 0.3, 0.07) if p.name == "hairpin" and p.radius_m == 0.07)
    assert hairpin.height_m == pytest.approx(2 * 0.07 + (0.3 - 0.28 * (math.pi / 2 - 1)) / 2)


@given(st.floats(0.1, 2.5), st.floats(0.0005, 1.5), st.floats(0.03, 0.15))
@settings(max_examples=80, deadline=None)
def test_every_shape_takes_up_exactly_the_surplus(usable_m, surplus_m, bend_m):
    """Measured on the finished curve: as long as its chord plus the surplus, no bend tighter than allowed."""
    for shape in profiles(usable_m, surplus_m, bend_m):
        assert shape.chord_m <= usable_m + 1e-9
        flat = np.vstack([[-0.5, 0], shape.corners, [shape.chord_m + 0.5, 0]])
        line = np.column_stack([flat, np.zeros(len(flat))])
        curve = rounded(Corners(line, np.concatenate([[0.0], shape.radii, [0.0]])))
        assert curve.length_m == pytest.approx(shape.chord_m + 1.0 + surplus_m, abs=1e-9)
        assert curve.least_bend_radius_m >= bend_m - 1e-12
        assert curve.sampled(0.01)[:, 1].max() <= shape.height_m + 1e-9


@given(st.lists(st.tuples(*[st.floats(-1, 1)] * 3), min_size=3, max_size=6))
def test_corners_and_curve_tell_the_same_length_and_points(spots):
    corners = Corners(np.array(spots), np.array([0.0] + [0.02] * (len(spots) - 2) + [0.0]))
    try:
        curve = rounded(corners)
    except ValueError:
        return
    assert lengths_m(corners.points[None], corners.radii[None])[0] == pytest.approx(curve.length_m, abs=1e-9)
    traced = samples(corners.points[None], corners.radii[None], 50)[0]
    assert traced == pytest.approx(curve.points_at(np.linspace(0, curve.length_m, 50)), abs=1e-7)
    assert rounded(corners_of(curve)).length_m == pytest.approx(curve.length_m, abs=1e-9)


@pytest.mark.parametrize("held", [{}, {"span_m": 0.45, "reach_m": 0.04}], ids=["free", "clamped"])
@given(st.floats(0.0, 2.5))
@settings(max_examples=25, deadline=None)
def test_every_surplus_in_the_locker_is_laid_and_sound(held, surplus_m):
    request, run = asked(ALONG_WALL), as_run(ALONG_WALL)
    target_m = run.length_m + surplus_m
    laid = lay_at_length(LOCKER, request, run, target_m, **held)
    assert isinstance(laid, Run), laid.reason
    if surplus_m > 0.00025:
        assert laid.length_m == pytest.approx(target_m, abs=1e-6)
    if laid.surplus_shape:
        assert faults_in_run(LOCKER, request, laid, target_m=target_m, **held) == []


def test_a_small_surplus_is_a_gentle_bow():
    laid = lay_at_length(LOCKER, asked(ALONG_WALL), as_run(ALONG_WALL), ALONG_WALL.length_m + 0.02)
    assert laid.surplus_shape == "bow"
    assert sorted(arc.radius_m for arc in laid.curve.bends)[-4] > 5 * CABLE.bend_radius_m


def test_a_run_longer_than_the_target_is_refused():
    refused = lay_at_length(LOCKER, asked(ALONG_WALL), as_run(ALONG_WALL), ALONG_WALL.length_m - 0.01)
    assert isinstance(refused, NoRun)
    assert "longer than" in refused.reason


def test_a_length_that_cannot_be_had_is_refused_with_the_true_reason():
    """Two studs 60 mm apart that face each other, each with 30 mm of straight: nothing is left to bend."""
    curve = filleted(points((0, 0, 0), (0.06, 0, 0)), 0.07)
    refused = lay_at_length(Space(()), asked(curve), as_run(curve, clearance_m=math.inf), 0.07)
    assert isinstance(refused, NoRun)
    assert "longest straight is 0.0 mm" in refused.reason


def test_no_surplus_by_a_hot_wall():
    """A lead runs midway between a cold wall and a hot one: its bow goes to the cold side."""
    straight = filleted(points((0, 0, 0), (1.5, 0, 0)), 0.07)
    cold = Obstacle("cold wall", Box((0.75, -0.25, 0), (3, 0.1, 2)))
    hot = Obstacle("hot wall", Box((0.75, 0.25, 0), (3, 0.1, 2)), laying=False)
    space = Space((cold, hot))
    laid = lay_at_length(space, asked(straight), as_run(straight, clearance_m=0.19), 1.6)
    assert isinstance(laid, Run)
    assert laid.curve.sampled(0.005)[:, 1].max() < 0.101
    assert faults_in_run(space, asked(straight), laid, target_m=1.6) == []


def test_surplus_keeps_out_of_cables_that_lie_already():
    """The neighbour lies 17 mm beside: the bow goes to any side but that one."""
    straight = filleted(points((0, 0, 0), (1.0, 0, 0)), 0.07)
    beside = filleted(points((0, 0, 0.017), (1.0, 0, 0.017)), 0.07)
    floor = Space((Obstacle("floor", Box((0.5, 0, -0.0635), (4, 4, 0.1))),))
    there = LaidCable("neighbour", beside, CABLE.radius_m, 0.1)
    laid = lay_at_length(floor, asked(straight), as_run(straight), 1.05, others=(there,))
    assert isinstance(laid, Run)
    assert faults_between([laid, as_run(beside, "neighbour")], [CABLE, CABLE]) == []


def test_surplus_that_only_fits_in_the_air_is_refused_when_clamps_are_asked_for():
    """Nothing to clamp to at all: a run of 400 mm needs no clamp at 450 mm, one of 600 mm does."""
    short = filleted(points((0, 0, 0), (0.4, 0, 0)), 0.07)
    request, run = asked(short), as_run(short, clearance_m=math.inf)
    assert isinstance(lay_at_length(Space(()), request, run, 0.44, span_m=0.45, reach_m=0.04), Run)
    refused = lay_at_length(Space(()), request, run, 0.6, span_m=0.45, reach_m=0.04)
    assert isinstance(refused, NoRun)


EMPTY_LOCKER = replace(LOCKER, obstacles=())


def ladder(count):
    """Leads of different lengths along one wall, 280 mm apart."""
    curves = [
        filleted(points((0.2, 0.0136, 0.3 + 0.28 * i), (0.7 + 0.15 * i, 0.0136, 0.3 + 0.28 * i)), 0.07)
        for i in range(count)
    ]
    return [asked(c, f"lead {i}") for i, c in enumerate(curves)], [as_run(c, f"lead {i}") for i, c in enumerate(curves)]


def test_equal_leads_are_equal_sound_and_apart():
    requests, runs = ladder(6)
    made = equal_runs(EMPTY_LOCKER, requests, runs, span_m=0.45, reach_m=0.04)
    assert made.target_m == made.asked_m == pytest.approx(1.25)
    assert made.failed == made.crossing == ()
    for request, laid in zip(requests, made.runs, strict=True):
        if laid.surplus_shape:
            assert faults_in_run(EMPTY_LOCKER, request, laid, target_m=1.25, span_m=0.45, reach_m=0.04) == []
    assert faults_between(made.runs, [CABLE] * 6) == []


def test_a_lead_that_can_have_no_more_is_named():
    """A lead of 130 mm has 70 mm between its lugs' straights: the most a bow of radius 70 takes up there.

    Worked: 280 sin a = 70, so a = 14.48 degrees; surplus 280 (a - sin a) = 0.75 mm.
    """
    short = filleted(points((0, 0, 0), (0.13, 0, 0)), 0.07)
    long = filleted(points((0, 0.5, 0), (0.14, 0.5, 0)), 0.07)
    most_m = 0.28 * (math.asin(0.25) - 0.25)
    request, run = asked(short, "short"), as_run(short, "short", math.inf)
    assert isinstance(lay_at_length(Space(()), request, run, 0.13 + most_m - 1e-5), Run)
    assert isinstance(lay_at_length(Space(()), request, run, 0.13 + most_m + 1e-5), NoRun)
    made = equal_runs(Space(()), [request, asked(long, "long")], [run, as_run(long, "long", math.inf)])
    assert [failed.name for failed in made.failed] == ["short"]


def test_unmatched_lists_are_an_error():
    requests, runs = ladder(2)
    with pytest.raises(ValueError, match="2 leads were asked for, 1 runs given"):
        equal_runs(EMPTY_LOCKER, requests, runs[:1])


def test_a_target_of_ones_own():
    requests, runs = ladder(3)
    made = equal_runs(EMPTY_LOCKER, requests, runs, target_m=1.4)
    assert [run.length_m for run in made.runs] == pytest.approx([1.4] * 3, abs=1e-6)


def test_the_same_question_gives_the_same_answer():
    requests, runs = ladder(3)
    one, two = (equal_runs(EMPTY_LOCKER, requests, runs, target_m=1.5) for _ in range(2))
    for a, b in zip(one.runs, two.runs, strict=True):
        assert a.curve.sampled(0.01).tolist() == b.curve.sampled(0.01).tolist()


def test_a_run_that_is_not_changed_is_given_back():
    run = as_run(ALONG_WALL)
    assert lay_at_length(EMPTY_LOCKER, asked(ALONG_WALL), run, run.length_m) is run
    assert lay_at_length(EMPTY_LOCKER, asked(ALONG_WALL), replace(run), run.length_m + 0.0002).surplus_shape == ""
