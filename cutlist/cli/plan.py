"""evenlead plan: the main job."""

from __future__ import annotations

from pathlib import Path

import click

from cutlist.cli.progress import shown_progress


@click.command()
@click.argument("job_file", metavar="JOB", type=click.Path(path_type=Path))
@click.option(
    "--out",
    "folder",
    type=click.Path(path_type=Path),
    default=Path("plan"),
    show_default=True,
    help="Folder for the sheets; its old set is replaced only by a complete new one.",
)
@click.option("--units", type=click.Choice(["mm", "in"]), help="Units of the sheets; default: the job's own.")
@click.option("--json", "as_json", is_flag=True, help="Print the plan as JSON to standard output, write no sheets.")
def plan(job_file: Path, folder: Path, units: str | None, as_json: bool) -> int:
    """Plan JOB: runs, equal lengths, conductors, bus-bar places, cuts, order list.

    Writes plan.json, cut-sheet.pdf, cuts.csv, order.csv and plan.html.
    """
    from dataclasses import replace

    from cutlist.job.reader import read_job

    read = read_job(job_file)
    if read.faults or read.job is None or read.stock is None:
        for fault in read.faults:
            click.echo(fault.text() + "\n", err=True)
        click.echo(f"{len(read.faults)} fault(s): nothing was written", err=True)
        return 2
    job = replace(read.job, units=units) if units else read.job

    from cutlist.plan import make_plan
    from cutlist.plan_types import Infeasible
    from cutlist.stock.cut_plan import CannotCut

    try:
        with shown_progress() as progress:
            made = make_plan(job, read.stock, progress=progress)
    except CannotCut as fault:
        for sentence in fault.faults:
            click.echo(f"no plan: {sentence}", err=True)
        return 3
    if isinstance(made, Infeasible):
        short = f", {made.missing_m * 1000:.1f} mm short" if made.missing_m else ""
        at = f" at {made.obstacle}" if made.obstacle else ""
        click.echo(f"no plan: {made.cable}{at}{short}: {made.reason}", err=True)
        return 3

    if as_json:
        from cutlist.sheets.plan_json import plan_text

        click.echo(plan_text(made), nl=False)
    else:
        from cutlist.sheets.summary import summary_text
        from cutlist.sheets.write import write_set

        try:
            with shown_progress() as progress:
                progress("writing the sheets")
                write_set(made, folder)
        except OSError as fault:
            click.echo(f"{folder}: {fault}", err=True)
            return 2
        click.echo(summary_text(made))
        click.echo(f"written to {folder}")
    return 1 if made.failing else 0
