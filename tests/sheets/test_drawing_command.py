"""evenlead drawing: whole, on a job written by evenlead new."""

from __future__ import annotations

import itertools
import json

import ezdxf
import pytest
from click.testing import CliRunner

from cutlist.cli.drawing import drawing
from cutlist.cli.new import new
from cutlist.cli.plan import plan


@pytest.fixture(scope="module")
def job_folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("starter") / "job"
    assert CliRunner().invoke(new, [str(folder)], standalone_mode=False).exception is None
    return folder


def test_drawings_of_the_starter_job_are_as_long_as_its_plan_says(job_folder, tmp_path):
    drawn = CliRunner().invoke(drawing, [str(job_folder / "job.yaml"), "--out", str(tmp_path)], standalone_mode=False)
    assert drawn.exception is None
    assert {p.name for p in tmp_path.iterdir()} == {
        "drawing.dxf", "plan.svg", "front-elevation.svg", "side-elevation.svg",
    }  # fmt: skip
    printed = CliRunner().invoke(plan, [str(job_folder / "job.yaml"), "--json"], standalone_mode=False)
    document = json.loads(printed.stdout)
    assert drawn.return_value == printed.return_value
    lines = [
        line
        for line in ezdxf.readfile(tmp_path / "drawing.dxf").modelspace().query("POLYLINE")
        if line.dxf.layer in ("POSITIVE", "NEGATIVE", "LINK")
    ]
    for line, cable in zip(lines, document["cables"], strict=True):
        points = list(line.points())
        length_mm = sum((b - a).magnitude for a, b in itertools.pairwise(points))
        assert length_mm == pytest.approx(1000 * cable["laid"]["length_m"], abs=0.05)


def test_a_wrong_job_is_told_and_nothing_is_drawn(tmp_path):
    (tmp_path / "job.yaml").write_text("name: 3")
    folder = tmp_path / "out"
    done = CliRunner().invoke(drawing, [str(tmp_path / "job.yaml"), "--out", str(folder)], standalone_mode=False)
    assert done.return_value == 2
    assert not folder.exists()


def test_a_file_in_the_way_is_told(job_folder, tmp_path):
    (tmp_path / "out").write_text("")
    arguments = [str(job_folder / "job.yaml"), "--out", str(tmp_path / "out")]
    done = CliRunner().invoke(drawing, arguments, standalone_mode=False)
    assert done.return_value == 2
    assert "is a file, not a folder" in done.stderr
