"""Pairs of places stated one by one or on a grid, tried in order of their cable: what cannot be searched together."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import islice

import numpy as np

from cutlist.bank.bus_bars import BarPlace, BusBar, row_along, runs_up
from cutlist.bank.job import Job
from cutlist.bank.site import MountingFace
from cutlist.bank.stock import Stock
from cutlist.layout.cable_ends import BarEnd, CableTask, cross, has_fixed_end
from cutlist.layout.face_outlines import has_outlines, rows_off
from cutlist.layout.scene import space_with_bank
from cutlist.place_types import PlaceTried
from cutlist.plan_types import Infeasible
from cutlist.planning.build import Built, build
from cutlist.planning.place_question import faces_for
from cutlist.planning.place_rules import dry_place, pair_allowed, separation_m, stated_places
from cutlist.planning.stud_choice import open_studs
from cutlist.progress import Progress
from geometry.fields import Field
from geometry.runs import CableShape, Point

COARSE_STEP_M = 0.100  # places on a face are looked at this far apart, then more finely round the best
FINE_STEP_M = 0.025
NEAR_M = 0.075
MOST_BUILT = 4  # pairs built in full before the tool gives up


def tried_at(job: Job, places: Mapping[str, BarPlace], built: Built | Infeasible) -> PlaceTried:
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
class OfGrid:
    built: Built | Infeasible
    tried: tuple[PlaceTried, ...]


def best_of_grid(job: Job, stock: Stock, tasks: Sequence[CableTask], progress: Progress) -> OfGrid:
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
        tried.append(tried_at(job, places, built))
        if isinstance(built, Infeasible):
            reason = reason or built
            continue
        if best is None or rank(built) < rank(best):
            best = built
        if not stated and built.sizing.chosen is not None and not best.laid.not_laid:
            break
    if best is not None:
        return OfGrid(best, tuple(tried))
    return OfGrid(
        reason or Infeasible("bus bars", "the rules and what stands there leave no place for both of them", "", 0.0),
        tuple(tried),
    )


def rank(built: Built) -> tuple[bool, bool, Decimal, int]:
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
        self.job, self.stock = job, stock
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
        if bar.unlike:
            metres = metres + self._beyond_centre_m(bar, places, kinds, terminals)
        lead = np.array([kind == "lead" for kind in kinds])
        longest = metres[lead].max(axis=0, initial=0.0)
        return list(zip(longest.tolist(), metres[~lead].sum(axis=0).tolist(), strict=True))

    def _beyond_centre_m(
        self, bar: BusBar, places: Sequence[BarPlace], kinds: Sequence[str], terminals: np.ndarray
    ) -> np.ndarray:
        """How much further (cables, places) than the bar's centre the nearest stud is that takes a lug of the cable,
        straight: end for end a row of unlike studs is another."""
        studs = np.array([bar.stud_points(place) for place in places])
        centres = np.array([place.centre for place in places])
        away_m = np.linalg.norm(terminals[:, None, None] - studs[None], axis=3)
        for row, kind in enumerate(kinds):
            open_ = open_studs(self.job, self.stock, bar, kind)
            away_m[row][:, [i for i in range(bar.studs) if i not in open_]] = np.inf
        return np.asarray(away_m.min(axis=2) - np.linalg.norm(terminals[:, None] - centres[None], axis=2))


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
    along = row_along(face.u, face.v, turn)
    half_m = (bar.studs - 1) * bar.pitch_m / 2
    half_a, half_b = (0.0, half_m) if runs_up(turn) else (half_m, 0.0)
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
