"""Does a run obey every rule? Asked by a stranger who saw only the space, the request and the centreline.

Shares no code with the router, with what lays surplus, or with the solids' own distances. Used by tests, and before
a plan is printed. Cables against each other: `check_cables.py`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from geometry.check_distance import (
    Numbers,
    lowest,
    own_distance,
    own_ends,
    own_length_m,
    own_points,
    own_whole_m,
)
from geometry.curve import Arc, Curve, Straight
from geometry.runs import CableShape, End, Request, Run
from geometry.space import Obstacle, Penetration, Space

JOIN_M = 1e-5  # pieces meet, and the run reaches its studs, to this
TURN_RAD = math.radians(0.1)  # directions agree to this
CLEARANCE_M = 1e-4  # a run may be this much nearer than asked: a tenth of what a tape can show
BEND_M = 1e-4
LENGTH_M = 5e-4  # developed length against target
DEPTH_M = 1e-3  # a lug may dip this much deeper into what it lies on than the stud does


def faults_in_run(
    space: Space,
    request: Request,
    run: Run,
    *,
    target_m: float | None = None,
    span_m: float | None = None,
    reach_m: float | None = None,
) -> list[str]:
    """Every rule the run breaks, in words with figures; empty when it is sound.

    `target_m`: developed length asked for, met to 0.5 mm. `span_m`, `reach_m`: clamps at most so far apart along
    the run, the centreline at most so far from the structure they are fixed to; no clamps are asked for if either
    is missing. Near an end the solids named in its `within` are held to the rule told there: along the lug's straight
    the run is no deeper in them than the stud is, up to `lift_off_m` it comes no nearer than along that straight.
    """
    broken = _faults_in_shape(run.curve)
    if broken:  # nothing else can be measured on a broken curve
        return [f"{request.name}: {fault}" for fault in broken]
    faults = [
        *_faults_at_end(run.curve, request.start, request.cable.straight_m, "start"),
        *_faults_at_end(_backwards(run.curve), request.finish, request.cable.straight_m, "end"),
        *_faults_in_bends(run.curve, request.cable),
        *_faults_in_length(run, target_m),
        *_faults_in_clearance(space, request, run),
        *_faults_in_compartments(space, request, run.curve),
        *_faults_in_penetrations(space, run),
    ]
    if span_m is not None and reach_m is not None:
        faults += _faults_in_support(space, run, span_m, reach_m)
    return [f"{request.name}: {fault}" for fault in faults]


def _faults_in_shape(curve: Curve) -> list[str]:
    if not curve.pieces:
        return ["the run has no pieces"]
    for number, piece in enumerate(curve.pieces, start=1):
        figures = [piece.start, piece.end] if isinstance(piece, Straight) else [piece.start, piece.centre, piece.normal]
        if not all(np.isfinite(figure).all() for figure in figures) or not own_length_m(piece) > 0:
            return [f"piece {number} has no length, or figures that are no numbers"]
        if isinstance(piece, Arc):
            spoke = piece.start - piece.centre
            lean = abs(float(piece.normal @ spoke)) / float(np.linalg.norm(spoke))
            if abs(float(np.linalg.norm(piece.normal)) - 1) > 1e-6 or lean > 1e-6 or not piece.angle_rad > 0:
                return [f"piece {number} is no arc: its axis is not unit and square to its radius"]
    faults = []
    for number, (one, two) in enumerate(pairwise(curve.pieces), start=1):
        _, _, end, out = own_ends(one)
        start, on, _, _ = own_ends(two)
        gap_m = float(np.linalg.norm(start - end))
        kink_rad = _angle_rad(out, on)
        if gap_m > JOIN_M:
            faults.append(f"pieces {number} and {number + 1} do not meet: {_mm(gap_m)} mm apart")
        if kink_rad > TURN_RAD:
            faults.append(f"a kink of {math.degrees(kink_rad):.2f} degrees between pieces {number} and {number + 1}")
    return faults


def _faults_at_end(curve: Curve, end: End, straight_m: float, which: str) -> list[str]:
    """Of the first end of the curve; for the other end the curve comes turned round."""
    start, heading, _, _ = own_ends(curve.pieces[0])
    faults = []
    off_m = float(np.linalg.norm(start - np.array(end.point)))
    if off_m > JOIN_M:
        faults.append(f"its {which} misses the stud by {_mm(off_m)} mm")
    turn_rad = min(_angle_rad(heading, np.array(direction)) for direction in end.directions)
    if turn_rad > TURN_RAD:
        faults.append(f"at its {which} it leaves the stud {math.degrees(turn_rad):.1f} degrees off the lug's way")
    straight = 0.0
    for piece in curve.pieces:
        if not isinstance(piece, Straight):
            break
        straight += own_length_m(piece)
    if straight < straight_m - BEND_M:
        faults.append(f"only {_mm(straight)} mm straight at its {which}, {_mm(straight_m)} mm needed")
    return faults


def _faults_in_bends(curve: Curve, cable: CableShape) -> list[str]:
    faults = []
    for piece in curve.pieces:
        if isinstance(piece, Arc):
            radius_m = float(np.linalg.norm(piece.start - piece.centre))
            if radius_m < cable.bend_radius_m - BEND_M:
                faults.append(f"a bend of radius {_mm(radius_m)} mm, least {_mm(cable.bend_radius_m)} mm")
            if piece.angle_rad > math.pi + TURN_RAD:
                faults.append(f"one bend turns {math.degrees(piece.angle_rad):.0f} degrees: a coil")
    # along a bend of the least radius two points half a turn apart are two radii apart; further along the cable may
    # come back to itself, but not into itself
    apart_m = math.pi * cable.bend_radius_m
    step_m = min(0.01, cable.radius_m)
    whole_m = own_whole_m(curve)
    along = np.linspace(0.0, whole_m, max(2, math.ceil(whole_m / step_m) + 1))
    points = own_points(curve, along)
    for first in range(0, len(along), 100):
        rows = slice(first, first + 100)
        square = ((points[None] - points[rows, None]) ** 2).sum(axis=2)
        later = along[None] > along[rows, None] + apart_m
        into = (later & (np.sqrt(square) < 2 * cable.radius_m - step_m)).any(axis=1)
        if into.any():
            faults.append(f"it runs into itself {_mm(along[first + int(into.argmax())])} mm from its start")
            break
    return faults


def _faults_in_length(run: Run, target_m: float | None) -> list[str]:
    faults = []
    measured_m = own_whole_m(run.curve)
    if abs(run.length_m - measured_m) > 1e-6:
        faults.append(f"its length is given as {_mm(run.length_m)} mm but measures {_mm(measured_m)} mm")
    if target_m is not None and abs(measured_m - target_m) > LENGTH_M:
        faults.append(f"it is {_mm(measured_m)} mm long, {_mm(measured_m - target_m)} mm off its target")
    if measured_m < run.lower_bound_m - 1e-6:
        faults.append(f"it is shorter than its own lower bound of {_mm(run.lower_bound_m)} mm")
    return faults


def _faults_in_clearance(space: Space, request: Request, run: Run) -> list[str]:
    faults = []
    cable, curve = request.cable, run.curve
    whole_m = own_whole_m(curve)
    least_m = math.inf
    found: dict[bytes, Numbers] = {}  # the first places looked at are the same for most solids

    def points_at(along: Numbers) -> Numbers:
        key = along.tobytes()
        if key not in found:
            found[key] = own_points(curve, along)
        return found[key]

    for obstacle in space.obstacles:

        def distance(along: Numbers, obstacle: Obstacle = obstacle) -> Numbers:
            return own_distance(obstacle.solid, points_at(along))

        needed_m = cable.standoff_m + obstacle.keep_off_m
        from_m, to_m = 0.0, whole_m
        if obstacle.name in request.start.within:
            from_m = min(cable.lift_off_m, whole_m)
            faults += _faults_lifting_off(obstacle, cable, curve, needed_m, "start")
        if obstacle.name in request.finish.within:
            to_m = max(whole_m - cable.lift_off_m, 0.0)
            faults += _faults_lifting_off(obstacle, cable, _backwards(curve), needed_m, "end")
        # what is neither too near nor nearer than the run says of itself need not be known closer
        matters_m = max(needed_m, min(least_m, run.least_clearance_m + cable.radius_m))
        nearest_m, at_m = lowest(distance, from_m, to_m, matters_m)
        if nearest_m < needed_m - CLEARANCE_M:
            faults.append(
                f'{_mm(nearest_m - cable.radius_m)} mm clear of "{obstacle.name}" {_mm(at_m)} mm from its start, '
                f"{_mm(needed_m - cable.radius_m)} mm needed"
            )
        least_m = min(least_m, nearest_m)
    if math.isfinite(least_m) and run.least_clearance_m > least_m - cable.radius_m + LENGTH_M:
        faults.append(
            f"its least clearance is given as {_mm(run.least_clearance_m)} mm but is {_mm(least_m - cable.radius_m)} mm"
        )
    return faults


def _faults_lifting_off(obstacle: Obstacle, cable: CableShape, curve: Curve, needed_m: float, which: str) -> list[str]:
    """Near a stud that stands on the obstacle: the curve comes from that stud."""
    whole_m = own_whole_m(curve)
    straight_m, lifted_m = min(cable.straight_m, whole_m), min(cable.lift_off_m, whole_m)
    under_lug_m = own_distance(obstacle.solid, own_points(curve, np.linspace(0.0, straight_m, 50)))
    faults = []
    if float(under_lug_m.min()) < min(float(under_lug_m[0]), 0.0) - DEPTH_M:
        faults.append(f'its {which} dives {_mm(-float(under_lug_m.min()))} mm into "{obstacle.name}"')
    lifts = float(under_lug_m[-1]) < needed_m - CLEARANCE_M  # else the straight has cleared it already
    allowed_m = (min(needed_m, float(under_lug_m.min())) if lifts else needed_m) - CLEARANCE_M
    nearest_m, at_m = lowest(
        lambda along: own_distance(obstacle.solid, own_points(curve, along)), straight_m, lifted_m, allowed_m
    )
    if nearest_m < allowed_m:
        faults.append(
            f'{_mm(nearest_m - cable.radius_m)} mm clear of "{obstacle.name}" {_mm(at_m)} mm from its {which}, '
            "nearer than its lug is"
        )
    return faults


def _faults_in_compartments(space: Space, request: Request, curve: Curve) -> list[str]:
    if not space.compartments:
        return []
    cable, whole_m = request.cable, own_whole_m(curve)
    along = np.linspace(0.0, whole_m, max(2, math.ceil(whole_m / 0.002) + 1))
    points = own_points(curve, along)
    room_m = np.full(len(points), -np.inf)
    for room in space.compartments:
        room_m = np.maximum(room_m, -own_distance(room.solid, points) - cable.standoff_m - room.keep_off_m)
    lifting = np.zeros(len(points), dtype=bool)  # from a stud that stands on a wall
    for end, from_m in ((request.start, along), (request.finish, whole_m - along)):
        if any(room.name in end.within for room in space.compartments):
            lifting |= from_m <= cable.lift_off_m
    for i in np.flatnonzero(room_m < -CLEARANCE_M):
        around = points[i] + (0.0 if lifting[i] else cable.standoff_m * (1 - 1e-3)) * _directions(200)
        inside = np.zeros(len(around), dtype=bool)
        for room in space.compartments:  # where rooms join, the wall of one is no wall
            inside |= own_distance(room.solid, around) <= CLEARANCE_M
        if not inside.all():
            return [f"it leaves its compartments, or comes too near their walls, at {_place(points[i])} mm"]
    return []


def _faults_in_penetrations(space: Space, run: Run) -> list[str]:
    passed = tuple(name for _, name in sorted(_passed(run.curve, space.penetrations)))
    if passed != run.penetrations:
        return [f"it passes {_listed(passed)}, not {_listed(run.penetrations)} as it says"]
    return []


def _passed(curve: Curve, penetrations: Sequence[Penetration]) -> list[tuple[float, str]]:
    """(along, name) of the holes that the curve goes through, by the change of side at each hole's middle."""
    whole_m = own_whole_m(curve)
    along = np.linspace(0.0, whole_m, max(2, math.ceil(whole_m / 0.002) + 1))
    points = own_points(curve, along)
    passed = []
    for hole in penetrations:
        out = points - np.array(hole.centre)
        height = out @ np.array(hole.axis)
        beside = np.sqrt(np.maximum((out**2).sum(axis=1) - height**2, 0.0))
        widest_m = max(hole.diameter_m / 2, math.sqrt(hole.area_m2 / 2))  # a square hole's corner
        through = (np.sign(height[:-1]) != np.sign(height[1:])) & (beside[:-1] < widest_m)
        passed += [(float(along[i]), hole.name) for i in np.flatnonzero(through)[:1]]
    return passed


def _faults_in_support(space: Space, run: Run, span_m: float, reach_m: float) -> list[str]:
    faults = []
    structures = {o.name: o.solid for o in (*space.obstacles, *space.compartments) if o.clampable}
    whole_m = own_whole_m(run.curve)
    held = [0.0, *(clamp.along_m for clamp in run.clamps), whole_m]  # a bolted lug holds its end
    for one_m, two_m in pairwise(held):
        if two_m - one_m > span_m + LENGTH_M:
            faults.append(
                f"{_mm(two_m - one_m)} mm without a clamp from {_mm(one_m)} mm on, at most {_mm(span_m)} mm allowed"
            )
        if two_m < one_m:
            faults.append(f"clamps out of order at {_mm(two_m)} mm")
    for clamp in run.clamps:
        point = own_points(run.curve, np.array([clamp.along_m]))
        off_m = float(np.linalg.norm(point[0] - np.array(clamp.point)))
        if off_m > LENGTH_M:
            faults.append(f"a clamp lies {_mm(off_m)} mm beside the run at {_mm(clamp.along_m)} mm")
        if clamp.structure not in structures:
            faults.append(f'a clamp at {_mm(clamp.along_m)} mm is fixed to "{clamp.structure}", which is no structure')
            continue
        gap_m = abs(float(own_distance(structures[clamp.structure], point)[0]))
        if gap_m > reach_m + CLEARANCE_M:
            faults.append(
                f'a clamp at {_mm(clamp.along_m)} mm is {_mm(gap_m)} mm from "{clamp.structure}", '
                f"at most {_mm(reach_m)} mm allowed"
            )
        if abs(gap_m - clamp.gap_m) > LENGTH_M:
            faults.append(f"a clamp's gap is given as {_mm(clamp.gap_m)} mm but is {_mm(gap_m)} mm")
    return faults


def _backwards(curve: Curve) -> Curve:
    pieces: list[Straight | Arc] = []
    for piece in curve.pieces[::-1]:
        _, _, end, _ = own_ends(piece)
        if isinstance(piece, Straight):
            pieces.append(Straight(piece.end, piece.start))
        else:
            pieces.append(Arc(piece.centre, end, -piece.normal, piece.angle_rad))
    return Curve(tuple(pieces))


def _angle_rad(one: Numbers, two: Numbers) -> float:
    return math.atan2(float(np.linalg.norm(np.cross(one, two))), float(one @ two))


def _directions(count: int) -> Numbers:
    """Unit vectors (count, 3) spread evenly over the sphere (golden-angle spiral)."""
    number = np.arange(count) + 0.5
    height = 1 - 2 * number / count
    turn = np.pi * (1 + 5**0.5) * number
    across = np.sqrt(1 - height**2)
    return np.column_stack([across * np.cos(turn), across * np.sin(turn), height])


def _mm(value_m: float) -> str:
    return f"{value_m * 1000:.1f}"


def _place(point: Numbers) -> str:
    return "(" + ", ".join(f"{value * 1000:.0f}" for value in point) + ")"


def _listed(names: tuple[str, ...]) -> str:
    return ", ".join(f'"{name}"' for name in names) if names else "no hole"
