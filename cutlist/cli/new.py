"""evenlead new: a commented job to start from."""

from __future__ import annotations

from pathlib import Path

import click

from cutlist.cli.folder import folder_fault, write_fault


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
def new(folder: Path) -> int:
    """Write a commented job.yaml and stock.yaml into DIR. They plan as they are; nothing is overwritten."""
    from cutlist.job.starter import write_starter

    fault = folder_fault(folder, "evenlead new DIR")
    if fault is not None:
        click.echo(fault, err=True)
        return 2
    try:
        paths = write_starter(folder)
    except FileExistsError as there:
        click.echo(f"{there}\nmend: name another folder, or plan what is there", err=True)
        return 2
    except OSError as lost:
        click.echo(write_fault(folder, lost, "evenlead new DIR"), err=True)
        return 2
    for path in paths:
        click.echo(f"wrote {path}")
    click.echo(f"next: evenlead plan {paths[0]} --out {folder / 'plan'}")
    return 0
