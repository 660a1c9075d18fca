"""Why is there no run? The narrowest place on the widest way, and whether it is proved that there is none.

A thinner cable gets through where this one does not. The thickest one that still finds a way shows by its way what
stops the others: where it comes nearest to something, that is too near by the rest of the thickness.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from geometry.clearances import Clearances, Numbers
from geometry.footing import footings
from geometry.lower_bound import lower_bound
from geometry.runs import NoRun, Request
from geometry.space import Penetration
from geometry.ways import Way, WaySearch

HALVINGS = 8
THREAD_M = 0.0005  # half as thick as what is taken for no cable at all
BESIDE_M = 0.001  # two solids whose distances differ by less both make the narrow place
BENDS_ONLY_M = 1e-4  # a way that is narrower by less is wide enough
AROUND_M = 0.2  # solids so near to the straight line are looked at from the first
LONGEST_M = 10.0  # runs up to this length, or five times the straight line, are proved not to exist


@dataclass(frozen=True, eq=False)
class Tight:
    standoff_m: float
    at: Numbers  # (3,)
    solids: tuple[int, ...]  # one, or the two between which the way is narrow


def why_no_run(around: Clearances, request: Request) -> NoRun:
    """For a request whose ends can be left, but for which no run was found."""
    tight = _widest(around, request)
    needed_m = request.cable.standoff_m
    # where a way has room for the cable and only its bends have none, there is nothing to prove
    proved = (tight is None or needed_m - tight.standoff_m >= BENDS_ONLY_M) and _proved(around, request)
    if tight is None:
        reason = (
            "the studs are closed off from each other: not even a thread gets from one to the other"
            if proved
            else "no way was found between the studs, not even for a thread"
        )
        return NoRun(request.name, reason, "", 0.0, None, proved)
    missing_m = needed_m - tight.standoff_m
    at = (float(tight.at[0]), float(tight.at[1]), float(tight.at[2]))
    found = "there is no way between the studs" if proved else "no way was found between the studs"
    if missing_m < BENDS_ONLY_M:
        reason = f"{found} that can be laid with bends of {request.cable.bend_radius_m * 1000:.0f} mm"
        return NoRun(request.name, reason, around.names[tight.solids[0]], 0.0, at, False)
    hole = _hole_at(around, tight)
    wide, needs = f"{2 * (needed_m - missing_m) * 1000:.1f} mm wide", f"needs {2 * needed_m * 1000:.1f} mm"
    if hole is not None:
        name, where = hole.name, f'"{hole.name}" is'
    else:
        name = around.names[tight.solids[0]]
        where = "the passage " + " and ".join(f'"{around.names[s]}"' for s in tight.solids) + " is"
        where = where.replace("passage ", "passage between " if len(tight.solids) > 1 else "passage beside ")
    reason = (
        f"{found}; {where} {2 * missing_m * 1000:.1f} mm too narrow: it is {wide}, the cable with its clearance {needs}"
    )
    return NoRun(request.name, reason, name, 2 * missing_m, at, proved)


def _widest(around: Clearances, request: Request) -> Tight | None:
    """The way of the thickest cable that finds one, where it is narrowest."""
    low_m, high_m = THREAD_M, request.cable.standoff_m
    best = _way_at(around, request, high_m)
    if best is not None:
        return _tightest(around, best, high_m)
    best = _way_at(around, request, low_m)
    if best is None:
        return None
    for _ in range(HALVINGS):
        middle_m = (low_m + high_m) / 2
        way = _way_at(around, request, middle_m)
        if way is None:
            high_m = middle_m
            continue
        best = way
        # the way may have more room than was asked for
        low_m = max(middle_m, min(_tightest(around, way, middle_m).standoff_m, high_m))
        if high_m - low_m < 5e-5:
            break
    return _tightest(around, best, low_m)


def _way_at(around: Clearances, request: Request, standoff_m: float) -> Way | None:
    cable = replace(request.cable, radius_m=standoff_m, clearance_m=0.0)
    starts, _ = footings(around, request.start, cable)
    finishes, _ = footings(around, request.finish, cable)
    if not starts or not finishes:
        return None
    search = WaySearch(around, starts, finishes, standoff_m, cable.bend_radius_m)
    way = search.best()
    if way is None:
        search.widen()
        way = search.best()
    return way


def _tightest(around: Clearances, way: Way, standoff_m: float) -> Tight:
    path = way.open_path
    steps = np.linalg.norm(np.diff(path, axis=0), axis=1)
    count = np.maximum(2, np.ceil(steps / 0.002).astype(int))
    points = np.vstack(
        [a + np.linspace(0, 1, n)[:, None] * (b - a) for a, b, n in zip(path, path[1:], count, strict=False)]
    )
    near = around.near(points, standoff_m + 0.05)
    if not len(near):
        return Tight(standoff_m, points[0], (0,))
    gaps = around.distances(points, near)
    at = int(gaps.min(axis=1).argmin())
    order = np.argsort(gaps[at], kind="stable")
    least_m = float(gaps[at, order[0]])
    solids = [int(near[k]) for k in order[:2] if gaps[at, k] < least_m + BESIDE_M]
    return Tight(max(standoff_m, least_m), points[at], tuple(solids))


def _hole_at(around: Clearances, tight: Tight) -> Penetration | None:
    """The penetration in which the narrow place lies."""
    for hole in around.space.penetrations:
        out = tight.at - np.array(hole.centre)
        along = float(out @ np.array(hole.axis))
        beside = float(np.linalg.norm(out - along * np.array(hole.axis)))
        if abs(along) <= hole.depth_m / 2 + 0.02 and beside <= hole.diameter_m / 2:
            return hole
    return None


def _proved(around: Clearances, request: Request) -> bool:
    """Whether barriers alone keep the studs apart."""
    if around.packed is None:
        return False
    cable = request.cable
    starts, _ = footings(around, request.start, cable)
    finishes, _ = footings(around, request.finish, cable)
    straight_m = float(np.linalg.norm(np.subtract(request.start.point, request.finish.point)))
    goal_m = max(LONGEST_M, 5 * straight_m)
    between = around.near(np.linspace(request.start.point, request.finish.point, 20), cable.standoff_m + AROUND_M)
    proof = lower_bound(around, starts, finishes, cable.standoff_m, cable.bend_radius_m, goal_m, between, closed=True)
    return proof.least_m >= goal_m
