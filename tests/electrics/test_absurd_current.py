"""A load no cable could carry still gets an answer: what fails, and by how much."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import cutlist
from cutlist.plan_types import Plan


def test_a_hundred_times_the_current_fails_its_limits_and_says_so(plan_of: Callable[[str], Plan]) -> None:
    """Law: what is fifty times a conductor's ampacity must fail on ampacity and on drop, whatever the temperature."""
    job, stock = plan_of("starter").job, plan_of("starter").stock
    (load,) = job.loads
    huge = replace(load, continuous_a=14_000.0, surge=None)
    plan = cutlist.make_plan(replace(job, loads=(huge,)), stock)
    assert isinstance(plan, Plan)
    assert {"ampacity", "voltage drop"} <= {f.rule for f in plan.failing}
