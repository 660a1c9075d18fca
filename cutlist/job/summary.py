"""A job in one line, to see that it was read as it was meant."""

from __future__ import annotations

from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.findings import how_many
from cutlist.job.faults import printable


def job_line(job: Job, stock: Stock) -> str:
    """Name, bank, site and stock, counted."""
    lengths = sorted({len(string.batteries) for string in job.strings})
    of = " or ".join(str(n) for n in lengths)
    space = job.site.space
    parts = [
        f"{how_many(len(job.strings), 'string')} of {of}, {job.voltage_v:g} V",
        how_many(len(job.loads), "load"),
        how_many(len(job.feeders), "feeder"),
        how_many(len(space.obstacles), "solid"),
        how_many(len(space.penetrations), "hole"),
        f"{how_many(len(stock.conductors), 'conductor')} in stock",
    ]
    return f"{printable(job.name)}: no faults. {', '.join(parts)}."
