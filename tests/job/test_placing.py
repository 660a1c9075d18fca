"""Batteries where the file puts them: turned, in rows, measured. Expected points are worked by hand."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cutlist.bank.batteries import Battery
from tests.job.broken import read_broken, sentences

A2 = "  - {name: A2, type: AGM 12 V, at: [410, 370, 20]}"
TURNED = "  - {{name: A2, type: AGM 12 V, at: [2000, 3000, 0], turn: {turn} deg}}"
ROW = "  - row: {names: [B1, B2], type: AGM 12 V, at: [760, 370, 20], along: x, air gap: 20}"


def batteries(folder: Path, *edits: tuple[str, str]) -> dict[str, Battery]:
    """Room enough for anything: the compartment, the tray and the panel's neighbours are taken away."""
    roomy = (
        ("to: [1800, 600, 750]", "to: [9000, 9000, 9000]"),
        ("{from: [0, 0, 0]", "{from: [-9000, -9000, -9000]"),
        ("from: [40, 330, 0], to: [1460, 570, 20]", "from: [40, 330, -20], to: [50, 340, -10]"),
    )
    # a terminal measured in inches has its lug too
    lug = "{conductor: 35 mm2, stud: 3/8 in, strip: 17 mm, hole to stop: 19 mm, hole to skin: 37 mm, price: 1.95}"
    read = read_broken(folder, (*roomy, *edits), (("pack: 10, on hand: 6}\n", f"pack: 10, on hand: 6}}\n  - {lug}\n"),))
    assert [fault.text() for fault in read.faults] == []
    assert read.job is not None
    return {battery.name: battery for battery in read.job.batteries}


def mm(point: tuple[float, float, float]) -> tuple[float, ...]:
    return tuple(round(x * 1000, 6) + 0.0 for x in point)


@pytest.mark.parametrize(
    ("turn", "positive", "negative", "high"),
    [
        # case 330 x 173 x 220, least corner [2000, 3000, 0]; positive at [60, 30, 235] and negative at [270, 30, 235]
        (0, (2060, 3030, 235), (2270, 3030, 235), (2330, 3173, 220)),
        # a quarter: x to y, y to -x; the case is 173 wide, 330 deep: x = 2173 - 30, y = 3000 + 60
        (90, (2143, 3060, 235), (2143, 3270, 235), (2173, 3330, 220)),
        # a half: x = 2330 - 60, y = 3173 - 30
        (180, (2270, 3143, 235), (2060, 3143, 235), (2330, 3173, 220)),
        # three quarters: x = 2000 + 30, y = 3330 - 60
        (270, (2030, 3270, 235), (2030, 3060, 235), (2173, 3330, 220)),
        (-90, (2030, 3270, 235), (2030, 3060, 235), (2173, 3330, 220)),
    ],
)
def test_quarter_turns(
    turn: int, positive: tuple[float, ...], negative: tuple[float, ...], high: tuple[float, ...], tmp_path: Path
) -> None:
    battery = batteries(tmp_path, (A2, TURNED.format(turn=turn)))["A2"]
    assert mm(battery.positive.point) == positive
    assert mm(battery.negative.point) == negative
    assert battery.case is not None
    low, top = battery.case.bounds()
    assert tuple(low * 1000) == pytest.approx((2000, 3000, 0))
    assert tuple(top * 1000) == pytest.approx(high)


def test_lug_ways_turn_with_the_battery(tmp_path: Path) -> None:
    """-y of the case, turned by 90 deg, is +x of the site: (0, -1) to (1, 0)."""
    edits = (
        ("positive: {at: [60, 30, 235], lug: level", "positive: {at: [60, 30, 235], lug: -y"),
        (A2, TURNED.format(turn=90)),
    )
    battery = batteries(tmp_path, *edits)["A2"]
    assert battery.positive.directions == ((1.0, 0.0, 0.0),)
    assert battery.positive.axis == (0.0, 0.0, 1.0)
    assert battery.positive.stands_on == "A2"


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(turn=st.floats(-720, 720).map(lambda t: round(t, 3)))
def test_any_turn_keeps_the_case_at_its_corner_and_its_shape(turn: float, tmp_path: Path) -> None:
    """Laws: the least corner of what the turned case takes up is `at`; a turn changes no distance."""
    battery = batteries(tmp_path, (A2, TURNED.format(turn=turn)))["A2"]
    assert battery.case is not None
    assert tuple(battery.case.bounds()[0]) == pytest.approx((2, 3, 0), abs=1e-8)
    assert math.dist(battery.positive.point, battery.negative.point) == pytest.approx(0.21, abs=1e-8)  # 270 - 60


@pytest.mark.parametrize(
    ("row", "firsts"),
    [
        # 330 wide and 20 between: 350 from one to the next
        ("along: x, air gap: 20", ((5000, 5000, 0), (5350, 5000, 0), (5700, 5000, 0))),
        ("along: -x, air gap: 20", ((5000, 5000, 0), (4650, 5000, 0), (4300, 5000, 0))),
        # 173 deep, touching
        ("along: y", ((5000, 5000, 0), (5000, 5173, 0), (5000, 5346, 0))),
        # 220 high, on boards of 30
        ("along: z, air gap: 30", ((5000, 5000, 0), (5000, 5000, 250), (5000, 5000, 500))),
        # turned by 90 deg a case is 173 wide
        ("along: x, air gap: 27, turn: 90 deg", ((5000, 5000, 0), (5200, 5000, 0), (5400, 5000, 0))),
        ("along: x, pitch: 400", ((5000, 5000, 0), (5400, 5000, 0), (5800, 5000, 0))),
    ],
)
def test_rows(row: str, firsts: tuple[tuple[float, ...], ...], tmp_path: Path) -> None:
    found = batteries(
        tmp_path,
        (ROW, f"  - row: {{name: B, count: 3, type: AGM 12 V, at: [5000, 5000, 0], {row}}}"),
        ("[A1, A2]}", "[A1, A2, B3]}"),
        ("[B1, B2]}", "[B1, B2, B4]}"),
        (A2, f"{A2}\n  - {{name: B4, type: AGM 12 V, at: [8000, 8000, 0]}}"),
    )
    cases = [found[f"B{i}"].case for i in (1, 2, 3)]
    assert [tuple(round(x * 1000, 6) for x in case.bounds()[0]) for case in cases if case is not None] == list(firsts)


def test_an_alternating_row_turns_every_second(tmp_path: Path) -> None:
    """B1 positive at 60 from its left; B2, half round, at 330 - 60 = 270 from its own left, which is 350 further."""
    found = batteries(tmp_path, (ROW, ROW.replace("air gap: 20", "air gap: 20, alternating: yes")))
    assert mm(found["B1"].positive.point) == (820, 400, 255)  # 760 + 60, 370 + 30, 20 + 235
    assert mm(found["B2"].positive.point) == (1380, 513, 255)  # 1110 + 270, 370 + 173 - 30


def test_any_way_is_any_way_across_the_stud(tmp_path: Path) -> None:
    any_way = (
        "{at: [60, 30, 235], lug: level, stud: M8, stud points: up",
        "{at: [60, 30, 235], lug: any, stud: M8, stud points: -y",
    )
    found = batteries(tmp_path, any_way)["A1"].positive.directions
    assert set(found) == {(1, 0, 0), (-1, 0, 0), (0, 0, 1), (0, 0, -1)}


def test_a_lug_cannot_point_along_its_stud(tmp_path: Path) -> None:
    read = read_broken(
        tmp_path, (("lug: level, stud: M8, stud points: up", "lug: [up, +x], stud: M8, stud points: up"),)
    )
    # once for each of the four batteries, at one place: said once
    assert sentences(read.faults) == ["a lug lies flat across its stud, not along it"]


def test_measured_terminals_stand_for_the_types(tmp_path: Path) -> None:
    measured = (
        "  - {name: A2, type: AGM 12 V, at: [410, 370, 20], "
        "negative: {at: [700, 405, 251], lug: [-y, [1, 1, 0]], stud: 3/8 in, torque: 90 lbf in}}"
    )
    battery = batteries(tmp_path, (A2, measured))["A2"]
    assert mm(battery.negative.point) == (700, 405, 251)
    assert battery.negative.stud == "3/8 in"
    assert battery.negative.torque_nm == pytest.approx(10.168634612, rel=1e-9)  # 90 x 0.1129848290 N m
    root = math.sqrt(0.5)
    assert battery.negative.directions == ((0.0, -1.0, 0.0), pytest.approx((root, root, 0)))
    assert mm(battery.positive.point) == (470, 400, 255)


def test_a_battery_of_two_points_needs_no_place(tmp_path: Path) -> None:
    points = (
        "points:\n  list:\n"
        "    - {name: p, at: [1 m, 2 m, 3 m], lug: up, stud: M8}\n"
        "    - {name: q, at: [3 ft, 2 m, 3 m], lug: up, stud: M8}\n"
    )
    battery = batteries(
        tmp_path,
        (A2, "  - {name: A2, type: AGM 12 V, positive: p, negative: q}"),
        ("\nstrings:", f"\n{points}\nstrings:"),
    )["A2"]
    assert battery.case is None
    assert mm(battery.positive.point) == (1000, 2000, 3000)
    assert mm(battery.negative.point) == (914.4, 2000, 3000)
    assert battery.positive.name == "A2 positive"
    assert battery.positive.stands_on == ""


@pytest.mark.parametrize(
    ("new", "says"),
    [
        ("{name: A2, type: AGM 12 V}", "neither a place nor a measured positive"),
        ("{name: A2, at: [410, 370, 20]}", "has no type"),
        ("{name: A2, type: AGM 12 V, positive: p, negative: q}", 'there is no point "p"'),
        ("row: {name: A, type: AGM 12 V, at: [60, 370, 20], along: x}", "needs a count"),
        (
            "row: {names: [A2], count: 3, type: AGM 12 V, at: [410, 370, 20], along: x}",
            "but 1 name is given",
        ),
        ("row: {names: [A2, A3], type: AGM 12 V, at: [410, 370, 20], along: x, air gap: 1, pitch: 9}", "not both"),
        ("{name: A2, row: {names: [A3], type: AGM 12 V, at: [0, 0, 0], along: x}}", "has name and row"),
    ],
)
def test_a_battery_that_is_not_told_well(new: str, says: str, tmp_path: Path) -> None:
    found = sentences(read_broken(tmp_path, ((A2, f"  - {new}"),)).faults)
    assert any(says in message for message in found), found
