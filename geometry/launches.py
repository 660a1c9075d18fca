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


def least_onward(launches: Numbers, ways: Numbers, points: Numbers, radius_m: float, over_m: float) -> Numbers:
    """E above, from each launch (n, 3) to each point (m, 3): (n, m). Not the greatest over u, but that of two u: along
    the bend-then-straight and along the straight line."""
    apart = points[None] - launches[:, None]
    ahead = np.einsum("nmi,ni->nm", apart, ways)
    aside = np.sqrt(np.maximum(np.einsum("nmi,nmi->nm", apart, apart) - ahead * ahead, 0.0))
    straight, bent = np.arctan2(aside, ahead), _heading(ahead, aside, radius_m)
    return np.asarray(
        np.maximum(
            _gained(ahead, aside, straight, radius_m, over_m),
            _gained(ahead, aside, bent, radius_m, over_m),
        )
    )


def each_onward(
    launches: Numbers, ways: Numbers, points: Numbers, radius_m: float, over_m: float
) -> tuple[Numbers, Numbers]:
    """The same from each launch (n, 3) to the point (n, 3) of its own: (n,). Also that u (n, 3)."""
    ahead, aside, side = _in_plane(points - launches, ways)
    straight, bent = np.arctan2(aside, ahead), _heading(ahead, aside, radius_m)
    one, two = (_gained(ahead, aside, angle, radius_m, over_m) for angle in (straight, bent))
    best = np.where(one >= two, straight, bent)[:, None]
    return np.maximum(one, two), np.cos(best) * ways + np.sin(best) * side


def _gained(ahead: Numbers, aside: Numbers, angle: Numbers, radius_m: float, over_m: float) -> Numbers:
    return np.asarray(ahead * np.cos(angle) + aside * np.sin(angle) + shortfall_m(angle, radius_m, over_m))


def _in_plane(apart: Numbers, ways: Numbers) -> tuple[Numbers, Numbers, Numbers]:
    """Along each way (n, 3) and aside from it (n,), and the unit to that side (n, 3)."""
    ahead = np.einsum("ni,ni->n", apart, ways)
    across = apart - ahead[:, None] * ways
    aside = np.linalg.norm(across, axis=1)
    return ahead, aside, across / np.maximum(aside, 1e-12)[:, None]


def _heading(ahead: Numbers, aside: Numbers, radius_m: float) -> Numbers:
    """Of the straight that follows the bend: the tangent from the turning circle; half a turn inside the circle."""
    off = aside - radius_m
    far = np.hypot(ahead, off)
    outside = far > radius_m
    turn = np.arctan2(off, ahead) + np.arcsin(radius_m / np.where(outside, far, radius_m))
    return np.where(outside, np.clip(turn, 0.0, math.pi), math.pi)


def least_through(
    launch: Numbers, way: Numbers, others: Numbers, other_ways: Numbers, radius_m: float, over_m: float
) -> tuple[Numbers, Numbers]:
    """As `least_between`, from one launch to many others (n, 3): of a few u the best. Also that u (n, 3)."""
    apart = others - launch
    far = np.maximum(np.linalg.norm(apart, axis=1), 1e-12)
    straight = apart / far[:, None]
    here = _bent_unit(apart, np.broadcast_to(way, apart.shape), radius_m)
    there = -_bent_unit(-apart, other_ways, radius_m)
    best, unit_of_best = np.full(len(others), -math.inf), straight.copy()
    for one, two, three in ((1, 0, 0), (0, 1, 0), (0, 0, 1), (1, 1, 0), (0, 1, 1), (1, 0, 1), (-1, 1, 1)):
        unit = one * straight + two * here + three * there
        size = np.linalg.norm(unit, axis=1)
        unit = np.where(size[:, None] > 1e-6, unit / np.maximum(size, 1e-6)[:, None], straight)
        first = np.arccos(np.clip(unit @ way, -1.0, 1.0))
        second = np.arccos(np.clip(-np.einsum("ni,ni->n", unit, other_ways), -1.0, 1.0))
        gained = np.einsum("ni,ni->n", unit, apart)
        gained = gained + shortfall_m(first, radius_m, over_m) + shortfall_m(second, radius_m, over_m)
        better = gained > best
        best[better], unit_of_best[better] = gained[better], unit[better]
    return best, unit_of_best


def bend_ends(launches: Numbers, ways: Numbers, points: Numbers, radius_m: float) -> Numbers:
    """Where the bend that begins at each launch (n, 3) ends (n, 3), the point (n, 3) of its own straight ahead."""
    ahead, aside, side = _in_plane(points - launches, ways)
    turn = _heading(ahead, aside, radius_m)[:, None]
    return np.asarray(launches + radius_m * (np.sin(turn) * ways + (1 - np.cos(turn)) * side))


def _bent_unit(apart: Numbers, ways: Numbers, radius_m: float) -> Numbers:
    ahead, aside, side = _in_plane(apart, ways)
    turn = _heading(ahead, aside, radius_m)[:, None]
    return np.asarray(np.cos(turn) * ways + np.sin(turn) * side)
