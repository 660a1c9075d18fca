"""A pair of places built, and what is wrong with it as its cables are laid."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from cutlist.bank.bus_bars import BarPlace
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.layout.cable_ends import BarEnd, CableTask
from cutlist.place_types import PlaceTried
from cutlist.plan_types import Infeasible
from cutlist.planning.build import Built, build
from cutlist.planning.built_places import cost_built
from cutlist.planning.grid_places import tried_at
from cutlist.planning.place_rules import HAIR_M, longest_run_of
from cutlist.planning.searched_places import LEADS, Missed, Pair, Searched
from cutlist.progress import Progress


def built_at(
    job: Job, stock: Stock, tasks: Sequence[CableTask], searched: Searched, pair: Pair, progress: Progress
) -> tuple[Built | None, PlaceTried]:
    """What stands at these places, and how it is told of; None where it cannot be built as it should be."""
    built = build(job, stock, tasks, pair.places, progress, pair.studs, explain=False)
    attempt = told_at(job, searched, pair.places, built)
    if isinstance(built, Built) and not attempt.why_not:
        attempt = replace(attempt, why_not=fault_as_laid(job, built, searched.over_m))
    return (built if isinstance(built, Built) and not attempt.why_not else None), attempt


def told_at(job: Job, searched: Searched, places: Mapping[str, BarPlace], built: Built | Infeasible) -> PlaceTried:
    """A pair of places tried, its cost as the bound is priced, to be held against it."""
    attempt = tried_at(job, places, built)
    if isinstance(built, Built) and not attempt.why_not:
        attempt = replace(attempt, cost=cost_built(searched, built))
    return attempt


def fault_as_laid(job: Job, built: Built, over_m: float) -> str:
    """Why these places are no good though every run was found; "" where they are. `over_m`: limits on runs hold
    nowhere, and were let out by so much."""
    if built.laid.not_laid:
        return "a lead's surplus finds no room here"
    return "a cable as it is laid is longer than the job allows" if not over_m and _too_long(job, built) else ""


def missed_at(job: Job, tasks: Sequence[CableTask], pair: Pair, built: Built | Infeasible) -> Missed:
    if isinstance(built, Infeasible):
        return Missed(pair)
    return Missed(pair, _crowded(tasks, built), _too_long(job, built))


def _too_long(job: Job, built: Built) -> dict[str, float]:
    """By how much cables are laid longer than allowed (m): each feeder by its name, the worst lead for all of them."""
    over_m: dict[str, float] = {}
    for cable in built.cables:
        limit_m = longest_run_of(job, cable.kind, cable.name)
        long_m = built.laid.lengths[cable.name].developed_m
        if limit_m is not None and long_m > limit_m + HAIR_M:
            name = LEADS if cable.kind == "lead" else cable.name
            over_m[name] = max(over_m.get(name, 0.0), long_m - limit_m)
    return over_m


def _crowded(tasks: Sequence[CableTask], built: Built) -> tuple[str, ...]:
    """The bus bars of the leads whose surplus found no room."""
    failed = {run.name for run in built.laid.not_laid}
    ends = [end for t in tasks if t.name in failed for end in (t.start, t.finish)]
    return tuple(sorted({end.bar for end in ends if isinstance(end, BarEnd)}))
