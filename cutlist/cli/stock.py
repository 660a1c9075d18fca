"""evenlead stock: the stock file after the work."""

from __future__ import annotations

from pathlib import Path

import click

from cutlist.cli.listed import listed_cuts, tell


@click.group()
def stock() -> None:
    """What is on hand: take from it what a plan uses."""


@stock.command()
@click.argument("plan_file", metavar="PLAN", type=click.Path(path_type=Path))
@click.argument("stock_file", metavar="STOCK", type=click.Path(path_type=Path))
@click.option("--yes", is_flag=True, help="Do not ask.")
def take(plan_file: Path, stock_file: Path, yes: bool) -> int:
    """Take what PLAN (a plan.json or cuts.json) uses from the STOCK file, once all of it is cut.

    Remnants get shorter or go, rests that are kept come in under the label on the cut sheet, lugs, fuses and sundries
    are counted down. The change is shown first; comments and order stay; the old file is kept as a backup. Refused
    when the stock is not what the plan was made from: so nothing is taken twice.

    \b
    Exit status: 0 taken, or nothing to take; 1 not taken, as answered; 2 the input is wrong.
    """
    from cutlist.job.stock_taken import taking, write_taking

    cuts = listed_cuts(plan_file)
    if isinstance(cuts, int):
        return cuts
    found, faults = taking(cuts, stock_file)
    if found is None:
        return tell(faults)
    if found.old == found.new:
        click.echo("nothing on hand changes by this plan")
        return 0
    click.echo(found.difference())
    if not yes and not click.confirm("\nWrite this to the stock file?"):
        click.echo("nothing was changed")
        return 1
    try:
        backup = write_taking(found)
    except OSError as lost:
        click.echo(f"{stock_file}: {lost.strerror or lost}\nmend: look at its folder's permissions", err=True)
        return 2
    click.echo(f"{stock_file} written; as it was: {backup}")
    return 0
