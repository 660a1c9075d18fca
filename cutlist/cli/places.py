"""evenlead places: what other places of the bus bars would cost."""

from __future__ import annotations

from pathlib import Path

import click

from cutlist.cli.asked import asked_job
from cutlist.cli.progress import shown_progress


@click.command()
@click.argument("job_file", metavar="JOB", type=click.Path(path_type=Path))
@click.option("--longer", multiple=True, metavar='"20 mm"', help="And if every run turned out so much longer.")
@click.option("--csv", "table", type=click.Path(path_type=Path), help="Write the map over each face to this file.")
@click.option(
    "--out", "folder", type=click.Path(path_type=Path), help="Folder for every table (CSV) and a picture of every face."
)
def places(job_file: Path, longer: tuple[str, ...], table: Path | None, folder: Path | None) -> int:
    """Where the bus bars of JOB could go: the best different places, small moves, cost against drop and share."""
    from cutlist.cli.folder import folder_fault, write_fault
    from cutlist.job.questions import read_longer

    longer_m, wrong = read_longer(longer)
    asked = asked_job(job_file, wrong)
    if isinstance(asked, int):
        return asked
    job, stock = asked
    stopped = folder_fault(folder, "--out DIR") if folder is not None else None
    if stopped is not None:
        click.echo(stopped, err=True)
        return 2

    from cutlist.planning.landscapes import job_landscape
    from cutlist.planning.place_views import costs_on_faces
    from cutlist.sheets.landscape_text import landscape_csv, landscape_files, landscape_text
    from cutlist.sheets.swap import swap_in

    with shown_progress() as progress:
        found = job_landscape(job, stock, progress, longer_m)
    if isinstance(found, str):
        click.echo(f"no map of places: {found}", err=True)
        return 3
    try:
        if table is not None:
            table.write_text(landscape_csv(found.map), encoding="utf-8", newline="")
        if folder is not None:
            files = landscape_files(found, job, costs_on_faces(job, found.searched), stock.currency)
            swap_in(files, folder)
    except OSError as lost:
        click.echo(write_fault(folder or table or Path(), lost, "--out DIR or --csv FILE"), err=True)
        return 2
    click.echo(landscape_text(found, job.units, stock.currency))
    if folder is not None:
        click.echo(f"\nwritten to {folder}")
    return 0
