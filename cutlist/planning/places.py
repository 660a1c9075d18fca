"""Pairs of bus-bar places tried: the cheapest that can be built."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from decimal import Decimal
from itertools import islice

from cutlist.bank.bus_bars import BarPlace, BusBar
from cutlist.bank.job import Job
from cutlist.bank.site import MountingFace
from cutlist.bank.stock import Stock
from cutlist.layout.cable_ends import CableTask, cross
from cutlist.plan_types import Infeasible, PlaceTried
from cutlist.planning.build import Built, Progress, build
from geometry.runs import Point

FACE_STEP_M = 0.050  # places on a face are looked at this far apart
MOST_BUILT = 4  # pairs built in full, the least straight-line cable first


def best_build(
    job: Job, stock: Stock, tasks: Sequence[CableTask], progress: Progress
) -> tuple[Built | Infeasible, tuple[PlaceTried, ...]]:
    """The pair whose cables cost least among those built in full, and all that were built.

    Pairs are ranked by straight distances; places stated one by one are all built, of a face's many the first few.
    """
    ranked = ranked_pairs(job, tasks)
    stated = all(bar.places for bar in job.bus_bars)
    best: Built | None = None
    reason: Infeasible | None = None
    tried: list[PlaceTried] = []
    for positive, negative in ranked if stated else islice(ranked, MOST_BUILT):
        progress(f"building place {len(tried) + 1}")
        built = build(job, stock, tasks, {job.positive_bar.name: positive, job.negative_bar.name: negative}, progress)
        if isinstance(built, Infeasible):
            reason = reason or built
            tried.append(PlaceTried(positive, negative, None, math.nan, math.nan, built.reason))
            continue
        sized = built.sizing.chosen
        cost = sized.cost if sized is not None else None
        target_m = max((n.developed_m for n in built.laid.lengths.values()), default=0.0)
        why_not = "" if sized is not None else "no conductors in stock meet every limit here"
        drop = sized.worst_drop if sized is not None else min(s.worst_drop for s in built.sizing.tried)
        tried.append(PlaceTried(positive, negative, cost, target_m, drop, why_not))
        if best is None or _rank(built) < _rank(best):
            best = built
    if best is not None:
        return best, tuple(tried)
    return reason or Infeasible("bus bars", "no place is allowed for them", "", 0.0), tuple(tried)


def _rank(built: Built) -> tuple[bool, bool, Decimal, int]:
    """Meets its limits, lays every surplus, costs least, uses least cable."""
    sized = built.sizing.chosen
    cost = sized.cost if sized is not None and sized.cost is not None else Decimal(0)
    metres = sum(length.cut_um for length in built.laid.lengths.values())
    return (sized is None, bool(built.laid.not_laid), cost, metres)


def ranked_pairs(job: Job, tasks: Sequence[CableTask]) -> Iterator[tuple[BarPlace, BarPlace]]:
    """Every allowed pair whose bodies stay apart, least straight-line cable first."""
    positive, negative = job.positive_bar, job.negative_bar
    places = {bar.name: list(bar_places(job, bar)) for bar in (positive, negative)}
    far: dict[str, list[Point]] = {positive.name: [], negative.name: []}
    leads: dict[str, list[Point]] = {positive.name: [], negative.name: []}
    for task in tasks:
        for end in (task.start, task.finish):
            bar = getattr(end, "bar", "")
            if bar in far and task.kind != "jumper" and end is not task.fixed_stud():
                (leads if task.kind == "lead" else far)[bar].append(task.fixed_stud().point)
    count = sum(len(points) for points in leads.values())

    def measures(bar: BusBar, place: BarPlace) -> tuple[float, float]:
        longest = max((math.dist(p, place.centre) for p in leads[bar.name]), default=0.0)
        return longest, sum(math.dist(p, place.centre) for p in far[bar.name])

    measured = {bar.name: [measures(bar, p) for p in places[bar.name]] for bar in (positive, negative)}
    scored = sorted(
        (count * max(measured_p[0], measured_n[0]) + measured_p[1] + measured_n[1], i, j)
        for i, measured_p in enumerate(measured[positive.name])
        for j, measured_n in enumerate(measured[negative.name])
    )
    for _, i, j in scored:
        p, n = places[positive.name][i], places[negative.name][j]
        if bodies_apart(positive, p, negative, n):
            yield p, n


def bar_places(job: Job, bar: BusBar) -> Iterator[BarPlace]:
    """The places stated for this bar; on faces, a grid of them with every stud inside the edges."""
    yield from bar.places
    for name in bar.faces:
        for turn in bar.turns:
            yield from _on_face(bar, job.site.face(name), turn)


def _on_face(bar: BusBar, face: MountingFace, turn: int) -> Iterator[BarPlace]:
    out = cross(face.u, face.v)
    along = face.v if turn == 90 else face.u
    half_m = (bar.studs - 1) * bar.pitch_m / 2
    half_a, half_b = (0.0, half_m) if turn == 90 else (half_m, 0.0)
    for a in _steps(face.edge_m + half_a, face.width_m - face.edge_m - half_a):
        for b in _steps(face.edge_m + half_b, face.height_m - face.edge_m - half_b):
            if any(
                a0 - half_a < a < a1 + half_a and b0 - half_b < b < b1 + half_b for a0, b0, a1, b1 in face.forbidden
            ):
                continue
            x, y, z = (o + a * u + b * v for o, u, v in zip(face.origin, face.u, face.v, strict=True))
            yield BarPlace((x, y, z), along, out, face.name)


def _steps(low: float, high: float) -> list[float]:
    if high < low - 1e-9:
        return []
    count = max(1, math.ceil((high - low) / FACE_STEP_M))
    return [low + (high - low) * i / count for i in range(count + 1)]


def bodies_apart(positive: BusBar, p: BarPlace, negative: BusBar, n: BarPlace) -> bool:
    """Rows of studs stay at least a pitch and both half-widths from each other."""
    apart_m = (positive.width_m + negative.width_m) / 2 + max(positive.pitch_m, negative.pitch_m) / 2
    return min(math.dist(a, b) for a in positive.stud_points(p) for b in negative.stud_points(n)) >= apart_m
