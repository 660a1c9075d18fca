"""From a job file to a plan, for the commands that print some part of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cutlist.cli.asked import asked_job
from cutlist.cli.progress import shown_progress

if TYPE_CHECKING:
    from cutlist.plan_types import Plan


def made_plan(job_file: Path, units: str | None = None) -> Plan | int:
    """The plan; or, with the reason told on standard error, exit status 2 (wrong input) or 3 (no feasible plan)."""
    asked = asked_job(job_file)
    if isinstance(asked, int):
        return asked
    job, stock = asked
    if units:
        job = replace(job, units=units)

    from cutlist.plan import make_plan
    from cutlist.plan_types import Infeasible
    from cutlist.stock.cut_plan import CannotCut

    try:
        with shown_progress() as progress:
            made = make_plan(job, stock, progress=progress)
    except CannotCut as cannot:
        for sentence in cannot.faults:
            click.echo(f"no plan: {sentence}", err=True)
        return 3
    if isinstance(made, Infeasible):
        short = f", {made.missing_m * 1000:.1f} mm short" if made.missing_m else ""
        at = f" at {made.obstacle}" if made.obstacle else ""
        click.echo(f"no plan: {made.cable}{at}{short}: {made.reason}", err=True)
        return 3
    return made
