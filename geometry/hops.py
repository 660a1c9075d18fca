"""Where a run meets another cable: can a small change of the run take it past, over or beside it?

Cables that only cross do not need lanes: one hops over the other where they meet. The other cables stand as thin rods
among the solids, each kept off by both radii, and the run is pulled taut among them from a first guess that lies on
one side of the cable in its way. Both sides are tried, the shorter is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from geometry.apart import LaidCable, nearest_cable
from geometry.bends import as_curve
from geometry.certify import clearance
from geometry.clearances import Clearances
from geometry.corners import Corners, Numbers, corners_of
from geometry.curve import Curve
from geometry.footing import MARGIN_M, Track, footings
from geometry.polish import FINE_SAMPLE_M, SAMPLE_M, polished
from geometry.runs import End, Request, Run
from geometry.solids import Box
from geometry.space import Obstacle, Space
from geometry.surplus import least_slack, passed_holes
from geometry.surroundings import Surroundings

MOST_HOPS = 12
ROD_M = 2e-6  # a rod is so thick: as good as a line
NEAR_M = 0.12  # rods and solids further from the run than this are left out of the pulling; the check has them all
ALIKE = 0.35  # sine of the angle below which two cables run alike
SMALL_M = 0.01  # a hop that costs no more is good enough
CHORD_SLACK_M = 1.5e-4  # pieces of a bend as rods, and the run's own margin
FINE_MARGIN_M = 2e-5
LEEWAY_M = 2e-6
SHAVED_M = 5e-5


def hopped(
    surroundings: Surroundings,
    request: Request,
    run: Run,
    others: tuple[LaidCable, ...],
) -> Run | None:
    """The run with small changes that take it past each cable in its way in turn; None if that does not work out."""
    cable = request.cable
    loose_m = cable.straight_m + cable.bend_radius_m
    curve, corners = run.curve, corners_of(run.curve)
    met: dict[str, LaidCable] = {}  # cables hopped so far: the run is pulled taut among these alone
    for _ in range(MOST_HOPS):
        apart_m, name, at_m = nearest_cable(curve, loose_m, 0.0, curve.length_m, others, cable.radius_m)
        if apart_m >= 0:
            return checked(surroundings, request, run, curve)
        met[name] = next(other for other in others if other.name == name)
        pull = _Pull(surroundings, request, corners, tuple(met.values()))
        better: Curve | None = None
        for guessed in _guesses(corners, curve, at_m, met[name], cable.radius_m):
            made = pull.curve(guessed)
            if made is not None and (better is None or made.length_m < better.length_m):
                better = made
                if made.length_m < curve.length_m + SMALL_M:
                    break
        if better is None:
            return None
        curve, corners = better, corners_of(better)
    return None


class _Pull:
    """The run's surroundings with the other cables in them as rods."""

    def __init__(
        self, surroundings: Surroundings, request: Request, corners: Corners, others: Sequence[LaidCable]
    ) -> None:
        self.request = request
        points = corners.points
        low, high = points.min(axis=0) - 2 * NEAR_M, points.max(axis=0) + 2 * NEAR_M
        space = surroundings.space
        own = {*request.start.within, *request.finish.within}
        obstacles = [
            obstacle
            for obstacle in space.obstacles
            if obstacle.name in own
            or bool(
                (obstacle.solid.bounds()[0] - obstacle.keep_off_m <= high).all()
                and (obstacle.solid.bounds()[1] + obstacle.keep_off_m >= low).all()
            )
        ]
        line = _dense(points)
        for other in others:
            keep_off_m = other.radius_m + CHORD_SLACK_M - request.cable.clearance_m
            obstacles += [
                Obstacle(f"cable {other.name}", rod, keep_off_m, clampable=False)
                for rod in _rods(other, line, points[0], points[-1])
            ]
        self.around = Clearances(Space(tuple(obstacles), space.compartments))
        first = points[1] - points[0]
        last = points[-2] - points[-1]
        start = footings(self.around, _one_way(request.start, first), request.cable)[0]
        finish = footings(self.around, _one_way(request.finish, last), request.cable)[0]
        cable = request.cable
        self.track = (
            Track(start[0], finish[0], cable.standoff_m, cable.bend_radius_m) if start and finish else None
        )

    def curve(self, corners: Corners) -> Curve | None:
        """Pulled taut from these corners, clear of solids and cables; None if that does not work out."""
        if self.track is None:
            return None
        inner, radii = corners.points[1:-1], corners.radii[1:-1]
        if len(inner) < 2:
            return None
        for margin_m, sample_m in ((MARGIN_M, SAMPLE_M), (FINE_MARGIN_M, FINE_SAMPLE_M)):
            result = polished(self.around, self.track, inner, radii=radii, margin_m=margin_m, sample_m=sample_m)
            if result.trespass_m > margin_m / 2:
                continue
            try:
                curve = as_curve(result.run)
            except ValueError:
                continue
            sure = clearance(self.around, self.track, curve, -LEEWAY_M).certain_m >= -LEEWAY_M
            if sure and curve.least_bend_radius_m >= self.track.bend_radius_m - 1e-9:
                return curve
        return None


def checked(surroundings: Surroundings, request: Request, run: Run, curve: Curve) -> Run | None:
    """The curve as a run, if it is clear of every solid when measured exactly."""
    slack = least_slack(surroundings, request, curve)
    if slack[0] < request.cable.standoff_m - SHAVED_M:
        return None
    return as_run(surroundings, request, run, curve, slack)


def as_run(
    surroundings: Surroundings, request: Request, run: Run, curve: Curve, slack: tuple[float, float, str]
) -> Run:
    """The run along another curve; `slack` as `least_slack` tells it."""
    at = curve.points_at([slack[1]])[0]
    return replace(
        run,
        curve=curve,
        least_clearance_m=slack[0] - request.cable.radius_m,
        least_clearance_at=(float(at[0]), float(at[1]), float(at[2])),
        least_clearance_to=slack[2],
        penetrations=passed_holes(surroundings.space, curve),
        clamps=(),
    )


def _guesses(corners: Corners, curve: Curve, at_m: float, met: LaidCable, radius_m: float) -> list[Corners]:
    """First guesses past the other cable at this place: square to both cables, or all round if they run alike.

    A corner is put in beside the other cable, or the leg that meets it is moved aside as it is.
    """
    here, way = _place(curve, at_m)
    along, points = met.traced[0], met.traced[1]
    roughly_m = float(along[int(np.linalg.norm(points - here, axis=1).argmin())])
    fine = np.clip(np.linspace(roughly_m - 0.025, roughly_m + 0.025, 101), 0.0, met.curve.length_m)
    there_m = float(fine[int(np.linalg.norm(met.curve.points_at(fine) - here, axis=1).argmin())])
    there, their_way = _place(met.curve, there_m)
    across = np.cross(way, their_way)
    if float(np.linalg.norm(across)) > ALIKE:
        sides = [_unit(across), -_unit(across)]
    else:
        one = _unit(np.cross(way, np.eye(3)[int(np.argmin(np.abs(way)))]))
        two = np.cross(way, one)
        sides = [one, -one, two, -two]
    # the side on which the run already lies is the likeliest
    sides.sort(key=lambda side: round(-float((here - there) @ side), 6))
    after = _corner_after(corners, here)
    needed_m = radius_m + met.radius_m + 2 * CHORD_SLACK_M
    inner = np.zeros(len(corners.points), dtype=bool)
    inner[after - 1 : after + 1] = True
    inner[[0, -1]] = False
    put_in, moved = [], []
    for side in sides:
        move = (needed_m - float((here - there) @ side)) * side
        place = here + move
        points_now = np.vstack([corners.points[:after], place, corners.points[after:]])
        radii = np.concatenate([corners.radii[:after], [corners.radii[1:-1].min()], corners.radii[after:]])
        put_in.append(Corners(points_now, radii))
        moved.append(Corners(corners.points + inner[:, None] * move, corners.radii))
    return [*put_in, *moved] if float(np.linalg.norm(across)) > ALIKE else [*moved, *put_in]


def _place(curve: Curve, at_m: float) -> tuple[Numbers, Numbers]:
    """The point at this place and the direction of the curve there."""
    back_m = min(max(at_m, 0.0), curve.length_m - 1e-4)
    one, two = curve.points_at([back_m, back_m + 1e-4])
    return one, _unit(two - one)


def _corner_after(corners: Corners, point: Numbers) -> int:
    """The number of the corner before which a corner at this point belongs; never before the first or after the last."""
    starts, legs = corners.points[:-1], np.diff(corners.points, axis=0)
    share = np.clip(((point - starts) * legs).sum(axis=1) / np.maximum((legs**2).sum(axis=1), 1e-18), 0.0, 1.0)
    off = np.linalg.norm(point - starts - share[:, None] * legs, axis=1)
    return min(max(int(off.argmin()) + 1, 2), len(corners.points) - 2)


def _rods(other: LaidCable, line: Numbers, start: Numbers, finish: Numbers) -> list[Box]:
    """The other cable's rods near this line; not those behind a lug on the same stud, where cables are dressed apart."""
    rods, along = other.hard_rods, other.hard_rods_along
    halves = np.linalg.norm(rods[:, 1] - rods[:, 0], axis=1) / 2
    kept = np.linalg.norm(rods.mean(axis=1)[:, None] - line[None], axis=2).min(axis=1) < NEAR_M + halves
    for stud in (start, finish):
        if np.linalg.norm(other.curve.start - stud) < 2 * other.radius_m:
            kept &= along > other.loose_m
        if np.linalg.norm(other.curve.end - stud) < 2 * other.radius_m:
            kept &= other.curve.length_m - along > other.loose_m
    return [_rod(rod[0], rod[1]) for rod in rods[kept]]


def _rod(start: Numbers, end: Numbers) -> Box:
    way = end - start
    long_m = float(np.linalg.norm(way))
    x = way / long_m
    y = _unit(np.cross(x, np.eye(3)[int(np.argmin(np.abs(x)))]))
    z = np.cross(x, y)
    middle = (start + end) / 2
    return Box(tuple(middle.tolist()), (long_m, ROD_M, ROD_M), (tuple(x.tolist()), tuple(y.tolist()), tuple(z.tolist())))


def _one_way(end: End, towards: Numbers) -> End:
    best = max(end.directions, key=lambda way: float(np.array(way) @ towards))
    return replace(end, directions=(best,))


def _dense(points: Numbers) -> Numbers:
    parts = [
        a + (b - a) * np.linspace(0.0, 1.0, max(2, int(np.ceil(np.linalg.norm(b - a) / 0.06)) + 1))[:, None]
        for a, b in zip(points[:-1], points[1:], strict=True)
    ]
    return np.vstack(parts)


def _unit(vector: Numbers) -> Numbers:
    return vector / np.linalg.norm(vector)
