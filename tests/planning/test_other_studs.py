"""Cables keep clear of studs that they do not end on; where they cannot, the plan fails and says so."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from cutlist.cli.main import evenlead
from cutlist.findings import Finding
from cutlist.job.reader import read_job
from cutlist.layout.posts import with_posts
from cutlist.layout.scene import space_with_bank
from cutlist.plan import make_plan
from cutlist.plan_types import Plan
from tests.planning.test_routed_places import JOB, STOCK

RULE = "cables pass other studs"
BANK = """batteries:
  - {name: B1, type: b, positive: {at: [0, 0, 200], lug: any, stud: M8}, negative: {at: [0, 150, 200], lug: +y, stud: M8}}
  - {name: B2, type: b, positive: {at: [0, FAR, 200], lug: -y, stud: M8}, negative: {at: [0, 1200, 200], lug: any, stud: M8}}
  - {name: B3, type: b, positive: {at: [THIRD, 200], lug: any, stud: M8}, negative: {at: [200, 900, 200], lug: any, stud: M8}}
  - {name: B4, type: b, positive: {at: [200, 1000, 200], lug: any, stud: M8}, negative: {at: [200, 1300, 200], lug: any, stud: M8}}
strings: [{name: S1, batteries: [B1, B2]}, {name: S2, batteries: [B3, B4]}]
"""  # noqa: E501, one battery a line


def job_file(folder: Path, far: int, third: str) -> Path:
    """A jumper along y from y 150 mm to `far`, its lugs along it, and the stud of B3 positive at x, y `third`."""
    before, after = JOB.split("batteries:\n  - name: B1", 1)[0], JOB[JOB.index("bus bars:") :]
    text = before.replace("SOLIDS\n", "") + BANK.replace("FAR", str(far)).replace("THIRD", third) + after
    for word, value in (("WIDE", "90"), ("HIGH", "30"), ("STUDS", "3"), ("TURNS", "0 deg")):
        text = text.replace(word, value)
    (folder / "job.yaml").write_text(text, encoding="utf-8")
    (folder / "stock.yaml").write_text(STOCK.replace("STEP", "20"), encoding="utf-8")
    return folder / "job.yaml"


def findings(path: Path) -> tuple[Plan, list[Finding]]:
    read = read_job(path)
    assert read.job is not None, [fault.text() for fault in read.faults]
    assert read.stock is not None
    plan = make_plan(read.job, read.stock)
    assert isinstance(plan, Plan), plan
    return plan, [f for f in plan.findings if f.rule == RULE]


def test_a_jumper_that_has_to_go_through_a_stud_fails(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The lug of B1 may point along y only, 30 mm straight; 20 mm ahead, 2 mm off its line, is the stud of B3.

    Cable of 9 mm, stud of 8 mm: 4.5 mm are needed from middle to skin of the stud, 0 mm are left as it lies in it.
    """
    path = job_file(tmp_path, 300, "2, 170")
    assert evenlead.main(["plan", str(path), "--out", str(tmp_path / "out")], standalone_mode=False) == 1
    told = capsys.readouterr().out
    assert "S1 jumper 1 runs into the live stud of B3 positive" in told
    document = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    (finding,) = [f for f in document["findings"] if f["rule"] == RULE]
    assert (finding["status"], finding["item"]) == ("fail", "S1 jumper 1 past B3 positive")
    assert "0.0 mm from the stud at (0, 1" in finding["message"]
    assert "4.5 mm short" in finding["message"]
    assert finding["mend"]


def test_one_that_passes_clear_has_no_finding(tmp_path: Path) -> None:
    """25 mm aside: 25 - 4 = 21 mm to the stud's skin and 25 - 8.2 = 16.8 mm to the lug's edge, 4.5 mm needed."""
    plan, (finding,) = findings(job_file(tmp_path, 300, "25, 225"))
    assert (finding.status, finding.item) == ("pass", "all cables")
    # did a run find no way but so near, that stud alone would be no solid: 21 mm off, and its own ends
    (jumper,) = [c for c in plan.cables if c.name == "S1 jumper 1"]
    bare = space_with_bank(plan.job)
    every, fewer = (
        {obstacle.name for obstacle in with_posts(plan.job, bare, {}, passed).obstacles}
        for passed in ((), [(jumper.laid.curve, 0.022)])
    )
    assert every - fewer == {"stud of B3 positive"}


def test_where_there_is_room_the_jumper_goes_round(tmp_path: Path) -> None:
    """The stud stands in the middle of 600 mm: the jumper is longer than these, and clear."""
    plan, (finding,) = findings(job_file(tmp_path, 750, "0, 450"))
    assert finding.status == "pass"
    (jumper,) = [c for c in plan.cables if c.name == "S1 jumper 1"]
    assert 0.6 < jumper.shortest.length_m < 0.65
