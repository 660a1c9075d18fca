"""The stranger's check finds every fault that is put in, and nothing in a sound run."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.check import faults_in_run
from geometry.check_cables import ROUND_ABOUT, faults_between, faults_in_fill
from geometry.check_distance import lowest, own_distance
from geometry.curve import Arc, Curve, Straight, filleted
from geometry.runs import CableShape, Clamp, End, Request, Run
from geometry.solids import Box, Circle, Cylinder, Prism, turned
from geometry.space import Obstacle, Penetration, Space

CABLE = CableShape(radius_m=0.0085, clearance_m=0.005, bend_radius_m=0.07, straight_m=0.03)
FLOOR = Obstacle("floor", Box(centre=(0.5, 0.5, -0.0535), size=(3, 3, 0.08)))  # its top at z = -13.5 mm
EMPTY = Space(())


def points(*corners):
    return [np.array(corner, dtype=float) for corner in corners]


def asked(curve, cable=CABLE, name="lead"):
    return Request(
        name,
        End(tuple(curve.start), (tuple(curve.start_direction),)),
        End(tuple(curve.end), (tuple(-curve.end_direction),)),
        cable,
    )


def as_run(curve, name="lead", clearance_m=math.inf, **more):
    return Run(name, curve, 0.1, clearance_m, (0, 0, 0), "", **more)


CORNER = filleted(points((0, 0, 0), (0.6, 0, 0), (0.6, 0.6, 0)), 0.07)


def test_a_sound_run_has_no_faults():
    assert faults_in_run(EMPTY, asked(CORNER), as_run(CORNER)) == []


def test_length_against_target_by_hand():
    """Two legs of 600 mm; the fillet of 70 mm swaps 140 mm of corner for a quarter of 2 pi 70 = 109.956 mm."""
    by_hand_m = 1.2 - 0.14 + math.pi * 0.035
    run = as_run(CORNER)
    assert faults_in_run(EMPTY, asked(CORNER), run, target_m=by_hand_m + 0.00049) == []
    assert "off its target" in faults_in_run(EMPTY, asked(CORNER), run, target_m=by_hand_m + 0.00051)[0]


def test_a_run_shorter_than_its_bound_is_a_fault():
    run = replace(as_run(CORNER), lower_bound_m=1.3)
    assert "lower bound" in faults_in_run(EMPTY, asked(CORNER), run)[0]


def test_a_tight_bend_is_found():
    tight = filleted(points((0, 0, 0), (0.6, 0, 0), (0.6, 0.6, 0)), 0.0695)
    assert "a bend of radius 69.5 mm, least 70.0 mm" in faults_in_run(EMPTY, asked(tight), as_run(tight))[0]


def test_a_missed_stud_a_wrong_way_and_a_short_straight_are_found():
    request = asked(CORNER)
    off = replace(request, start=End((0, 0.001, 0), request.start.directions))
    assert "its start misses the stud by 1.0 mm" in faults_in_run(EMPTY, off, as_run(CORNER))[0]
    lean = (math.cos(0.01), math.sin(0.01), 0)
    wrong = replace(request, start=End((0, 0, 0), (lean,)))
    assert "0.6 degrees off" in faults_in_run(EMPTY, wrong, as_run(CORNER))[0]
    long = replace(request, cable=replace(CABLE, straight_m=0.54))
    faults = faults_in_run(EMPTY, long, as_run(CORNER))
    assert [f.split("only ")[1].split(" straight")[0] for f in faults] == ["530.0 mm", "530.0 mm"]


def test_a_gap_and_a_kink_are_found():
    gap = Curve((Straight(*points((0, 0, 0), (0.5, 0, 0))), Straight(*points((0.501, 0, 0), (1, 0, 0)))))
    assert "do not meet: 1.0 mm apart" in faults_in_run(EMPTY, asked(gap), as_run(gap))[0]
    kink = Curve((Straight(*points((0, 0, 0), (0.5, 0, 0))), Straight(*points((0.5, 0, 0), (1, 0.01, 0)))))
    assert "a kink of 1.15 degrees" in faults_in_run(EMPTY, asked(kink), as_run(kink))[0]


def test_a_leaning_arc_is_no_arc():
    arc = Arc(np.zeros(3), np.array([0.1, 0, 0.01]), np.array([0, 0, 1.0]), 1.0)
    assert "is no arc" in faults_in_run(EMPTY, asked(Curve((arc,))), as_run(Curve((arc,))))[0]


def test_a_coil_runs_into_itself():
    """A full turn and a bit in one plane: the cable meets itself."""
    quarter = [Arc(np.array([0.0, 0.07, 0]), np.zeros(3), np.array([0, 0, 1.0]), math.pi / 2)]
    for _ in range(3):
        last = quarter[-1]
        quarter.append(Arc(last.centre, last.end, last.normal, math.pi / 2))
    lead_in = Straight(*points((-0.1, 0, 0), (0, 0, 0)))
    out = Straight(quarter[-1].end, np.array([0.2, 0, 0]))
    coil = Curve((lead_in, *quarter, out))
    assert any("runs into itself" in fault for fault in faults_in_run(EMPTY, asked(coil), as_run(coil)))


def test_clearance_of_the_whole_curve_not_of_its_corners():
    """A rod of 10 mm radius beside the middle of a long straight: 20 mm from axis to axis leaves 1.5 mm of skin."""
    rod = Obstacle("rod", Cylinder((0.3333, 0.02, -0.5), (0, 0, 1), 0.010, 1.0))
    faults = faults_in_run(Space((rod,)), asked(CORNER), as_run(CORNER))
    assert '1.5 mm clear of "rod" 333.3 mm from its start, 5.0 mm needed' in faults[0]


def test_a_run_that_just_keeps_off_is_sound_and_a_hair_nearer_is_not():
    run = as_run(CORNER, clearance_m=0.005)
    assert faults_in_run(Space((FLOOR,)), asked(CORNER), run) == []
    raised = replace(FLOOR, solid=replace(FLOOR.solid, centre=(0.5, 0.5, -0.0532)))
    assert any("4.7 mm clear" in fault for fault in faults_in_run(Space((raised,)), asked(CORNER), run))


def test_what_a_solid_asks_for_itself_counts():
    hot = replace(FLOOR, name="engine", keep_off_m=0.02)
    assert '5.0 mm clear of "engine"' in faults_in_run(Space((hot,)), asked(CORNER), as_run(CORNER))[0]


def test_the_clearance_claimed_is_measured():
    run = as_run(CORNER, clearance_m=0.012)
    assert "given as 12.0 mm but is 5.0 mm" in faults_in_run(Space((FLOOR,)), asked(CORNER), run)[0]


def test_a_lug_may_lie_on_its_battery_and_then_lifts_off():
    """The lug lies flat on the battery's top, so the centreline is level with it up to its edge at x = 100 mm."""
    battery = Obstacle("battery", Box((0.0, 0, -0.1), (0.2, 0.2, 0.2)))
    request = asked(CORNER)
    resting = replace(request, start=replace(request.start, within=("battery",)))
    assert CABLE.lift_off_m == pytest.approx(0.03 + 2 * 0.07)
    assert faults_in_run(Space((battery,)), resting, as_run(CORNER, clearance_m=0.0)) == []
    assert "clear of" in faults_in_run(Space((battery,)), request, as_run(CORNER, clearance_m=-0.0085))[0]
    long = Obstacle("battery", Box((0.0, 0, -0.1), (0.4, 0.2, 0.2)))  # under the cable beyond its lift-off
    assert "clear of" in faults_in_run(Space((long,)), resting, as_run(CORNER, clearance_m=-0.0085))[0]
    high = Obstacle("battery", Box((0.02, 0, 0), (0.01, 0.2, 0.2)))  # across the lug
    assert any("dives" in fault for fault in faults_in_run(Space((high,)), resting, as_run(CORNER, clearance_m=0.0)))
    # a rib 5 mm high across the cable's way, 50 mm from the stud: (z, x) coordinates of its section
    ribbed = ((-0.1, -0.1), (0, -0.1), (0, 0.05), (0.005, 0.05), (0.005, 0.1), (-0.1, 0.1))
    rib = Obstacle("battery", Prism.along("y", ribbed, -0.1, 0.1))
    assert any("nearer than its lug" in f for f in faults_in_run(Space((rib,)), resting, as_run(CORNER, clearance_m=0)))


def test_compartments_hold_the_cable_in():
    room = Obstacle("locker", Box((0.3, 0.3, 0), (0.8, 0.8, 0.1)))
    assert faults_in_run(Space((), (room,)), asked(CORNER), as_run(CORNER)) == []
    low = replace(room, solid=Box((0.3, 0.3, 0.0), (0.8, 0.8, 0.02)))  # only 10 mm to floor and ceiling
    assert "leaves its compartments" in faults_in_run(Space((), (low,)), asked(CORNER), as_run(CORNER))[0]
    short = replace(room, solid=Box((0.3, 0.2, 0), (0.8, 0.6, 0.1)))
    assert "leaves its compartments" in faults_in_run(Space((), (short,)), asked(CORNER), as_run(CORNER))[0]


def test_the_wall_of_one_compartment_inside_another_is_no_wall():
    left = Obstacle("left", Box((-0.1, 0.3, 0), (0.8, 0.9, 0.2)))  # ends at x = 0.3, on the way of the run
    right = Obstacle("right", Box((0.7, 0.3, 0), (0.8, 0.9, 0.2)))  # starts there
    assert faults_in_run(Space((), (left, right)), asked(CORNER), as_run(CORNER)) == []
    assert "leaves" in faults_in_run(Space((), (left,)), asked(CORNER), as_run(CORNER))[0]


BULKHEAD = Obstacle("bulkhead", Prism.along("x", ((-1, -1), (1, -1), (1, 1), (-1, 1)), 0.3, 0.31,
                                            (Circle((0.0, 0.0), 0.04),)))  # fmt: skip
GLAND = Penetration("gland", "bulkhead", (0.305, 0, 0), (1, 0, 0), 0.08, math.pi * 0.04**2, 0.01)


def test_holes_passed_are_named():
    space = Space((BULKHEAD,), penetrations=(GLAND,))
    named = as_run(CORNER, clearance_m=0.0, penetrations=("gland",))
    assert faults_in_run(space, asked(CORNER), named) == []
    assert 'passes "gland", not no hole' in faults_in_run(space, asked(CORNER), replace(named, penetrations=()))[0]


def test_clamps_by_hand():
    """1170 mm of run: clamps at 400 and 800 leave 400, 400 and 370 mm."""
    run = as_run(CORNER, clearance_m=0.0)
    spots = [0.4, 0.8]
    clamps = tuple(Clamp(a, tuple(CORNER.points_at([a])[0]), "floor", 0.0135) for a in spots)
    space, request = Space((FLOOR,)), asked(CORNER)
    held = replace(run, clamps=clamps)
    assert faults_in_run(space, request, held, span_m=0.4, reach_m=0.02) == []
    assert "without a clamp" in faults_in_run(space, request, held, span_m=0.399, reach_m=0.02)[0]
    assert "at most 10.0 mm allowed" in faults_in_run(space, request, held, span_m=0.4, reach_m=0.01)[0]
    assert "without a clamp" in faults_in_run(space, request, run, span_m=0.4, reach_m=0.02)[0]
    no_structure = Space((replace(FLOOR, clampable=False),))
    assert "no structure" in faults_in_run(no_structure, request, held, span_m=0.4, reach_m=0.02)[0]
    beside = replace(held, clamps=(replace(clamps[0], point=(0.4, 0.01, 0)), clamps[1]))
    assert "beside the run" in faults_in_run(space, request, beside, span_m=0.4, reach_m=0.02)[0]


def line(y, z=0.0):
    return Curve((Straight(*points((0, y, z), (1, y, z))),))


def test_cables_may_touch_but_not_lie_in_each_other():
    one, beside, too_near = as_run(line(0)), as_run(line(0.017), "beside"), as_run(line(0.0167), "near")
    assert faults_between([one, beside], [CABLE, CABLE]) == []
    assert "lead and near: 16.7 mm between their middles" in faults_between([one, too_near], [CABLE, CABLE])[0]


def test_crossing_cables_by_hand():
    """Skew lines along x and y, 12 mm apart in z at (500, 0): 17 mm are needed."""
    over = as_run(Curve((Straight(*points((0.5, -0.4, 0.012), (0.5, 0.6, 0.012))),)), "over")
    assert faults_between([as_run(line(0)), over], [CABLE, CABLE]) == [
        "lead and over: 12.0 mm between their middles at (500, 0, 0) mm, 17.0 mm needed"
    ]


def test_lugs_on_one_stud_stack():
    away = filleted(points((0, 0, 0), (0.4, 0, 0), (0.4, -0.4, 0)), 0.07)
    other = filleted(points((0, 0, 0), (0, 0.4, 0), (0.4, 0.8, 0)), 0.07)
    assert faults_between([as_run(away), as_run(other, "other")], [CABLE, CABLE]) == []


@pytest.mark.parametrize(("count", "ratio"), list(enumerate([1.0, 2.0, 2.155, 2.414, 2.701, 3.0, 3.0], start=1)))
def test_circles_in_a_circle(count, ratio):
    """Equal circles in a circle, least diameters as published in packing tables: 1, 2, 2.155, 2.414, 2.701, 3, 3."""
    assert ROUND_ABOUT[count - 1] == pytest.approx(ratio, abs=5e-4)
    runs = [as_run(CORNER, penetrations=("gland",))] * count
    diameter_m = ROUND_ABOUT[count - 1] * 0.017 + 0.010
    for wider_m, wanted in ((0.0002, 0), (-0.0002, 1)):
        hole = replace(GLAND, diameter_m=diameter_m + wider_m)
        assert len(faults_in_fill([hole], runs, [CABLE] * count)) == wanted


def test_fill_of_many_cables_by_hand():
    """8 cables of 17 mm in an 80 mm hole: 8 x 17^2 / 80^2 = 36.1 %; 9: 40.6 %."""
    runs = [as_run(CORNER, penetrations=("gland",))] * 9
    assert faults_in_fill([GLAND], runs[:8], [CABLE] * 8) == []
    assert "9 cables fill 40.6% of the hole" in faults_in_fill([GLAND], runs, [CABLE] * 9)[0]


SOLIDS = [
    Box((0.1, 0.2, 0.3), (0.5, 0.3, 0.2), turned(0.4, "x")),
    Prism(((0, 0), (0.6, 0), (0.6, 0.5), (0.3, 0.2), (0, 0.5)), -0.1, 0.2,
          (Circle((0.15, 0.15), 0.1), ((0.4, 0.05), (0.5, 0.05), (0.5, 0.2))), turned(0.7, "y"), (0.1, 0, 0)),
    Cylinder((0.1, 0, -0.2), (1, 2, 3), 0.12, 0.6),
]  # fmt: skip


@pytest.mark.parametrize("solid", SOLIDS)
@given(st.lists(st.tuples(*[st.floats(-0.8, 0.8)] * 3), min_size=1, max_size=20))
@settings(max_examples=60, deadline=None)
def test_two_ways_to_measure_agree(solid, spots):
    """The checker's distances and the solids' own were written apart."""
    spots = np.array(spots)
    assert own_distance(solid, spots) == pytest.approx(solid.signed_distance(spots), abs=1e-9)


@given(st.floats(0.0, 3.0), st.floats(0.001, 0.2))
def test_the_lowest_place_is_found(at_m, width_m):
    """A V-shaped dip of depth `width_m` anywhere on 3 m: the steepest shape a distance can have."""

    def value(along):
        return 0.3 - np.maximum(width_m - np.abs(along - at_m), 0.0)

    low_m, where_m = lowest(value, 0.0, 3.0, 1.0)
    assert low_m == pytest.approx(0.3 - width_m, abs=1.1e-4)
    assert where_m == pytest.approx(at_m, abs=1.1e-4)
    assert lowest(value, 0.0, 3.0, 0.3 - width_m - 1e-6)[0] == math.inf
