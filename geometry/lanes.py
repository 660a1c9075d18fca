"""Where could a cable lie beside its shortest run? Places at every corner, and lanes in the holes it passes.

A run that other cables share is moved sideways by whole cable widths. At each corner the places form a hexagonal
pattern square to the run; in a hole they form rings, and the run goes straight through in one of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geometry.corners import Corners, Numbers
from geometry.runs import CableShape
from geometry.space import Penetration, Space

RINGS = 4  # of places about each corner
LEG_M = 0.5  # longer legs get a place in the middle, where the run may step aside
SLACK_M = 0.0002  # between lanes, beyond touching
MERGED = 1.6  # bend radii: corners nearer to each other than this become one, so that there is room to move


@dataclass(frozen=True, eq=False)
class Stage:
    """One corner of the run: where it could be."""

    places: Numbers  # (k, 3)
    off_m: Numbers  # (k,): how far each is from where the shortest run has it
    lane_to_next: bool = False  # place i goes straight on to place i of the next stage, and to no other


def stages_of(
    corners: Corners, holes: list[Penetration], cable: CableShape, pitch_m: float, mouth_m: float
) -> list[Stage]:
    """The stages between the two studs, in order; runs go straight for `mouth_m` before and behind a hole."""
    points = corners.points
    stages: list[Stage] = []
    # the run in parts: from the stud to the first hole, from hole to hole, from the last hole to the stud
    parts: list[list[Numbers]] = [[points[0]]]
    passed: list[Penetration] = []
    near: list[Numbers] = []
    for i in range(1, len(points)):
        for hole in holes:
            if hole not in passed and _crosses(points[i - 1], points[i], hole):
                passed.append(hole)
                near.append(_crossing(points[i - 1], points[i], hole))
                parts.append([])
        parts[-1].append(points[i])
    for number, part in enumerate(parts):
        at_holes = passed[max(number - 1, 0) : number + 1]
        # corners in a hole's mouth give way to the hole's own stages; studs and their first corners stay
        fixed = (2 if number == 0 else 0, len(part) - (2 if number == len(parts) - 1 else 0))
        parts[number] = [
            p
            for i, p in enumerate(part)
            if i < fixed[0] or i >= fixed[1] or not any(_is_at(p, hole, cable) for hole in at_holes)
        ]
    before = points[0]
    for number, part in enumerate(parts):
        last_part = number == len(parts) - 1
        line = np.array(part if number == 0 else [before, *part])
        closing = line[-1] if last_part else np.array(passed[number].centre)
        whole = line if last_part else np.vstack([line, closing])
        whole = _with_middles(
            _merged(whole, MERGED * cable.bend_radius_m, number == 0, last_part), number == 0, last_part
        )
        for i in range(1, len(whole) - 1):
            if number == 0 and i == 1:
                stages.append(_along_stub(whole[1], _unit(whole[1] - whole[0]), pitch_m))
            elif last_part and i == len(whole) - 2:
                stages.append(_along_stub(whole[i], _unit(whole[i] - whole[-1]), pitch_m))
            else:
                stages.append(_about(whole[i], whole[i + 1] - whole[i - 1], pitch_m))
        if not last_part:
            hole = passed[number]
            after = next((p for p in parts[number + 1]), points[-1])
            stages += _through(hole, whole[-2], after, near[number], cable, pitch_m, mouth_m)
            before = np.array(hole.centre)
    return stages


def holes_of(space: Space, names: tuple[str, ...]) -> list[Penetration]:
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


def _merged(points: Numbers, apart_m: float, from_stud: bool, to_stud: bool) -> Numbers:
    """Neighbouring corners drawn together to one, outwards; at a stud they stay on the line of the lug."""
    out = [np.array(point) for point in points]
    while len(out) > 3:
        legs = [float(np.linalg.norm(out[i + 1] - out[i])) for i in range(1, len(out) - 2)]
        shortest = int(np.argmin(legs))
        if legs[shortest] >= apart_m:
            break
        i = shortest + 1  # the pair i, i + 1
        if i == 1 and from_stud:
            out[1] = _on_line(out[0], out[1], out[2])
            del out[2]
        elif i + 1 == len(out) - 2 and to_stud:
            out[-2] = _on_line(out[-1], out[-2], out[-3])
            del out[-3]
        else:
            out[i] = _where_they_meet(out[i - 1], out[i], out[i + 1], out[i + 2])
            del out[i + 1]
    return np.array(out)


def _where_they_meet(a: Numbers, b: Numbers, c: Numbers, d: Numbers) -> Numbers:
    """Where the lines a-b and d-c come nearest beyond b and c; their middle if that is far off."""
    middle = (b + c) / 2
    one, two = _unit(b - a), _unit(c - d)
    across = one - (one @ two) * two
    size = float(across @ across)
    if size < 1e-3:
        return middle
    gap = c - b
    on_one = float(gap @ (one - (one @ two) * two)) / size
    on_two = float(-gap @ (two - (one @ two) * one)) / size
    reach_m = float(np.linalg.norm(c - b))
    if not (0 <= on_one <= 2 * reach_m and 0 <= on_two <= 2 * reach_m):
        return middle
    return (b + on_one * one + c + on_two * two) / 2


def _unit(vector: Numbers) -> Numbers:
    return vector / np.linalg.norm(vector)


def _on_line(stud: Numbers, corner: Numbers, beyond: Numbers) -> Numbers:
    """The place on the lug's line nearest to a corner beyond the first, but no nearer to the stud than the first."""
    away = corner - stud
    length_m = float(np.linalg.norm(away))
    away = away / length_m
    return stud + max(float((beyond - stud) @ away), length_m) * away


def _with_middles(points: Numbers, from_stud: bool, to_stud: bool) -> Numbers:
    out = [points[0]]
    for i in range(1, len(points)):
        leg_m = float(np.linalg.norm(points[i] - points[i - 1]))
        at_stud = (i == 1 and from_stud) or (i == len(points) - 1 and to_stud)
        parts = math.ceil(leg_m / LEG_M) if not at_stud else 1
        out += [points[i - 1] + (points[i] - points[i - 1]) * k / parts for k in range(1, parts + 1)]
    return np.array(out)


def _along_stub(point: Numbers, away: Numbers, pitch_m: float) -> Stage:
    """The first and the last corner stay on the line of their lug; they may lie further out."""
    steps = pitch_m * np.array([0.0, -1.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0])
    return Stage(point + steps[:, None] * away, np.abs(steps))


def _about(point: Numbers, chord: Numbers, pitch_m: float) -> Stage:
    one, two = _square_pair(chord)
    number = np.arange(-RINGS, RINGS + 1)
    a, b = (grid.ravel() for grid in np.meshgrid(number, number))
    flat = np.column_stack([a + b / 2, b * math.sqrt(3) / 2]) * pitch_m
    off_m = np.linalg.norm(flat, axis=1)
    kept = off_m <= RINGS * pitch_m + 1e-9
    order = np.lexsort((flat[kept, 1], flat[kept, 0], off_m[kept].round(9)))
    flat, off_m = flat[kept][order], off_m[kept][order]
    return Stage(point + flat[:, :1] * one + flat[:, 1:] * two, off_m)


def _through(
    hole: Penetration,
    before: Numbers,
    after: Numbers,
    near: Numbers,
    cable: CableShape,
    pitch_m: float,
    mouth_m: float,
) -> list[Stage]:
    """Two stages, before and behind the hole, lane by lane."""
    axis, centre = np.array(hole.axis), np.array(hole.centre)
    if float((after - before) @ axis) < 0:
        axis = -axis
    one, two = _square_pair(axis)
    lanes = ring_lanes(hole.diameter_m / 2 - cable.standoff_m, pitch_m)
    places = centre + lanes[:, :1] * one + lanes[:, 1:] * two
    beside = near - float((near - centre) @ axis) * axis
    off_m = np.linalg.norm(places - beside, axis=1)
    half_m = hole.depth_m / 2 + mouth_m
    return [
        Stage(places - half_m * axis, off_m, lane_to_next=True),
        Stage(places + half_m * axis, off_m),
    ]


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
    return float(np.linalg.norm(_crossing(start, end, hole) - centre)) < hole.diameter_m / 2 + 0.03


def _crossing(start: Numbers, end: Numbers, hole: Penetration) -> Numbers:
    axis, centre = np.array(hole.axis), np.array(hole.centre)
    one, two = float((start - centre) @ axis), float((end - centre) @ axis)
    return start + (end - start) * one / (one - two)


def _square_pair(along: Numbers) -> tuple[Numbers, Numbers]:
    heading = along / np.linalg.norm(along)
    least = np.eye(3)[int(np.argmin(np.abs(heading)))]
    one = least - (least @ heading) * heading
    one /= np.linalg.norm(one)
    return one, np.cross(heading, one)
