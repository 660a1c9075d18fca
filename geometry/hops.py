"""Where a run meets another cable: can a small change of the run take it past, over or beside it?

Cables that only cross need no lanes: one hops over the other where they meet. The other cables stand as thin rods
among the solids, each kept off by both radii. A stretch of the run is pulled taut among them from a first guess that
lies on one side of the cable in its way; the sides are tried in turn, and the change that costs least is kept.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from geometry.apart import LaidCable, nearest_cable
from geometry.clearances import Clearances, Indices
from geometry.corners import Corners, Numbers, corners_of, rounded
from geometry.curve import Curve
from geometry.footing import MARGIN_M, Footing, Track, footings
from geometry.polish import FINE_SAMPLE_M, SAMPLE_M, polished
from geometry.runs import End, Request, Run
from geometry.solids import Box
from geometry.space import Obstacle, Space
from geometry.surplus import least_slack, passed_holes
from geometry.surroundings import Surroundings

MOST_HOPS = 16
MENDS = 4
MOST_LONGER_M = 0.1  # a run is not made longer than this to clear others: dressed by hand it costs less
WINDOW = 2  # legs to either side of the place that may change; the rest of the run stays
NEAR_M = 0.09  # rods further from the guess are left out of the pulling; the look afterwards has them all
SOLIDS_NEAR_M = 0.25  # the same for solids
ROD_SLACK_M = 3e-4  # more than bends as rods and a coarse pull may be wrong by
ALIKE = 0.35  # sine of the angle below which two cables run alike
WIDER = 1.006  # bends are pulled so much wider than they must be, to have something to give
CLOSE_M = 2e-4  # a pull may end so far from clear: its bends give, and rods have their slack
NEARLY_M = 1e-3  # a pull that ends so near to being clear is tried once more from there
HOPELESS_M = 4e-3  # a pull that is further from clear than this, and gets there slowly, is given up
PULLS = 3
STEPS = 40
SMALL_M = 0.01  # a hop that costs no more is good enough
SHAVED_M = 5e-5  # a run may be this much nearer than asked, as the router's own


@dataclass
class Effort:
    """How many pulls may still be made: where many cables cross in little room there is no end of ways to try."""

    pulls: int


def hopped(
    surroundings: Surroundings,
    request: Request,
    run: Run,
    others: tuple[LaidCable, ...],
    guess: Corners | None = None,
    heeded: Sequence[LaidCable] = (),
    *,
    effort: Effort,
    give_in: bool = False,
) -> tuple[Run | None, tuple[str, ...]]:
    """The run with small changes that take it past each cable in its way in turn, and the cables it still lies in.

    With a guess it starts from the run pulled taut from those corners among the cables `heeded`. If it cannot be taken
    past a cable there is no run; or, giving in, it lies in that cable and goes on past the others.
    """
    cable = request.cable
    loose_m = cable.straight_m + cable.bend_radius_m
    corners = corners_of(run.curve)
    met = {other.name: other for other in heeded}  # pulled taut among these alone, not among all
    lies_in: list[str] = []
    if guess is not None:
        pulled = _pulled(surroundings, request, guess, 0, len(guess.points) - 2, tuple(met.values()))
        if pulled is not None:
            corners = pulled
        elif not give_in:
            return None, ()
    for _ in range(MOST_HOPS):
        curve = rounded(corners)
        apart_m, name, at_m = nearest_cable(curve, loose_m, 0.0, curve.length_m, others, cable.radius_m)
        if apart_m >= 0:
            found = _finished(surroundings, request, run, corners, others, tuple(met.values()))
            return found, tuple(lies_in)
        met[name] = next(other for other in others if other.name == name)
        better = _past(surroundings, request, corners, curve, at_m, met[name], tuple(met.values()), effort)
        if better is not None and better.length_m <= run.length_m + MOST_LONGER_M:
            corners = better
            continue
        if not give_in:
            return None, ()
        del met[name]
        others = tuple(other for other in others if other.name != name)
        lies_in.append(name)
    return None, ()


def _past(
    surroundings: Surroundings,
    request: Request,
    corners: Corners,
    curve: Curve,
    at_m: float,
    met: LaidCable,
    heeded: tuple[LaidCable, ...],
    effort: Effort,
) -> Corners | None:
    """The run past one cable at one place, changed within a window of a few legs."""
    if effort.pulls <= 0:
        return None
    corners, leg = _leg_of(corners, curve, at_m, request.cable.bend_radius_m)
    from_leg, to_leg = max(leg - WINDOW, 0), min(leg + WINDOW, len(corners.points) - 2)
    best: Corners | None = None
    for guess, more in _guesses(corners, curve, at_m, leg, met, request.cable.radius_m):
        effort.pulls -= 1
        made = _pulled(surroundings, request, guess, from_leg, to_leg + more, heeded)
        if made is not None and (best is None or made.length_m < best.length_m):
            best = made
            if made.length_m < curve.length_m + SMALL_M:
                break
    return best


def _pulled(
    surroundings: Surroundings,
    request: Request,
    guess: Corners,
    from_leg: int,
    to_leg: int,
    others: tuple[LaidCable, ...],
    sample_m: float = SAMPLE_M,
) -> Corners | None:
    """The guess pulled taut between the middles of two of its legs (studs, if first and last); None: it is not clear.

    Not certified: what comes of it is measured exactly before it is used.
    """
    inner = guess.points[from_leg + 1 : to_leg + 1]
    if len(inner) < 2:
        return None
    start, finish = _anchor(guess, from_leg), _anchor(guess, to_leg)
    line = np.vstack([start, inner, finish])
    around = _with_rods(surroundings, request, line, guess.points[[0, -1]], others)
    feet = (
        _foot(around, request, request.start, guess.points[1], from_leg == 0, start, guess.points[from_leg + 1]),
        _foot(
            around, request, request.finish, guess.points[-2], to_leg == len(guess.points) - 2, finish,
            guess.points[to_leg],
        ),
    )  # fmt: skip
    if feet[0] is None or feet[1] is None:
        return None
    cable = request.cable
    track = Track(feet[0], feet[1], cable.standoff_m, WIDER * cable.bend_radius_m)
    radii = np.maximum(guess.radii[from_leg + 1 : to_leg + 1], track.bend_radius_m)
    for _ in range(PULLS):
        result = polished(
            around, track, inner, radii=radii, margin_m=MARGIN_M, sample_m=sample_m, steps=STEPS, hopeless_m=HOPELESS_M
        )
        if result.trespass_m > NEARLY_M:
            return None
        inner, radii = result.run.vertices[0, 1:-1], result.run.radii[0]
        if result.trespass_m > CLOSE_M:
            continue
        points = np.vstack([guess.points[: from_leg + 1], inner, guess.points[to_leg + 1 :]])
        all_radii = np.concatenate([guess.radii[: from_leg + 1], radii, guess.radii[to_leg + 1 :]])
        made = _fitted(Corners(points, all_radii), cable.bend_radius_m, cable.straight_m)
        if made is not None:
            return made
    return None


def _fitted(corners: Corners, least_radius_m: float, straight_m: float) -> Corners | None:
    """The corners with bends made so much tighter that none overlap; None if they would be too tight.

    Corners that hardly turn are left out. Runs are pulled with bends a little wider than they must be, for this.
    """
    points, radii = corners.points, corners.radii.copy()
    legs = np.diff(points, axis=0)
    long_m = np.linalg.norm(legs, axis=1)
    ways = legs / np.maximum(long_m, 1e-12)[:, None]
    half = np.arctan2(np.linalg.norm(ways[1:] - ways[:-1], axis=1), np.linalg.norm(ways[1:] + ways[:-1], axis=1))
    turns = np.concatenate([[True], half > 1e-6, [True]])
    if not turns.all():
        return _fitted(Corners(points[turns], radii[turns]), least_radius_m, straight_m)
    tangent = np.concatenate([[0.0], np.tan(half), [0.0]])
    asked_m = np.zeros(len(legs))
    asked_m[0] += straight_m
    asked_m[-1] += straight_m
    for leg in range(len(legs)):
        over_m = tangent[leg] * radii[leg] + tangent[leg + 1] * radii[leg + 1] + asked_m[leg] - long_m[leg] + 1e-8
        if over_m > 0:
            spare = np.maximum(radii[leg : leg + 2] - least_radius_m, 0.0)
            gain_m = float(spare @ tangent[leg : leg + 2])
            if gain_m < over_m:
                return None
            radii[leg : leg + 2] -= spare * over_m / gain_m
    fitted = Corners(points, radii)
    try:
        rounded(fitted)
    except ValueError:
        return None
    return fitted


def _finished(
    surroundings: Surroundings,
    request: Request,
    run: Run,
    corners: Corners,
    others: tuple[LaidCable, ...],
    heeded: tuple[LaidCable, ...],
) -> Run | None:
    """The corners as a run, if it is clear of every solid and cable when measured exactly; pulled finely if need be."""
    cable = request.cable
    loose_m = cable.straight_m + cable.bend_radius_m
    for mended in range(MENDS + 1):
        curve = rounded(corners)
        slack = least_slack(surroundings, request, curve)
        if slack[0] >= cable.standoff_m - SHAVED_M and curve.least_bend_radius_m >= cable.bend_radius_m - 1e-9:
            apart_m = nearest_cable(curve, loose_m, 0.0, curve.length_m, others, cable.radius_m)[0] if mended else 0.0
            return as_run(surroundings, request, run, curve, slack) if apart_m >= 0 else None
        # the coarse pull has missed something between its samples
        corners, leg = _leg_of(corners, curve, slack[1], cable.bend_radius_m)
        from_leg, to_leg = max(leg - WINDOW, 0), min(leg + WINDOW, len(corners.points) - 2)
        pulled = _pulled(surroundings, request, corners, from_leg, to_leg, heeded, FINE_SAMPLE_M)
        if pulled is None:
            return None
        corners = pulled
    return None


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


def _guesses(
    corners: Corners, curve: Curve, at_m: float, leg: int, met: LaidCable, radius_m: float
) -> list[tuple[Corners, int]]:
    """First guesses past the other cable, and how many corners each has more.

    Square to both cables, or all round if they run alike. A corner is put in beside the other cable, or the leg that
    meets it is moved aside as it is.
    """
    here, way = _place(curve, at_m)
    along, points = met.traced[0], met.traced[1]
    roughly_m = float(along[int(np.linalg.norm(points - here, axis=1).argmin())])
    fine = np.clip(np.linspace(roughly_m - 0.025, roughly_m + 0.025, 101), 0.0, met.curve.length_m)
    there_m = float(fine[int(np.linalg.norm(met.curve.points_at(fine) - here, axis=1).argmin())])
    there, their_way = _place(met.curve, there_m)
    across = np.cross(way, their_way)
    alike = float(np.linalg.norm(across)) <= ALIKE
    if alike:
        one = _unit(np.cross(way, np.eye(3)[int(np.argmin(np.abs(way)))]))
        two = np.cross(way, one)
        sides = [one, -one, two, -two]
    else:
        sides = [_unit(across), -_unit(across)]
    # the side on which the run already lies is the likeliest
    sides.sort(key=lambda side: round(-float((here - there) @ side), 6))
    needed_m = radius_m + met.radius_m + 2 * ROD_SLACK_M
    of_leg = np.zeros(len(corners.points))
    of_leg[leg : leg + 2] = 1.0
    of_leg[[0, -1]] = 0.0
    after = min(max(leg + 1, 2), len(corners.points) - 2)
    tight_m = corners.radii[1:-1].min()
    put_in, moved = [], []
    for side in sides:
        move = (needed_m - float((here - there) @ side)) * side
        more = np.vstack([corners.points[:after], here + move, corners.points[after:]])
        put_in.append((Corners(more, np.insert(corners.radii, after, tight_m)), 1))
        moved.append((Corners(corners.points + of_leg[:, None] * move, corners.radii), 0))
    return [*moved, *put_in] if alike else [*put_in, *moved]


def _leg_of(corners: Corners, curve: Curve, at_m: float, radius_m: float) -> tuple[Corners, int]:
    """On which leg (from corner `leg` to the next) a place of the run lies; a run without corners is given two."""
    if len(corners.points) < 4:
        shares = [1 / 3, 2 / 3] if len(corners.points) == 2 else [0.5]
        made = [corners.points[-2] + s * (corners.points[-1] - corners.points[-2]) for s in shares]
        points = np.vstack([corners.points[:-1], *made, corners.points[-1:]])
        corners = Corners(points, np.concatenate([[0.0], np.full(len(points) - 2, radius_m), [0.0]]))
    here = curve.points_at([at_m])[0]
    starts, legs = corners.points[:-1], np.diff(corners.points, axis=0)
    share = np.clip(((here - starts) * legs).sum(axis=1) / np.maximum((legs**2).sum(axis=1), 1e-18), 0.0, 1.0)
    off = np.linalg.norm(here - starts - share[:, None] * legs, axis=1)
    return corners, int(off.argmin())


def _anchor(corners: Corners, leg: int) -> Numbers:
    """Where the run is held: the stud on the first and last leg, else the middle of the leg's straight."""
    if leg == 0:
        return corners.points[0]
    if leg == len(corners.points) - 2:
        return corners.points[-1]
    back_m, ahead_m = _tangent_m(corners, leg), _tangent_m(corners, leg + 1)
    along = corners.points[leg + 1] - corners.points[leg]
    long_m = float(np.linalg.norm(along))
    return corners.points[leg] + along * min(max((back_m + long_m - ahead_m) / 2 / long_m, 0.0), 1.0)


def _tangent_m(corners: Corners, corner: int) -> float:
    """From a corner to where its bend begins."""
    into = _unit(corners.points[corner] - corners.points[corner - 1])
    out = _unit(corners.points[corner + 1] - corners.points[corner])
    half = math.atan2(float(np.linalg.norm(out - into)), float(np.linalg.norm(out + into)))
    return float(corners.radii[corner]) * math.tan(half)


def _foot(
    around: Clearances, request: Request, end: End, first: Numbers, at_stud: bool, anchor: Numbers, onward: Numbers
) -> Footing | None:
    """The footing at a stud, or where a run is held between two studs; None: the lug's own straight is not clear."""
    if at_stud:
        usable = footings(around, _one_way(end, first - np.array(end.point)), request.cable)[0]
        return usable[0] if usable else None
    nothing: Indices = np.zeros(0, dtype=np.intp)
    return Footing(anchor, _unit(onward - anchor), 0.0, 0.0, nothing, np.zeros(0), anchor, (), 0.0)


def _with_rods(
    surroundings: Surroundings, request: Request, line: Numbers, studs: Numbers, others: Sequence[LaidCable]
) -> Clearances:
    """The solids near a line, and the other cables near it as rods."""
    low, high = line.min(axis=0) - SOLIDS_NEAR_M, line.max(axis=0) + SOLIDS_NEAR_M
    around, space = surroundings.clearances, surroundings.space
    own = {*request.start.within, *request.finish.within}
    close = ((around.low - around.keep_off[:, None] <= high) & (around.high + around.keep_off[:, None] >= low)).all(
        axis=1
    )
    obstacles = [o for o, is_close in zip(space.obstacles, close, strict=False) if is_close or o.name in own]
    points = _dense(line)
    for other in others:
        keep_off_m = other.radius_m + ROD_SLACK_M - request.cable.clearance_m
        rods = _rods(other, points, studs)
        obstacles += [Obstacle(f"cable {other.name}", rod, keep_off_m, clampable=False) for rod in rods]
    return Clearances(Space(tuple(obstacles), space.compartments))


def _rods(other: LaidCable, points: Numbers, studs: Numbers) -> list[Box]:
    """The other cable's rods near these points; none behind a lug on the same stud, where cables are dressed apart."""
    along, (middles, halves) = other.hard_rods_along, other.hard_rods_balls
    near_m = NEAR_M + halves.max()
    close = ((middles > points.min(axis=0) - near_m) & (middles < points.max(axis=0) + near_m)).all(axis=1)
    if not close.any():
        return []
    off = middles[:, None] - points[None]
    kept = np.sqrt(np.einsum("nki,nki->nk", off, off)).min(axis=1) < NEAR_M + halves
    for stud in studs:
        if np.linalg.norm(other.curve.start - stud) < 2 * other.radius_m:
            kept &= along > other.loose_m
        if np.linalg.norm(other.curve.end - stud) < 2 * other.radius_m:
            kept &= other.curve.length_m - along > other.loose_m
    return [other.rod_solids[i] for i in np.flatnonzero(kept)]


def _place(curve: Curve, at_m: float) -> tuple[Numbers, Numbers]:
    """The point at this place and the direction of the curve there."""
    back_m = min(max(at_m, 0.0), curve.length_m - 1e-4)
    one, two = curve.points_at([back_m, back_m + 1e-4])
    return one, _unit(two - one)


def _one_way(end: End, towards: Numbers) -> End:
    best = max(end.directions, key=lambda way: float(np.array(way) @ towards))
    return replace(end, directions=(best,))


def _dense(points: Numbers) -> Numbers:
    parts = [
        a + (b - a) * np.linspace(0.0, 1.0, max(2, math.ceil(float(np.linalg.norm(b - a)) / 0.06) + 1))[:, None]
        for a, b in itertools.pairwise(points)
    ]
    return np.vstack(parts)


def _unit(vector: Numbers) -> Numbers:
    return vector / np.linalg.norm(vector)
