"""Cables that lie together: where, and which clamps hold several at once."""

import doctest
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry import company
from geometry.company import bundle_clamps, bundle_diameter_m, company_of
from geometry.curve import filleted
from geometry.runs import CableShape, Clamp, End, Request, Run

CABLE = CableShape(radius_m=0.008, clearance_m=0.005, bend_radius_m=0.06, straight_m=0.03)


def laid(name, points, clamps_m=()):
    curve = filleted([np.array(p, dtype=float) for p in points], CABLE.bend_radius_m)
    places = curve.points_at(list(clamps_m)) if clamps_m else []
    clamps = tuple(
        Clamp(m, (float(p[0]), float(p[1]), float(p[2])), "wall", 0.01) for m, p in zip(clamps_m, places, strict=True)
    )
    end = End((0, 0, 0), ((1, 0, 0),))
    return Request(name, end, end, CABLE), Run(name, curve, 0.0, 0.01, (0, 0, 0), "", clamps=clamps)


def two(gap_m, clamps_a=(), clamps_b=()):
    """A straight of 2 m, and a cable beside it from x = 0.5 m to x = 1.5 m that comes and goes at right angles."""
    off_m = 2 * CABLE.radius_m + gap_m
    long = laid("a", [(0, 0, 0), (2, 0, 0)], clamps_a)
    beside = laid("b", [(0.5, 0.5, 0), (0.5, off_m, 0), (1.5, off_m, 0), (1.5, 0.5, 0)], clamps_b)
    return [long[0], beside[0]], [long[1], beside[1]]


def test_examples_in_the_docstrings_run():
    assert doctest.testmod(company).failed == 0


def test_where_two_cables_lie_together():
    """By hand: with 4 mm between skins they are near while the bend of radius 60 mm has lifted b no more than 6 mm,
    that is 60 mm - sqrt(60^2 - 54^2) = 60 - 26.2 = 33.8 mm before x = 0.5 m: from 526.2 mm to 1473.8 mm along a."""
    requests, runs = two(0.004)
    ((mine,), (theirs,)) = company_of(requests, runs, gap_m=0.010, least_m=0.15)
    assert (mine.other, theirs.other) == ("b", "a")
    assert mine.from_m == pytest.approx(0.5262, abs=0.011)
    assert mine.to_m == pytest.approx(1.4738, abs=0.011)
    assert theirs.to_m - theirs.from_m == pytest.approx(mine.to_m - mine.from_m, abs=0.03)


def test_a_crossing_and_a_cable_far_off_are_no_company():
    crossing = laid("c", [(1, -1, 0.016), (1, 1, 0.016)])
    requests, runs = two(0.012)
    assert company_of([*requests, crossing[0]], [*runs, crossing[1]], gap_m=0.010, least_m=0.15) == ((), (), ())


def test_a_clamp_of_one_cable_holds_the_other_and_spares_it_one():
    """By hand: b is 0.484 + 1 + 0.484 m less 2 x 26 mm that its bends save, 1.917 m, with clamps at 0.6 and 1.2 m.

    Those of a at 0.75 and 1.25 m lie beside b at 0.484 + 0.25 - 0.026 = 0.708 m and 1.208 m: b is held every 0.708 m at
    most by them alone, and the span is 0.8 m.
    """
    requests, runs = two(0.0, (0.75, 1.25), (0.6, 1.2))
    near = company_of(requests, runs, gap_m=0.010, least_m=0.15)
    clamps = bundle_clamps(requests, runs, near, span_m=0.8, fits=lambda _: True)
    assert [[hold.cable for hold in clamp.holds] for clamp in clamps] == [["a", "b"], ["a", "b"]]
    assert [clamp.diameter_m for clamp in clamps] == pytest.approx([0.032, 0.032])  # two of 16 mm side by side
    alone = bundle_clamps(requests, runs, near, span_m=0.8, fits=lambda diameter_m: diameter_m < 0.02)
    assert [[hold.cable for hold in clamp.holds] for clamp in alone] == [["a"], ["a"], ["b"], ["b"]]


@given(st.floats(0.3, 0.9), st.floats(0.0, 0.012))
@settings(max_examples=30, deadline=None)
def test_no_cable_is_held_less_often_than_asked(span_m, gap_m):
    """A law: cables that are held often enough by clamps of their own still are when clamps are shared."""
    requests, runs = two(gap_m)
    places = [
        tuple(run.length_m * k / n for k in range(1, n))
        for run in runs
        for n in [math.ceil(run.length_m / span_m)]
    ]  # fmt: skip
    requests, runs = two(gap_m, *places)
    near = company_of(requests, runs, gap_m=0.010, least_m=0.15)
    clamps = bundle_clamps(requests, runs, near, span_m=span_m, fits=lambda _: True)
    assert len(clamps) <= sum(map(len, places))
    for run in runs:
        held = sorted(hold.along_m for clamp in clamps for hold in clamp.holds if hold.cable == run.name)
        assert np.diff([0.0, *held, run.length_m]).max() <= span_m + 1e-9


@pytest.mark.parametrize("count", range(1, 38))
def test_a_bundle_is_no_thinner_than_known_to_be_possible_and_holds_its_cables(count):
    """Round things fill at most pi / sqrt 12 of a plane (Thue), so n of diameter 1 need more than sqrt(n) across.

    Above: a ring of six, twelve, eighteen about one needs 3, 5, 7 across and holds 7, 19, 37.
    """
    diameter_m = bundle_diameter_m([1.0] * count)
    assert diameter_m >= math.sqrt(count) - 1e-9
    rings = next(k for k in range(5) if 1 + 3 * k * (k + 1) >= count)
    assert diameter_m <= 1 + 2 * rings + 1e-9
