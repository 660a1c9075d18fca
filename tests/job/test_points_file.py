"""Terminals from a spreadsheet. Expected points are those written in the sheet."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutlist.job.faults import page_of
from cutlist.job.points_file import read_points
from cutlist.job.reader import read_job
from tests.job.broken import read_broken, write_job

COMMAS = """name,x mm,y mm,z mm,lug,stud,torque N m
P1a+,400,-900,300,+x -x,M8,10
"P1a -",740.5,-900,300,"0 1 0",3/8 in,
far,1.5 m,2 ft,7 ft 8 1/2 in,up,M10,90 lbf in
"""


def test_units_in_the_head_or_with_the_figure() -> None:
    page = page_of("terminals.csv", COMMAS)
    points = read_points(page)
    assert page.faults == []
    assert points["P1a+"].point == (0.4, -0.9, 0.3)
    assert points["P1a+"].directions == ((1.0, 0.0, 0.0), (-1.0, 0.0, 0.0))
    assert points["P1a+"].torque_nm == 10
    assert points["P1a -"].point == (0.7405, -0.9, 0.3)
    assert points["P1a -"].directions == ((0.0, 1.0, 0.0),)
    assert points["P1a -"].stud == "3/8 in"
    assert points["P1a -"].torque_nm is None
    assert points["far"].point == pytest.approx((1.5, 0.6096, 2.3495))  # 2 ft; 92.5 in x 25.4


@pytest.mark.parametrize("divider", [";", "\t"])
def test_decimal_commas_after_other_dividers(divider: str) -> None:
    rows = [["name", "x (m)", "y (m)", "z (m)", "lug direction", "stud"], ["a", "0,4", "-0,9", "0,300", "level", "M8"]]
    page = page_of("terminals.csv", "\n".join(divider.join(row) for row in rows))
    assert read_points(page)["a"].point == (0.4, -0.9, 0.3)
    assert page.faults == []


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("name,x,y,z,lug,stud\na,1,2,3,up,M8", 2, '"1" has no unit'),
        ("name,x mm,y mm,lug,stud\na,1,2,up,M8", 1, "column z is missing"),
        ("name,x mm,y mm,z mm,lug,stud,colour\n", 1, '"colour" is no column'),
        ("name,x mm,y mm,z mm,lug,stud\na,1,2,3,sideways,M8", 2, '"sideways" is not known'),
        ("name,x mm,y mm,z mm,lug,stud\na,1,2,three,up,M8", 2, '"three" is no length'),
        ("name,x mm,y mm,z mm,lug,stud\na,1,2,3,up,8", 2, '"8" is no stud size'),
        ("name,x mm,y mm,z mm,lug,stud\na,1,2,3,up", 2, "this row has 5 cells; 6 are wanted"),
        ("name,x mm,y mm,z mm,lug,stud\na,1,2,3,up,M8\n\na,1,2,4,up,M8", 4, "stands in line 2 already"),
        ("name,x mm,y mm,z mm,lug,stud\n,1,2,3,up,M8", 2, "nothing stands where a name"),
        ('name,x mm,y mm,z mm,lug,stud\n"a,1,2,3,up,M8', 1, "not CSV"),
        ("name,x kg,y mm,z mm,lug,stud\na,1,2,3,up,M8", 2, "is not a length"),
        ("name,x mm,y mm,z mm,lug,stud\na\u202e,1,2,3,up,M8", 2, "U+202E"),
    ],
)
def test_faults_have_their_line(text: str, line: int, says: str) -> None:
    page = page_of("terminals.csv", text)
    read_points(page)
    assert any(fault.line == line and says in fault.message for fault in page.faults), page.faults
    assert all(fault.mend for fault in page.faults)


POINTED = (
    ("\nstrings:", "\npoints:\n  file: terminals.csv\n\nstrings:"),
    ("{name: A2, type: AGM 12 V, at: [410, 370, 20]}", "{name: A2, type: AGM 12 V, positive: A2+, negative: A2-}"),
)


def test_a_job_with_a_point_file(tmp_path: Path) -> None:
    sheet = "name,x mm,y mm,z mm,lug,stud\nA2+,470,400,255,level,M8\nA2-,680,400,255,level,M8\n"
    (tmp_path / "terminals.csv").write_text(sheet, encoding="utf-8")
    read = read_job(write_job(tmp_path, POINTED))
    assert [fault.text() for fault in read.faults] == []
    assert read.job is not None
    assert read.job.strings[0].negative.point == pytest.approx((0.68, 0.4, 0.255))


def test_faults_of_the_point_file_are_told_with_the_jobs(tmp_path: Path) -> None:
    (tmp_path / "terminals.csv").write_text("name,x,y,z,lug,stud\nA2+,1,2,3,up,M8\n", encoding="utf-8")
    faults = read_broken(tmp_path, POINTED).faults
    assert {"terminals.csv", "job.yaml"} == {fault.file for fault in faults}
    # A2+ is there, only faulty
    assert [fault.message for fault in faults if fault.file == "job.yaml"] == ['there is no point "A2-"']


def test_a_point_file_that_is_not_there(tmp_path: Path) -> None:
    faults = read_broken(tmp_path, POINTED).faults
    assert any("terminals.csv: there is no such point file" in fault.message for fault in faults)


def test_fractions_of_an_inch_under_a_head_in_inches() -> None:
    """7 1/2 in is 190.5 mm, 3/8 in 9.525 mm, 1/4 in 6.35 mm."""
    page = page_of("p.csv", "name,x in,y in,z in,lug,stud\na,7 1/2,3/8,7-1/2,up,M8\nb,-7 1/2,-3/8,7½,up,M8\n")
    points = read_points(page)
    assert page.faults == []
    assert points["a"].point == pytest.approx((0.1905, 0.009525, 0.1905))
    assert points["b"].point == pytest.approx((-0.1905, -0.009525, 0.1905))


def test_a_short_row_is_one_fault() -> None:
    page = page_of("p.csv", "name,x mm,y mm,z mm,lug,stud\na,1,2\n")
    assert read_points(page) == {"a": None}
    assert [f.message for f in page.faults] == ["this row has 3 cells; 6 are wanted"]


WITH_FILE = (("\nstrings:", "\npoints: {file: p.csv}\n\nstrings:"),)


@pytest.mark.parametrize(
    ("csv", "told"),
    [
        # one row that is faulty; a head that is none; no file: what names a point of it says nothing more
        ("name,x mm,y mm,z mm,lug,stud\nL+,bad,200,500,up,M8\n", ['"bad" is no length']),
        ("name,x mm,y mm,what,lug,stud\nL+,600,200,500,up,M8\n", ['"what" is no column of a point file']),
        ("", ["p.csv: the file is empty"]),
    ],
)
def test_only_the_root_is_told(tmp_path: Path, csv: str, told: list[str]) -> None:
    (tmp_path / "p.csv").write_text(csv, encoding="utf-8")
    text = write_job(tmp_path, WITH_FILE).read_text(encoding="utf-8")
    load = text.index("loads:")
    at = text.index("positive: ", load)
    end = text.index("}", at) + 1
    (tmp_path / "job.yaml").write_text(text[:at] + "positive: L+" + text[end:], encoding="utf-8")
    read = read_job(tmp_path / "job.yaml")
    assert [fault.message for fault in read.faults] == told


def test_a_name_that_is_in_no_row_is_told(tmp_path: Path) -> None:
    (tmp_path / "p.csv").write_text("name,x mm,y mm,z mm,lug,stud\nL,600,200,500,up,M8\n", encoding="utf-8")
    text = write_job(tmp_path, WITH_FILE).read_text(encoding="utf-8")
    at = text.index("positive: ", text.index("loads:"))
    end = text.index("}", at) + 1
    (tmp_path / "job.yaml").write_text(text[:at] + "positive: L+" + text[end:], encoding="utf-8")
    assert 'there is no point "L+"' in [fault.message for fault in read_job(tmp_path / "job.yaml").faults]


@pytest.mark.parametrize(("written", "mend"), [("price: 11,20", "write 11.20"), ('price: "11,20"', "write 11.20")])
def test_a_decimal_comma_in_a_price(tmp_path: Path, written: str, mend: str) -> None:
    read = read_broken(tmp_path, stock=(("price: 240.00", written),))
    assert [fault.mend for fault in read.faults] == [mend]


def test_an_empty_point_file_is_mended_by_its_first_row(tmp_path: Path) -> None:
    (tmp_path / "p.csv").write_text("", encoding="utf-8")
    (fault,) = read_broken(tmp_path, WITH_FILE).faults
    assert "name,x mm,y mm,z mm,lug,stud" in fault.mend
    assert "evenlead new" not in fault.mend
