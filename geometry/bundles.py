"""Cables that share a way lie beside each other: every run moved aside until none lies in another.

The shortest runs of many leads hug the same edges and the same side of the same hole. Each cable that shares a hole is
given a lane in it, then one after another they are laid: pulled taut through their lanes, beside and over those that
lie already, clear of the lanes and lugs of those still to come. Where no place is left the cable is named.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from geometry.apart import LaidCable, as_laid, cables_met
from geometry.corners import Numbers, corners_of
from geometry.curve import Curve, Straight
from geometry.hops import Effort, hopped
from geometry.lanes import Lane, hole_capacity, holes_of, lanes_through, through_lanes
from geometry.runs import NoRun, Request, Run
from geometry.space import Space
from geometry.supports import clamps_on
from geometry.surroundings import Surroundings

PASSES = 3
JAMMED = 0.25  # of the cables without a place: more looking would take long and help little
FILLING = 0.125  # the same: the first time, those that come later are tried in one way only
PULLS_A_CABLE = 8  # on the average: most need none, a few need many


@dataclass(frozen=True)
class SideBySide:
    runs: tuple[Run | NoRun, ...]  # in the order of the requests; those in `crossing` as clear as could be
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
    told: Callable[[int, int], None] | None = None,
) -> SideBySide:
    """The runs moved aside so that no cable lies in another. `others` lie already and stay.

    Short runs choose first, for they have fewest ways; runs that find no place are laid before all others the
    next time. With a span and a reach the runs are clamped where they lie now. `told` hears how many lie, of how many.
    """
    found = {i: run for i, run in enumerate(runs) if isinstance(run, Run)}
    laying = _Laying(Surroundings(space), requests, found, tuple(others))
    order = sorted(found, key=lambda i: (found[i].length_m, requests[i].name))
    best: tuple[int, float, dict[int, Run], dict[int, tuple[str, ...]]] | None = None
    effort = Effort(PULLS_A_CABLE * len(found))
    for number in range(PASSES):
        laid, lies_in = laying.in_order(order, effort, first=number == 0, give_in=number == PASSES - 1, told=told)
        rank = (sum(map(len, lies_in.values())), math.fsum(run.length_m for run in laid.values()))
        if best is None or rank < best[:2]:
            best = (*rank, laid, lies_in)
        if not lies_in or effort.pulls <= 0 or len(lies_in) > JAMMED * len(found):
            break
        order = [i for i in order if i in lies_in] + [i for i in order if i not in lies_in]
    assert best is not None
    _, _, laid, lies_in = best
    finished: list[Run | NoRun] = list(runs)
    for i, run in found.items():
        now = laid[i]
        if now is not run and span_m is not None and reach_m is not None:
            straight_m = requests[i].cable.straight_m
            clamps, _ = clamps_on(laying.surroundings, now.curve, span_m=span_m, reach_m=reach_m, straight_m=straight_m)
            now = replace(now, clamps=clamps)
        finished[i] = now
    longer_m = max((laid[i].length_m - run.length_m for i, run in found.items()), default=0.0)
    crossing = tuple(
        f"{requests[i].name}: no place was found beside {' and '.join(lies_in[i])}{laying.too_full(i)}"
        for i in sorted(lies_in, key=lambda i: requests[i].name)
    )
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

    def in_order(
        self,
        order: Sequence[int],
        effort: Effort,
        *,
        first: bool,
        give_in: bool,
        told: Callable[[int, int], None] | None,
    ) -> tuple[dict[int, Run], dict[int, tuple[str, ...]]]:
        """The runs as laid one after another, and the cables in which some of them still lie.

        Giving in, those are laid as clear as can be; else they stay as they were, and in nobody's way.
        """
        laid: dict[int, Run] = {}
        lying = list(self.others)
        lies_in: dict[int, tuple[str, ...]] = {}
        for number, i in enumerate(order):
            later = order[number + 1 :]
            lanes = tuple(rod for j in later for rod in self.lane_rods.get(j, ()))
            lugs = tuple(rod for j in later for rod in self.lug_rods[j])
            laid[i] = self.runs[i]
            if self._lies_in(i, (*lying, *lanes, *lugs)):
                once = first and len(lies_in) > FILLING * len(self.runs)
                moved = self._beside(i, tuple(lying), lanes, lugs, effort, once)
                met: tuple[str, ...] = ()
                if moved is None and give_in:
                    moved, met = self._as_clear_as_can_be(i, tuple(lying), effort)
                elif moved is None:
                    met = self._lies_in(i, lying)
                laid[i] = moved or self.runs[i]
                if met:
                    lies_in[i] = met
            if i not in lies_in or give_in:
                lying.append(as_laid(self.requests[i], laid[i]))
            if told is not None:
                told(number + 1, len(order))
        return laid, lies_in

    def _beside(
        self,
        i: int,
        lying: tuple[LaidCable, ...],
        lanes: tuple[LaidCable, ...],
        lugs: tuple[LaidCable, ...],
        effort: Effort,
        once: bool,
    ) -> Run | None:
        """Through its lanes, or past what is in the way of the shortest run, bit by bit or all at once.

        `once`: only the first of these that can be tried.
        """
        around, request, run = self.surroundings, self.requests[i], self.runs[i]
        everything = (*lying, *lanes, *lugs)
        guess = through_lanes(run.curve, self.lanes[i], request.cable) if i in self.lanes else None
        moved, _ = hopped(around, request, run, everything, guess, lanes if guess is not None else (), effort=effort)
        if once:
            return moved
        if moved is None and guess is not None:
            moved, _ = hopped(around, request, run, everything, effort=effort)
        if moved is None:
            everywhere = corners_of(run.curve)
            moved, _ = hopped(around, request, run, everything, everywhere, everything, effort=effort)
        return moved

    def _as_clear_as_can_be(
        self, i: int, lying: tuple[LaidCable, ...], effort: Effort
    ) -> tuple[Run | None, tuple[str, ...]]:
        """Past as many of the others as can be, and the names of the rest."""
        run, request = self.runs[i], self.requests[i]
        guess = through_lanes(run.curve, self.lanes[i], request.cable) if i in self.lanes else None
        moved, met = hopped(self.surroundings, request, run, lying, guess, effort=effort, give_in=True)
        return (moved, met) if moved is not None else (None, self._lies_in(i, lying))

    def _lies_in(self, i: int, others: Sequence[LaidCable]) -> tuple[str, ...]:
        """The cables that a shortest run lies in."""
        cable, run = self.requests[i].cable, self.runs[i]
        return cables_met(run.curve, cable.straight_m + cable.bend_radius_m, others, cable.radius_m)

    def too_full(self, i: int) -> str:
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


def _lug_rods(request: Request, run: Run) -> tuple[LaidCable, ...]:
    cable, curve = request.cable, run.curve
    if cable.straight_m <= 0:  # nothing known of the lugs
        return ()
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
