"""Cases whose answer follows from geometry; the working is in each test."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from cutlist.layout.bus_bar_places import Places, find_places
from tests.layout.place_cases import problem_of

BY_THE_METRE = [
    {"name": "35", "ohm_per_km": 0.554, "by_metre": {"price": 0.06, "increment_mm": 10, "max_mm": None}, "reels": []}
]


def case(**changes: Any) -> dict[str, Any]:
    plain = {
        "feeders": None,
        "lengths": {"lug_allowance_mm": 27, "round_up_mm": 5},
        "kerf_mm": 3,
        "drop_limit_v": 0.1,
        "conductors": BY_THE_METRE,
        "remnants": [],
    }
    return plain | changes


def bars(studs: int, lugs: int) -> dict[str, Any]:
    return {
        "studs": studs,
        "pitch_mm": 40,
        "lugs_per_stud": lugs,
        "edge_mm": 40,
        "separation_mm": 80,
        "orientations_deg": [0, 90],
    }


def strings(plus: list[list[float]], minus: list[list[float]]) -> list[dict[str, Any]]:
    pairs = zip(plus, minus, strict=True)
    return [{"name": f"S{i + 1}", "plus": p, "minus": m} for i, (p, m) in enumerate(pairs)]


def flat(name: str, origin: list[float], u: list[float], v: list[float], width: float, height: float) -> dict[str, Any]:
    return {"name": name, "origin": origin, "u": u, "v": v, "width": width, "height": height}


def solved(found: Places) -> Places:
    assert found.best is not None, found.why_not
    assert found.certificate is not None
    assert found.certificate.gap == 0
    assert found.cost == found.least_cost
    return found


CEILING = case(
    strings=strings(
        [[900, 1000, 0], [300, 1000, 0], [600, 100, 0]], [[1700, 1000, 0], [1100, 1000, 0], [1400, 100, 0]]
    ),
    faces=[flat("A", [0, 0, 1200], [1, 0, 0], [0, 1, 0], 2000, 1200)],
    bus_bars=bars(1, 3),
    current_a=90,
)
ROW = case(
    strings=strings([[x, 500, 0] for x in (200, 600, 1000, 1400)], [[x, 300, 0] for x in (200, 600, 1000, 1400)]),
    faces=[flat("A", [0, 0, 720], [1, 0, 0], [0, 1, 0], 1600, 800)],
    bus_bars=bars(4, 1),
    current_a=80,
)
TWO_FACES = case(
    strings=strings([[0, y, 0] for y in (-255, 45, 345)], [[0, y, 0] for y in (-345, -45, 255)]),
    feeders={"plus": [1900, 45, 0], "minus": [1900, -45, 0]},
    faces=[
        flat("A", [440, -100, 400], [1, 0, 0], [0, 1, 0], 160, 200),
        flat("B", [950, -100, -100], [0, 1, 0], [0, 0, 1], 200, 200),
    ],
    bus_bars=bars(1, 4),
    current_a=60,
    drop_limit_v=0.5,
    conductors=[{"name": "35", "ohm_per_km": 0.554, "by_metre": None, "reels": [{"length_mm": 2000, "price": 30.0}]}],
)


def test_the_smallest_circle_round_the_terminals():
    """All plus terminals lie 1200 under the face; on it they are (600, 600) + (300, 400), (-300, 400), (0, -500):
    three points at 500 that fit in no half circle. So T = sqrt(500^2 + 1200^2) = 1300, cut 1273 -> 1275, per colour
    3 x 1275 + 2 x 3 = 3831 -> 384 increments: 2 x 384 x 0.06 = 46.08. Drop 90 A x 2 x 1.275 m x 0.554 mohm/m / 3."""
    found = solved(find_places(problem_of(CEILING)))
    assert found.cost == Decimal("46.08")
    assert found.best.target_m == pytest.approx(1.300, abs=0.0005)
    assert found.best.positive.place.centre == pytest.approx((0.6, 0.6, 1.2), abs=0.005)
    assert found.best.negative.place.centre == pytest.approx((1.4, 0.6, 1.2), abs=0.005)
    assert found.best.build.drops_v[0] == pytest.approx(90 * 2 * 1.275 * 0.554e-3 / 3)


def test_four_studs_along_a_row_of_four_strings():
    """With the bar along the row at offset x from its middle, string 1 gets a stud at x - 60 or later, string 4 one at
    x + 60 or before, so the worse is at least 600 - 60 = 540 away along the row: T = sqrt(540^2 + 720^2) = 900. Cut
    875, four in one length 3509 -> 351 increments: 2 x 351 x 0.06 = 42.12."""
    found = solved(find_places(problem_of(ROW)))
    assert found.cost == Decimal("42.12")
    assert found.best.target_m == pytest.approx(0.900, abs=0.0005)
    for layout in (found.best.positive, found.best.negative):
        assert layout.turn == 0
        assert layout.string_studs == (("S1", 0), ("S2", 1), ("S3", 2), ("S4", 3))


def test_the_nearer_face_loses_by_a_spool_step():
    """Only reels of 2000 at 30. On the near face A every lead is at least sqrt(480^2 + 300^2 + 400^2) = 693 long, cut
    670, and the feeder sqrt(1340^2 + 400^2) = 1398, cut 1375: 3 x 670 + 6 > 2000 and 670 + 1375 + 3 > 2000, so three
    reels a pole. On B: lead sqrt(950^2 + 300^2) = 996.2, cut 970, feeder 950, cut 925: {970, 970} and {970, 925} fit,
    two reels a pole, 120. One bar on each face: the pole on A still needs three, 150."""
    problem = problem_of(TWO_FACES)
    found = solved(find_places(problem))
    assert found.cost == 120
    assert {found.best.positive.place.face, found.best.negative.place.face} == {"B"}
    assert found.best.build.lead_cuts_um == (970_000, 970_000)
    assert found.best.build.feeder_cuts_um == (925_000, 925_000)


def test_kept_to_one_face_or_to_two():
    """The same job: both bars on A cost 180, one on each face 150 (working above)."""
    only_a = dict(TWO_FACES, faces=TWO_FACES["faces"][:1])
    assert solved(find_places(problem_of(only_a))).cost == 180
    from dataclasses import replace

    assert solved(find_places(replace(problem_of(TWO_FACES), same_face=False))).cost == 150
