"""Which cables lie together, from where to where, and which clamps hold several of them at once."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.curve import Curve
from geometry.runs import Clamp, Request, Run

Numbers = NDArray[np.float64]

STEP_M = 0.01
SIN_60 = math.sqrt(3) / 2


@dataclass(frozen=True)
class Company:
    """A stretch of a run on which another cable lies beside it."""

    other: str
    from_m: float  # along the run
    to_m: float


@dataclass(frozen=True)
class Hold:
    """Where a clamp holds a cable."""

    cable: str
    along_m: float  # from the start of its run


@dataclass(frozen=True)
class BundleClamp:
    """A clamp, and the cables in it; the first is the one whose run was clamped here."""

    structure: str
    point: tuple[float, float, float]  # on the centreline of the first
    diameter_m: float  # around all its cables
    holds: tuple[Hold, ...]


def company_of(
    requests: Sequence[Request], runs: Sequence[Run], *, gap_m: float, least_m: float
) -> tuple[tuple[Company, ...], ...]:
    """For each run the stretches of at least `least_m` whose skin is at most `gap_m` from another cable's.

    In the order of the runs, each in order of place, then name. Right to the 10 mm at which runs are looked at.
    """
    traced = [_traced(run.curve) for run in runs]
    radii_m = [request.cable.radius_m for request in requests]
    found: list[tuple[Company, ...]] = []
    for i, (along, points) in enumerate(traced):
        mine: list[Company] = []
        for j, (_, others) in enumerate(traced):
            if i == j:
                continue
            near_m = radii_m[i] + radii_m[j] + gap_m
            if (points.min(axis=0) > others.max(axis=0) + near_m).any():
                continue
            if (points.max(axis=0) < others.min(axis=0) - near_m).any():
                continue
            near = _distances(points, others).min(axis=1) <= near_m
            mine += [
                Company(runs[j].name, float(along[first]), float(along[last]))
                for first, last in _stretches(near)
                if along[last] - along[first] >= least_m - 1e-9
            ]
        found.append(tuple(sorted(mine, key=lambda c: (c.from_m, c.other))))
    return tuple(found)


def near_m(curve: Curve, others: Sequence[Curve], apart_m: float) -> float:
    """How much of the curve lies at most `apart_m` from any of the others, middle to middle; right to some 10 mm."""
    _, points = _traced(curve)
    middles = (points[:-1] + points[1:]) / 2
    near = np.zeros(len(middles), dtype=bool)
    for other in others:
        near |= _distances(middles, _traced(other)[1]).min(axis=1) <= apart_m
    return float(near.mean()) * curve.length_m


def bundle_clamps(
    requests: Sequence[Request],
    runs: Sequence[Run],
    company: Sequence[Sequence[Company]],
    *,
    span_m: float,
    fits: Callable[[float], bool],
) -> tuple[BundleClamp, ...]:
    """Every clamp once, with all cables that lie together at its place.

    A cable goes without a clamp of its own where clamps of the others hold it often enough: no two holds come further
    apart than `span_m` by that. `fits`: whether there is a clamp for this diameter; the furthest cables stay out of a
    clamp that would be too wide.
    """
    at = {run.name: i for i, run in enumerate(runs)}
    held: dict[str, list[float]] = {run.name: [] for run in runs}  # by clamps of others
    found: list[BundleClamp] = []
    for i, run in enumerate(runs):
        for clamp in _needed(run, held[run.name], span_m):
            near = _beside(clamp, requests, runs, company[i], at)
            while near and not fits(_around([i, *(j for _, j, _ in near)], requests)):
                near.pop()
            for _, j, along_m in near:
                held[runs[j].name].append(along_m)
            holds = [Hold(run.name, clamp.along_m), *(Hold(runs[j].name, along_m) for _, j, along_m in near)]
            diameter_m = _around([i, *(j for _, j, _ in near)], requests)
            found.append(BundleClamp(clamp.structure, clamp.point, diameter_m, tuple(holds)))
    return tuple(found)


def bundle_diameter_m(diameters_m: Sequence[float]) -> float:
    """Of a circle that holds this many cables as thick as the thickest, laid as close as round things lie.

    Centres on a lattice of equal triangles, about a cable, about the touch of two or about the middle of three,
    whichever holds them closest; four in a square and five in a ring are closer still. Worked out by construction:
    they do fit, though for some numbers a closer way is known.

    >>> [round(bundle_diameter_m([1.0] * n), 3) for n in (1, 2, 3, 4, 5, 7, 19)]
    [1.0, 2.0, 2.155, 2.414, 2.701, 3.0, 5.0]
    """
    count = len(diameters_m)
    reach = math.ceil(math.sqrt(count)) + 1
    lattice = [
        (a + b / 2, b * SIN_60) for a in range(-2 * reach, 2 * reach + 1) for b in range(-2 * reach, 2 * reach + 1)
    ]
    radii = [
        sorted(math.hypot(x - cx, y - cy) for x, y in lattice)[count - 1]
        for cx, cy in ((0.0, 0.0), (0.5, 0.0), (0.5, 0.5 / math.sqrt(3)))
    ]
    if count in (4, 5):
        radii.append(0.5 / math.sin(math.pi / count))
    return max(diameters_m) * (1 + 2 * min(radii))


def _needed(run: Run, held_m: Sequence[float], span_m: float) -> list[Clamp]:
    """The run's own clamps less those that clamps of other cables make needless."""
    kept = list(run.clamps)
    for clamp in run.clamps:
        rest = [0.0, run.length_m, *held_m, *(c.along_m for c in kept if c is not clamp)]
        before = max((m for m in rest if m <= clamp.along_m), default=0.0)
        after = min((m for m in rest if m >= clamp.along_m), default=run.length_m)
        # without company a clamp stays, even where the run would do with fewer
        if any(before <= m <= after for m in held_m) and after - before <= span_m + 1e-9:
            kept.remove(clamp)
    return kept


def _beside(
    clamp: Clamp,
    requests: Sequence[Request],
    runs: Sequence[Run],
    company: Sequence[Company],
    at: Mapping[str, int],
) -> list[tuple[float, int, float]]:
    """(distance, which, place along it) of the cables beside this place that may be clamped there; near first."""
    found = []
    for other in {c.other for c in company if c.from_m <= clamp.along_m <= c.to_m}:
        j = at[other]
        along, points = _traced(runs[j].curve)
        apart = _distances(np.array([clamp.point]), points)[0]
        nearest = int(apart.argmin())
        along_m, straight_m = float(along[nearest]), requests[j].cable.straight_m
        if straight_m <= along_m <= runs[j].length_m - straight_m:
            found.append((float(apart[nearest]), j, along_m))
    return sorted(found)


def _around(which: Sequence[int], requests: Sequence[Request]) -> float:
    return bundle_diameter_m([2 * requests[i].cable.radius_m for i in which])


def _traced(curve: Curve) -> tuple[Numbers, Numbers]:
    along = np.linspace(0.0, curve.length_m, max(2, math.ceil(curve.length_m / STEP_M) + 1))
    return along, curve.points_at(along)


def _distances(some: Numbers, others: Numbers) -> Numbers:
    square = (some**2).sum(axis=1)[:, None] + (others**2).sum(axis=1) - 2 * some @ others.T
    return np.asarray(np.sqrt(np.maximum(square, 0.0)))


def _stretches(near: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last place of every stretch of true.

    >>> _stretches(np.array([True, True, False, True]))
    [(0, 1), (3, 3)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], near, [False]]).astype(int)))
    return [(int(first), int(after) - 1) for first, after in zip(edges[::2], edges[1::2], strict=True)]
