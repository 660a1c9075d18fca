"""evenlead check: read a job and its stock file, and say every fault of both."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.argument("job_file", metavar="JOB", type=click.Path(path_type=Path))
def check(job_file: Path) -> int:
    """Read JOB and the files it names and report every fault, without planning anything.

    Exit status: 0 no fault; 2 faults.
    """
    from cutlist.findings import how_many
    from cutlist.job.faults import faults_text
    from cutlist.job.reader import read_job
    from cutlist.job.summary import job_line

    read = read_job(job_file)
    if read.faults or read.job is None or read.stock is None:
        click.echo(faults_text(read.faults), err=True)
        click.echo(f"\n{how_many(len(read.faults), 'fault')}", err=True)
        return 2
    click.echo(job_line(read.job, read.stock))
    return 0
