"""Cables that share a way lie beside each other: every run moved aside until none lies in another.

The shortest runs of many leads hug the same edges and the same side of the same hole. One after another they are
given lanes: each run keeps its way round but may be moved sideways, corner by corner, and takes a lane of its own in
every hole. Where no lane is left the cable is named.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from geometry.apart import LaidCable, as_laid, nearest_cable
from geometry.corners import Corners, Numbers, corners_of, fits, rounded
from geometry.find_runs import find_runs
from geometry.hops import SHAVED_M, as_run, hopped
from geometry.lanes import SLACK_M, Stage, hole_capacity, holes_of, stages_of
from geometry.runs import End, NoRun, Request, Run
from geometry.space import Space
from geometry.supports import clamps_on
from geometry.surplus import least_slack
from geometry.surroundings import Surroundings

TRIED = 60  # ways to lie beside that are tried for one cable, most of them without room for their bends
LOOKS = 20  # of them those that are measured exactly
RESTARTS = 3
MOUTHS = (0.5, 0.9)  # bend radii: how far runs go straight before and behind a hole
MEETS_COST_M = 0.3  # lying in another cable costs so many metres
HOPS_A_WAY = 2
ASIDE_COST = 0.05  # a metre off the shortest way costs so much of a metre of length: bundles stay together


@dataclass(frozen=True)
class SideBySide:
    runs: tuple[Run | NoRun, ...]  # in the order of the requests; those in `crossing` as they were
    crossing: tuple[str, ...]  # cables for which no lane was found, and what they lie in, in words
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

    Short runs choose first, for they have fewest ways; a run that finds no lane is laid before those that were in its
    way, a few times over. With a span and a reach the runs are clamped where they lie now.
    """
    surroundings = Surroundings(space)
    lengths_m = {i: run.length_m for i, run in enumerate(runs) if isinstance(run, Run)}
    order = sorted(lengths_m, key=lambda i: (lengths_m[i], requests[i].name))
    best: tuple[int, dict[int, Run], dict[int, str]] | None = None
    other_ways: dict[tuple[str, int, int], Run | NoRun] = {}
    for _ in range(RESTARTS):
        laid, stuck = _laid_in(order, surroundings, requests, runs, tuple(others), other_ways)
        if best is None or len(stuck) < best[0]:
            best = len(stuck), laid, stuck
        if not stuck:
            break
        first = [i for i in order if i in stuck]
        if order[: len(first)] == first:
            break
        order = first + [i for i in order if i not in stuck]
    if best is None:
        return SideBySide(tuple(runs), (), 0.0)
    _, laid, stuck = best
    finished: list[Run | NoRun] = []
    longer_m = 0.0
    for i, run in enumerate(runs):
        now = laid.get(i, run)
        if isinstance(now, Run) and isinstance(run, Run):
            longer_m = max(longer_m, now.length_m - run.length_m)
            if now is not run and span_m is not None and reach_m is not None:
                straight_m = requests[i].cable.straight_m
                clamps, _ = clamps_on(surroundings, now.curve, span_m=span_m, reach_m=reach_m, straight_m=straight_m)
                now = replace(now, clamps=clamps)
        finished.append(now)
    crossing = tuple(f"{requests[i].name}: {stuck[i]}" for i in sorted(stuck, key=lambda i: requests[i].name))
    return SideBySide(tuple(finished), crossing, longer_m)


def _laid_in(
    order: Sequence[int],
    surroundings: Surroundings,
    requests: Sequence[Request],
    runs: Sequence[Run | NoRun],
    others: tuple[LaidCable, ...],
    other_ways: dict[tuple[str, int, int], Run | NoRun],
) -> tuple[dict[int, Run], dict[int, str]]:
    laid: dict[int, Run] = {}
    stuck: dict[int, str] = {}
    through = [hole for i in order for hole in getattr(runs[i], "penetrations", ())]
    crowded = {hole for hole in through if through.count(hole) > 1}
    widest_m = max((requests[i].cable.radius_m for i in order), default=0.0)
    for i in order:
        run, request = runs[i], requests[i]
        assert isinstance(run, Run)
        loose_m = request.cable.straight_m + request.cable.bend_radius_m
        apart_m, name, _ = nearest_cable(run.curve, loose_m, 0.0, run.length_m, others, request.cable.radius_m)
        shared = any(hole in crowded for hole in run.penetrations)
        if apart_m < 0 and not shared:
            moved = hopped(surroundings, request, run, others)
            if moved is not None:
                laid[i] = moved
                others = (*others, as_laid(request, moved))
                continue
        if apart_m < 0 or shared:
            pitch_m = request.cable.radius_m + widest_m + SLACK_M
            moved = _moved_aside(surroundings, request, run, others, pitch_m)
            if moved is None:
                moved = _another_way(surroundings, request, run, others, pitch_m, other_ways)
            if moved is None and apart_m < 0:
                stuck[i] = f"no lane was found beside {name}{_too_full(surroundings.space, request, run, through)}"
            elif moved is not None:
                run = moved
        laid[i] = run
        if i not in stuck:
            others = (*others, as_laid(request, run))
    return laid, stuck


def _moved_aside(
    surroundings: Surroundings, request: Request, run: Run, others: tuple[LaidCable, ...], pitch_m: float
) -> Run | None:
    """The run beside the others; sharp turns at a hole need a longer straight through it than gentle ones."""
    for mouth in MOUTHS if run.penetrations else MOUTHS[:1]:
        mouth_m = mouth * request.cable.bend_radius_m
        moved = _moved_with(surroundings, request, run, others, pitch_m, mouth_m)
        if moved is not None:
            return moved
    return None


def _moved_with(
    surroundings: Surroundings,
    request: Request,
    run: Run,
    others: tuple[LaidCable, ...],
    pitch_m: float,
    mouth_m: float,
) -> Run | None:
    """The shortest way beside, lazily: the best sequence of places is measured exactly, and what fails is shut."""
    cable = request.cable
    corners = corners_of(run.curve)
    stages = stages_of(corners, holes_of(surroundings.space, run.penetrations), cable, pitch_m, mouth_m)
    if not stages:
        return None
    ends = (corners.points[0], corners.points[-1])
    costs = _step_costs(surroundings, request, others, stages, ends)
    loose_m = cable.straight_m + cable.bend_radius_m
    looks = hops = 0
    for _ in range(TRIED):
        places = _cheapest(costs)
        if places is None:
            return None
        line = np.vstack([ends[0], *(stage.places[p] for stage, p in zip(stages, places, strict=True)), ends[1]])
        line = _without_straight_corners(line)
        radii = np.full(len(line), cable.bend_radius_m)
        radii[[0, -1]] = 0.0
        if not bool(fits(line[None], radii[None], cable.straight_m)[0]):
            _shut(costs, places, _crowded_leg(line, radii, cable.straight_m, stages, places, ends))
            continue
        curve = rounded(Corners(line, radii))
        if curve.start_direction @ run.curve.start_direction < 0.999 or (
            curve.end_direction @ run.curve.end_direction < 0.999
        ):
            _shut(costs, places, 0 if curve.start_direction @ run.curve.start_direction < 0.999 else len(costs) - 1)
            continue
        looks += 1
        if looks > LOOKS:
            return None
        slack_m, at_m, solid = least_slack(surroundings, request, curve)
        apart_m, _, where_m = nearest_cable(curve, loose_m, 0.0, curve.length_m, others, cable.radius_m)
        if slack_m >= cable.standoff_m - SHAVED_M:
            if apart_m >= 0:
                return as_run(surroundings, request, run, curve, (slack_m, at_m, solid))
            if hops < HOPS_A_WAY:
                hops += 1
                past = hopped(surroundings, request, replace(run, curve=curve), others)
                if past is not None:
                    return past
        bad_m = at_m if slack_m < cable.standoff_m - SHAVED_M else where_m
        _shut(costs, places, _leg_at(curve.points_at([bad_m])[0], stages, places, ends))
    return None


def _too_full(space: Space, request: Request, run: Run, through: Sequence[str]) -> str:
    """What to add if a hole on the way is asked to take more cables than fit."""
    for hole in holes_of(space, run.penetrations):
        fitting = hole_capacity(hole, request.cable)
        if through.count(hole.name) > fitting:
            return f': {through.count(hole.name)} cables pass "{hole.name}", {fitting} fit'
    return ""


def _another_way(
    surroundings: Surroundings,
    request: Request,
    run: Run,
    others: tuple[LaidCable, ...],
    pitch_m: float,
    known: dict[tuple[str, int, int], Run | NoRun],
) -> Run | None:
    """The same cable leaving its studs in other ways its lugs may point, then moved aside: the shortest of those.

    `known` gathers the runs found, for the next time this cable is asked about.
    """
    used = (
        _nearest_way(request.start, run.curve.start_direction),
        _nearest_way(request.finish, -run.curve.end_direction),
    )
    pairs = [(a, b) for a in range(len(request.start.directions)) for b in range(len(request.finish.directions))]
    found: list[Run] = []
    for a, b in pairs:
        if (a, b) == used:
            continue
        one_way = replace(
            request,
            start=replace(request.start, directions=(request.start.directions[a],)),
            finish=replace(request.finish, directions=(request.finish.directions[b],)),
        )
        key = (request.name, a, b)
        if key not in known:
            known[key] = find_runs(surroundings.space, [one_way])[0]
        other = known[key]
        if isinstance(other, Run) and not (found and other.length_m > min(r.length_m for r in found)):
            moved = _moved_aside(surroundings, one_way, other, others, pitch_m)
            if moved is not None:
                found.append(replace(moved, lower_bound_m=run.lower_bound_m))
    return min(found, key=lambda r: r.length_m) if found else None


def _nearest_way(end: End, direction: Numbers) -> int:
    return int(np.argmax([float(np.array(way) @ direction) for way in end.directions]))


def _step_costs(
    surroundings: Surroundings,
    request: Request,
    others: tuple[LaidCable, ...],
    stages: Sequence[Stage],
    ends: tuple[Numbers, Numbers],
) -> list[Numbers]:
    """Cost (k, l) of each step from one stage to the next; infinity where a solid or a cable is in the way."""
    cable = request.cable
    columns = [ends[0][None], *(stage.places for stage in stages), ends[1][None]]
    off = [np.zeros(1), *(stage.off_m for stage in stages), np.zeros(1)]
    rods = np.concatenate([other.coarse_rods for other in others]) if others else np.zeros((0, 2, 3))
    rod_radii = np.concatenate([np.full(len(o.coarse_rods), o.radius_m) for o in others]) if others else np.zeros(0)
    own = frozenset((*request.start.within, *request.finish.within))
    costs = []
    for number, (here, there) in enumerate(pairwise(columns)):
        starts = np.repeat(here, len(there), axis=0)
        finishes = np.tile(there, (len(here), 1))
        length_m = np.linalg.norm(finishes - starts, axis=1)
        cost = length_m + ASIDE_COST * np.tile(off[number + 1], len(here))
        shut = length_m < 1e-6
        if 0 < number <= len(stages) and number - 1 < len(stages) and stages[number - 1].lane_to_next:
            shut |= ~np.eye(len(here), dtype=bool).ravel()
        # corners are rounded off, so the ends of a step are not where the cable lies
        trim_m = np.minimum(0.25 * cable.bend_radius_m, 0.3 * length_m)
        heading = (finishes - starts) / np.maximum(length_m, 1e-9)[:, None]
        near_start = starts + trim_m[:, None] * heading
        near_finish = finishes - trim_m[:, None] * heading
        open_still = np.flatnonzero(~shut)
        touching = number in (0, len(columns) - 2)  # the lug's own straight: told by the exact look
        if len(open_still):
            one, two = near_start[open_still], near_finish[open_still]
            around = surroundings.clearances
            which = around.near(np.vstack([one, two, (one + two) / 2]), cable.standoff_m + float(length_m.max()) / 4)
            which = np.array([i for i in which if not (touching and around.names[i] in own)], dtype=np.intp)
            if len(which):
                shut[open_still[around.blocked(one, two, which, cable.standoff_m - 1e-3)]] = True
                open_still = np.flatnonzero(~shut)
        if len(open_still) and not touching:
            one, two = near_start[open_still], near_finish[open_still]
            # dear, not shut: a cable that only crosses can be hopped over
            cost[open_still[_meet_rods(one, two, rods, rod_radii + cable.radius_m - 1e-3)]] += MEETS_COST_M
        costs.append(np.where(shut, np.inf, cost).reshape(len(here), len(there)))
    return costs


def _meet_rods(starts: Numbers, ends: Numbers, rods: Numbers, apart_m: Numbers) -> NDArray[np.bool_]:
    """Which segments (n,) come nearer to any rod (m, 2, 3) than `apart_m` (m,)."""
    met = np.zeros(len(starts), dtype=bool)
    low, high = np.minimum(starts, ends).min(axis=0), np.maximum(starts, ends).max(axis=0)
    rod_low, rod_high = rods.min(axis=1) - apart_m[:, None], rods.max(axis=1) + apart_m[:, None]
    heading = ends - starts
    square = np.maximum((heading**2).sum(axis=1), 1e-18)
    for i in np.flatnonzero(((rod_low <= high) & (rod_high >= low)).all(axis=1)):
        left = np.flatnonzero(~met)
        if not len(left):
            break
        # nearest places of two segments: of the lines, then each held to its own ends
        base, along = rods[i, 0], rods[i, 1] - rods[i, 0]
        d, out = heading[left], starts[left] - base
        a, e = square[left], float(along @ along)
        b, c, f = d @ along, (d * out).sum(axis=1), out @ along
        fall = a * e - b * b
        share = np.clip(np.where(fall > 1e-12 * a * e, (b * f - c * e) / np.maximum(fall, 1e-18), 0.0), 0.0, 1.0)
        on_rod = np.clip((b * share + f) / e, 0.0, 1.0)
        share = np.clip((b * on_rod - c) / a, 0.0, 1.0)
        gap = out + share[:, None] * d - on_rod[:, None] * along
        met[left[(gap**2).sum(axis=1) < apart_m[i] ** 2]] = True
    return met


def _cheapest(costs: Sequence[Numbers]) -> list[int] | None:
    """The places (one a stage) of least total cost; None if every way is shut."""
    total = costs[0][0]
    came: list[NDArray[np.intp]] = []
    for step in costs[1:]:
        both = total[:, None] + step
        came.append(both.argmin(axis=0))
        total = both.min(axis=0)
    if not math.isfinite(float(total[0])):
        return None
    places = [0]
    for back in reversed(came):
        places.append(int(back[places[-1]]))
    return places[:0:-1]


def _shut(costs: Sequence[Numbers], places: Sequence[int], leg: int) -> None:
    ends = [0, *places, 0]
    costs[leg][ends[leg], ends[leg + 1]] = np.inf


def _leg_at(point: Numbers, stages: Sequence[Stage], places: Sequence[int], ends: tuple[Numbers, Numbers]) -> int:
    """Which step of the way passes nearest to a point."""
    line = [ends[0], *(stage.places[p] for stage, p in zip(stages, places, strict=True)), ends[1]]
    nearest = []
    for a, b in pairwise(line):
        leg = b - a
        share = min(max(float((point - a) @ leg) / max(float(leg @ leg), 1e-12), 0.0), 1.0)
        nearest.append(float(np.linalg.norm(point - a - share * leg)))
    # the steps at the studs have no other place to start from: shut the next one instead if it is as near
    order = sorted(range(len(nearest)), key=lambda i: (round(nearest[i], 4), i in (0, len(nearest) - 1)))
    return order[0]


def _crowded_leg(
    line: Numbers,
    radii: Numbers,
    straight_m: float,
    stages: Sequence[Stage],
    places: Sequence[int],
    ends: tuple[Numbers, Numbers],
) -> int:
    """The step whose bends do not fit."""
    legs = np.diff(line, axis=0)
    length_m = np.linalg.norm(legs, axis=1)
    heading = legs / np.maximum(length_m, 1e-12)[:, None]
    angles = np.arccos(np.clip((heading[:-1] * heading[1:]).sum(axis=1), -1, 1))
    tangents = np.zeros(len(line))
    tangents[1:-1] = radii[1:-1] * np.tan(np.minimum(angles, 3.0) / 2)
    room = length_m - tangents[:-1] - tangents[1:]
    room[0] -= straight_m
    room[-1] -= straight_m
    worst = int(room.argmin())
    return _leg_at((line[worst] + line[worst + 1]) / 2, stages, places, ends)


def _without_straight_corners(line: Numbers) -> Numbers:
    legs = np.diff(line, axis=0)
    one, two = legs[:-1], legs[1:]
    square = (one**2).sum(axis=1) * (two**2).sum(axis=1)
    along = (one * two).sum(axis=1)
    turns = (square - along**2 > 1e-14 * square) | (along < 0)
    return line[np.concatenate([[True], turns, [True]])]
