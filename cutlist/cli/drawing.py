"""evenlead drawing: the plan for other drawing programs."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.argument("job_file", metavar="JOB", type=click.Path(path_type=Path))
@click.option(
    "--out",
    "folder",
    type=click.Path(path_type=Path),
    default=Path("drawing"),
    show_default=True,
    help="Folder for the drawings; an old set is replaced only by a complete new one.",
)
@click.option("--units", type=click.Choice(["mm", "in"]), help="Units of the dimensions; default: the job's own.")
def drawing(job_file: Path, folder: Path, units: str | None) -> int:
    """Draw the plan of JOB for other drawing programs.

    Writes drawing.dxf (everything in space, plan and two elevations; millimetres) and plan.svg, front-elevation.svg,
    side-elevation.svg to scale.
    """
    from cutlist.cli.folder import folder_fault, write_fault
    from cutlist.cli.made import made_plan

    fault = folder_fault(folder, "--out DIR")
    if fault is not None:
        click.echo(fault, err=True)
        return 2
    plan = made_plan(job_file, units)
    if isinstance(plan, int):
        return plan

    from cutlist.sheets.write import write_drawings

    try:
        names = write_drawings(plan, folder)
    except OSError as lost:
        click.echo(write_fault(folder, lost, "--out DIR"), err=True)
        return 2
    click.echo(f"{', '.join(names)} written to {folder}")
    return 1 if plan.failing else 0
