"""evenlead places: what other places of the bus bars would cost."""

from __future__ import annotations

from pathlib import Path

import click

from cutlist.cli.progress import shown_progress


@click.command()
@click.argument("job_file", metavar="JOB", type=click.Path(path_type=Path))
@click.option("--csv", "table", type=click.Path(path_type=Path), help="Write the map over each face to this file.")
def places(job_file: Path, table: Path | None) -> int:
    """Where the bus bars of JOB could go: the best different places, small moves, cost against drop."""
    from cutlist.job.reader import read_job

    read = read_job(job_file)
    if read.faults or read.job is None or read.stock is None:
        for fault in read.faults:
            click.echo(fault.text() + "\n", err=True)
        click.echo(f"{len(read.faults)} fault(s)", err=True)
        return 2

    from cutlist.planning.landscapes import job_landscape
    from cutlist.sheets.landscape_text import landscape_csv, landscape_text

    with shown_progress() as progress:
        found = job_landscape(read.job, read.stock, progress)
    if isinstance(found, str):
        click.echo(f"no map of places: {found}", err=True)
        return 3
    _, around = found
    if table is not None:
        try:
            table.write_text(landscape_csv(around), encoding="utf-8", newline="")
        except OSError as fault:
            click.echo(f"{table}: {fault}", err=True)
            return 2
    click.echo(landscape_text(around, read.job.units, read.stock.currency))
    return 0
