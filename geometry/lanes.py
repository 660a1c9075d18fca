"""Cables that share a hole: how many does it take, and which place in it does each get?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geometry.corners import Corners, Numbers, corners_of
from geometry.curve import Curve
from geometry.least_sum import least_sum
from geometry.runs import CableShape
from geometry.space import Penetration, Space

SLACK_M = 8e-4  # between lanes, beyond touching: bends are pulled a little wide, and rods are a little thick
MOUTH = 0.5  # bend radii: lanes go straight so far before and behind a hole
FAN_M = 0.12  # so far before and behind the hole it counts where the run comes from and goes to


@dataclass(frozen=True, eq=False)
class Lane:
    """A straight place through a hole, kept for one cable."""

    hole: Penetration
    start: Numbers  # (3,) m, in the sense of the run
    end: Numbers  # (3,) m


def lanes_through(hole: Penetration, curves: Sequence[Curve], cables: Sequence[CableShape]) -> tuple[Lane | None, ...]:
    """A lane for each cable that shares the hole, nearest to where its shortest run has it; None where none is left.

    All lanes are as wide as the thickest cable needs. The sum of squared distances from the lanes to the runs, in the
    hole and shortly before and behind it, is least: so bundles fan in and out without crossing.
    """
    radius_m = max(cable.radius_m for cable in cables)
    standoff_m = max(cable.standoff_m for cable in cables)
    places = ring_lanes(hole.diameter_m / 2 - standoff_m, 2 * radius_m + SLACK_M)
    if not len(places):
        return tuple(None for _ in curves)
    axis, centre = np.array(hole.axis), np.array(hole.centre)
    one, two = square_pair(axis)
    costs = np.zeros((len(curves), len(places)))
    senses = []
    for row, curve in enumerate(curves):
        at_m, sense = _passing(curve, centre, axis)
        senses.append(sense)
        for off_m in (-FAN_M, 0.0, FAN_M):
            beside = curve.points_at([at_m + off_m])[0] - centre
            costs[row] += ((places - (beside @ one, beside @ two)) ** 2).sum(axis=1)
    lanes: list[Lane | None] = [None] * len(curves)
    for row, place in enumerate(least_sum(costs.tolist())):
        if place is None:
            continue
        middle = centre + places[place, 0] * one + places[place, 1] * two
        half = (hole.depth_m / 2 + MOUTH * cables[row].bend_radius_m) * senses[row] * axis
        lanes[row] = Lane(hole, middle - half, middle + half)
    return tuple(lanes)


def through_lanes(curve: Curve, lanes: Sequence[Lane], cable: CableShape) -> Corners:
    """A first guess at the run through its lanes: its corners, those in a hole's mouth replaced by the lane's ends."""
    corners = corners_of(curve)
    points, radii = list(corners.points), corners.radii.tolist()
    for lane in lanes:
        leg = next((i for i in range(1, len(points)) if _crosses(points[i - 1], points[i], lane.hole)), None)
        if leg is None:
            continue
        points[leg:leg] = [lane.start, lane.end]
        radii[leg:leg] = [cable.bend_radius_m] * 2
        # the studs and the corners on the lines of the lugs stay
        stays = {0, 1, leg, leg + 1, len(points) - 2, len(points) - 1}
        kept = [i for i in range(len(points)) if i in stays or not _is_at(points[i], lane.hole, cable)]
        points, radii = [points[i] for i in kept], [radii[i] for i in kept]
    return Corners(np.array(points), np.array(radii))


def holes_of(space: Space, names: Sequence[str]) -> list[Penetration]:
    return [hole for name in names for hole in space.penetrations if hole.name == name]


def hole_capacity(hole: Penetration, cable: CableShape) -> int:
    """How many cables like this one the hole takes: by circles in a circle up to seven, by its fill limit beyond.

    Circles: least diameter round n of diameter 1 is 1, 2, 1 + 2 / sqrt 3, 1 + sqrt 2, 1 + 1 / sin 36 deg, 3, 3.
    """
    clear_m = hole.diameter_m - 2 * cable.clearance_m
    around = (1.0, 2.0, 1 + 2 / math.sqrt(3), 1 + math.sqrt(2), 1 + 1 / math.sin(math.pi / 5), 3.0, 3.0)
    count = sum(2 * cable.radius_m * ratio <= clear_m + 1e-6 for ratio in around)
    if count < len(around):
        return count
    return max(count, int(hole.fill_limit * hole.area_m2 / (math.pi * cable.radius_m**2) + 1e-9))


def ring_lanes(radius_m: float, pitch_m: float) -> Numbers:
    """Places (k, 2) for cables in a round hole, in rings from its edge inwards; `radius_m` for their middles.

    >>> len(ring_lanes(0.0265, 0.0172)), len(ring_lanes(0.0415, 0.0172))
    (11, 24)
    """
    lanes: list[tuple[float, float]] = []
    while radius_m > -1e-9:
        if radius_m < pitch_m / 2:
            lanes.append((0.0, 0.0))
            break
        count = int(math.pi / math.asin(min(pitch_m / (2 * radius_m), 1.0)) + 1e-9)
        turn = 2 * math.pi * np.arange(count) / count
        lanes += list(zip(radius_m * np.cos(turn), radius_m * np.sin(turn), strict=True))
        radius_m -= pitch_m
    return np.array(lanes).reshape(-1, 2)


def square_pair(along: Numbers) -> tuple[Numbers, Numbers]:
    """Two unit vectors (3,) square to this one and to each other."""
    heading = along / np.linalg.norm(along)
    least = np.eye(3)[int(np.argmin(np.abs(heading)))]
    one = least - (least @ heading) * heading
    one /= np.linalg.norm(one)
    return one, np.cross(heading, one)


def _passing(curve: Curve, centre: Numbers, axis: Numbers) -> tuple[float, float]:
    """Where along the curve it passes the middle of a hole, and in which sense of the axis (1 or -1)."""
    along = np.linspace(0.0, curve.length_m, 400)
    out = curve.points_at(along) - centre
    height = out @ axis
    crossed = np.flatnonzero((height[:-1] < 0) != (height[1:] < 0))
    if not len(crossed):
        return curve.length_m / 2, 1.0
    nearest = crossed[int(np.linalg.norm(out[crossed], axis=1).argmin())]
    return float(along[nearest]), 1.0 if height[nearest + 1] > height[nearest] else -1.0


def _is_at(point: Numbers, hole: Penetration, cable: CableShape) -> bool:
    out = point - np.array(hole.centre)
    height_m = float(out @ np.array(hole.axis))
    beside_m = float(np.linalg.norm(out - height_m * np.array(hole.axis)))
    return abs(height_m) < hole.depth_m / 2 + cable.bend_radius_m and beside_m < hole.diameter_m / 2 + 0.02


def _crosses(start: Numbers, end: Numbers, hole: Penetration) -> bool:
    axis, centre = np.array(hole.axis), np.array(hole.centre)
    one, two = float((start - centre) @ axis), float((end - centre) @ axis)
    if one * two > 0 or one == two:
        return False
    crossing = start + (end - start) * one / (one - two)
    return float(np.linalg.norm(crossing - centre)) < hole.diameter_m / 2 + 0.03
