"""evenlead recut: a miscut or a short spool, and the rest planned anew."""

from __future__ import annotations

from pathlib import Path

import click

from cutlist.cli.cut import printed
from cutlist.cli.folder import folder_fault
from cutlist.cli.listed import listed_cuts, tell
from cutlist.cli.progress import shown_progress


@click.command()
@click.argument("plan_file", metavar="PLAN", type=click.Path(path_type=Path))
@click.option("--done", "done_file", type=click.Path(path_type=Path), help="cuts.csv with its column done filled in.")
@click.option("--cut", "cut_names", multiple=True, metavar="TAG", help="A piece that is cut as planned.")
@click.option("--miscut", "miscut_words", multiple=True, metavar="TAG=LENGTH", help="A piece, and what it came out at.")
@click.option("--short", "short_words", multiple=True, metavar="SPOOL=LENGTH", help="A spool, and what is left on it.")
@click.option("--out", "folder", type=click.Path(path_type=Path), help="Folder for the papers; else none are written.")
@click.option("--time-limit", "time_limit_s", type=float, default=10.0, show_default=True, help="Seconds to search.")
def recut(
    plan_file: Path,
    done_file: Path | None,
    cut_names: tuple[str, ...],
    miscut_words: tuple[str, ...],
    short_words: tuple[str, ...],
    folder: Path | None,
    time_limit_s: float,
) -> int:
    """Plan the rest of PLAN (a plan.json or cuts.json) anew after a miscut or a short spool, at the least extra cost.

    What is cut stays. A piece that came out wrong may serve as a shorter one. What the plan buys counts as bought.
    Ctrl-C while it searches: the best found so far, marked as not proved; once more: nothing is written.

    \b
    Exit status: 0 the rest can be cut; 2 the input is wrong; 3 the stock cannot yield the rest.
    """
    from cutlist.job.done_file import read_done, shorts_of, told_lengths
    from cutlist.sheets.recut_text import recut_text
    from cutlist.stock.cut_plan import CannotCut
    from cutlist.stock.recut import Miscut
    from cutlist.stock.recut import recut as plan_rest

    fault = folder_fault(folder, "--out DIR") if folder is not None else None
    if fault is not None:
        click.echo(fault, err=True)
        return 2
    before = listed_cuts(plan_file)
    if isinstance(before, int):
        return before
    done, miscuts, faults = read_done(done_file) if done_file is not None else ([], [], ())
    told, wrong = told_lengths("--miscut", miscut_words)
    shorts, more = told_lengths("--short", short_words)
    if faults or wrong or more:
        return tell([*faults, *wrong, *more])
    miscuts += [Miscut(name, length_um) for name, length_um in told]
    try:
        with shown_progress() as progress:
            found = plan_rest(
                before,
                [*done, *cut_names],
                miscuts,
                shorts_of(shorts),
                time_limit_s=time_limit_s,
                progress=progress,
                keep_on_interrupt=True,
            )
    except CannotCut as cannot:
        for sentence in cannot.faults:
            click.echo(f"no plan for the rest: {sentence}", err=True)
        return 3
    except ValueError as impossible:
        click.echo(f"{impossible}\nmend: the names are those of the cut sheet: tags, and labels of spools", err=True)
        return 2
    return printed(found.cuts, folder, False, recut_text(found))
