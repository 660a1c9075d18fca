"""Cables that share a way lie beside each other: every run moved aside until none lies in another.

The shortest runs of many leads hug the same edges and the same side of the same hole. Each cable that shares a hole is
given a lane in it, then one after another they are laid: pulled taut through their lanes, beside and over those that
lie already, clear of the lanes and lugs of those still to come. Where no place is left the cable is named.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from geometry.apart import LaidCable, as_laid, nearest_cable
from geometry.corners import Numbers, corners_of
from geometry.curve import Curve, Straight
from geometry.find_runs import find_runs
from geometry.hops import hopped
from geometry.lanes import Lane, hole_capacity, holes_of, lanes_through, through_lanes
from geometry.runs import End, NoRun, Request, Run
from geometry.space import Space
from geometry.supports import clamps_on
from geometry.surroundings import Surroundings

PASSES = 4


@dataclass(frozen=True)
class SideBySide:
    runs: tuple[Run | NoRun, ...]  # in the order of the requests; those in `crossing` as they were
    crossing: tuple[str, ...]  # cables for which no place was found, and what they lie in, in words
    longer_m: float  # the most that a cable got longer by


def side_by_side(
    space: Space,
    requests: Sequence[Request],
    runs: Sequence[Run | NoRun],
    *,
    others: Sequence[LaidCable] = (),
    span_m: float | None = None,
    reach_m: float | None = None,
) -> SideBySide:
    """The runs moved aside so that no cable lies in another. `others` lie already and stay.

    Short runs choose first, for they have fewest ways; a run that finds no place is laid before all others the
    next time, a few times over. With a span and a reach the runs are clamped where they lie now.
    """
    found = {i: run for i, run in enumerate(runs) if isinstance(run, Run)}
    laying = _Laying(Surroundings(space), requests, found, tuple(others))
    order = sorted(found, key=lambda i: (found[i].length_m, requests[i].name))
    best: tuple[int, float, dict[int, Run], dict[int, str]] | None = None
    for number in range(PASSES):
        laid, stuck = laying.in_order(order, any_lug_way=number == PASSES - 1)
        rank = (len(stuck), math.fsum(run.length_m for run in laid.values()))
        if best is None or rank < best[:2]:
            best = (*rank, laid, stuck)
        if not stuck:
            break
        order = [i for i in order if i in stuck] + [i for i in order if i not in stuck]
    assert best is not None
    _, _, laid, stuck = best
    finished: list[Run | NoRun] = list(runs)
    for i, run in found.items():
        now = laid[i]
        if now is not run and span_m is not None and reach_m is not None:
            straight_m = requests[i].cable.straight_m
            clamps, _ = clamps_on(laying.surroundings, now.curve, span_m=span_m, reach_m=reach_m, straight_m=straight_m)
            now = replace(now, clamps=clamps)
        finished[i] = now
    longer_m = max((laid[i].length_m - run.length_m for i, run in found.items()), default=0.0)
    crossing = tuple(f"{requests[i].name}: {stuck[i]}" for i in sorted(stuck, key=lambda i: requests[i].name))
    return SideBySide(tuple(finished), crossing, max(longer_m, 0.0))


class _Laying:
    """The cables to be laid, with what is kept free for each until it lies: its lanes, and its lugs' straights."""

    def __init__(
        self,
        surroundings: Surroundings,
        requests: Sequence[Request],
        runs: Mapping[int, Run],
        others: tuple[LaidCable, ...],
    ) -> None:
        self.surroundings = surroundings
        self.requests, self.runs, self.others = requests, runs, others
        self.lanes = _lanes(surroundings.space, requests, runs)
        self.lane_rods = {
            i: tuple(
                LaidCable(f"the lane of {requests[i].name} in {lane.hole.name}", _straight(lane.start, lane.end),
                          requests[i].cable.radius_m, 0.0)
                for lane in lanes
            )
            for i, lanes in self.lanes.items()
        }  # fmt: skip
        self.lug_rods = {i: _lug_rods(requests[i], run) for i, run in runs.items()}
        self.other_ways: dict[tuple[int, int, int], Run | NoRun] = {}

    def in_order(self, order: Sequence[int], *, any_lug_way: bool) -> tuple[dict[int, Run], dict[int, str]]:
        """The runs as laid one after another, and for those that lie in another cable in which, in words."""
        laid: dict[int, Run] = {}
        lying = list(self.others)
        stuck: dict[int, str] = {}
        for number, i in enumerate(order):
            later = order[number + 1 :]
            lanes = tuple(rod for j in later for rod in self.lane_rods.get(j, ()))
            lugs = tuple(rod for j in later for rod in self.lug_rods[j])
            run, request = self.runs[i], self.requests[i]
            if self._lies_in(request, run, (*lying, *lanes, *lugs)) is not None:
                moved = self._beside(i, tuple(lying), lanes, lugs)
                if moved is None and any_lug_way:
                    moved = self._left_otherwise(i, (*lying, *lanes, *lugs))
                in_way = self._lies_in(request, run, tuple(lying))
                if moved is not None:
                    run = moved
                elif in_way is not None:
                    stuck[i] = f"no place was found beside {in_way}{self._too_full(i)}"
            laid[i] = run
            if i not in stuck:
                lying.append(as_laid(request, run))
        return laid, stuck

    def _beside(
        self, i: int, lying: tuple[LaidCable, ...], lanes: tuple[LaidCable, ...], lugs: tuple[LaidCable, ...]
    ) -> Run | None:
        """Through its lanes; or past what is in the way of the shortest run, bit by bit or all at once."""
        request, run = self.requests[i], self.runs[i]
        everything = (*lying, *lanes, *lugs)
        if i in self.lanes:
            guess = through_lanes(run.curve, self.lanes[i], request.cable)
            moved = hopped(self.surroundings, request, run, everything, guess, lanes)
            if moved is not None:
                return moved
        moved = hopped(self.surroundings, request, run, everything)
        if moved is None:
            moved = hopped(self.surroundings, request, run, everything, corners_of(run.curve), everything)
        return moved

    def _left_otherwise(self, i: int, others: tuple[LaidCable, ...]) -> Run | None:
        """The shortest of the runs that leave the studs in other ways the lugs may point, then go past the others."""
        request, run = self.requests[i], self.runs[i]
        used = (
            _nearest_way(request.start, run.curve.start_direction),
            _nearest_way(request.finish, -run.curve.end_direction),
        )
        best: Run | None = None
        for a in range(len(request.start.directions)):
            for b in range(len(request.finish.directions)):
                if (a, b) == used:
                    continue
                one_way = replace(
                    request,
                    start=replace(request.start, directions=(request.start.directions[a],)),
                    finish=replace(request.finish, directions=(request.finish.directions[b],)),
                )
                if (i, a, b) not in self.other_ways:
                    self.other_ways[i, a, b] = find_runs(self.surroundings.space, [one_way])[0]
                other = self.other_ways[i, a, b]
                if not isinstance(other, Run) or (best is not None and other.length_m > best.length_m):
                    continue
                moved = hopped(self.surroundings, one_way, other, others)
                if moved is not None and (best is None or moved.length_m < best.length_m):
                    best = replace(moved, lower_bound_m=run.lower_bound_m)
        return best

    def _lies_in(self, request: Request, run: Run, others: tuple[LaidCable, ...]) -> str | None:
        cable = request.cable
        loose_m = cable.straight_m + cable.bend_radius_m
        apart_m, name, _ = nearest_cable(run.curve, loose_m, 0.0, run.length_m, others, cable.radius_m)
        return name if apart_m < 0 else None

    def _too_full(self, i: int) -> str:
        """What to add if a hole on the way is asked to take more cables than fit."""
        through = [hole for run in self.runs.values() for hole in run.penetrations]
        for hole in holes_of(self.surroundings.space, self.runs[i].penetrations):
            fitting = hole_capacity(hole, self.requests[i].cable)
            if through.count(hole.name) > fitting:
                return f': {through.count(hole.name)} cables pass "{hole.name}", {fitting} fit'
        return ""


def _lanes(space: Space, requests: Sequence[Request], runs: Mapping[int, Run]) -> dict[int, tuple[Lane, ...]]:
    lanes: dict[int, tuple[Lane, ...]] = {}
    for hole in space.penetrations:
        sharing = [i for i, run in runs.items() if hole.name in run.penetrations]
        if len(sharing) < 2:
            continue
        found = lanes_through(hole, [runs[i].curve for i in sharing], [requests[i].cable for i in sharing])
        for i, lane in zip(sharing, found, strict=True):
            if lane is not None:
                lanes[i] = (*lanes.get(i, ()), lane)
    return lanes


def _lug_rods(request: Request, run: Run) -> tuple[LaidCable, LaidCable]:
    cable, curve = request.cable, run.curve
    loose_m = cable.straight_m + cable.bend_radius_m
    return (
        LaidCable(f"the start of {request.name}",
                  _straight(curve.start, curve.start + cable.straight_m * curve.start_direction),
                  cable.radius_m, loose_m),
        LaidCable(f"the end of {request.name}",
                  _straight(curve.end, curve.end - cable.straight_m * curve.end_direction),
                  cable.radius_m, loose_m),
    )  # fmt: skip


def _straight(start: Numbers, end: Numbers) -> Curve:
    return Curve((Straight(start, end),))


def _nearest_way(end: End, direction: Numbers) -> int:
    return int(np.argmax([float(np.array(way) @ direction) for way in end.directions]))
