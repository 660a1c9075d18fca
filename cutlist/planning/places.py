"""Pairs of bus-bar places tried: the cheapest that can be built."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import islice

import numpy as np

from cutlist.bank.bus_bars import BarPlace, BusBar
from cutlist.bank.job import Job
from cutlist.bank.site import MountingFace
from cutlist.bank.stock import Stock
from cutlist.layout.cable_ends import BarEnd, CableTask, cross, has_fixed_end
from cutlist.layout.face_outlines import has_outlines, rows_off
from cutlist.layout.scene import space_with_bank
from cutlist.place_types import FaceCost, LeastDrop, PlaceLandscape, PlaceProof, PlaceSaving, PlaceTried
from cutlist.plan_types import Infeasible
from cutlist.planning.build import Built, build
from cutlist.planning.place_question import faces_for
from cutlist.planning.place_rules import HAIR_M, dry_place, longest_run_of, pair_allowed, separation_m, stated_places
from cutlist.planning.place_views import least_drop_of, views_of
from cutlist.planning.routed_places import better_routed
from cutlist.planning.searched_places import (
    LEADS,
    Missed,
    Pair,
    Searched,
    cost_built,
    is_small,
    next_pair,
    proof_of,
    searched_places,
    units_built,
    unreachable,
)
from cutlist.progress import Progress
from geometry.cores import beside
from geometry.fields import Field
from geometry.runs import CableShape, Point

COARSE_STEP_M = 0.100  # places on a face are looked at this far apart, then more finely round the best
FINE_STEP_M = 0.025
NEAR_M = 0.075
MUCH_OPEN = 0.01  # between what was built and its bound: then places are routed one by one; of small jobs always
MOST_BUILT = 4  # pairs built in full before the tool gives up


@dataclass(frozen=True)
class BestBuild:
    built: Built | Infeasible
    tried: tuple[PlaceTried, ...]
    proof: PlaceProof
    face_costs: tuple[FaceCost, ...] = ()
    landscape: PlaceLandscape | None = None
    saving: PlaceSaving | None = None
    least_drop: LeastDrop | None = None


def best_build(job: Job, stock: Stock, tasks: Sequence[CableTask], progress: Progress) -> BestBuild:
    """The places of least cost, built.

    On faces all is searched together and what is found is built; what cannot be searched so, or cannot be laid where
    the search puts it, is looked for on a grid. Places stated one by one are all built and compared by cost.
    """
    searched = searched_places(job, stock, tasks, progress)
    if isinstance(searched, str):
        found = _best_of_grid(job, stock, tasks, progress)
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
        attempt = _tried(job, pair.places, built)
        if isinstance(built, Built) and not attempt.why_not:
            # as the bound is priced, to be held against it
            attempt = replace(attempt, cost=cost_built(searched, built))
        if isinstance(built, Built) and (not attempt.why_not or least_drop):
            # where the drop limit holds nowhere, the place at which it is missed least is built all the same
            fault = _fault_as_laid(job, built)
            if not fault:
                chosen = built
            elif not attempt.why_not:
                cramped.append(built)
                attempt = replace(attempt, why_not=fault)
        tried.append(attempt)
        missed.append(_missed(job, tasks, pair, built))
    # no room for surplus at the best places, or cables too long: by hand it is better than what a grid would find
    chosen = chosen or min(cramped, key=_rank, default=None)
    if chosen is not None and least_drop is None:
        chosen, further = _cheaper_routed(job, stock, tasks, searched, chosen, progress)
        tried += further
    if chosen is not None:
        if least_drop is not None and least_drop.circuit == "in normal use":
            least_drop = replace(least_drop, drop=_tried(job, chosen.places, chosen).drop)
        seen = views()
        proof = proof_of(searched, chosen, seen.faults)
        return BestBuild(chosen, tuple(tried), proof, seen.face_costs, seen.landscape, seen.saving, least_drop)
    found = _best_of_grid(job, stock, tasks, progress)
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
    for routed, pair in better_routed(job, stock, tasks, searched, units, progress)[:MOST_BUILT]:
        if routed >= units:
            break
        progress("building the place that routes best")
        other = build(job, stock, tasks, pair.places, progress, pair.studs, explain=False)
        attempt = _tried(job, pair.places, other)
        if isinstance(other, Built) and not attempt.why_not:
            attempt = replace(attempt, cost=cost_built(searched, other))
            attempt = replace(attempt, why_not=_fault_as_laid(job, other))
        tried.append(attempt)
        cost = units_built(searched.question, other) if isinstance(other, Built) and not attempt.why_not else None
        if isinstance(other, Built) and cost is not None and cost < units:
            built, units = other, cost
    return built, tuple(tried)


def _missed(job: Job, tasks: Sequence[CableTask], pair: Pair, built: Built | Infeasible) -> Missed:
    if isinstance(built, Infeasible):
        return Missed(pair)
    return Missed(pair, _crowded(tasks, built), _too_long(job, built))


def _fault_as_laid(job: Job, built: Built) -> str:
    """Why these places are no good though every run was found; "" where they are."""
    if built.laid.not_laid:
        return "a lead's surplus finds no room here"
    return "a cable as it is laid is longer than the job allows" if _too_long(job, built) else ""


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


def _tried(job: Job, places: Mapping[str, BarPlace], built: Built | Infeasible) -> PlaceTried:
    positive, negative = places[job.positive_bar.name], places[job.negative_bar.name]
    if isinstance(built, Infeasible):
        return PlaceTried(positive, negative, None, math.nan, math.nan, built.reason)
    sized = built.sizing.chosen
    cost = sized.cost if sized is not None else None
    target_m = max((n.developed_m for n in built.laid.lengths.values()), default=0.0)
    why_not = "" if sized is not None else "no conductors in stock meet every limit here"
    drop = sized.worst_drop if sized is not None else min(s.worst_drop for s in built.sizing.tried)
    return PlaceTried(positive, negative, cost, target_m, drop, why_not)


@dataclass(frozen=True)
class _OfGrid:
    built: Built | Infeasible
    tried: tuple[PlaceTried, ...]


def _best_of_grid(job: Job, stock: Stock, tasks: Sequence[CableTask], progress: Progress) -> _OfGrid:
    """Places stated one by one are all built and compared by cost. Of a face's many the one with least cable is built;
    others, in order of cable, only if it cannot be laid or does not hold its limits.
    """
    ranked = ranked_pairs(job, stock, tasks)
    stated = all(bar.places for bar in job.bus_bars)
    best: Built | None = None
    reason: Infeasible | None = None
    tried: list[PlaceTried] = []
    for positive, negative in ranked if stated else islice(ranked, MOST_BUILT):
        progress(f"building place {len(tried) + 1}")
        places = {job.positive_bar.name: positive, job.negative_bar.name: negative}
        built = build(job, stock, tasks, places, progress)
        tried.append(_tried(job, places, built))
        if isinstance(built, Infeasible):
            reason = reason or built
            continue
        if best is None or _rank(built) < _rank(best):
            best = built
        if not stated and built.sizing.chosen is not None and not best.laid.not_laid:
            break
    if best is not None:
        return _OfGrid(best, tuple(tried))
    return _OfGrid(
        reason or Infeasible("bus bars", "the rules and what stands there leave no place for both of them", "", 0.0),
        tuple(tried),
    )


def _rank(built: Built) -> tuple[bool, bool, Decimal, int]:
    """Meets its limits, lays every surplus, costs least, uses least cable."""
    sized = built.sizing.chosen
    cost = sized.cost if sized is not None and sized.cost is not None else Decimal(0)
    metres = sum(length.cut_um for length in built.laid.lengths.values())
    return (sized is None, bool(built.laid.not_laid), cost, metres)


def ranked_pairs(job: Job, stock: Stock, tasks: Sequence[CableTask]) -> Iterator[tuple[BarPlace, BarPlace]]:
    """Every allowed pair whose bodies stay apart, least cable first; lengths are taut ways past the obstacles."""
    job = replace(job, site=replace(job.site, faces=faces_for(job, stock.conductors)))
    positive, negative = job.positive_bar, job.negative_bar
    lengths = _Lengths(job, stock, tasks)
    coarse = {bar.name: list(bar_places(job, bar, COARSE_STEP_M)) for bar in (positive, negative)}
    first = next(iter(_in_order(lengths, positive, coarse[positive.name], negative, coarse[negative.name])), None)
    if first is None:
        return
    if not (positive.places and negative.places):
        around = [_finer(job, bar, place) for bar, place in zip((positive, negative), first, strict=True)]
        yield next(iter(_in_order(lengths, positive, around[0], negative, around[1])), first)
    yield from _in_order(lengths, positive, coarse[positive.name], negative, coarse[negative.name])


def _in_order(
    lengths: _Lengths, positive: BusBar, ones: Sequence[BarPlace], negative: BusBar, others: Sequence[BarPlace]
) -> Iterator[tuple[BarPlace, BarPlace]]:
    one, other = lengths.of(positive, ones), lengths.of(negative, others)
    scored = sorted(
        (lengths.leads * max(a[0], b[0]) + a[1] + b[1], i, j) for i, a in enumerate(one) for j, b in enumerate(other)
    )
    some = False
    for metres, i, j in scored:
        if some and not math.isfinite(metres):
            return  # nothing reaches these; one such pair is enough for the router to say why
        if pair_allowed(lengths.job, ones[i], others[j], lengths.apart_m):
            some = True
            yield ones[i], others[j]


class _Lengths:
    """For places of a bar: the longest of its leads, and its feeders together (m)."""

    def __init__(self, job: Job, stock: Stock, tasks: Sequence[CableTask]) -> None:
        thinnest = min(stock.conductors, key=lambda c: (c.area_mm2, c.name))
        self.shape = CableShape(thinnest.outside_diameter_m / 2, job.policy.clearance_m, thinnest.bend_radius_m, 0.0)
        self.space = space_with_bank(job)
        self.job = job
        self.apart_m = separation_m(stock, job)
        self.leads = sum(1 for task in tasks if task.kind == "lead")
        self.ends: dict[str, list[tuple[str, Point]]] = {bar.name: [] for bar in job.bus_bars}
        for task in tasks:
            for end in (task.start, task.finish):
                if isinstance(end, BarEnd) and has_fixed_end(task):
                    self.ends[end.bar].append((task.kind, task.fixed_stud().point))
        self.fields: dict[str, Field] = {}

    def of(self, bar: BusBar, places: Sequence[BarPlace]) -> list[tuple[float, float]]:
        kinds = [kind for kind, _ in self.ends[bar.name]]
        if not kinds or not places:
            return [(0.0, 0.0)] * len(places)
        terminals = np.array([point for _, point in self.ends[bar.name]])
        field = self.fields.setdefault(bar.name, Field(self.space, self.shape, terminals))
        # a lug's breadth off the face, where the cable leaves the stud
        off_m = self.shape.standoff_m
        spots = np.array([np.add(place.centre, np.multiply(place.out, off_m)) for place in places])
        metres = field.lengths_m(spots)
        lead = np.array([kind == "lead" for kind in kinds])
        longest = metres[lead].max(axis=0, initial=0.0)
        return list(zip(longest.tolist(), metres[~lead].sum(axis=0).tolist(), strict=True))


def _finer(job: Job, bar: BusBar, near: BarPlace) -> list[BarPlace]:
    """Places of the fine grid within one coarse step of a place, on the same face and turned alike."""
    if bar.places:
        return [near]
    fine = bar_places(job, bar, FINE_STEP_M)
    return [
        place
        for place in fine
        if place.face == near.face and place.along == near.along and math.dist(place.centre, near.centre) <= NEAR_M
    ] or [near]


def bar_places(job: Job, bar: BusBar, step_m: float) -> Iterator[BarPlace]:
    """The places stated for this bar; on faces, a grid of those that the rules allow."""
    yield from stated_places(job, bar)
    for name in bar.faces:
        for turn in bar.turns:
            on_face = _on_face(bar, job.site.face(name), turn, step_m)
            yield from (place for place in on_face if dry_place(job, bar, place))


def _on_face(bar: BusBar, face: MountingFace, turn: int, step_m: float) -> Iterator[BarPlace]:
    out = cross(face.u, face.v)
    along = face.v if turn == 90 else face.u
    half_m = (bar.studs - 1) * bar.pitch_m / 2
    half_a, half_b = (0.0, half_m) if turn == 90 else (half_m, 0.0)
    for a in _steps(face.edge_m + half_a, face.width_m - face.edge_m - half_a, step_m):
        for b in _steps(face.edge_m + half_b, face.height_m - face.edge_m - half_b, step_m):
            if any(
                a0 - half_a < a < a1 + half_a and b0 - half_b < b < b1 + half_b for a0, b0, a1, b1 in face.forbidden
            ):
                continue
            if has_outlines(face) and rows_off(face, np.array([(a, b)]), (half_a, half_b))[0]:
                continue
            x, y, z = (o + a * u + b * v for o, u, v in zip(face.origin, face.u, face.v, strict=True))
            yield BarPlace((x, y, z), along, out, face.name)


def _steps(low: float, high: float, step_m: float) -> list[float]:
    if high < low - 1e-9:
        return []
    count = max(1, math.ceil((high - low) / step_m))
    return [low + (high - low) * i / count for i in range(count + 1)]
