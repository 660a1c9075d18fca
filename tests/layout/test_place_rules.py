"""Rules beyond the reference cases: studs kept free, lengths that rules limit, several feeders, runs that grow."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest

from cutlist.bank.bus_bars import BarPlace
from cutlist.layout.assignment import assign, bottleneck, feeder_seats, least_longest
from cutlist.layout.bus_bar_places import find_places
from cutlist.layout.place_check import faults_in_places
from cutlist.layout.place_problem import Circuit, FeederEnd
from tests.layout.place_cases import problem_of
from tests.layout.test_reference_places import CEILING, ROW, TWO_FACES


@pytest.mark.parametrize("seed", range(40))
def test_crowded_stretches_give_the_exact_longest_lead(seed):
    """Two methods: Hall's theorem over stretches, and augmenting ways, on straight runs to a row of studs."""
    draw = np.random.default_rng(seed)
    strings, studs, lugs = int(draw.integers(1, 7)), int(draw.integers(1, 7)), int(draw.integers(1, 4))
    if studs * lugs < strings + 1:
        return
    along = draw.normal(size=3)
    row = draw.normal(size=3) + np.arange(studs)[:, None] * 0.2 * along / np.linalg.norm(along)
    runs = np.linalg.norm(draw.normal(size=(strings, 1, 3)) - row, axis=2)
    seats = feeder_seats(studs, 1, lugs)
    for way, longest in zip(seats[:, 0], least_longest(runs[None], lugs, seats)[0], strict=True):
        room = [lugs - (stud == way) for stud in range(studs)]
        assert longest == pytest.approx(bottleneck(runs, room))
        chosen = assign(runs, room)
        assert max(runs[i, stud] for i, stud in enumerate(chosen)) == pytest.approx(longest)


def test_a_symmetric_bank_gets_a_symmetric_answer():
    """Law: nothing tells left from right, so bars along the row of strings lie in its middle, x = 800."""
    best = find_places(problem_of(ROW)).best
    assert best.positive.place.centre[0] == pytest.approx(0.8, abs=0.001)
    assert best.negative.place.centre[0] == pytest.approx(0.8, abs=0.001)


def test_a_drop_limit_that_holds_nowhere_tells_the_least_drop():
    """The least target is 1300, cut 1275: 90 A x 2 x 1.275 m x 0.554 mohm/m / 3 = 42.381 mV, so a limit of 40 mV is
    missed by 2.381 mV at best, and there."""
    problem = problem_of(dict(CEILING, drop_limit_v=0.040))
    found = find_places(problem)
    assert found.best is None
    assert found.over_v == pytest.approx(0.002381, abs=1e-6)
    assert found.nearest.build.lead_cuts_um == (1_275_000, 1_275_000)
    assert "drop" in found.why_not


def test_bars_that_cannot_stand_apart_are_said_to():
    """A face of 2000 x 1200 has no two places 3 m apart."""
    assert "apart" in find_places(replace(problem_of(CEILING), separation_m=3.0)).why_not


def test_a_bar_too_large_for_its_face_is_said_to_be():
    problem = problem_of(ROW)
    bars = tuple(replace(bar, pitch_m=0.9) for bar in problem.bars)
    assert "fits on none" in find_places(replace(problem, bars=bars)).why_not


def test_reserved_studs_stay_free():
    """Of six studs two are kept: the four strings share four that lie together, at one end or round the middle."""
    problem = problem_of(ROW)
    bars = tuple(replace(bar, studs=6, reserved_studs=2) for bar in problem.bars)
    problem = replace(problem, bars=bars)
    found = find_places(problem)
    assert faults_in_places(problem, found) == []
    for layout in (found.best.positive, found.best.negative):
        studs = [stud for _, stud in layout.string_studs]
        assert len(set(studs)) == 4
        assert max(studs) - min(studs) == 3


def test_planning_as_if_every_run_were_longer():
    """40 mm more on 1300 is 1340, cut 1315: 3 x 1315 + 6 = 3951 -> 396 increments: 2 x 396 x 0.06 = 47.52."""
    assert find_places(replace(problem_of(CEILING), longer_m=0.040)).cost == Decimal("47.52")


def test_a_rule_on_the_longest_lead():
    """No lead under 1300 can be had, so a limit of 1.29 m forbids every place; 1.31 m allows the best."""
    assert find_places(replace(problem_of(CEILING), longest_lead_m=1.29)).best is None
    assert find_places(replace(problem_of(CEILING), longest_lead_m=1.31)).cost == Decimal("46.08")


def test_a_later_string_counts_for_the_target_but_buys_no_lead():
    """With S3 still to come the target stays 1300; per colour 2 x 1275 + 3 = 2553 -> 256 increments: 30.72."""
    problem = problem_of(CEILING)
    strings = (*problem.strings[:2], replace(problem.strings[2], later=True))
    found = find_places(replace(problem, strings=strings))
    assert found.cost == Decimal("30.72")
    assert found.best.target_m == pytest.approx(1.3, abs=0.0005)


def test_fixed_places_are_chosen_among():
    """Two places stated for the positive bar: over the middle of its terminals all leads are 1300, at the other end of
    the face at least 1843: the first is taken."""
    problem = problem_of(CEILING)
    near, far = (BarPlace((x, 0.6, 1.2), (1, 0, 0), (0, 0, -1), "A") for x in (0.6, 1.9))
    positive = replace(problem.bars[0], faces=(), places=(far, near))
    problem = replace(problem, bars=(positive, problem.bars[1]))
    found = find_places(problem)
    assert found.best.positive.place == near
    assert found.cost == Decimal("46.08")
    assert faults_in_places(problem, found) == []


def test_two_loads_have_a_feeder_each():
    """A second load on each pole, its far end where the first one's is, with a current of 20 A of its own. On B a pole
    needs {970, 970}, {970, 925} and one reel more for the second feeder of 925: 3 reels, 180."""
    problem = problem_of(TWO_FACES)
    second = tuple(replace(f, name=f"second {f.pole}", current_a=20) for f in problem.feeders)
    circuits = (
        Circuit("first", tuple(f.name for f in problem.feeders), 0.5),
        Circuit("second", tuple(f.name for f in second), 0.5),
    )
    bars = tuple(replace(bar, lugs_per_stud=5) for bar in problem.bars)
    problem = replace(problem, feeders=(*problem.feeders, *second), circuits=circuits, bars=bars)
    found = find_places(problem)
    assert found.cost == 180
    assert faults_in_places(problem, found) == []
    lead_v = 60 * 2 * 0.970 * 0.554e-3 / 3
    if found.best.build.lead_cuts_um == (970_000, 970_000) and set(found.best.build.feeder_cuts_um) == {925_000}:
        assert found.best.build.drops_v[0] == pytest.approx(lead_v + 60 * 2 * 0.925 * 0.554e-3)
        assert found.best.build.drops_v[1] == pytest.approx(lead_v + 20 * 2 * 0.925 * 0.554e-3)


def test_a_feeder_kept_short_by_a_rule():
    """A feeder of at most 940 rules out face B (950 at least) and A (1398): no place is left."""
    problem = problem_of(TWO_FACES)
    feeders = tuple(replace(f, longest_m=0.940) for f in problem.feeders)
    assert find_places(replace(problem, feeders=feeders)).best is None
    assert isinstance(feeders[0], FeederEnd)


def test_a_sloping_face_above_the_bilge_line():
    """By hand: a face that rises 3 in 5 from z 0, one string whose ends lie at its foot.

    No stud may lie below z 0.3 m: that is 0.5 m up the face, so both bars lie there, side by side, and a lead runs from
    (x, 0, 0) to (x, 0.4, 0.3): 500 mm, the hypotenuse of 400 and 300.
    """
    problem = problem_of(dict(CEILING, feeders=None, strings=CEILING["strings"][:1]))
    face = replace(
        problem.faces[0], origin=(0.0, 0.0, 0.0), u=(1.0, 0.0, 0.0), v=(0.0, 0.8, 0.6), width_m=2.0, height_m=1.0
    )
    string = replace(problem.strings[0], positive=(0.5, 0.0, 0.0), negative=(1.5, 0.0, 0.0))
    bars = tuple(replace(bar, studs=1, lowest_z_m=0.3) for bar in problem.bars)
    sloping = replace(problem, faces=(face,), strings=(string,), bars=bars)
    found = find_places(sloping)
    assert faults_in_places(sloping, found) == []
    for layout, x in ((found.best.positive, 0.5), (found.best.negative, 1.5)):
        assert layout.place.centre == pytest.approx((x, 0.4, 0.3), abs=0.03)
        assert layout.place.centre[2] >= 0.3 - 1e-9
        assert 0.5 - 1e-9 <= layout.lead_runs_m[0] <= 0.505  # cuts are rounded up to 5 mm
