"""The leads of strings still to come: the studs kept for them, and how long their runs will be."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np

from cutlist.bank.bus_bars import BarPlace, BusBar
from cutlist.bank.cables import Conductor
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.layout.assignment import least_assignment
from cutlist.layout.cable_ends import Stud, bar_studs, stud_of
from cutlist.layout.matching import Measured
from cutlist.layout.run_lengths import Joined, lugs_m, run_requests, shortest_runs
from cutlist.layout.stud_fits import Taking, studs_for
from cutlist.layout.studs import TooFewStuds
from geometry.runs import NoRun
from geometry.space import Space


def later_cables(
    job: Job,
    stock: Stock,
    places: Mapping[str, BarPlace],
    cables: Sequence[Joined],
    conductor: Conductor,
    chosen: Mapping[tuple[str, str], int] | None = None,
) -> tuple[Joined, ...]:
    """The leads that the later strings named will have: on the studs `chosen`, else on the nearest that are free.

    Of unlike studs only on those that take a lug of the leads' conductor. A stud that carries a lug already is taken
    only when none is free. Raises TooFewStuds.
    """
    found: list[Joined] = []
    for bar in (job.positive_bar, job.negative_bar):
        ends = [stud_of(later.positive if bar.pole == "positive" else later.negative) for later in job.later]
        names = [f"{later.name} {bar.pole}" for later in job.later]
        studs = bar_studs(bar, places[bar.name])
        lugs = Counter(end.index for cable in cables for end in (cable.start, cable.finish) if end.bar == bar.name)
        taking = studs_for(stock, bar, conductor.name)
        kept = [chosen[name, bar.name] for name in names if (name, bar.name) in chosen] if chosen is not None else []
        if len(kept) == len(names) and (not bar.unlike or _may_stand(kept, taking, lugs, bar.stack_limit)):
            on_bar = [studs[stud] for stud in kept]
        else:
            on_bar = _nearest_free(bar, studs, lugs, ends, taking)
        found += [
            Joined(name, "lead", bar.pole, later.name, end, stud)
            for name, later, end, stud in zip(names, job.later, ends, on_bar, strict=True)
        ]
    return tuple(found)


def _may_stand(kept: Sequence[int], taking: Taking, lugs: Mapping[int, int], stack_limit: int) -> bool:
    """Whether leads find room on these studs, and lugs that fit: where others were chosen for today's cables."""
    more = Counter(kept)
    return all(
        (taking is None or stud in taking) and lugs.get(stud, 0) + number <= stack_limit
        for stud, number in more.items()
    )


def _nearest_free(
    bar: BusBar, studs: Sequence[Stud], lugs: Mapping[int, int], ends: Sequence[Stud], taking: Taking
) -> list[Stud]:
    open_ = [stud for stud in studs if taking is None or stud.index in taking]
    slots = [(layer, stud) for stud in open_ for layer in range(lugs.get(stud.index, 0), bar.stack_limit)]
    if len(slots) < len(ends):
        raise TooFewStuds(f"{bar.name}: {len(ends)} later strings, but room for {len(slots)} lugs")
    far = np.array([end.point for end in ends]).reshape(-1, 1, 3)
    apart_m = np.linalg.norm(far - np.array([stud.point for _, stud in slots])[None], axis=2)
    # a second lug on a stud costs more than any distance
    layers = np.array([layer for layer, _ in slots]) * (apart_m.max(initial=0.0) * len(ends) + 1.0)
    return [slots[column][1] for column in least_assignment(apart_m + layers[None])]


def later_measured(
    job: Job, stock: Stock, space: Space, leads: Sequence[Joined], conductor: Conductor
) -> tuple[Measured, ...] | NoRun:
    """The leads as their shortest runs have them, of this conductor; or the one that has none, and why."""
    requests = run_requests(job, stock, leads, {"lead": conductor})
    found = []
    for lead, run in zip(leads, shortest_runs(job, space, requests), strict=True):
        if isinstance(run, NoRun):
            return run
        found.append(Measured(lead.name, "lead", lead.pole, lead.string, run.length_m, lugs_m(stock, lead, conductor)))
    return tuple(found)
