"""Each example, from its files to the whole set of sheets, through the command that people type."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from cutlist.cli.main import evenlead
from cutlist.layout.cable_ends import cable_tasks
from cutlist.layout.run_lengths import joined, run_requests
from cutlist.layout.scene import space_with_bank
from cutlist.plan_types import Plan
from cutlist.sheets.write import sheet_set
from geometry.check import faults_in_run

ROOT = Path(__file__).parent.parent
EXAMPLES = ("fen-station", "dredge-tender", "clinic-trailer")
SET = {"plan.json", "cut-sheet.pdf", "cuts.csv", "order.csv", "plan.html"}


@pytest.fixture(scope="module", params=EXAMPLES)
def planned(request: pytest.FixtureRequest, plan_of: Callable[[str], Plan]) -> tuple[str, Plan]:
    return request.param, plan_of(request.param)


def test_every_limit_is_met(planned: tuple[str, Plan]) -> None:
    _, plan = planned
    assert [f"{f.rule}, {f.item}: {f.message}" for f in plan.failing] == []


def test_every_string_has_leads_of_one_length(planned: tuple[str, Plan]) -> None:
    """The promise of the tool: equal conductor on every lead, and laid at exactly what is cut (to 0.5 mm)."""
    _, plan = planned
    assert {sum(cut.length_um for cut in lead.cuts) for lead in plan.leads} == {plan.target_um}
    for lead in plan.leads:
        assert lead.laid.length_m == pytest.approx(lead.target_m, abs=5e-4), lead.name


def test_every_run_passes_the_strangers_check(planned: tuple[str, Plan]) -> None:
    """By geometry/check.py, which shares no code with the router."""
    _, plan = planned
    job = plan.job
    places = {b.bar.name: b.place for b in plan.bars}
    space = space_with_bank(job, [(b.bar, b.place) for b in plan.bars])
    kinds = {c.kind: c.conductor for c in plan.cables}
    studs = {(name, b.bar.name): i for b in plan.bars for i, names in enumerate(b.stud_use) for name in names}
    cables = joined(job, cable_tasks(job), places, studs)
    requests = {r.name: r for r in run_requests(job, plan.stock, cables, kinds)}
    for cable in plan.cables:
        assert faults_in_run(space, requests[cable.name], cable.laid) == []


def test_strings_share_evenly(planned: tuple[str, Plan]) -> None:
    """Kirchhoff: what the strings give adds up to what the loads take; and the asked share is held."""
    _, plan = planned
    total_a = sum(load.continuous_a for load in plan.job.loads if not load.charger)
    assert sum(s.current_a for s in plan.shares) == pytest.approx(total_a, rel=1e-9)
    assert all(abs(s.departure) <= plan.job.limits.share for s in plan.shares)


def test_less_to_choose_from_is_never_cheaper(planned: tuple[str, Plan]) -> None:
    """Other ways of buying that only leave something out cost as much as the plan, proved best, or more."""
    _, plan = planned
    assert plan.cut_plan.proved
    assert plan.alternates
    fewer = [a for a in plan.alternates if "instead of" not in a.name]
    assert all(a.difference is None or a.difference >= 0 for a in fewer), fewer


def test_the_command_writes_the_whole_set_and_the_same_again(planned: tuple[str, Plan], tmp_path: Path) -> None:
    """The plan made here and the one the command makes: two runs, the same bytes."""
    name, plan = planned
    folder = tmp_path / "plan"
    job = str(ROOT / "examples" / name / "job.yaml")
    result = CliRunner().invoke(evenlead, ["plan", job, "--out", str(folder)], standalone_mode=False)
    assert result.exception is None, result.output
    assert result.return_value == 0, result.output
    written = {p.name: p.read_bytes() for p in folder.iterdir()}
    assert set(written) >= SET
    assert written == sheet_set(plan)
    assert json.loads(written["plan.json"])["job"]["name"] == plan.job.name
