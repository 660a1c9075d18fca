"""evenlead what-if: a string out, a string back, a bad crimp, one string more."""

from __future__ import annotations

from pathlib import Path

import click

from cutlist.cli.asked import asked_job
from cutlist.cli.progress import shown_progress


@click.command("what-if")
@click.argument("job_file", metavar="JOB", type=click.Path(path_type=Path))
@click.option("--out", "out", multiple=True, metavar="STRING", help="Take this string out of service.")
@click.option(
    "--rejoin", multiple=True, metavar='"STRING = 40 %"', help="Close this string onto the others, charged so far."
)
@click.option("--others", default="80 %", show_default=True, metavar='"80 %"', help="How far the others are charged.")
@click.option(
    "--crimp", multiple=True, metavar='"CABLE = 2 mohm"', help="One bad crimp in this cable, with this much too much."
)
@click.option(
    "--add", multiple=True, metavar='"2.4 m, 2.1 m"', help="One string more; runs of its positive and negative lead."
)
def what_if(
    job_file: Path, out: tuple[str, ...], rejoin: tuple[str, ...], others: str, crimp: tuple[str, ...], add: tuple
) -> int:
    """Ask what would happen to the bank of JOB; every option may be given several times.

    Without options: each string out, each put back at 60 % charge among others at 80 %, a crimp of 1 milliohm too much
    in each positive lead, and one string more. Exit status: 0 every limit still holds; 1 one does not.
    """
    from cutlist.job.questions import read_questions

    questions, wrong = read_questions(out=out, rejoin=rejoin, others=others, crimp=crimp, add=add)
    asked = asked_job(job_file, wrong)
    if isinstance(asked, int):
        return asked
    job, stock = asked

    from cutlist.plan_types import Infeasible
    from cutlist.planning.questions import CannotAnswer, ask
    from cutlist.sheets.what_if_text import what_if_text

    try:
        with shown_progress() as progress:
            found = ask(job, stock, questions, progress)
    except CannotAnswer as fault:
        click.echo(f"what-if: {fault}", err=True)
        return 2
    if isinstance(found, Infeasible):
        click.echo(f"no plan: {found.cable}: {found.reason}", err=True)
        return 3
    click.echo(what_if_text(found, job.units))
    return 1 if found.failing else 0
