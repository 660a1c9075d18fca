"""Which cables may go on which studs of the bus bars, once the conductors are chosen."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from cutlist.bank.bus_bars import BusBar
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.quick_bank import Combination
from cutlist.layout.cable_ends import BarEnd, CableTask
from cutlist.layout.run_lengths import Joined
from cutlist.layout.stud_fits import fit_on, studs_for
from cutlist.layout.studs import Takes


def takes_of(job: Job, stock: Stock, lead: str, feeder: str) -> dict[str, Takes]:
    """By bus bar, and kind of cable, the studs on which its lugs go. Empty where every bar has like studs."""
    return {
        bar.name: {"lead": studs_for(stock, bar, lead), "feeder": studs_for(stock, bar, feeder)}
        for bar in job.bus_bars
        if bar.unlike
    }


def fits(job: Job, cables: Sequence[Joined], takes: Mapping[str, Takes]) -> bool:
    """Whether every cable lies on studs that take its lugs, and studs enough are left that take a later lead's."""
    for bar in (bar for bar in job.bus_bars if bar.name in takes):
        on = [(c.kind, end.index) for c in cables for end in (c.start, c.finish) if end.bar == bar.name]
        open_ = {kind: set(range(bar.studs)) if some is None else set(some) for kind, some in takes[bar.name].items()}
        if any(stud not in open_[kind] for kind, stud in on):
            return False
        if len(open_["lead"] - {stud for _, stud in on}) < bar.reserved_studs:
            return False
    return True


def open_studs(job: Job, stock: Stock, bar: BusBar, kind: str) -> set[int]:
    """The studs that take a lug of some conductor that the job allows for this kind of cable."""
    names = job.policy.conductors_lead if kind == "lead" else job.policy.conductors_feeder
    found: set[int] = set()
    for conductor in stock.conductors:
        if not names or conductor.name in names:
            taking = studs_for(stock, bar, conductor.name)
            found |= set(range(bar.studs)) if taking is None else set(taking)
    return found


def studs_suffice(job: Job, stock: Stock, tasks: Sequence[CableTask], combination: Combination) -> bool:
    """Whether the studs that take the lugs of these conductors are enough; like studs are counted elsewhere."""
    takes = takes_of(job, stock, combination.lead.name, combination.feeder.name)
    for bar in (bar for bar in job.bus_bars if bar.unlike):
        ends = Counter(
            t.kind for t in tasks if bar.name in {e.bar for e in (t.start, t.finish) if isinstance(e, BarEnd)}
        )
        fit = fit_on(bar, takes[bar.name]["lead"], takes[bar.name]["feeder"])
        if fit.lugs_needed(ends["lead"], ends["feeder"], 1, bar.stack_limit) is None:
            return False
    return True
