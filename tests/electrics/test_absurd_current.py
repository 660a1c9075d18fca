"""A load no cable could carry still gets an answer: what fails, and by how much."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cutlist
from cutlist.plan_types import Plan

FEN = Path(__file__).parent.parent.parent / "examples" / "fen-station" / "job.yaml"


def test_a_hundred_times_the_current_fails_its_limits_and_says_so() -> None:
    """Law: what is fifty times a conductor's ampacity must fail on ampacity and on drop, whatever the temperature."""
    job, stock = cutlist.read_job(FEN)
    (load,) = job.loads
    huge = replace(load, continuous_a=14_000.0, surge=None)
    plan = cutlist.make_plan(replace(job, loads=(huge,)), stock)
    assert isinstance(plan, Plan)
    assert {"ampacity", "voltage drop"} <= {f.rule for f in plan.failing}
