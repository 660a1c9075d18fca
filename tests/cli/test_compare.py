"""evenlead compare, whole, on the starter job."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from cutlist.cli.main import evenlead
from cutlist.plan_types import Compared, Infeasible, Plan
from cutlist.planning.comparisons import compare_job
from cutlist.progress import silent


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("starter") / "locker"
    assert CliRunner().invoke(evenlead, ["new", str(folder)]).exit_code == 0
    return folder / "job.yaml"


def test_both_tables_mark_the_jobs_own_way(starter: Path) -> None:
    result = CliRunner().invoke(evenlead, ["compare", str(starter)], standalone_mode=False)
    assert (result.exception, result.return_value) == (None, 0)
    marked = [line for line in result.output.splitlines() if line.startswith("* ") and "as the job" not in line]
    assert [line[2:].split("  ")[0] for line in marked] == ["all leads alike", "bus bars, equal leads"]


def test_laws_of_the_comparison(starter: Path) -> None:
    """Making leads alike never takes less cable than leaving them as routed; equal resistance shares best."""
    import cutlist

    found = compare_job(*cutlist.read_job(starter), silent)
    assert not isinstance(found, Infeasible)
    ways: dict[str, Compared] = {c.name: c for c in found if c.kind == "policy"}
    assert all(c.lead_m >= ways["as routed"].lead_m - 1e-9 for c in ways.values())
    # leads are part of all cable, and the rest (jumpers, feeders) is the same whichever way they are matched
    assert len({round(c.cable_m - c.lead_m, 6) for name, c in ways.items() if not c.chosen}) == 1
    best = min(c.largest_over_smallest for c in ways.values())
    assert ways["equal resistance"].largest_over_smallest == pytest.approx(best, abs=1e-6)
    assert all(c.largest_over_smallest >= 1 for c in found)


def test_the_jobs_own_rows_say_what_the_plan_says(plan_of: Callable[[str], Plan]) -> None:
    """Same cables, same warmth, same load: shares and drop of the marked rows are the plan's."""
    plan = plan_of("starter")
    worst = max(plan.shares, key=lambda s: abs(s.departure))
    own = [c for c in plan.compared if c.chosen]
    assert [c.kind for c in own] == ["policy", "connection"]
    for way in own:
        assert way.drop == pytest.approx(max(load.drop for load in plan.loads), rel=1e-9)
        assert abs(way.worst_departure) == pytest.approx(abs(worst.departure), abs=1e-9)
        assert way.lead_m == pytest.approx(sum(lead.target_m for lead in plan.leads), rel=1e-9)


def test_inch_jobs_are_compared_in_inches() -> None:
    from cutlist.sheets.comparison_text import comparison_text

    ways = (Compared("policy", "all leads alike", True, 6.096, 7.62, None, 1.01, 0.005, "A", 0.012),)
    text = comparison_text(ways, "dollars", "in")
    assert "20 ft 0 in" in text
    assert "25 ft 0 in" in text
    assert " mm" not in text


def test_wrong_input_is_told(tmp_path: Path) -> None:
    result = CliRunner().invoke(evenlead, ["compare", str(tmp_path / "nothing.yaml")], standalone_mode=False)
    assert result.return_value == 2
    assert "nothing.yaml" in result.output
