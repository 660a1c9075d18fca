"""Do cables lie beside each other, and is there room for all of them in each hole? The stranger's second question."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from geometry.check_distance import Numbers, own_ends, own_points, own_whole_m
from geometry.curve import Curve
from geometry.runs import CableShape, Run
from geometry.space import Penetration

TOUCH_M = 1e-4  # cables may press into each other by this: they are soft
FINEST_M = 5e-5
ROUGH_M = 0.04

# Least diameter of a circle that holds n equal circles of diameter 1. n = 3: 1 + 2 / sqrt 3; 4: 1 + sqrt 2;
# 5: 1 + 1 / sin 36 deg; 6 and 7: 3 (one in the middle). Each is simple trigonometry on touching circles.
ROUND_ABOUT = (1.0, 2.0, 1 + 2 / math.sqrt(3), 1 + math.sqrt(2), 1 + 1 / math.sin(math.pi / 5), 3.0, 3.0)


def faults_between(runs: Sequence[Run], cables: Sequence[CableShape]) -> list[str]:
    """Every pair of cables that lie in each other, in words with figures, the deepest first.

    Cables may touch: they are bundled so. Where two lugs sit on one stud, or on studs nearer to each other than
    the cables are thick, the straight parts behind the lugs are left out: lugs stack and the cables are dressed apart.
    """
    faults: list[tuple[float, str]] = []
    rough = [_rough(run.curve) for run in runs]
    for i in range(len(runs)):
        for j in range(i + 1, len(runs)):
            needed_m = cables[i].radius_m + cables[j].radius_m
            apart = np.sqrt(((rough[i][:, None] - rough[j][None]) ** 2).sum(axis=2))
            if float(apart.min()) > needed_m + ROUGH_M:  # no place is further than half a step from one looked at
                continue
            found = _nearest(runs[i].curve, runs[j].curve, cables[i], cables[j], needed_m - TOUCH_M)
            if found is not None:
                apart_m, place = found
                words = (
                    f"{runs[i].name} and {runs[j].name}: {apart_m * 1000:.1f} mm between their middles at "
                    f"({', '.join(f'{v * 1000:.0f}' for v in place)}) mm, {needed_m * 1000:.1f} mm needed"
                )
                faults.append((apart_m - needed_m, words))
    return [words for _, words in sorted(faults)]


def faults_in_fill(penetrations: Sequence[Penetration], runs: Sequence[Run], cables: Sequence[CableShape]) -> list[str]:
    """Every hole that holds more cable than it may.

    Up to seven cables are taken as equal to the thickest and must fit as circles in a circle that keeps their clearance
    from the hole's edge; above seven, the share of the hole's area that they fill must not pass its limit.
    """
    faults = []
    for hole in penetrations:
        through = [cable for run, cable in zip(runs, cables, strict=True) if hole.name in run.penetrations]
        if not through:
            continue
        radii_m = [cable.radius_m for cable in through]
        if len(radii_m) <= len(ROUND_ABOUT):
            clearance_m = max(cable.clearance_m for cable in through)
            needed_m = 2 * max(radii_m) * ROUND_ABOUT[len(radii_m) - 1] + 2 * clearance_m
            if needed_m > hole.diameter_m + TOUCH_M:
                faults.append(
                    f'"{hole.name}": {len(radii_m)} cables need {needed_m * 1000:.1f} mm, '
                    f"the hole is {hole.diameter_m * 1000:.1f} mm"
                )
            continue
        fill = sum(math.pi * radius_m**2 for radius_m in radii_m) / hole.area_m2
        if fill > hole.fill_limit + 1e-9:
            faults.append(
                f'"{hole.name}": {len(radii_m)} cables fill {fill:.1%} of the hole, '
                f"at most {hole.fill_limit:.0%} allowed"
            )
    return faults


def _rough(curve: Curve) -> Numbers:
    """Points (n, 3) at most `ROUGH_M` apart along the curve, both ends included."""
    length_m = own_whole_m(curve)
    return own_points(curve, np.linspace(0.0, length_m, math.ceil(length_m / ROUGH_M) + 1))


def _nearest(
    one: Curve, two: Curve, one_cable: CableShape, two_cable: CableShape, needed_m: float
) -> tuple[float, Numbers] | None:
    """The least distance between two centrelines if it is below `needed_m`, and where.

    Both curves are cut into stretches; two stretches cannot be nearer than their middles less both halves, so pairs
    that are far enough apart are dropped and the others are halved.
    """
    one_m, two_m = own_whole_m(one), own_whole_m(two)
    one_count, two_count = (max(1, math.ceil(length_m / 0.08)) for length_m in (one_m, two_m))
    one_half, two_half = one_m / one_count / 2, two_m / two_count / 2
    first, second = (
        grid.ravel()
        for grid in np.meshgrid(
            one_half * (2 * np.arange(one_count) + 1), two_half * (2 * np.arange(two_count) + 1), indexing="ij"
        )
    )
    stacked = _stacked_ends(one, two, needed_m)
    worst: tuple[float, Numbers] | None = None
    while len(first):
        one_points, two_points = own_points(one, first), own_points(two, second)
        apart = np.sqrt(((one_points - two_points) ** 2).sum(axis=1))
        counted = np.ones(len(first), dtype=bool)
        for from_one, from_two in stacked:
            here = (first if from_one else one_m - first) + one_half <= one_cable.straight_m + one_cable.bend_radius_m
            there = (
                second if from_two else two_m - second
            ) + two_half <= two_cable.straight_m + two_cable.bend_radius_m
            counted &= ~(here & there)
        least = int(np.where(counted, apart, np.inf).argmin())
        if counted[least] and apart[least] < needed_m and (worst is None or apart[least] < worst[0]):
            worst = (float(apart[least]), one_points[least])
        if max(one_half, two_half) < FINEST_M:
            break
        limit_m = needed_m if worst is None else worst[0] - FINEST_M
        kept = counted & (apart - one_half - two_half < limit_m)
        one_half, two_half = one_half / 2, two_half / 2
        first, second = (
            np.concatenate([first[kept] + a * one_half for a in (-1, -1, 1, 1)]),
            np.concatenate([second[kept] + b * two_half for b in (-1, 1, -1, 1)]),
        )
    return worst


def _stacked_ends(one: Curve, two: Curve, apart_m: float) -> list[tuple[bool, bool]]:
    """Which ends sit on one stud: pairs (at the start of one, at the start of two)."""
    ends_one = {True: own_ends(one.pieces[0])[0], False: own_ends(one.pieces[-1])[2]}
    ends_two = {True: own_ends(two.pieces[0])[0], False: own_ends(two.pieces[-1])[2]}
    return [
        (a, b)
        for a, point in ends_one.items()
        for b, other in ends_two.items()
        if float(np.linalg.norm(point - other)) < apart_m
    ]
