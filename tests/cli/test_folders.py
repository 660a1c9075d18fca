"""Folders that cannot be written to are told before the work, with a mend, as status 2."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from cutlist.cli.main import evenlead
from tests.job.broken import write_job


@pytest.mark.parametrize("command", ["plan", "drawing"])
def test_out_below_a_file(tmp_path: Path, command: str) -> None:
    job = write_job(tmp_path)
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    done = CliRunner().invoke(
        evenlead, [command, str(job), "--out", str(tmp_path / "file" / "below")], standalone_mode=False
    )
    assert done.return_value == 2
    assert done.output == (
        f"{tmp_path}/file/below: {tmp_path}/file is a file, not a folder: nothing was written\n"
        "mend: name another folder: --out DIR\n"
    )
    assert (tmp_path / "file").read_text(encoding="utf-8") == "mine"
