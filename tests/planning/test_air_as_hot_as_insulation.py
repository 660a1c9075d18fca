"""Insulation that is as warm as it may get before any current flows carries none."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cutlist
from cutlist.plan_types import Infeasible

FEN = Path(__file__).parent.parent.parent / "examples" / "fen-station" / "job.yaml"


def test_no_plan_but_the_cable_and_the_mend() -> None:
    """105 degree insulation in air of 105 degrees: the square-root law gives an ampacity of nought."""
    job, stock = cutlist.read_job(FEN)
    hottest_c = max(c.insulation_c for c in stock.conductors)
    found = cutlist.make_plan(replace(job, ambient_c=hottest_c), stock)
    assert isinstance(found, Infeasible)
    assert "insulation" in found.reason
