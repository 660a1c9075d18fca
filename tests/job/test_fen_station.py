"""The first example as it is read. Expected points: the survey of the scenario (stud centres, millimetres)."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.job.reader import read_job

EXAMPLE = Path(__file__).parents[2] / "examples" / "fen-station" / "job.yaml"

# string: positive end, negative end, mm
SURVEY = {
    "S1": ((300, 250, 900), (300, 250, 1120)),
    "S2": ((1500, 250, 900), (1500, 250, 1120)),
    "S3": ((300, 250, 300), (300, 250, 520)),
    "S4": ((1100, 250, 300), (1100, 250, 520)),
    "S5": ((1900, 250, 300), (1900, 250, 520)),
}


@pytest.fixture(scope="module")
def fen() -> tuple[Job, Stock]:
    read = read_job(EXAMPLE)
    assert read.faults == ()
    assert read.job is not None
    assert read.stock is not None
    return read.job, read.stock


def test_string_ends_are_where_the_survey_found_them(fen: tuple[Job, Stock]) -> None:
    found = {
        s.name: tuple(tuple(round(x * 1000, 6) for x in end.point) for end in (s.positive, s.negative))
        for s in fen[0].strings
    }
    assert found == SURVEY


def test_five_strings_of_three_make_24_v(fen: tuple[Job, Stock]) -> None:
    job = fen[0]
    assert [len(string.batteries) for string in job.strings] == [3] * 5
    assert job.voltage_v == 24
    assert job.continuous_a == 140
    assert job.strings[0].emf_v == pytest.approx(3 * 8.49)


def test_the_hole_is_in_the_wall_and_has_its_size(fen: tuple[Job, Stock]) -> None:
    space = fen[0].site.space
    (hole,) = space.penetrations
    assert (hole.obstacle, hole.diameter_m, hole.depth_m) == ("closet wall", 0.11, pytest.approx(0.02))
    assert hole.centre == pytest.approx((2.41, 0, 1.3))
    wall = next(o.solid for o in space.obstacles if o.name == "closet wall")
    # middle of the hole: 55 mm to its edge; 55 mm beside the middle is on the edge
    assert wall.signed_distance([(2.41, 0, 1.3), (2.41, 0.055, 1.3)]) == pytest.approx([0.055, 0])  # type: ignore[arg-type]


def test_what_is_on_hand(fen: tuple[Job, Stock]) -> None:
    stock = fen[1]
    red, black = stock.cable("50 mm2", "red"), stock.cable("50 mm2", "black")
    assert red is not None
    assert black is not None
    assert [r.length_um for r in red.remnants] == [22_600_000, 3_400_000]
    assert [r.length_um for r in black.remnants] == [12_200_000, 2_200_000]
    lug = stock.lug("50 mm2", "M10")
    assert lug is not None
    assert lug.on_hand == 12


def test_conductor_is_as_the_tables_say(fen: tuple[Job, Stock]) -> None:
    """IEC 60228 class 5 plain: 0.386 ohm/km. Bend: 4 x 14.5 mm inside, so 65.25 mm at the centreline."""
    conductor = fen[1].conductor("50 mm2")
    assert conductor.ohm_per_km_20c == 0.386
    assert conductor.bend_radius_m == pytest.approx(0.06525)
    assert "IEC 60228" in conductor.ohm_source
