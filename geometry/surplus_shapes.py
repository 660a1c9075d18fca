"""Shapes that take up surplus on a straight leg: bows, S-shapes, lobes and hairpins, worked out in a plane.

One lobe leaves the leg by an angle a, comes back to the leg's heading and returns as it left: four arcs of radius r,
two sloping straights of m and a flat top of t. Its chord on the leg, its surplus and its height are

    chord = 4 r sin a + 2 m cos a + t      surplus = 4 r (a - sin a) + 2 m (1 - cos a)
    height = 2 r (1 - cos a) + m sin a

With a a quarter turn it is a hairpin whose legs stand square to the run. Plain trigonometry on the four arcs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from geometry.corners import Numbers, samples

QUARTER = math.pi / 2
MOST_LOBES = 6
LONGEST_LEG_M = 2.5  # of a hairpin: more cannot be handled in one piece
SAMPLE_M = 0.025


@dataclass(frozen=True, eq=False)
class Profile:
    """A chain of lobes on a leg; x along the leg from where the cable starts to leave it, y to one side."""

    name: str  # "bow", "S", "lobes", "hairpin", "folds"
    chord_m: float
    height_m: float
    radius_m: float
    turning_rad: float  # in all
    corners: Numbers  # (v, 2), without the ends
    radii: Numbers  # (v,)
    length_m: float

    @cached_property
    def trace(self) -> Numbers:
        """Points (k, 2) along the shape."""
        line = np.vstack([[0.0, 0.0], self.corners, [self.chord_m, 0.0]])
        flat = np.column_stack([line, np.zeros(len(line))])[None]
        spots = max(8, math.ceil(self.length_m / SAMPLE_M) + 1)
        return samples(flat, np.concatenate([[0.0], self.radii, [0.0]])[None], spots)[0, :, :2]


def profiles(usable_m: float, surplus_m: float, bend_radius_m: float) -> list[Profile]:
    """Every shape worth a try on a straight of `usable_m` that takes up exactly `surplus_m`, least turning first."""
    found = []
    for count in range(1, MOST_LOBES + 1):
        sides = (1,) if count == 1 else (1, -1)  # -1: from side to side
        share_m = surplus_m / count
        for chord_m in _gentle_chords(usable_m, count, share_m, bend_radius_m):
            angle = _bow_angle(share_m / (chord_m / count))
            radius_m = chord_m / count / (4 * math.sin(angle))
            found += [_chain(count, side, angle, max(radius_m, bend_radius_m), 0.0, 0.0) for side in sides]
        for radius_m in (bend_radius_m, 1.6 * bend_radius_m):
            leg_m = (share_m - 4 * radius_m * (QUARTER - 1)) / 2
            spare_m = usable_m - 4 * radius_m * count
            if 0 <= leg_m <= LONGEST_LEG_M and spare_m >= 0:
                found += [_chain(count, side, QUARTER, radius_m, leg_m, 0.0) for side in sides]
                if count == 1 and spare_m > bend_radius_m:
                    tops_m = [share * spare_m for share in (0.3, 0.6, 1.0)]
                    found += [_chain(1, 1, QUARTER, radius_m, leg_m, top_m) for top_m in tops_m]
    found += _folds(usable_m, surplus_m, bend_radius_m)
    return sorted(found, key=lambda profile: (profile.turning_rad, -profile.radius_m, profile.chord_m, profile.name))


def _folds(usable_m: float, surplus_m: float, bend_radius_m: float) -> list[Profile]:
    """The run leaves its leg square to it, doubles back beside it and comes forward again further out.

    Six square corners for one fold, ten for two; each level lies two radii further out than the last, and doubling
    back takes up what the levels do not. It needs little of the leg itself, and may reach past the leg's ends.
    """
    saved_m = (2 - QUARTER) * bend_radius_m  # by each rounded corner
    gap_m = bend_radius_m / 2
    chord_m = 2 * bend_radius_m + gap_m
    found = []
    for count in (1, 2):
        levels = 2 * bend_radius_m * np.arange(1, 2 * count + 1)
        back_m = (surplus_m - 2 * levels[-1] + (2 + 4 * count) * saved_m) / (2 * count)
        if chord_m > usable_m or not 2 * bend_radius_m <= back_m <= LONGEST_LEG_M:
            continue
        left_m, right_m = bend_radius_m, bend_radius_m + gap_m
        corners = [(left_m, 0.0)]
        for k in range(count):
            corners += [(left_m, levels[2 * k]), (left_m - back_m, levels[2 * k])]
            corners += [(left_m - back_m, levels[2 * k + 1]), (left_m, levels[2 * k + 1])]
        corners = [*corners[:-1], (right_m, levels[-1]), (right_m, 0.0)]
        backward = np.array(corners)
        forward = (backward * (-1, 1) + (chord_m, 0.0))[::-1]
        for line in (backward, forward):
            radii = np.full(len(line), bend_radius_m)
            turning = QUARTER * len(line)
            found.append(
                Profile(
                    "folds", chord_m, float(levels[-1]), bend_radius_m, turning, line, radii,
                    chord_m + surplus_m,
                )
            )  # fmt: skip
    return found


def _gentle_chords(usable_m: float, count: int, share_m: float, bend_radius_m: float) -> list[float]:
    """Chords on which four equal arcs a lobe take up the surplus without bending too tight."""
    chords = [usable_m * share for share in (1.0, 0.7, 0.5, 0.35)]
    tightest = _tightest_angle(share_m / (4 * bend_radius_m))
    if tightest is not None:
        shortest_m = 4 * bend_radius_m * math.sin(tightest) * count
        chords = [chord_m for chord_m in chords if chord_m > shortest_m * 1.05]
        if shortest_m <= usable_m:
            chords.append(shortest_m)
    fitting = []
    for chord_m in chords:
        ratio = share_m / (chord_m / count)
        if ratio <= QUARTER - 1 and chord_m / count >= 4 * bend_radius_m * math.sin(_bow_angle(ratio)) - 1e-12:
            fitting.append(chord_m)
    return fitting


def _bow_angle(surplus_by_chord: float) -> float:
    """The angle a of a bow of four equal arcs: (a - sin a) / sin a = surplus / chord, 0 < a <= a quarter turn."""
    return _solved(lambda a: (a - math.sin(a)) / math.sin(a), surplus_by_chord)


def _tightest_angle(surplus_by_four_radii: float) -> float | None:
    """The angle a with a - sin a = surplus / 4 r; None beyond a quarter turn."""
    if surplus_by_four_radii > QUARTER - 1:
        return None
    return _solved(lambda a: a - math.sin(a), surplus_by_four_radii)


def _solved(rising, value: float) -> float:
    low, high = 1e-7, QUARTER
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if rising(middle) < value else (low, middle)
    return (low + high) / 2


def _chain(count: int, side: int, angle: float, radius_m: float, slope_m: float, top_m: float) -> Profile:
    tangent_m = radius_m * math.tan(angle / 2)
    one_m = 4 * radius_m * math.sin(angle) + 2 * slope_m * math.cos(angle) + top_m
    corners = []
    for number in range(count):
        out = side**number
        left = np.array([number * one_m + tangent_m, 0.0])
        right = np.array([number * one_m + one_m - tangent_m, 0.0])
        rise = (slope_m + 2 * tangent_m) * np.array([math.cos(angle), out * math.sin(angle)])
        corners += [left, left + rise, right + rise * (-1, 1), right]
    chord_m = count * one_m
    radii = np.full(len(corners), radius_m)
    length_m = chord_m + count * (4 * radius_m * (angle - math.sin(angle)) + 2 * slope_m * (1 - math.cos(angle)))
    height_m = 2 * radius_m * (1 - math.cos(angle)) + slope_m * math.sin(angle)
    return Profile(
        _name(count, side, angle, slope_m, top_m), chord_m, height_m, radius_m, 4 * angle * count,
        np.array(corners), radii, length_m,
    )  # fmt: skip


def _name(count: int, side: int, angle: float, slope_m: float, top_m: float) -> str:
    if angle < QUARTER - 1e-9 or slope_m == 0.0:
        return "bow" if count == 1 else "S" if count == 2 and side < 0 else "lobes"
    if count == 1:
        return "hairpin" if top_m < slope_m else "way round"
    return "lobes"
