"""evenlead plan: the main job."""

from __future__ import annotations

from pathlib import Path

import click

from cutlist.cli.folder import folder_fault, write_fault
from cutlist.cli.made import made_plan
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

    \b
    Writes into the folder:
      plan.html       the whole plan as one page
      plan.json       the same for other programs; evenlead reads it back
      cut-sheet.pdf   for who cuts and lays, with cuts.csv for a spreadsheet
      labels.pdf      for both ends of every piece
      order.pdf       for who buys, with order.csv and order.xlsx
    Exit status: 0 every limit is met; 1 one is not; 2 wrong input; 3 no plan.
    """
    fault = None if as_json else folder_fault(folder, "--out DIR")
    if fault is not None:
        click.echo(fault, err=True)
        return 2
    made = made_plan(job_file, units)
    if isinstance(made, int):
        return made
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
        except OSError as lost:
            click.echo(write_fault(folder, lost, "--out DIR"), err=True)
            return 2
        click.echo(summary_text(made))
        click.echo(f"written to {folder}")
    return 1 if made.failing else 0
