"""The shortest run that obeys every rule, for each cable that is asked for."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from geometry.bends import as_curve, turn_in
from geometry.certify import Clearance, clearance
from geometry.clearances import Clearances, Numbers
from geometry.cores import each
from geometry.curve import Curve
from geometry.footing import MARGIN_M, Footing, Obstructed, Track, footings
from geometry.lower_bound import lower_bound
from geometry.narrowest import why_no_run
from geometry.polish import ASTRAY_M, FINE_SAMPLE_M, SAMPLE_M, polished, pushed_out
from geometry.runs import NoRun, Point, Request, Run
from geometry.space import Space
from geometry.supported_runs import Asked, supported_run
from geometry.supports import Unsupported, clamps_on
from geometry.surroundings import Surroundings
from geometry.ways import Way, WaySearch

WAYS_TRIED = 1  # laid before the closer look
MOST_WAYS = 12  # tried until one can be laid
FINE_APART_M = 0.06  # way points of the closer look
PULLED_TAUT = 0.985  # of its length over way points a way hardly ever gets shorter
IDLE_WAYS = 3  # ways in a row that gain little, after which the closer look ends
PROVED_ENOUGH = 0.996  # of the length found: a proof that near is near enough
FINE_MARGIN_M = 2e-5
LEEWAY_M = 2e-6  # where a lug lies flat the cable starts at exactly what is asked


@dataclass(frozen=True, eq=False)
class Laid:
    """A run that was laid and certified."""

    curve: Curve
    clearance: Clearance
    track: Track


def find_runs(
    space: Space,
    requests: Sequence[Request],
    *,
    span_m: float | None = None,
    reach_m: float | None = None,
    prove: bool = False,
    explain: bool = True,
    told: Callable[[int, int], None] | None = None,
) -> tuple[Run | NoRun, ...]:
    """For each request the shortest run found, or why there is none.

    A run keeps the cable's standoff (and every solid's own keep-off), stays in the compartments, leaves both studs
    straight in one of their directions, and bends no tighter than the cable may. Its lower bound is proved.
    With a span and a reach it is laid where clamps can hold it that often, and tells where they sit; where that cannot
    be, the run with least hanging is given, and `supports.clamps_on` tells where a clamp is missing. The lower bound is
    that of empty space; with `prove` it counts what stands in between (some tenths of a second a run), and a shorter
    way that the proof shows is tried. Without `explain` nothing is looked for where there is no run: seconds less.
    `told` hears how many runs are found, of how many.
    """
    around = Clearances(space)
    clamping = Surroundings(space) if span_m is not None and reach_m is not None else None

    def found(request: Request) -> Run | NoRun:
        run = _find_run(around, request, prove, explain)
        if isinstance(run, Run) and clamping is not None and span_m is not None and reach_m is not None:
            run = _clamped(around, clamping, request, run, span_m, reach_m)
        return run

    return tuple(each(found, requests, told))


def _clamped(
    around: Clearances, clamping: Surroundings, request: Request, run: Run, span_m: float, reach_m: float
) -> Run:
    """The shortest run if clamps can hold it; else the shortest found that they can, or the one they hold best."""
    cable = request.cable
    rules = {"span_m": span_m, "reach_m": reach_m, "straight_m": cable.straight_m}
    clamps, missing = clamps_on(clamping, run.curve, **rules)
    if missing:
        starts, _ = footings(around, request.start, cable)
        finishes, _ = footings(around, request.finish, cable)
        asked = Asked(starts, finishes, cable.standoff_m, cable.bend_radius_m, cable.straight_m, span_m, reach_m)
        held = supported_run(around, clamping, asked, run.length_m)
        if held is not None and _hanging_m(held.missing, span_m) < _hanging_m(missing, span_m):
            run = _as_run(around, request, Laid(held.curve, held.clearance, held.track), run.lower_bound_m)
            clamps, _ = clamps_on(clamping, run.curve, **rules)
    return replace(run, clamps=clamps)


def _hanging_m(missing: Sequence[Unsupported], span_m: float) -> float:
    """How much of a run hangs beyond what the span allows."""
    return sum(gap.to_m - gap.from_m - span_m for gap in missing)


def _find_run(around: Clearances, request: Request, prove: bool = False, explain: bool = True) -> Run | NoRun:
    starts, stopped = footings(around, request.start, request.cable)
    finishes, stopped_there = footings(around, request.finish, request.cable)
    for usable, stops, which in ((starts, stopped, "start"), (finishes, stopped_there, "end")):
        if not usable:
            return _no_room_at_end(around, request, min(stops, key=lambda stop: stop.missing_m), which)
    cable = request.cable
    search = WaySearch(around, starts, finishes, cable.standoff_m, cable.bend_radius_m)
    bound_m = _free_bound_m(starts, finishes, cable.bend_radius_m)
    best: Laid | None = None
    seen: set[tuple[int | Way, ...]] = set()  # edges; a way without any by itself
    widened = False
    for _ in range(MOST_WAYS):
        way = search.best()
        if way is None or (best is not None and _way_bound(way) > best.curve.length_m):
            if best is not None or widened:
                break
            widened = True
            search.widen()
            search.add_turns()
            continue
        if (key := way.edges or (way,)) not in seen:
            seen.add(key)
            laid = lay(around, way, cable.standoff_m, cable.bend_radius_m)
            if laid is not None and (best is None or laid.curve.length_m < best.curve.length_m):
                best = laid
            if best is not None and (best.curve.length_m < 1.005 * bound_m or len(seen) >= WAYS_TRIED):
                break
        search.shun(way, 0.05)
    if best is None:
        if not explain:
            return NoRun(request.name, "no way was found between the studs", "", 0.0, None, False)
        return why_no_run(around, request)
    best = _shorter(around, search, best)
    if prove:
        best, bound_m = _proved(around, search, best, bound_m)
    return _as_run(around, request, best, bound_m)


def _shorter(around: Clearances, search: WaySearch, best: Laid) -> Laid:
    """A shorter run than the best so far, if a closer look at every two footings shows one.

    The first search settles on the two footings from which the way over its sparse way points is shortest; other two
    may have the shorter run. Way points stand closer together here, and only where a way that is no longer than the
    best run can pass.
    """
    shortest_m = best.curve.length_m
    pairs = [(i, j) for i in range(len(search.starts)) for j in range(len(search.finishes))]
    least_m = {(i, j): _free_bound_m([search.starts[i]], [search.finishes[j]], search.radius_m) for i, j in pairs}
    if min(least_m.values()) > PROVED_ENOUGH * shortest_m:
        return best
    fine = search.finer(FINE_APART_M, shortest_m)
    ways = {pair: fine.from_to(pair) for pair in pairs if least_m[pair] <= PROVED_ENOUGH * shortest_m}
    ahead = [(way.length_m, pair, way) for pair, found in ways.items() if (way := next(found, None)) is not None]
    idle = 0
    while ahead and idle < IDLE_WAYS:
        length_m, pair, way = ahead.pop(min(range(len(ahead)), key=lambda k: ahead[k][:2]))
        if PULLED_TAUT * length_m > shortest_m:
            break
        laid = lay(around, way, search.standoff_m, search.radius_m)
        idle += 1
        if laid is not None and laid.curve.length_m < shortest_m:
            idle = idle if laid.curve.length_m > PROVED_ENOUGH * shortest_m else 0
            best, shortest_m = laid, laid.curve.length_m
        if (another := next(ways[pair], None)) is not None:
            ahead.append((another.length_m, pair, another))
    return best


def _proved(around: Clearances, search: WaySearch, best: Laid, bound_m: float) -> tuple[Laid, float]:
    """A tight lower bound, and a shorter run if the proof shows where one might be."""
    goal_m = PROVED_ENOUGH * best.curve.length_m
    if bound_m >= goal_m or around.packed is None:  # in numpy the proof takes too long
        return best, bound_m
    standoff_m, radius_m = search.standoff_m, search.radius_m
    proof = lower_bound(around, search.starts, search.finishes, standoff_m, radius_m, goal_m, search.graph.active)
    if proof.least_m < goal_m:
        for start, finish, corners in reversed(proof.hints):
            way = search.through(search.starts[start], search.finishes[finish], corners)
            laid = lay(around, way, standoff_m, radius_m)
            if laid is not None and laid.curve.length_m < best.curve.length_m - 1e-6:
                best = laid
    return best, max(bound_m, proof.least_m)


def lay(around: Clearances, way: Way, standoff_m: float, radius_m: float) -> Laid | None:
    """A way pulled taut and certified; None if that does not work out."""
    track = Track(way.start, way.finish, standoff_m, radius_m)
    corners, radii = pushed_out(track, way.corners), None
    # a coarse look misses what sticks out between its samples; a finer one goes on from what it found; a finer margin
    # is for narrow places
    for margin_m, sample_m in ((MARGIN_M, SAMPLE_M), (MARGIN_M, FINE_SAMPLE_M), (FINE_MARGIN_M, FINE_SAMPLE_M)):
        result = polished(around, track, corners, radii=radii, margin_m=margin_m, sample_m=sample_m)
        if sample_m == SAMPLE_M and result.trespass_m < ASTRAY_M:
            corners, radii = result.run.vertices[0, 1:-1], result.run.radii[0]
        else:
            corners, radii = pushed_out(track, way.corners), None
        if result.trespass_m > margin_m / 2:
            continue
        try:
            curve = as_curve(result.run)
        except ValueError:
            continue
        found = clearance(around, track, curve, -LEEWAY_M)
        if found.certain_m >= -LEEWAY_M and curve.least_bend_radius_m >= radius_m - 1e-9:
            return Laid(curve, found, track)
    return None


def _way_bound(way: Way) -> float:
    """Rounding its corners cannot shorten a way by more than its bends cut off."""
    return 0.96 * way.length_m


def _free_bound_m(starts: list[Footing], finishes: list[Footing], radius_m: float) -> float:
    least = math.inf
    for start in starts:
        for finish in finishes:
            there, _, _ = turn_in(finish.launch[None], start.launch, start.way, radius_m)
            back, _, _ = turn_in(start.launch[None], finish.launch, finish.way, radius_m)
            straight = float(np.linalg.norm(finish.launch - start.launch))
            ways = [straight] + [float(way[0]) for way in (there, back) if math.isfinite(way[0])]
            least = min(least, start.straight_m + max(ways) + finish.straight_m)
    return least


def _no_room_at_end(around: Clearances, request: Request, stop: Obstructed, which: str) -> NoRun:
    name = around.names[stop.solid]
    reason = (
        f'at its {which} the lug\'s straight is {stop.missing_m * 1000:.1f} mm too near "{name}" '
        f"for a cable that needs {request.cable.standoff_m * 1000:.1f} mm from its middle to anything"
    )
    return NoRun(request.name, reason, name, stop.missing_m, _point(stop.at), True)


def _as_run(around: Clearances, request: Request, best: Laid, bound_m: float) -> Run:
    curve, found = best.curve, best.clearance
    at = curve.points_at(np.array([found.along_m]))[0]
    name = around.names[found.solid] if found.solid >= 0 else ""
    return Run(
        request.name,
        curve,
        min(bound_m, curve.length_m),
        found.least_m - request.cable.radius_m,
        _point(at),
        name,
        _penetrations(around.space, curve),
    )


def _penetrations(space: Space, curve: Curve) -> tuple[str, ...]:
    """Holes that the run goes through, in order: where it changes side within the hole's width."""
    if not space.penetrations:
        return ()
    points = curve.sampled(0.002)
    passed = []
    for hole in space.penetrations:
        out = points - np.array(hole.centre)
        height = out @ np.array(hole.axis)
        beside = np.sqrt(np.maximum(np.einsum("ij,ij->i", out, out) - height**2, 0.0))
        reach_m = max(hole.diameter_m / 2, math.sqrt(hole.area_m2 / 2))
        through = np.flatnonzero((height[:-1] < 0) != (height[1:] < 0))
        through = through[beside[through] < reach_m]
        passed += [(int(i), hole.name) for i in through[:1]]
    return tuple(name for _, name in sorted(passed))


def _point(at: Numbers) -> Point:
    return (float(at[0]), float(at[1]), float(at[2]))
