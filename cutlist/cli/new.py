"""evenlead new: a commented job to start from."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
def new(folder: Path) -> int:
    """Write a commented job.yaml and stock.yaml into DIR. They plan as they are; nothing is overwritten."""
    from cutlist.job.starter import write_starter

    try:
        paths = write_starter(folder)
    except OSError as fault:
        reason = fault if fault.strerror is None else f"{folder}: {fault.strerror}"
        click.echo(str(reason), err=True)
        return 2
    for path in paths:
        click.echo(f"wrote {path}")
    click.echo(f"next: evenlead plan {paths[0]} --out {folder / 'plan'}")
    return 0
