"""A bus bar whose studs are unlike, as a job file says it; and what `evenlead check` tells where lugs find no studs."""

from __future__ import annotations

from pathlib import Path

import jsonschema
import pytest

from cutlist.job.schema import schema_job
from tests.job.broken import line_of, read_broken, write_job
from tests.job.test_every_key import sound
from tests.job.unlike_studs import ENDS, FEEDERS, JOB, M10_FIRST, M10_LAST, STOCK


def test_a_thread_for_each_stud(tmp_path: Path) -> None:
    job, _ = sound(tmp_path, JOB, STOCK)
    assert job.positive_bar.stud == ("M10", "M8", "M8", "M8")
    assert job.positive_bar.threads == ("M10", "M8", "M8", "M8")
    assert job.negative_bar.threads == ("M8", "M8", "M8", "M10")
    assert job.positive_bar.unlike


def test_one_value_stands_for_all_and_so_does_a_list_of_like_ones(tmp_path: Path) -> None:
    job, _ = sound(tmp_path, (("    stud: M8\n    section", "    stud: [M8, m8, M 8, M8]\n    section"),))
    assert job.positive_bar == job.positive_bar.__class__(**{**job.positive_bar.__dict__, "stud": "M8"})
    assert not job.positive_bar.unlike
    assert job.negative_bar.threads == ("M8",) * 4


def test_a_torque_for_each_stud(tmp_path: Path) -> None:
    listed = ("    rating: 250 A\n", "    rating: 250 A\n    torque: [20 N m, 9 N m, 9 N m, 9 N m]\n")
    job, _ = sound(tmp_path, (*JOB, listed), STOCK)
    assert job.positive_bar.torques_nm == (20.0, 9.0, 9.0, 9.0)
    assert job.negative_bar.torques_nm == (None,) * 4


def test_a_wrong_count_is_told_with_line_and_mend_and_other_faults_beside_it(tmp_path: Path) -> None:
    job = (
        ("    stud: M8\n    section", "    stud: [M10, M8]\n    torque: [9 N m]\n    section"),
        ("stud: M8, section", "stud: [M8, M77x, M8, M8], section"),
    )
    path = write_job(tmp_path, job)
    faults = read_broken(tmp_path, job).faults
    told = [(fault.line, fault.message, fault.mend) for fault in faults]
    assert [line for line, _, _ in told[:2]] == [line_of(path, "stud: [M10, M8]"), line_of(path, "torque: [9 N m]")]
    assert told[0][1] == 'bus bar "positive bus bar" has 4 studs, but 2 are given here under stud'
    assert "a single value for all" in told[0][2]
    assert "studs: 2" in told[0][2]
    assert "1 is given here under torque" in told[1][1]
    # a stud that cannot be read is one fault, not a wrong count too
    assert [message for line, message, _ in told if line == line_of(path, "M77x")] == ['"M77x" is no stud size']


@pytest.mark.parametrize(
    ("written", "turns"),
    [
        ("[0 deg, 180 deg]", (0, 180)),
        ("[90 deg, 270 deg, 0 deg, 180 deg]", (0, 90, 180, 270)),
        ("[180 deg]", (180,)),
    ],
)
def test_unlike_studs_may_be_turned_end_for_end(written: str, turns: tuple[int, ...], tmp_path: Path) -> None:
    turned = ("    on: [end wall]\n", f"    on: [end wall]\n    turns: {written}\n")
    job, _ = sound(tmp_path, (*JOB, turned), STOCK)
    assert job.positive_bar.turns == turns


def test_like_studs_end_for_end_are_the_same_again(tmp_path: Path) -> None:
    turned = ("    on: [end wall]\n", "    on: [end wall]\n    turns: [0 deg, 180 deg, 270 deg]\n")
    job, _ = sound(tmp_path, (turned,))
    assert job.positive_bar.turns == (0, 270)


def test_feeders_that_find_too_few_studs(tmp_path: Path) -> None:
    """Two 70 mm² feeders leave the positive bar, which has one M10 stud that takes one lug."""
    second = (
        "  - {name: inverter positive, pole",
        "  - {name: second feeder, pole: positive, from: positive bus bar, to: inverter positive}\n"
        "  - {name: inverter positive, pole",
    )
    one = ("    section: 20 mm x 5 mm\n", "    section: 20 mm x 5 mm\n    lugs per stud: 1\n")
    path = write_job(tmp_path, (*JOB, second, one), STOCK)
    (fault,) = read_broken(tmp_path, (*JOB, second, one), STOCK).faults
    assert fault.line == line_of(path, "stud: [M10, M8, M8, M8]")
    assert fault.message == (
        'bus bar "positive bus bar": 2 feeders (70 mm2) go only on stud 1 (M10), which holds 1 lug'
    )
    assert fault.mend == (
        "make 2 studs M10, or allow lugs per stud: 2, or list a lug for 70 mm2 on M8 in the stock file"
    )
    sound(tmp_path, (*JOB, second), STOCK)  # two on one stud, as far as four are allowed


def test_other_conductors_may_find_studs(tmp_path: Path) -> None:
    """Nothing is wrong while one allowed pair of conductors finds studs: here feeders of 35 mm² on M8."""
    one = ("    section: 20 mm x 5 mm\n", "    section: 20 mm x 5 mm\n    lugs per stud: 1\n")
    sound(tmp_path, (M10_FIRST, M10_LAST, one, *ENDS), STOCK)


def test_a_stud_kept_for_later_strings_takes_a_lead(tmp_path: Path) -> None:
    """Three studs are kept at the ends of the row, so that of M8, M10, M10, M8 at least one M10 would be kept."""
    kept = ("    stud: M8\n    section: 20", "    stud: [M8, M10, M10, M8]\n    reserved: 3\n    section: 20")
    only = ("  feeder conductors: [70 mm2]", "  lead conductors: [35 mm2]\n  feeder conductors: [70 mm2]")
    job = (kept, M10_LAST, FEEDERS, *ENDS, only)
    path = write_job(tmp_path, job, STOCK)
    (fault,) = read_broken(tmp_path, job, STOCK).faults
    assert fault.line == line_of(path, "stud: [M8, M10, M10, M8]")
    assert "to be kept for later strings, would take no lug of a lead (35 mm2)" in fault.message
    assert "end the row with studs that take" in fault.mend


def test_the_schema_knows_both_forms() -> None:
    bar = schema_job()["properties"]["bus bars"]["items"]["properties"]
    for good in ("M8", ["M10", "M8", "3/8 in"]):
        jsonschema.validate(good, bar["stud"])
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate([], bar["stud"])
