"""evenlead: equal leads for battery banks, from a job file to a plan people can cut from.

>>> import cutlist
>>> job, stock = cutlist.read_job("examples/fen-station/job.yaml")
>>> plan = cutlist.make_plan(job, stock)
>>> len({lead.cuts[0].length_um for lead in plan.leads})
1
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from cutlist.bank.job import Job
    from cutlist.bank.stock import Stock
    from cutlist.plan_types import Infeasible, Plan

__all__ = ["make_plan", "read_job"]


def read_job(path: str | Path) -> tuple[Job, Stock]:
    """The job and the stock it names. Raises ValueError with every fault of the two files, laid out for reading."""
    from cutlist.job.reader import read_job as read

    found = read(Path(path))
    if found.faults or found.job is None or found.stock is None:
        raise ValueError("\n\n".join(fault.text() for fault in found.faults))
    return found.job, found.stock


def make_plan(job: Job, stock: Stock, **options: Any) -> Plan | Infeasible:
    """The whole plan; see `cutlist.plan.make_plan`."""
    from cutlist.plan import make_plan as plan

    return plan(job, stock, **options)
