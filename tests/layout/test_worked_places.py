"""Small jobs whose answer is worked by hand, each of another kind. All are invented; the working is beside each.

Where nothing else is said the plus terminals are at (0, 0, 0), the minus terminals at (400, 0, 0), and the one face is
the ceiling at z = 1000 over both. A bar of one stud then hangs straight over its terminals: T = 1000, cut 1000.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from cutlist.layout.bus_bar_places import Places, find_places
from cutlist.layout.place_check import faults_in_places
from tests.layout.place_cases import problem_of

CEILING = {"name": "A", "origin": [-100, -100, 1000], "u": [1, 0, 0], "v": [0, 1, 0], "width": 800, "height": 200}


def bars(**changes: Any) -> dict[str, Any]:
    one = {
        "studs": 1,
        "pitch_mm": 60,
        "lugs_per_stud": 6,
        "edge_mm": 10,
        "separation_mm": 50,
        "orientations_deg": [0, 90],
    }
    return one | changes


def conductor(name: str, ohm_per_km: float, *, metre: float | None = None, **stock: Any) -> dict[str, Any]:
    """`metre`: the price of 10 mm."""
    by_metre = None if metre is None else {"price": metre, "increment_mm": 10, "max_mm": None}
    return {"name": name, "ohm_per_km": ohm_per_km, "by_metre": by_metre, "reels": []} | stock


def case(number: int, **changes: Any) -> dict[str, Any]:
    plain = {
        "strings": [{"name": f"S{i + 1}", "plus": [0, 0, 0], "minus": [400, 0, 0]} for i in range(number)],
        "feeders": None,
        "faces": [CEILING],
        "bus_bars": bars(),
        "lengths": {"lug_allowance_mm": 0, "round_up_mm": 5},
        "kerf_mm": 3,
        "current_a": 100,
        "drop_limit_v": 5.0,
        "conductors": [conductor("35", 0.554, metre=0.06)],
        "remnants": [],
    }
    return plain | changes


def reel(length_mm: int, price: float) -> list[dict[str, Any]]:
    return [{"length_mm": length_mm, "price": price}]


def remnants(red_mm: int, black_mm: int) -> list[dict[str, Any]]:
    return [
        {"conductor": "35", "colour": colour, "length_mm": length}
        for colour, length in (("red", red_mm), ("black", black_mm))
    ]


def answer(one: dict[str, Any], cost: str, target_mm: float) -> Places:
    problem = problem_of(one)
    found = find_places(problem)
    assert found.best is not None, found.why_not
    assert found.cost == found.least_cost == Decimal(cost)
    assert found.best.target_m * 1000 == pytest.approx(target_mm, abs=0.5)
    assert faults_in_places(problem, found) == []
    return found


def test_a_remnant_that_just_fits_and_one_that_does_not() -> None:
    """Three of 1000 with two kerfs of 3 are 3006. The red remnant of 3006 gives all three, the black one of 3005 only
    two: the third comes from a reel at 40."""
    stock = [conductor("35", 0.554, reels=reel(5000, 40.0))]
    answer(case(3, conductors=stock, remnants=remnants(3006, 3005)), "40", 1000)


@pytest.mark.parametrize(("kerf_mm", "cost"), [(0, "40"), (3, "80")])
def test_a_kerf_that_costs_a_reel(kerf_mm: int, cost: str) -> None:
    """Three of 1000 from reels of 3000 at 20: one reel a pole without kerf, two with it."""
    stock = [conductor("35", 0.554, reels=reel(3000, 20.0))]
    answer(case(3, conductors=stock, kerf_mm=kerf_mm), cost, 1000)


THIN_AND_THICK = [conductor("25", 1.0, metre=0.05), conductor("50", 0.5, metre=0.09)]


def test_the_drop_forces_the_thicker_conductor() -> None:
    """Two strings at 100 A: 100 x 2 x 1.0 m x 1 mohm/m / 2 = 0.1 V in the thin one, 0.05 V in the thick one; 0.08 V
    are allowed. Two lengths of 100 increments a pole, 2 x 200 x 0.09 = 36.00 (thin: 20.00)."""
    found = answer(case(2, conductors=THIN_AND_THICK, drop_limit_v=0.08), "36", 1000)
    assert found.best is not None
    assert found.best.build.lead_conductor == "50"
    answer(case(2, conductors=THIN_AND_THICK, drop_limit_v=0.1), "20", 1000)


FED_FROM_ABOVE = {"plus": [0, 0, 3000], "minus": [400, 0, 3000]}


def test_thin_leads_with_thick_feeders() -> None:
    """The loads are 2000 straight above the bars. Drop of leads thin 0.1 V, thick 0.05 V; of both feeders together
    100 x 4 m x: thin 0.4 V, thick 0.2 V. Of 0.32 V thin leads and thick feeders use 0.30, and cost a pole
    200 x 0.05 + 200 x 0.09 = 28.00; all thick: 400 x 0.09 = 36.00."""
    found = answer(case(2, feeders=FED_FROM_ABOVE, conductors=THIN_AND_THICK, drop_limit_v=0.32), "56", 1000)
    assert found.best is not None
    assert (found.best.build.lead_conductor, found.best.build.feeder_conductor) == ("25", "50")
    answer(case(2, feeders=FED_FROM_ABOVE, conductors=THIN_AND_THICK, drop_limit_v=0.29), "72", 1000)


def test_a_drop_limit_that_nothing_holds() -> None:
    """The same all thick drops 0.05 + 0.2 = 0.25 V at the very least: 0.24 V cannot be held, by 10 mV."""
    found = find_places(problem_of(case(2, feeders=FED_FROM_ABOVE, conductors=THIN_AND_THICK, drop_limit_v=0.24)))
    assert found.best is None
    assert found.over_v == pytest.approx(0.01, abs=1e-4)
    assert found.nearest is not None
    assert found.nearest.target_m == pytest.approx(1.0, abs=0.005)


def test_turned_across_the_face() -> None:
    """Two terminals a pole, 200 apart across the face, and two studs 200 apart with a lug each. Turned across it every
    stud hangs over its terminal: T = 1000, two lengths of 100 increments at 0.06 a pole. Along the face the
    offsets of the two leads differ by (200, 200), so one is at least 141.4: T = sqrt(1000^2 + 2 x 100^2) =
    1009.95, cut 1010, 202
    increments."""
    tall = CEILING | {"origin": [-200, -200, 1000], "width": 900, "height": 400}
    ends = [{"name": name, "plus": [0, y, 0], "minus": [400, y, 0]} for name, y in (("S1", -100), ("S2", 100))]
    row = {"studs": 2, "pitch_mm": 200, "lugs_per_stud": 1}
    found = answer(case(2, strings=ends, faces=[tall], bus_bars=bars(**row)), "24", 1000)
    assert found.best is not None
    assert (found.best.positive.turn, found.best.negative.turn) == (90, 90)
    answer(case(2, strings=ends, faces=[tall], bus_bars=bars(orientations_deg=[0], **row)), "24.24", 1009.95)


def test_two_lugs_on_a_stud() -> None:
    """Four leads from one point, two studs 60 apart. With two lugs a stud both studs are used, 30 to either side at
    best: T = sqrt(1000^2 + 30^2) = 1000.45, cut 1005: in one length 4 x 1005 + 9 = 4029, 403 increments (one by one
    4 x 101). With four all hang from one stud: T = 1000, 4 x 100."""
    answer(case(4, bus_bars=bars(studs=2, lugs_per_stud=2)), "48.36", 1000.45)
    answer(case(4, bus_bars=bars(studs=2, lugs_per_stud=4)), "48", 1000)


@pytest.mark.parametrize(("longest_mm", "cost"), [(None, "66"), (2100, "66"), (2000, "72")])
def test_lengths_by_the_metre_that_end_somewhere(longest_mm: int | None, cost: str) -> None:
    """300 mm at 3. One piece of 1000 takes four (12), two with a kerf 2003: seven (21), three 3006: eleven (33). Up to
    2000 at most: three times one, 36 a pole; up to 2100 two and one, 33; without end 33 too."""
    by_metre = {"price": 3.0, "increment_mm": 300, "max_mm": longest_mm}
    answer(case(3, conductors=[conductor("35", 0.554, by_metre=by_metre)]), cost, 1000)


def test_distance_between_the_bars_on_a_small_face() -> None:
    """All terminals under the middle of a face of 300 x 60, the bars at least 200 apart: one of them is at least 100
    off the middle. T = sqrt(1000^2 + 100^2) = 1004.99, cut 1005: 101 increments a pole."""
    small = CEILING | {"origin": [-150, -30, 1000], "width": 300, "height": 60}
    ends = [{"name": "S1", "plus": [0, 0, 0], "minus": [0, 0, 0]}]
    found = answer(case(1, strings=ends, faces=[small], bus_bars=bars(separation_mm=200)), "12.12", 1004.99)
    assert found.best is not None
    assert abs(found.best.positive.place.centre[0] - found.best.negative.place.centre[0]) >= 0.196


def test_longer_leads_for_a_feeder_that_fits_a_remnant() -> None:
    """The loads lie in the plane of the face, 2000 along it. A bar x along has leads of sqrt(1000^2 + x^2) and a feeder
    of 2000 - x. Over the terminals the feeder of 2000 needs a reel of 2240 (30) to itself and one lead is left over for
    another: 60 a pole. At x = 500 the feeder is the remnant of 1500, and the leads of 1118.03, cut 1120, are one reel
    without kerf: 30 a pole. Nearer the feeder is longer than the remnant, and feeder and lead longer than a reel."""
    ends = [{"name": f"S{i}", "plus": [0, 0, 0], "minus": [0, 80, 0]} for i in (1, 2)]
    loads = {"plus": [2000, 0, 1000], "minus": [2000, 80, 1000]}
    stock = [conductor("35", 0.554, reels=reel(2240, 30.0))]
    joint = case(2, strings=ends, feeders=loads, conductors=stock, remnants=remnants(1500, 1500), kerf_mm=0)
    found = answer(joint, "60", 1118.03)
    assert found.best is not None
    assert found.best.build.feeder_cuts_um == (1_500_000, 1_500_000)
