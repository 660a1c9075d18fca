"""Pairs of bus-bar places tried: the cheapest that can be built."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.layout.cable_ends import BarEnd, CableTask
from cutlist.place_types import FaceCost, LeastDrop, PlaceLandscape, PlaceProof, PlaceSaving, PlaceTried
from cutlist.plan_types import Infeasible
from cutlist.planning.build import Built, build
from cutlist.planning.built_places import cost_built, proof_of, units_built
from cutlist.planning.grid_places import MOST_BUILT, best_of_grid, rank, tried_at
from cutlist.planning.place_rules import HAIR_M, longest_run_of
from cutlist.planning.place_views import least_drop_of, views_of
from cutlist.planning.routed_places import better_routed
from cutlist.planning.scrap_places import less_scrap_built
from cutlist.planning.searched_places import (
    LEADS,
    Missed,
    Pair,
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
        attempt = tried_at(job, pair.places, built)
        if isinstance(built, Built) and not attempt.why_not:
            # as the bound is priced, to be held against it
            attempt = replace(attempt, cost=cost_built(searched, built))
        if isinstance(built, Built) and (not attempt.why_not or least_drop):
            # where the drop limit holds nowhere, the place at which it is missed least is built all the same
            fault = _fault_as_laid(job, built, searched.over_m)
            if not fault:
                chosen = built
            elif not attempt.why_not:
                cramped.append(built)
                attempt = replace(attempt, why_not=fault)
        tried.append(attempt)
        missed.append(_missed(job, tasks, pair, built))
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
        other = build(job, stock, tasks, pair.places, progress, pair.studs, explain=False)
        attempt = tried_at(job, pair.places, other)
        if isinstance(other, Built) and not attempt.why_not:
            attempt = replace(attempt, cost=cost_built(searched, other))
            attempt = replace(attempt, why_not=_fault_as_laid(job, other, searched.over_m))
        tried.append(attempt)
        cost = units_built(searched.question, other) if isinstance(other, Built) and not attempt.why_not else None
        if isinstance(other, Built) and cost is not None and cost < units:
            built, units = other, cost
    return built, tuple(tried)


def _missed(job: Job, tasks: Sequence[CableTask], pair: Pair, built: Built | Infeasible) -> Missed:
    if isinstance(built, Infeasible):
        return Missed(pair)
    return Missed(pair, _crowded(tasks, built), _too_long(job, built))


def _fault_as_laid(job: Job, built: Built, over_m: float) -> str:
    """Why these places are no good though every run was found; "" where they are. `over_m`: limits on runs hold
    nowhere, and were let out by so much."""
    if built.laid.not_laid:
        return "a lead's surplus finds no room here"
    return "a cable as it is laid is longer than the job allows" if not over_m and _too_long(job, built) else ""


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
