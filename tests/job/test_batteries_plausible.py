"""A battery that cannot be is a slip of the hand, and is said."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutlist.job.reader import read_job
from cutlist.job.starter import write_starter


@pytest.mark.parametrize(
    ("key", "value", "says"),
    [
        ("resistance", "4 ohm", "4000 mohm lets 3."),  # about 12.8 V / 4 ohm = 3.2 A
        ("rest voltage", "1.28 V", "1.28 V at rest does not go with 12 V nominal"),
        ("rest voltage", "25.6 V", "25.6 V at rest does not go with 12 V nominal"),
    ],
)
def test_a_wrong_unit_or_digit(key: str, value: str, says: str, tmp_path: Path) -> None:
    write_starter(tmp_path / "job")
    path = tmp_path / "job" / "job.yaml"
    lines = path.read_text(encoding="utf-8").splitlines()
    at = next(i for i, line in enumerate(lines) if line.strip().startswith(f"{key}:"))  # of the battery type, first
    lines[at] = lines[at][: lines[at].index(key)] + f"{key}: {value}"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert any(says in fault.message for fault in read_job(path).faults)
