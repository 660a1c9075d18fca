"""Pairs of bus-bar places tried: the cheapest that can be built."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.layout.cable_ends import CableTask
from cutlist.place_types import FaceCost, LeastDrop, PlaceLandscape, PlaceProof, PlaceSaving, PlaceTried
from cutlist.plan_types import Infeasible
from cutlist.planning.as_laid import built_at, fault_as_laid, missed_at, told_at
from cutlist.planning.build import Built, build
from cutlist.planning.built_places import proof_of, units_built
from cutlist.planning.grid_places import MOST_BUILT, best_of_grid, rank, tried_at
from cutlist.planning.place_views import least_drop_of, views_of
from cutlist.planning.routed_places import better_routed
from cutlist.planning.scrap_places import less_scrap_built
from cutlist.planning.searched_places import (
    Missed,
    Searched,
    is_small,
    next_pair,
    searched_places,
    unreachable,
)
from cutlist.progress import Progress
from geometry.cores import beside

MUCH_OPEN = 0.01  # between what was built and its bound: then places are routed one by one; of small jobs always


@dataclass(frozen=True)
class BestBuild:
    built: Built | Infeasible
    tried: tuple[PlaceTried, ...]
    proof: PlaceProof
    face_costs: tuple[FaceCost, ...] = ()
    landscape: PlaceLandscape | None = None
    saving: PlaceSaving | None = None
    least_drop: LeastDrop | None = None
    over_m: float = 0.0  # limits on runs hold at no place: by how much they are missed at least, searched with bounds


def best_build(job: Job, stock: Stock, tasks: Sequence[CableTask], progress: Progress) -> BestBuild:
    """The places of least cost, built.

    On faces all is searched together and what is found is built; what cannot be searched so, or cannot be laid where
    the search puts it, is looked for on a grid. Places stated one by one are all built and compared by cost.
    """
    searched = searched_places(job, stock, tasks, progress)
    if isinstance(searched, str):
        found = best_of_grid(job, stock, tasks, progress)
        return BestBuild(found.built, found.tried, PlaceProof(False, f"not searched together: {searched}"))
    least_drop = least_drop_of(job, searched)
    views = beside(lambda: views_of(job, searched))
    tried: list[PlaceTried] = []
    missed: list[Missed] = []
    cramped: list[Built] = []
    chosen: Built | None = None
    while chosen is None and (pair := next_pair(job, stock, searched, missed)) is not None:
        progress(f"building place {len(tried) + 1}")
        # the feeders go between the bars, where there is least room: they are the first to find no way
        stopped = unreachable(job, stock, tasks, pair, searched)
        built = stopped or build(job, stock, tasks, pair.places, progress, pair.studs, explain=False)
        attempt = told_at(job, searched, pair.places, built)
        if isinstance(built, Built) and (not attempt.why_not or least_drop):
            # where the drop limit holds nowhere, the place at which it is missed least is built all the same
            fault = fault_as_laid(job, built, searched.over_m)
            if not fault:
                chosen = built
            elif not attempt.why_not:
                cramped.append(built)
                attempt = replace(attempt, why_not=fault)
        tried.append(attempt)
        missed.append(missed_at(job, tasks, pair, built))
    # no room for surplus at the best places, or cables too long: by hand it is better than what a grid would find
    chosen = chosen or min(cramped, key=rank, default=None)
    if chosen is not None and least_drop is None:
        least_waste = searched.question.problem.stock.rules.least_waste
        chosen, further = (less_scrap_built if least_waste else _cheaper_routed)(
            job, stock, tasks, searched, chosen, progress
        )
        tried += further
    if chosen is not None:
        if least_drop is not None and least_drop.circuit == "in normal use":
            least_drop = replace(least_drop, drop=tried_at(job, chosen.places, chosen).drop)
        seen = views()
        proof = proof_of(searched, chosen, seen.faults)
        return BestBuild(
            chosen, tuple(tried), proof, seen.face_costs, seen.landscape, seen.saving, least_drop, searched.over_m
        )
    found = best_of_grid(job, stock, tasks, progress)
    words = "what the joint search found could not be built; least cable on a grid instead"
    tried += found.tried
    return BestBuild(found.built, tuple(tried), PlaceProof(False, words), views().face_costs, least_drop=least_drop)


def _cheaper_routed(
    job: Job, stock: Stock, tasks: Sequence[CableTask], searched: Searched, built: Built, progress: Progress
) -> tuple[Built, tuple[PlaceTried, ...]]:
    """What was built, or what routed runs show to be cheaper, where the bound leaves much open; and what was tried."""
    units = units_built(searched.question, built)
    certificate = searched.found.certificate
    much = 0.0 if is_small(searched.question.problem) else MUCH_OPEN
    if units is None or certificate is None or units * (1 - much) <= certificate.bound:
        return built, ()
    tried: list[PlaceTried] = []
    for routed, pair in better_routed(job, stock, tasks, searched, built, units, progress)[:MOST_BUILT]:
        if routed >= units:
            break
        progress("building the place that routes best")
        other, attempt = built_at(job, stock, tasks, searched, pair, progress)
        tried.append(attempt)
        cost = None if other is None else units_built(searched.question, other)
        if other is not None and cost is not None and cost < units:
            built, units = other, cost
    return built, tuple(tried)
