"""evenlead cut: lengths that are known already, cut from what is on hand and what can be bought."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cutlist.cli.folder import folder_fault, write_fault
from cutlist.cli.listed import listed_pieces, tell
from cutlist.cli.progress import shown_progress

if TYPE_CHECKING:
    from cutlist.job.faults import Fault
    from cutlist.stock.cut_list import CutList, JobPieces


@click.command()
@click.argument("files", metavar="PIECES... STOCK", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--stock", "stock_file", type=click.Path(path_type=Path), help="The stock; every other file is a job.")
@click.option("--out", "folder", type=click.Path(path_type=Path), help="Folder for the papers; else none are written.")
@click.option("--units", type=click.Choice(["mm", "in"]), default="mm", show_default=True, help="Units of the papers.")
@click.option("--kerf", metavar="LENGTH", help="Lost at each cut, as '3 mm'; else as the stock has it.")
@click.option("--end-trim", metavar="LENGTH", help="Cut off each spool before its first piece.")
@click.option("--keep-above", metavar="LENGTH", help="A rest at least this long is kept.")
@click.option("--time-limit", "time_limit_s", type=float, default=10.0, show_default=True, help="Seconds to search.")
@click.option("--json", "as_json", is_flag=True, help="Print the cut list as JSON to standard output, no text.")
def cut(
    files: tuple[Path, ...],
    stock_file: Path | None,
    folder: Path | None,
    units: str,
    kerf: str | None,
    end_trim: str | None,
    keep_above: str | None,
    time_limit_s: float,
    as_json: bool,
) -> int:
    """Cut PIECES from STOCK at least cost: cutting order, order list, and how good it is.

    PIECES is a list in CSV or YAML (conductor, colour, length; name, count, stud A, stud B), a plan.json or a job.
    STOCK is a stock file, or a list in CSV (kind, conductor, colour, label, length; price, available, ...).
    With --stock all files are jobs: they are cut together, and what that saves is told.
    Ctrl-C while it searches: the best found so far, marked as not proved; once more: nothing is written.

    \b
    Exit status: 0 the pieces can be cut; 2 the input is wrong; 3 the stock cannot yield them.
    """
    from cutlist.job.stock_lists import cutting_rules, read_stock_list

    pieces_files = files if stock_file else files[:-1]
    if not pieces_files:
        click.echo("one file is named, and pieces and stock are wanted\nmend: evenlead cut PIECES STOCK", err=True)
        return 2
    if len(pieces_files) > 1 and not stock_file:
        click.echo("several jobs are cut together with --stock\nmend: evenlead cut JOB1 JOB2 --stock STOCK", err=True)
        return 2
    fault = folder_fault(folder, "--out DIR") if folder is not None else None
    if fault is not None:
        click.echo(fault, err=True)
        return 2
    read = read_stock_list(stock_file or files[-1])
    faults: list[Fault] = list(read.faults)
    rules, wrong = cutting_rules(read.stock, {"--kerf": kerf, "--end-trim": end_trim, "--keep-above": keep_above})
    faults += wrong
    jobs: list[JobPieces] = []
    for path in pieces_files:
        found = listed_pieces(path, read.stock)
        if isinstance(found, int):
            return found
        jobs += found[0]
        faults += found[1]
    if faults or read.stock is None:
        return tell(faults)
    stock = replace(read.stock, rules=rules)

    from cutlist.stock.cut_list import make_cut_list
    from cutlist.stock.cut_plan import CannotCut
    from cutlist.stock.pooling import pool

    said = ""
    searching: dict[str, Any] = {"time_limit_s": time_limit_s, "keep_on_interrupt": True}
    try:
        with shown_progress() as progress:
            if len(jobs) > 1:
                from cutlist.sheets.pooled_text import pooled_text

                name = " and ".join(job.name for job in jobs)
                pooled = pool(name, units, jobs, stock, progress=progress, **searching)
                made, said = pooled.together, pooled_text(pooled)
            else:
                made = make_cut_list(jobs[0].name, units, jobs, stock, progress=progress, **searching)
    except CannotCut as cannot:
        for sentence in cannot.faults:
            click.echo(f"no plan: {sentence}", err=True)
        return 3
    except ValueError as same_name:
        click.echo(f"{same_name}\nmend: name one of the jobs otherwise", err=True)
        return 2
    return printed(made, folder, as_json, said)


def printed(made: CutList, folder: Path | None, as_json: bool, said: str = "") -> int:
    """The papers into the folder, the text to the terminal; the exit status."""
    from cutlist.sheets.cut_list import cut_list_text
    from cutlist.sheets.plan_json import cuts_text
    from cutlist.sheets.write import write_cuts

    if folder is not None:
        try:
            write_cuts(made, folder)
        except OSError as lost:
            click.echo(write_fault(folder, lost, "--out DIR"), err=True)
            return 2
    if as_json:
        click.echo(cuts_text(made), nl=False)
        return 0
    click.echo(cut_list_text(made) + (f"\n\n{said}" if said else ""))
    if folder is not None:
        click.echo(f"\nwritten to {folder}")
    return 0
