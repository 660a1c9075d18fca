"""What other places of the bus bars of a job would cost."""

from __future__ import annotations

from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.layout.cable_ends import cable_tasks
from cutlist.layout.landscape import Landscape, landscape
from cutlist.planning.grouping import regrouped
from cutlist.planning.searched_places import Searched, searched_places
from cutlist.progress import Progress

STEP_M = 0.1  # between the places of the map


def job_landscape(job: Job, stock: Stock, progress: Progress) -> tuple[Searched, Landscape] | str:
    """Or why there is none. It speaks of run-length bounds: taut ways past the obstacles, without their bends."""
    job, _ = regrouped(job, stock)
    searched = searched_places(job, stock, cable_tasks(job), progress)
    if isinstance(searched, str):
        return searched
    if searched.found.best is None:
        return searched.found.why_not
    progress("other places")
    return searched, landscape(searched.question.problem, searched.found, step_m=STEP_M, costs=searched.costs)
