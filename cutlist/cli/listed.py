"""From the files that the cutting commands name to what they are about; faults are told on standard error."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cutlist.findings import how_many

if TYPE_CHECKING:
    from cutlist.bank.stock import Stock
    from cutlist.job.faults import Fault
    from cutlist.stock.cut_list import CutList, JobPieces


def tell(faults: Sequence[Fault]) -> int:
    """Say all faults; the exit status."""
    from cutlist.job.faults import faults_text

    click.echo(faults_text(tuple(faults)), err=True)
    click.echo(f"\n{how_many(len(faults), 'fault')}: nothing was written", err=True)
    return 2


def listed_pieces(path: Path, stock: Stock | None) -> tuple[tuple[JobPieces, ...], tuple[Fault, ...]] | int:
    """The jobs in a list of pieces, a plan.json or cuts.json, or a job file, which is planned; or an exit status."""
    if path.suffix.casefold() == ".json":
        from cutlist.job.plan_files import read_cuts

        found = read_cuts(path)
        return ((found.cuts.jobs if found.cuts else ()), found.faults)
    if _is_job(path):
        from cutlist.cli.made import made_plan
        from cutlist.job.plan_files import cut_list_of
        from cutlist.sheets.plan_json import plan_text

        made = made_plan(path)
        return made if isinstance(made, int) else (cut_list_of(json.loads(plan_text(made))).jobs, ())
    from cutlist.job.piece_lists import read_pieces

    read = read_pieces(path, stock)
    return ((read.job,) if read.job else ()), read.faults


def _is_job(path: Path) -> bool:
    """A job file says what its batteries are; no other file does."""
    if path.suffix.casefold() not in (".yaml", ".yml"):
        return False
    from cutlist.job.files import read_page

    text, _ = read_page(path, "file")
    return any(line.startswith(("batteries:", "battery types:")) for line in (text or "").splitlines())


def listed_cuts(path: Path) -> CutList | int:
    """The cut list in a plan.json or cuts.json; or, with its faults told, an exit status."""
    from cutlist.job.plan_files import read_cuts

    found = read_cuts(path)
    return found.cuts if found.cuts is not None else tell(found.faults)
