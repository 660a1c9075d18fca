"""One slip is one fault: what follows from it is not told as if it were wrong too."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutlist.job.reader import read_job
from tests.job.broken import edited, read_broken

ROW = "row: {names: [B1, B2], type: AGM 12 V"
EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.mark.parametrize(
    ("row", "message", "mend"),
    [
        ("{name: B, count: 1,", 'row "B" has 1 battery, and strings name "B2" too', 'count: 2, or take "B2" out'),
        # they would also stand in the wall and outside the locker
        ("{name: B, count: 7,", 'row "B" has 7 batteries, and "B3" to "B7" are in no string', "count: 2, or add them"),
        ("{name: B, count: two,", '"two" is not a whole number', "from 1 to 500"),
        ("{name: B, count: 20000,", "20000 is not from 1 to 500", "a slipped digit"),
        ("{name: B, count: 0,", "0 is not from 1 to 500", "a slipped digit"),
        ("{name: B,", "a row with one name needs a count", "add count: 3"),
        ("{names: [B1, B2], count: 3,", "count is 3, but 2 names are given", "leave count out"),
    ],
)
def test_a_wrong_count_of_a_row(tmp_path: Path, row: str, message: str, mend: str) -> None:
    (fault, *others) = read_broken(tmp_path, ((ROW, f"row: {row} type: AGM 12 V"),)).faults
    assert message in fault.message
    assert mend in fault.mend
    # without any count it cannot be known which batteries are meant
    assert [other.message for other in others if row != "{name: B,"] == []


def test_one_battery_too_many_is_named(tmp_path: Path) -> None:
    edit = (ROW, "row: {name: B, count: 3, pitch: 300, type: AGM 12 V")
    messages = [fault.message for fault in read_broken(tmp_path, (edit, ("air gap: 20", "alternating: no"))).faults]
    assert 'battery "B3" is in no string' in messages


@pytest.mark.parametrize("unit", ["m", "ft"])
@pytest.mark.parametrize("name", ["fen-station", "dredge-tender", "clinic-trailer"])
def test_coordinates_in_a_unit_that_is_not_theirs(tmp_path: Path, name: str, unit: str) -> None:
    for file in ("job.yaml", "stock.yaml"):
        text = (EXAMPLES / name / file).read_text(encoding="utf-8")
        text = edited(text, (("coordinates: mm", f"coordinates: {unit}"),)) if file == "job.yaml" else text
        (tmp_path / file).write_text(text, encoding="utf-8")
    (fault,) = read_job(tmp_path / "job.yaml").faults
    assert f'"{unit}" is not their unit' in fault.message
    assert "coordinates: mm, if they are millimetres" in fault.mend


def test_coordinates_of_a_bank_for_ants(tmp_path: Path) -> None:
    """A row of solids 0.1 to 1.3 across, in millimetres: metres were meant."""
    boxes = "".join(f"    - {{name: s{i}, box: {{from: [0.1, 0, 0], to: [1.3, {i + 1}, 2]}}}}\n" for i in range(9))
    text = f"name: a\nunits: mm\ncoordinates: mm\nstock: stock.yaml\nsite:\n  solids:\n{boxes}"
    (tmp_path / "job.yaml").write_text(text, encoding="utf-8")
    messages = [fault.message for fault in read_job(tmp_path / "job.yaml").faults]
    assert any('within 9 mm of zero: "mm" is not their unit' in message for message in messages)


@pytest.mark.parametrize(
    ("unit", "message"),
    [
        ("metres", '"metres" is not known here'),
        ("[mm]", "a list stands where one of mm, cm, m, in, ft is wanted"),
        ("{a: mm}", "a table stands where one of mm, cm, m, in, ft is wanted"),
    ],
)
def test_a_unit_that_is_none(tmp_path: Path, unit: str, message: str) -> None:
    (fault,) = read_broken(tmp_path, (("coordinates: mm", f"coordinates: {unit}"),)).faults
    assert fault.message == message


@pytest.mark.parametrize(
    ("corner", "message"),
    [
        ("1e308", '"1e308" where a point of x, y, z is wanted'),
        ("[1e308, 560, 260]", '"1e308" is beyond anything that is measured'),
        ("[1e308 mm, 560, 260]", '"1e308" is beyond anything that is measured'),
        ("[9e9, 560, 260]", '"9e9 mm" is beyond 1000 m'),
    ],
)
def test_a_corner_that_is_nowhere(tmp_path: Path, corner: str, message: str) -> None:
    (fault,) = read_broken(tmp_path, (("corner: [1750, 560, 260]", f"corner: {corner}"),)).faults
    assert fault.message == message
