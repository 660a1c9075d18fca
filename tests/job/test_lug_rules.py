"""Lugs for the studs that cables end on, where stock or job leave one conductor for these cables."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.job.broken import Edit, line_of, read_broken, write_job
from tests.job.unlike_studs import ENDS, FEEDERS, JOB, M10_FIRST, STOCK

ONE_BAR = (M10_FIRST, FEEDERS, *ENDS)
M12 = ("550], lug: [+x, up, down], stud: M10", "550], lug: [+x, up, down], stud: M12")
NO_LUGS = (("lugs: # hole", "# hole"), ("  - {conductor: 35 mm2, stud: M8,", "  # {conductor: 35 mm2, stud: M8,"))


@pytest.mark.parametrize(
    ("job", "told", "line"),
    [
        (ONE_BAR, 'a feeder ends on bus bar "negative bus bar"', "{name: negative bus bar"),
        ((*JOB, M12), 'a feeder ends on terminal "main fuse source side"', "- name: main fuse"),
    ],
)
def test_no_lug_for_the_only_conductor(tmp_path: Path, job: tuple[Edit, ...], told: str, line: str) -> None:
    path = write_job(tmp_path, job, STOCK)
    (fault,) = read_broken(tmp_path, job, STOCK).faults
    assert fault.line == line_of(path, line)
    assert told in fault.message
    assert "lists no lug for 70 mm2 on M" in fault.message
    assert "give it a stud for which one is listed (M10)" in fault.mend


def test_a_choice_of_conductors_is_left_to_the_plan(tmp_path: Path) -> None:
    """The same bars and terminals, but feeders may be 35 mm², for which the plan may find a way or not."""
    assert read_broken(tmp_path, (*JOB[:2], *ENDS), STOCK).faults == ()


def test_no_lugs_listed_at_all_are_not_known(tmp_path: Path) -> None:
    assert read_broken(tmp_path, (), NO_LUGS).faults == ()
