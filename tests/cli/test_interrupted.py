"""Ctrl-C with real processes on a terminal: nothing half-written, one line, status 130; of cuts the best so far."""

from __future__ import annotations

import os
import pty
import random
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from cutlist.job.plan_files import read_cuts
from cutlist.sheets.cut_list import INTERRUPTED, cut_list_pdf, cut_list_text
from cutlist.sheets.pooled_text import pooled_text
from cutlist.stock.cut_list import JobPieces
from cutlist.stock.list_check import faults_in_list
from cutlist.stock.pooling import pool
from tests.sheets.test_cut_sheet import flat
from tests.stock.shop import shop
from tests.stock.test_published_cuts import many_groups

EXAMPLES = Path(__file__).parents[2] / "examples"
LONGEST_S = 60  # on a busy machine; a test that waits this long fails


def interrupted_once(words: list[str], when_it_says: str) -> tuple[int, str, str]:
    """The command run with standard error on a terminal, and Ctrl-C sent when the progress line says so.

    Status, standard output, and what is left on the terminal when the progress line is wiped.
    """
    screen, seen_by_it = pty.openpty()
    child = subprocess.Popen(
        [sys.executable, "-m", "cutlist.cli.main", *words],
        stdout=subprocess.PIPE,
        stderr=seen_by_it,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    os.close(seen_by_it)
    end_s, said, sent = time.monotonic() + LONGEST_S, b"", False
    try:
        while time.monotonic() < end_s:
            try:
                more = os.read(screen, 4096)
            except OSError:  # the other end is closed: it is over
                break
            said += more
            if not sent and when_it_says.encode() in said:
                child.send_signal(signal.SIGINT)
                sent = True
        out, _ = child.communicate(timeout=LONGEST_S)
    finally:
        child.kill()
        os.close(screen)
    assert sent, f"it never said {when_it_says!r}: {said!r}"
    left = said.replace(b"\r\n", b"\n").split(b"\x1b[K")[-1]
    return child.returncode, out, left.decode()


def test_plan_leaves_the_old_set_and_says_one_line(tmp_path: Path) -> None:
    (tmp_path / "plan.json").write_text("the old plan")
    job = EXAMPLES / "clinic-trailer" / "job.yaml"
    status, out, left = interrupted_once(["plan", str(job), "--out", str(tmp_path)], " s  ")
    assert (status, out) == (130, "")
    assert left.strip() == "interrupted: nothing was replaced"
    assert {p.name: p.read_text() for p in tmp_path.iterdir()} == {"plan.json": "the old plan"}


@pytest.fixture
def long_list(tmp_path: Path) -> Path:
    """Pieces that would be searched for a minute: lengths that fill neither spool well."""
    dice = random.Random(5)
    lines = [f"P{i},50 mm2,red,{dice.randint(3000, 9900) / 10}" for i in range(90)]
    (tmp_path / "pieces.csv").write_text("name,conductor,colour,length mm\n" + "\n".join(lines) + "\n")
    (tmp_path / "stock.csv").write_text(
        "kind,conductor,colour,label,length mm,price kr,available\n"
        "spool,50 mm2,red,short,1000,7,\nspool,50 mm2,red,long,1700,11.03,\n"
    )
    return tmp_path


def test_cut_gives_the_best_so_far(long_list: Path) -> None:
    words = ["cut", str(long_list / "pieces.csv"), str(long_list / "stock.csv"), "--out", str(long_list / "out")]
    status, out, left = interrupted_once([*words, "--time-limit", "60"], "cutting 50 mm2 red")
    assert status == 0
    assert out.startswith("Interrupted: the best way of cutting found so far, not proved best;")
    assert "best found; none comes to less than" in out
    assert left == ""
    read = read_cuts(long_list / "out" / "cuts.json")
    assert read.faults == ()
    assert read.cuts is not None
    assert faults_in_list(read.cuts) == []
    assert len(read.cuts.pieces) == 90


def test_jobs_together_are_told_without_the_comparison(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C while they are cut together: that plan is handed over, and nobody claims what it saves."""

    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("cutlist.stock.solve.relax", interrupted)
    jobs = [JobPieces(name, tuple(replace(p, name=f"{name} {p.name}") for p in many_groups()[i::2]))
            for i, name in enumerate(("north", "south"))]  # fmt: skip
    stock = shop(spools=[(1000, "7", None), (1700, "11", None)])
    with pytest.raises(KeyboardInterrupt):
        pool("both", "mm", jobs, stock)
    pooled = pool("both", "mm", jobs, stock, keep_on_interrupt=True)
    assert pooled.interrupted
    assert pooled.alone == ()
    assert faults_in_list(pooled.together) == []
    assert len(pooled.together.pieces) == 90
    assert "saves was not looked at to the end" in pooled_text(pooled)
    assert INTERRUPTED in cut_list_text(pooled.together)
    assert "Interrupted: the best way of cutting" in flat(cut_list_pdf(pooled.together, "marked"))
