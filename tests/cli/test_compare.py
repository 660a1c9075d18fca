"""evenlead compare, whole, on the starter job."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from cutlist.cli.main import evenlead
from cutlist.plan_types import Compared, Infeasible
from cutlist.planning.comparisons import compare_job


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

    found = compare_job(*cutlist.read_job(starter), lambda _: None)
    assert not isinstance(found, Infeasible)
    ways: dict[str, Compared] = {c.name: c for c in found if c.kind == "policy"}
    assert all(c.cable_m >= ways["as routed"].cable_m - 1e-9 for c in ways.values())
    best = min(c.largest_over_smallest for c in ways.values())
    assert ways["equal resistance"].largest_over_smallest == pytest.approx(best, abs=1e-6)
    assert all(c.largest_over_smallest >= 1 for c in found)


def test_wrong_input_is_told(tmp_path: Path) -> None:
    result = CliRunner().invoke(evenlead, ["compare", str(tmp_path / "nothing.yaml")], standalone_mode=False)
    assert result.return_value == 2
    assert "nothing.yaml" in result.output
