"""Can this lead be laid at exactly this length, and how?

A lead of a matched group is often longer than its shortest run. `lay_at_length` finds a centreline of exactly the
target length that a rigger could lay: the gentlest shape that is clear, held by structure and out of the way; never a
coil. Not every length can be had between two studs: then the answer says so.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np

from geometry.apart import LaidCable, nearest_cable
from geometry.corners import Corners, corners_of, rounded, usable
from geometry.curve import Curve
from geometry.runs import NoRun, Request, Run
from geometry.space import Space
from geometry.supports import clamps_on, longest_bare_m
from geometry.surplus_shapes import profiles
from geometry.surplus_ways import LAYING_OFF_M, Asked, Way, corners_moved, shapes_on_legs, ways_round
from geometry.surroundings import FAR_M, RoomGrid, Surroundings, room_grid

AS_IT_IS_M = 2.5e-4  # surplus below this is left in the cable: half of what the check of lengths allows
SHAVED_M = 5e-5  # a run may be this much nearer than asked, as the router's own
GENTLE_COST = 3.0  # no need to look further once a way costs no more than this
EXACT_LOOKS = 40
LOOKS_A_KIND = 6
STRUCTURE_NEAR_M = 0.08  # without a rule for clamps: cable nearer than this to structure can be fixed to it
NEAR_M = 0.3  # solids further off are not looked at
STEP_M = 0.008
ROOM_ROUND_M = 0.9  # the grid reaches so far beyond the runs, and further for more surplus


def lay_at_length(
    space: Space,
    request: Request,
    run: Run,
    target_m: float,
    *,
    others: tuple[LaidCable, ...] = (),
    span_m: float | None = None,
    reach_m: float | None = None,
    grid: RoomGrid | None = None,
) -> Run | NoRun:
    """The run laid at exactly `target_m` developed length, or why it cannot be.

    `run` is the shortest run found for this request. `others`: cables laid before, which this one must not lie in.
    `grid`: from `grid_around`, when many leads of one space are laid.
    """
    return lay_among(space, request, run, target_m, others=others, span_m=span_m, reach_m=reach_m, grid=grid)[0]


def lay_among(
    space: Space,
    request: Request,
    run: Run,
    target_m: float,
    *,
    others: tuple[LaidCable, ...] = (),
    span_m: float | None = None,
    reach_m: float | None = None,
    grid: RoomGrid | None = None,
) -> tuple[Run | NoRun, Run | None]:
    """As `lay_at_length`; and, if nothing but other cables is in the way, the gentlest run that crosses one."""
    surroundings = Surroundings(space) if grid is None else grid.around
    surplus_m = target_m - run.length_m
    if surplus_m < -AS_IT_IS_M:
        why = f"its shortest run is {_mm(run.length_m)} mm, longer than {_mm(target_m)} mm"
        return NoRun(request.name, why, "", 0.0, None, proved=False), None
    if surplus_m <= AS_IT_IS_M:
        return run, None
    grid = grid_around(surroundings, [run], surplus_m) if grid is None else grid
    asked_span_m = span_m
    if span_m is not None and reach_m is not None:
        # where the shortest run itself cannot be clamped, that is told of it; then surplus near structure is preferred
        # but may hang as well
        straight_m = request.cable.straight_m
        if longest_bare_m(surroundings, run.curve, reach_m=reach_m, straight_m=straight_m) > span_m:
            span_m = math.inf
    corners = corners_of(run.curve)
    asked = _asked(request, surplus_m, span_m, reach_m)
    looked = _Looked()
    ways = shapes_on_legs(corners, grid, asked)
    if not ways or ways[0].cost > GENTLE_COST:
        ways = ways + corners_moved(corners, grid, asked) + ways_round(corners, grid, asked)
    ways.sort(key=lambda way: (way.cost, way.name))
    failed: dict[tuple[str, int, int], int] = {}
    looks = 0
    for way in ways:
        if failed.get(way.kind, 0) >= LOOKS_A_KIND:
            continue
        if looks >= EXACT_LOOKS:
            break
        looks += 1
        laid = _laid(surroundings, request, run, way, target_m, others, span_m, asked_span_m, reach_m, looked)
        if laid is not None:
            return laid, None
        failed[way.kind] = failed.get(way.kind, 0) + 1
    why = _why_not(corners, asked, looked, ways)
    return NoRun(request.name, why, looked.worst, 0.0, None, proved=False), looked.crossing


def grid_around(surroundings: Surroundings, runs: list[Run], surplus_m: float) -> RoomGrid:
    """The grid that surplus of these runs is sifted on. Build it once for all leads of a space."""
    points = np.vstack([run.curve.sampled(0.1) for run in runs])
    margin = ROOM_ROUND_M + surplus_m / 4
    return room_grid(surroundings, points.min(axis=0) - margin, points.max(axis=0) + margin)


def least_slack(surroundings: Surroundings, request: Request, curve: Curve) -> tuple[float, float, str]:
    """The least distance from the centreline to solids less their keep-off, where (m along), and to which solid.

    Near its studs the curve may touch what they stand on, by the rule of `End.within`; a curve that comes nearer
    there than it may has a slack of minus infinity. Exact to 0.05 mm, unless it is hopeless anyway.
    """
    whole_m = curve.length_m
    hopeless_m = request.cable.standoff_m - 2e-3
    if not _lifts_off(surroundings, request, curve):
        return -math.inf, 0.0, ", ".join((*request.start.within, *request.finish.within))
    least, at_m, which = FAR_M, 0.0, -1
    lift_m = request.cable.lift_off_m
    marks = np.unique(np.clip([0.0, lift_m, whole_m - lift_m, whole_m], 0.0, whole_m))
    points = curve.sampled(2 * STEP_M)
    for from_m, to_m in itertools.pairwise(marks.tolist()):
        middle_m = (from_m + to_m) / 2
        own = (request.start.within if middle_m < lift_m else ()) + (
            request.finish.within if middle_m > whole_m - lift_m else ()
        )
        near = surroundings.near(points, NEAR_M + STEP_M, frozenset(own))
        found_m, place_m, solid = surroundings.clearances.least_along(curve, from_m, to_m, near, enough_m=hopeless_m)
        if found_m < least:
            least, at_m, which = found_m, place_m, solid
        if least < hopeless_m:
            break
    named = surroundings.named(which)
    return least, at_m, named.name if named else ""


@dataclass
class _Looked:
    """What stood in the way of the ways that were looked at exactly."""

    blocked: dict[str, int] | None = None
    bare_m: float = math.inf  # the shortest of the longest stretches without a clamp
    crossing: Run | None = None  # the first that was sound but for another cable

    def note(self, name: str) -> None:
        self.blocked = self.blocked or {}
        self.blocked[name] = self.blocked.get(name, 0) + 1

    @property
    def worst(self) -> str:
        return max(sorted(self.blocked), key=lambda name: (self.blocked or {})[name]) if self.blocked else ""


def _asked(request: Request, surplus_m: float, span_m: float | None, reach_m: float | None) -> Asked:
    cable = request.cable
    held = span_m is not None and reach_m is not None
    return Asked(
        surplus_m,
        cable.radius_m,
        cable.standoff_m,
        cable.bend_radius_m,
        cable.straight_m,
        near_m=reach_m if held and reach_m is not None else STRUCTURE_NEAR_M,
        span_m=span_m if held and span_m is not None else math.inf,
    )


def _laid(
    surroundings: Surroundings,
    request: Request,
    run: Run,
    way: Way,
    target_m: float,
    others: tuple[LaidCable, ...],
    span_m: float | None,
    asked_span_m: float | None,
    reach_m: float | None,
    looked: _Looked,
) -> Run | None:
    """The way as a run, if it is clear in every respect when measured exactly."""
    cable = request.cable
    try:
        curve = rounded(way.corners)
    except ValueError:
        return None
    if abs(curve.length_m - target_m) > 1e-6 or _meets_itself(curve, cable.bend_radius_m, cable.radius_m):
        return None
    slack_m, at_m, solid = least_slack(surroundings, request, curve)
    if slack_m < cable.standoff_m - SHAVED_M:
        looked.note(solid)
        return None
    from_m, to_m = changed_stretch(run.curve, curve)
    if not _may_lie(surroundings, run.curve, curve, from_m, to_m):
        looked.note("a hot zone or walkway")
        return None
    apart_m, other, _ = nearest_cable(
        curve, cable.straight_m + cable.bend_radius_m, from_m, to_m, others, cable.radius_m
    )
    if apart_m < 0:
        looked.note(other)
        if looked.crossing is not None:
            return None
    clamps = run.clamps
    if span_m is not None and asked_span_m is not None and reach_m is not None:
        bare_m = longest_bare_m(surroundings, curve, reach_m=reach_m, straight_m=cable.straight_m)
        if bare_m > span_m:
            looked.bare_m = min(looked.bare_m, bare_m)
            return None
        clamps, _ = clamps_on(surroundings, curve, span_m=asked_span_m, reach_m=reach_m, straight_m=cable.straight_m)
    at = curve.points_at([at_m])[0]
    laid = replace(
        run,
        curve=curve,
        least_clearance_m=slack_m - cable.radius_m,
        least_clearance_at=(float(at[0]), float(at[1]), float(at[2])),
        least_clearance_to=solid,
        penetrations=passed_holes(surroundings.space, curve),
        clamps=clamps,
        surplus_shape=way.name,
    )
    if apart_m < 0:
        looked.crossing = laid
        return None
    return laid


def changed_stretch(before: Curve, after: Curve) -> tuple[float, float]:
    """From where to where (m along `after`) the second curve differs from the first."""
    step_m = 0.004
    shortest_m = min(before.length_m, after.length_m)
    along = np.linspace(0.0, shortest_m, int(shortest_m / step_m) + 2)
    off = np.linalg.norm(before.points_at(along) - after.points_at(along), axis=1) > 1e-6
    from_m = float(along[max(int(off.argmax()) - 1, 0)]) if off.any() else shortest_m
    back = (
        np.linalg.norm(before.points_at(before.length_m - along) - after.points_at(after.length_m - along), axis=1)
        > 1e-6
    )
    to_m = after.length_m - (float(along[max(int(back.argmax()) - 1, 0)]) if back.any() else shortest_m)
    return min(from_m, to_m), max(from_m, to_m)


def passed_holes(space: Space, curve: Curve) -> tuple[str, ...]:
    """Penetrations that the curve goes through, in its order."""
    points = curve.sampled(0.003)
    passed = []
    for hole in space.penetrations:
        out = points - np.array(hole.centre)
        height = out @ np.array(hole.axis)
        beside = np.linalg.norm(out - height[:, None] * np.array(hole.axis), axis=1)
        widest_m = max(hole.diameter_m / 2, math.sqrt(hole.area_m2 / 2))  # a square hole's corner
        crossed = np.flatnonzero((height[:-1] * height[1:] <= 0) & (beside[:-1] < widest_m))
        if len(crossed):
            passed.append((int(crossed[0]), hole.name))
    return tuple(name for _, name in sorted(passed))


def _lifts_off(surroundings: Surroundings, request: Request, curve: Curve) -> bool:
    """Between the lug's straight and `lift_off_m` no nearer to what the stud stands on than along the straight."""
    around, cable = surroundings.clearances, request.cable
    under_lug = np.linspace(0.0, cable.straight_m, 9)
    lifting = np.arange(cable.straight_m, cable.lift_off_m + 0.001, 0.002)
    for end, sign, stud_m in ((request.start, 1.0, 0.0), (request.finish, -1.0, curve.length_m)):
        own = np.array([i for i, o in enumerate(surroundings.space.obstacles) if o.name in end.within], dtype=np.intp)
        if not len(own):
            continue
        gap_m = around.distances(curve.points_at(stud_m + sign * under_lug), own)
        # where the lug lies flat the cable lifts off from there
        flat = gap_m[-1] < cable.standoff_m - SHAVED_M
        needed_m = np.where(flat, np.minimum(cable.standoff_m, gap_m.min(axis=0)), cable.standoff_m)
        lifted_m = around.distances(curve.points_at(stud_m + sign * lifting), own).min(axis=0)
        if (lifted_m < needed_m - SHAVED_M).any():
            return False
    return True


def _may_lie(surroundings: Surroundings, before: Curve, after: Curve, from_m: float, to_m: float) -> bool:
    """Whether what was changed keeps off hot walls and walkways, or no nearer than the shortest run had to come."""
    if all(obstacle.laying for obstacle in surroundings.space.obstacles):
        return True
    was_to_m = before.length_m - (after.length_m - to_m)
    was = before.points_at(np.linspace(from_m, max(was_to_m, from_m), 60))
    now = after.points_at(np.arange(from_m, to_m, 0.005))
    needed_m = min(LAYING_OFF_M, float(surroundings.laying_slack(was, 0.5).min()))
    return float(surroundings.laying_slack(now, 0.5).min(initial=math.inf)) >= needed_m - 1e-3


def _meets_itself(curve: Curve, bend_radius_m: float, radius_m: float) -> bool:
    """Whether the cable runs into itself: two places further apart along it than half a turn, nearer than its skin."""
    for step_m in (0.02, 0.006):  # most are settled by the coarse look
        along = np.linspace(0.0, curve.length_m, int(curve.length_m / step_m) + 2)
        points = curve.points_at(along)
        points = points - points.mean(axis=0)
        square = (points**2).sum(axis=1)
        apart = square[:, None] + square[None, :] - 2 * points @ points.T
        later = along[None, :] - along[:, None] > math.pi * bend_radius_m
        slip_m = step_m if step_m > 0.006 else 0.001
        if not bool((apart[later] < (2 * radius_m + slip_m) ** 2).any()):
            return False
    return True


def _why_not(corners: Corners, asked: Asked, looked: _Looked, ways: list[Way]) -> str:
    surplus = f"{_mm(asked.surplus_m)} mm of surplus"
    spans = usable(corners, asked.straight_m)
    longest_m = max(float((spans[:, 1] - spans[:, 0]).max()), 0.0)
    if not profiles(longest_m, asked.surplus_m, asked.bend_radius_m) and not ways:
        return (
            f"{surplus} cannot be laid: its longest straight is {_mm(longest_m)} mm, too short for a bow of bend "
            f"radius {_mm(asked.bend_radius_m)} mm, and no corner can be moved"
        )
    if math.isfinite(looked.bare_m) and not looked.blocked:
        bare = f"at best {_mm(looked.bare_m)} mm hang free"
        return f"{surplus} cannot be clamped: {bare}, {_mm(asked.span_m)} mm are allowed"
    if looked.worst:
        return f'no clear place was found for {surplus}: "{looked.worst}" is in the way'
    return f"no clear place was found for {surplus} within reach of structure"


def _mm(value_m: float) -> str:
    return f"{value_m * 1000:.1f}"
