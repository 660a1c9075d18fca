"""What the least bend radius costs at least where a cable leaves its lug.

Let a curve leave the launch along the unit vector w, bending no tighter than R. After a length s its heading is within
the angle s / R of w. For a unit vector u at the angle b to w its advance along u is therefore at most
cos(max(0, b - s / R)) a metre, and over the first length l it falls short of l by at least

    shortfall(b, l) = R (b - sin b)                       if l >= R b
                      l - R (sin b - sin(b - l / R))      otherwise.

So if the curve first leaves a ball of radius l about the launch at p, its length to there is at least
u . (p - launch) + shortfall(b, l), for every u. Going on from p to any place x by any way at all, kinks allowed, takes
at least u . (x - p) more. Hence the length to x is at least

    E(x) = the greatest over u of  u . (x - launch) + shortfall(angle(u, w), l),

which holds for everything that passes p, grows by no more than a metre a metre, and for l >= R b equals the length of
the bend-then-straight that Dubins (1957) shows to be shortest.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]
ANGLES = np.linspace(0.0, math.pi, 41)
FINER = np.linspace(-1.0, 1.0, 17) * (math.pi / 40)


def shortfall_m(angle_rad: Numbers, radius_m: float, over_m: float) -> Numbers:
    """By how much a curve falls short of its own length in a direction at this angle to its first heading."""
    angle = np.asarray(angle_rad, dtype=float)
    turned = np.minimum(angle, over_m / radius_m)
    return radius_m * (turned - np.sin(angle) + np.sin(angle - turned))


def least_to(
    ends: Numbers, etas: Numbers, launch: Numbers, way: Numbers, radius_m: float, over_m: float
) -> tuple[Numbers, Numbers]:
    """Least length (n,) from a launch to anywhere on stretches (n, 2, 3) thickened by etas (n,): E above, with the
    u that is best for the middle of each. Also that u (n, 3)."""
    middle = ends.mean(axis=1) - launch
    ahead = middle @ way
    across = middle - ahead[:, None] * way
    aside = np.linalg.norm(across, axis=1)
    spare = np.cross(way, np.eye(3)[int(np.argmin(np.abs(way)))])
    side = np.where(aside[:, None] > 1e-12, across / np.maximum(aside, 1e-12)[:, None], spare / np.linalg.norm(spare))

    def value(angle: Numbers) -> Numbers:
        gained = ahead[:, None] * np.cos(angle) + aside[:, None] * np.sin(angle)
        return gained + shortfall_m(angle, radius_m, over_m)

    coarse = ANGLES[value(np.broadcast_to(ANGLES, (len(middle), len(ANGLES)))).argmax(axis=1)]
    finer = np.clip(coarse[:, None] + FINER, 0.0, math.pi)
    best = finer[np.arange(len(middle)), value(finer).argmax(axis=1)]
    unit = np.cos(best)[:, None] * way + np.sin(best)[:, None] * side
    gained = np.einsum("nki,ni->nk", ends - launch, unit).min(axis=1) - etas
    return gained + shortfall_m(best, radius_m, over_m), unit


def least_between(
    launch: Numbers,
    way: Numbers,
    over_m: float,
    other: Numbers,
    other_way: Numbers,
    other_over_m: float,
    radius_m: float,
) -> float:
    """Least length from launch to launch, nothing in between: the greatest over u of
    u . (other - launch) + shortfall(angle(u, way)) + shortfall(angle(-u, other_way))."""
    apart = other - launch
    ends = np.array([[other, other], [launch, launch]])
    _, one = least_to(ends[:1], np.zeros(1), launch, way, radius_m, over_m)
    _, two = least_to(ends[1:], np.zeros(1), other, other_way, radius_m, other_over_m)
    straight = apart / max(float(np.linalg.norm(apart)), 1e-12)
    tried = [one[0], -two[0], straight]
    best = -math.inf
    for step in (0.5, 0.25, 0.12, 0.06, 0.03, 0.015, 0.0075):
        for _ in range(6):
            units = np.array(tried)
            gained = units @ apart + shortfall_m(_angle(units, way), radius_m, over_m)
            gained += shortfall_m(_angle(-units, other_way), radius_m, other_over_m)
            k = int(gained.argmax())
            if gained[k] <= best + 1e-9 and len(tried) > 3:
                break
            best = max(best, float(gained[k]))
            centre = units[k]
            first = np.cross(centre, np.eye(3)[int(np.argmin(np.abs(centre)))])
            first /= np.linalg.norm(first)
            second = np.cross(centre, first)
            turns = np.arange(8) * math.pi / 4
            around = centre + step * (np.cos(turns)[:, None] * first + np.sin(turns)[:, None] * second)
            tried = [centre, *(around / np.linalg.norm(around, axis=1)[:, None])]
    return best


def _angle(units: Numbers, way: Numbers) -> Numbers:
    return np.asarray(np.arccos(np.clip(units @ way, -1.0, 1.0)))
