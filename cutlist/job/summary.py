"""A job in one line, to see that it was read as it was meant."""

from __future__ import annotations

from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.job.faults import printable


def job_line(job: Job, stock: Stock) -> str:
    """Name, bank, site and stock, counted."""
    lengths = sorted({len(string.batteries) for string in job.strings})
    of = " or ".join(str(n) for n in lengths)
    space = job.site.space
    parts = [
        f"{_count(len(job.strings), 'string')} of {of}, {job.voltage_v:g} V",
        _count(len(job.loads), "load"),
        _count(len(job.feeders), "feeder"),
        _count(len(space.obstacles), "solid"),
        _count(len(space.penetrations), "hole"),
        f"{_count(len(stock.conductors), 'conductor')} in stock",
    ]
    return f"{printable(job.name)}: no faults. {', '.join(parts)}."


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
