"""evenlead compare: what other ways of matching and connecting would give."""

from __future__ import annotations

from pathlib import Path

import click

from cutlist.cli.asked import asked_job
from cutlist.cli.progress import shown_progress


@click.command()
@click.argument("job_file", metavar="JOB", type=click.Path(path_type=Path))
def compare(job_file: Path) -> int:
    """Compare, for the batteries of JOB, ways of matching the leads and of connecting the strings.

    Metres, money, how unevenly the strings share and what the load loses: leads as routed, alike by pole, all alike,
    alike by loop, alike in resistance; and a chain tapped at one end, diagonally or at the middle against bus bars.
    """
    asked = asked_job(job_file)
    if isinstance(asked, int):
        return asked
    job, stock = asked

    from cutlist.plan_types import Infeasible
    from cutlist.planning.comparisons import compare_job
    from cutlist.sheets.comparison_text import comparison_text

    with shown_progress() as progress:
        found = compare_job(job, stock, progress)
    if isinstance(found, Infeasible):
        click.echo(f"no plan: {found.cable}: {found.reason}", err=True)
        return 3
    click.echo(comparison_text(found, stock.currency, job.units))
    return 0
