"""Part of a run pulled taut among solids and the other cables: what comes of a first guess?

The other cables stand as thin rods among the solids, each kept off by both radii.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from geometry.apart import LaidCable
from geometry.clearances import Clearances, Indices
from geometry.corners import Corners, Numbers, rounded
from geometry.footing import MARGIN_M, Footing, Track, footings
from geometry.polish import SAMPLE_M, polished
from geometry.runs import End, Request
from geometry.solids import Box
from geometry.space import Obstacle, Space
from geometry.surroundings import Surroundings

NEAR_M = 0.09  # rods further from the guess are left out of the pulling; the look afterwards has them all
SOLIDS_NEAR_M = 0.25  # the same for solids
ROD_SLACK_M = 3e-4  # more than bends as rods and a coarse pull may be wrong by
WIDER = 1.006  # bends are pulled so much wider than they must be, to have something to give
CLOSE_M = 2e-4  # a pull may end so far from clear: its bends give, and rods have their slack
NEARLY_M = 1e-3  # a pull that ends so near to being clear is tried once more from there
HOPELESS_M = 4e-3  # a pull that is further from clear than this, and gets there slowly, is given up
PULLS = 3
STEPS = 40


def pulled(
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
    into = unit(corners.points[corner] - corners.points[corner - 1])
    out = unit(corners.points[corner + 1] - corners.points[corner])
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
    return Footing(anchor, unit(onward - anchor), 0.0, 0.0, nothing, np.zeros(0), anchor, (), 0.0)


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


def _one_way(end: End, towards: Numbers) -> End:
    best = max(end.directions, key=lambda way: float(np.array(way) @ towards))
    return replace(end, directions=(best,))


def _dense(points: Numbers) -> Numbers:
    parts = [
        a + (b - a) * np.linspace(0.0, 1.0, max(2, math.ceil(float(np.linalg.norm(b - a)) / 0.06) + 1))[:, None]
        for a, b in itertools.pairwise(points)
    ]
    return np.vstack(parts)


def unit(vector: Numbers) -> Numbers:
    return vector / np.linalg.norm(vector)
