"""The job a command was asked about, or every fault in what was asked, told on standard error."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cutlist.findings import how_many

if TYPE_CHECKING:
    from cutlist.bank.job import Job
    from cutlist.bank.stock import Stock


def asked_job(job_file: Path, wrong: Sequence[str] = ()) -> tuple[Job, Stock] | int:
    """The job and its stock; or exit status 2. `wrong`: faults in the options, told with those of the file."""
    from cutlist.job.reader import read_job

    read = read_job(job_file)
    faults = [*(fault.text() for fault in read.faults), *wrong]
    if not faults and read.job is not None and read.stock is not None:
        return read.job, read.stock
    for text in faults:
        click.echo(text + "\n", err=True)
    click.echo(f"{how_many(len(faults), 'fault')}: nothing was written", err=True)
    return 2
