"""The bus bars of a job on faces: searched together, never dearer than least cable on a grid, bounded from below."""

from __future__ import annotations

from pathlib import Path

import pytest

import cutlist
from cutlist.layout.cable_ends import cable_tasks
from cutlist.layout.place_check import _answer_faults
from cutlist.planning.build import Built
from cutlist.planning.places import _best_of_grid, best_build
from cutlist.planning.searched_places import Searched, proof_of, searched_places

TENDER = Path(__file__).parent.parent.parent / "examples" / "dredge-tender" / "job.yaml"


def silent(_: str) -> None:
    return None


@pytest.fixture(scope="module")
def searched() -> Searched:
    job, stock = cutlist.read_job(TENDER)
    found = searched_places(job, stock, cable_tasks(job), silent)
    assert isinstance(found, Searched)
    return found


def test_the_answer_keeps_every_rule(searched: Searched) -> None:
    """By layout/place_check.py, which works everything out again."""
    assert searched.found.best is not None
    assert list(_answer_faults(searched.question.problem, searched.found.best)) == []


def test_never_dearer_than_least_cable_on_a_grid_and_never_below_the_bound(searched: Searched) -> None:
    """Two methods for one question, priced alike: the bound holds for both, and the search is no dearer."""
    job, stock = cutlist.read_job(TENDER)
    tasks = cable_tasks(job)
    best = best_build(job, stock, tasks, silent)
    grid = _best_of_grid(job, stock, tasks, silent).built
    assert isinstance(grid, Built)
    of_grid = proof_of(searched, grid)
    assert best.proof.cost is not None
    assert best.proof.least_cost is not None
    assert of_grid.cost is not None
    assert best.proof.least_cost <= best.proof.cost <= of_grid.cost
    assert best.proof.gap is not None
    assert best.proof.gap < 0.01
