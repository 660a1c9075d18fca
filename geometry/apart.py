"""How far apart do two cables lie?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometry.curve import Curve
from geometry.surroundings import Numbers

COARSE_M = 0.02
FINE_M = 0.0015  # two cables of 17 mm seen 0.75 mm out of step: 0.02 mm too far apart


@dataclass(frozen=True, eq=False)
class LaidCable:
    """A cable that lies already; others keep out of it."""

    name: str
    curve: Curve
    radius_m: float
    loose_m: float  # along the cable from each stud, where lugs that share a stud stack and cables are dressed apart


def nearest_cable(
    curve: Curve, loose_m: float, from_m: float, to_m: float, others: tuple[LaidCable, ...], radius_m: float
) -> tuple[float, str]:
    """Least distance between skins on the stretch from `from_m` to `to_m` of the curve, and to which cable.

    Told only if the skins come nearer to each other than 40 mm; else (infinity, ""). Negative: they lie in each other.
    """
    along = np.linspace(from_m, to_m, max(2, int(np.ceil((to_m - from_m) / COARSE_M)) + 1))
    points = curve.points_at(along)
    low, high = points.min(axis=0), points.max(axis=0)
    least, name = np.inf, ""
    for other in others:
        near_m = radius_m + other.radius_m + 0.04
        their_along = np.linspace(0.0, other.curve.length_m, int(np.ceil(other.curve.length_m / COARSE_M)) + 2)
        theirs = other.curve.points_at(their_along)
        inside = ((theirs > low - near_m) & (theirs < high + near_m)).all(axis=1)
        if not inside.any():
            continue
        apart = np.linalg.norm(points[:, None, :] - theirs[None, inside, :], axis=2)
        if apart.min() > near_m + COARSE_M:
            continue
        mine, yours = np.nonzero(apart < min(near_m, float(apart.min()) + COARSE_M) + COARSE_M)
        fine_mine = _refined(along[np.unique(mine)], curve.length_m)
        fine_yours = _refined(their_along[inside][np.unique(yours)], other.curve.length_m)
        fine_mine = fine_mine[(fine_mine >= from_m) & (fine_mine <= to_m)]
        close = np.linalg.norm(
            curve.points_at(fine_mine)[:, None, :] - other.curve.points_at(fine_yours)[None, :, :], axis=2
        )
        close[_stacked(curve, loose_m, fine_mine, other, fine_yours)] = np.inf
        value = float(close.min(initial=np.inf)) - radius_m - other.radius_m
        if value < least:
            least, name = value, other.name
    return least, name


def _refined(along: Numbers, length_m: float) -> Numbers:
    steps = np.arange(-COARSE_M / 2, COARSE_M / 2 + FINE_M / 2, FINE_M)
    return np.unique(np.clip((along[:, None] + steps[None, :]).ravel(), 0.0, length_m))


def _stacked(curve: Curve, loose_m: float, mine: Numbers, other: LaidCable, yours: Numbers) -> Numbers:
    """Pairs (m, n) of places behind lugs that share a stud."""
    out = np.zeros((len(mine), len(yours)), dtype=bool)
    whole_m, their_m = curve.length_m, other.curve.length_m
    for point, from_end in ((curve.start, mine), (curve.end, whole_m - mine)):
        for stud, from_stud in ((other.curve.start, yours), (other.curve.end, their_m - yours)):
            if float(np.linalg.norm(point - stud)) < 2 * other.radius_m:
                out |= (from_end[:, None] <= loose_m) & (from_stud[None, :] <= other.loose_m)
    return out
