"""The same batteries with their leads matched, or their strings connected, in other ways: what each would give."""

from __future__ import annotations

from collections.abc import Mapping

from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.comparison import compare_connections
from cutlist.electrics.policies import compare_policies
from cutlist.electrics.protection import protect
from cutlist.layout.cable_ends import cable_tasks
from cutlist.plan_types import Compared, Infeasible
from cutlist.planning.build import Built
from cutlist.planning.grouping import regrouped
from cutlist.planning.places import best_build
from cutlist.planning.wires import cable_specs
from cutlist.progress import Progress


def compare_job(job: Job, stock: Stock, progress: Progress) -> tuple[Compared, ...] | Infeasible:
    """The job planned as far as its runs, then compared. Shortest runs are the job's own, at its best places."""
    progress("placing bus bars")
    job, _ = regrouped(job, stock)
    built = best_build(job, stock, cable_tasks(job), progress).built
    if isinstance(built, Infeasible):
        return built
    progress("comparing")
    return comparisons(built.job, stock, built, protect(built.job, stock, built.specs).string_fuses)


def comparisons(job: Job, stock: Stock, built: Built, fuses: Mapping[str, Fuse]) -> tuple[Compared, ...]:
    """Policies, then connections; empty for one string, which shares with none, and for a bank that feeds nothing."""
    if len(job.strings) < 2 or all(load.charger for load in job.loads):
        return ()
    routed_m = {run.name: run.length_m for run in built.laid.shortest}
    curves = {run.name: run.curve for run in built.laid.shortest}
    routed = cable_specs(job, built.cables, built.conductors, routed_m, curves)
    # the job's own way is compared as it will be cut and laid, so that its row says what the plan says
    connection = {"as routed": "bus bars, leads as routed", "all leads alike": "bus bars, equal leads"}
    policy, chosen = job.policy.match, connection.get(job.policy.match, "")
    found = [
        Compared(
            kind="policy",
            name=p.policy,
            chosen=p.policy == policy,
            lead_m=p.lead_m,
            cable_m=p.cable_m,
            cost=p.cost,
            largest_over_smallest=p.largest_over_smallest,
            worst_departure=p.worst_departure,
            worst_string=p.worst_string,
            drop=p.worst_drop,
        )
        for p in compare_policies(job, stock, routed, fuses=fuses, laid={policy: built.specs})
    ]
    found += [
        Compared(
            kind="connection",
            name=c.name,
            chosen=c.name == chosen,
            lead_m=c.lead_m,
            cable_m=c.cable_m,
            cost=c.cost,
            largest_over_smallest=c.largest_over_smallest,
            worst_departure=c.worst_departure,
            worst_string=c.worst_string,
            drop=c.drop,
            drift=c.drift,
        )
        for c in compare_connections(job, stock, routed, fuses=fuses, laid={chosen: built.specs})
    ]
    return tuple(found)
