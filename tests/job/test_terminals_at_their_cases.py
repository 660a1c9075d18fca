"""A stud stands on its battery: not deep inside the case, not up in the air."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutlist.job.reader import read_job
from cutlist.job.starter import write_starter

STUD = "negative: {at: [270, 30, 235]"  # the starter's battery: case 330 x 173 x 220


@pytest.mark.parametrize(
    ("at", "says"),
    [
        ("[270, 30, 100]", "lies 30 mm inside its own case"),  # 30 mm from the side y = 0, the nearest
        ("[270, 80, 100]", "lies 60 mm inside its own case"),  # 330 - 270: the side x = 330 is nearest
        ("[270, 30, 600]", "lies 380 mm away from its own case"),  # 600 - 220
    ],
)
def test_a_stud_off_its_battery_is_a_fault(at: str, says: str, tmp_path: Path) -> None:
    write_starter(tmp_path / "job")
    path = tmp_path / "job" / "job.yaml"
    text = path.read_text(encoding="utf-8")
    assert STUD in text
    path.write_text(text.replace(STUD, f"negative: {{at: {at}"), encoding="utf-8")
    assert any(says in fault.message for fault in read_job(path).faults)


def test_the_starters_own_are_sound(tmp_path: Path) -> None:
    write_starter(tmp_path / "job")
    assert read_job(tmp_path / "job" / "job.yaml").faults == ()
