"""The complete set in a folder: as one, whatever happens, and quickly."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from cutlist.cli.main import evenlead
from cutlist.sheets.write import sheet_set, write_set

NAMES = {"plan.json", "cut-sheet.pdf", "labels.pdf", "cuts.csv", "order.pdf", "order.xlsx", "order.csv", "plan.html"}
ROOT = Path(__file__).parents[2]


def held(folder: Path) -> dict[str, bytes]:
    return {name: (folder / name).read_bytes() for name in NAMES if (folder / name).exists()}


def test_the_whole_set_and_nothing_else(plan, tmp_path):
    assert set(write_set(plan, tmp_path / "plan")) == NAMES
    assert held(tmp_path / "plan") == sheet_set(plan)
    assert {p.name for p in (tmp_path / "plan").iterdir()} == NAMES


def test_same_plan_same_bytes(plan):
    assert sheet_set(plan) == sheet_set(plan)


# One process loads what is needed; each line it reads makes a child that writes until it is killed.
WRITERS = """
import os, sys
from pathlib import Path
from cutlist.sheets.write import write_set
from tests.sheets.sample import workshop_plan
one, other = workshop_plan(), workshop_plan(units="in")
for _ in sys.stdin:
    child = os.fork()
    while not child:
        write_set(other, Path(sys.argv[1]))
        write_set(one, Path(sys.argv[1]))
    print(child, flush=True)
    os.waitpid(child, 0)
    print("gone", flush=True)
"""


def test_killed_twenty_times_at_random_the_set_is_whole(plan, inch_plan, tmp_path):
    """Both sets are written over and over by a process that is killed outright."""
    sets = sheet_set(plan), sheet_set(inch_plan)
    (tmp_path / "notes.txt").write_text("mine")
    write_set(plan, tmp_path)
    moments = random.Random(20)
    command = [sys.executable, "-c", WRITERS, str(tmp_path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT) as writers:
        for _ in range(20):
            print(file=writers.stdin, flush=True)
            child = int(writers.stdout.readline())
            time.sleep(moments.uniform(0.0, 0.5))
            os.kill(child, signal.SIGKILL)
            assert writers.stdout.readline() == "gone\n"
            assert held(tmp_path) in sets
        writers.stdin.close()
    assert writers.returncode == 0
    assert (tmp_path / "notes.txt").read_text() == "mine"


def test_a_fault_in_a_sheet_leaves_the_old_set(plan, inch_plan, tmp_path, monkeypatch):
    write_set(plan, tmp_path)

    def broken(*_):
        raise RuntimeError("the page cannot be made")

    before = held(tmp_path)
    monkeypatch.setattr("cutlist.sheets.write.plan_html", broken)
    with pytest.raises(RuntimeError):
        write_set(inch_plan, tmp_path)
    assert held(tmp_path) == before


def test_a_file_in_the_way_is_said(plan, tmp_path):
    (tmp_path / "plan").write_text("")
    with pytest.raises(OSError, match="plan is a file, not a folder"):
        write_set(plan, tmp_path / "plan")


def test_help_names_every_file_that_is_written(plan):
    said = CliRunner().invoke(evenlead, ["plan", "--help"]).output
    assert [name for name in sheet_set(plan) if name not in said] == []
