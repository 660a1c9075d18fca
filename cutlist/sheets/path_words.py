"""A run told in words, as one person would tell another where to lay the cable.

The site's frame is the surveyor's: x to the right, y out from the wall towards the reader, z up. Stretches are told
from corner to corner, which is what a tape measures; the bends round the corners off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from cutlist.sheets.lengths import metres_text
from geometry.beside import Beside
from geometry.curve import Arc, Curve, Vector
from geometry.runs import Run
from geometry.space import Penetration

LEAST_STRETCH_M = 0.025  # shorter ones are part of the bend, not worth a word
LEAST_ALONG_M = 0.1  # of a stretch that is said to lie along something
WIDEST_CORNER_RAD = math.radians(100)
MOST_POINTS = 200  # looked at along one run
AWAY_M = 0.02  # laid and shortest run count as apart from here on
WAYS = (("right", "left"), ("out", "in"), ("up", "down"))


@dataclass(frozen=True)
class Stretch:
    way: str  # "up", "right and up"
    length_m: float  # corner to corner
    from_m: float  # along the run, where it begins and ends
    to_m: float


def path_words(run: Run, penetrations: tuple[Penetration, ...], units: str, along: tuple[Beside, ...] = ()) -> str:
    """The run from start to finish, corner to corner, with what it follows and what it passes.

    >>> from geometry.curve import filleted
    >>> corners = [np.array(p) for p in ((0.0, 0, 0), (0, 0, 0.4), (1.2, 0, 0.4), (1.2, 0, 0.1))]
    >>> curve = filleted(corners, 0.06)
    >>> path_words(Run("S1", curve, curve.length_m, 0.0, (0, 0, 0), ""), (), "mm")
    'up 400 mm, right 1200 mm, down 300 mm'
    >>> path_words(Run("S1", curve, curve.length_m, 0.0, (0, 0, 0), ""), (), "mm", (Beside("shelf", 0.5, 1.5),))
    'up 400 mm, right 1200 mm along shelf, down 300 mm'
    """
    holes = [(_along(run.curve, p.centre), p.name) for p in penetrations if p.name in run.penetrations]
    legs: list[tuple[str, str]] = []  # (words, what it follows)
    for stretch in stretches(run.curve):
        words = f"{stretch.way} {metres_text(stretch.length_m, units)}"
        for along_m, name in holes:
            if stretch.from_m <= along_m <= stretch.to_m:
                words += f" through {name}"
        legs.append((words, _followed(run, stretch, along)))
    told = []
    for beside, group in groupby(legs, key=lambda leg: leg[1]):
        words = ", ".join(leg for leg, _ in group)
        if beside:
            # one word for several legs along the same thing, so that it is not said for each
            words += f", all along {beside}" if ", " in words else f" along {beside}"
        told.append(words)
    return ", ".join(told)


def stretches(curve: Curve) -> tuple[Stretch, ...]:
    """The polyline of which the curve is the rounded form, one stretch a side, neighbours of one way joined."""
    corners: list[Vector] = [curve.start]
    marks = [0.0]
    done_m = 0.0
    for piece in curve.pieces:
        if isinstance(piece, Arc):
            # a wide bend has more corners than one: nobody measures to a corner far outside it
            parts = math.ceil(piece.angle_rad / WIDEST_CORNER_RAD)
            part_m, angle_rad = piece.length_m / parts, piece.angle_rad / parts
            reach_m = piece.radius_m * math.tan(angle_rad / 2)
            for entry_m in part_m * np.arange(parts):
                here = piece.points_at(np.array([entry_m]))[0]
                ahead = np.cross(piece.normal, here - piece.centre) / piece.radius_m
                corners.append(here + reach_m * ahead)
                marks.append(done_m + entry_m + part_m / 2)
        done_m += piece.length_m
    corners.append(curve.end)
    marks.append(done_m)
    told: list[Stretch] = []
    for before, after, from_m, to_m in zip(corners, corners[1:], marks, marks[1:], strict=False):
        leg = after - before
        length_m = float(np.linalg.norm(leg))
        if length_m < LEAST_STRETCH_M:
            continue
        way = _way(leg / length_m)
        if told and told[-1].way == way:
            last = told.pop()
            length_m, from_m = length_m + last.length_m, last.from_m
        told.append(Stretch(way, length_m, from_m, to_m))
    return tuple(told)


def surplus_words(laid: Run, shortest: Run, surplus_m: float, units: str) -> str:
    """Where the surplus lies, its shape, and how far it leaves the shortest way.

    >>> from geometry.curve import filleted
    >>> straight = Run("S1", filleted([np.zeros(3), np.array([1.0, 0, 0])], 0.06), 1.0, 0.0, (0, 0, 0), "")
    >>> surplus_words(straight, straight, 0.0, "mm")
    'none'
    """
    if surplus_m < 0.0005:
        return "none"
    words = metres_text(surplus_m, units)
    if laid.surplus_shape:
        words += f", {laid.surplus_shape}"
    gaps = _gaps_m(laid.curve, shortest.curve)
    apart = np.flatnonzero(gaps > AWAY_M)
    if not len(apart):
        return words
    share = laid.length_m / (len(gaps) - 1)
    first, last = metres_text(apart[0] * share, units), metres_text(apart[-1] * share, units)
    return f"{words}, from {first} to {last} along, up to {metres_text(float(gaps.max()), units)} aside"


def _gaps_m(laid: Curve, shortest: Curve) -> NDArray[np.float64]:
    """From points along the laid run to the shortest one."""
    points, beside = (c.sampled(max(0.02, c.length_m / MOST_POINTS)) for c in (laid, shortest))
    squares = (points**2).sum(axis=1)[:, None] + (beside**2).sum(axis=1) - 2 * points @ beside.T
    return np.sqrt(np.maximum(squares.min(axis=1), 0.0))


def _way(direction: Vector) -> str:
    """The one or more ways of the site's frame a unit direction goes, the strongest first.

    >>> _way(np.array([0.0, 0.0, -1.0])), _way(np.array([0.8, 0.0, 0.6]))
    ('down', 'right and up')
    """
    order = sorted(range(3), key=lambda axis: -abs(float(direction[axis])))
    words = [WAYS[axis][0 if direction[axis] > 0 else 1] for axis in order if abs(direction[axis]) > 0.26]
    return " and ".join(words)


def _followed(run: Run, stretch: Stretch, along: tuple[Beside, ...]) -> str:
    """What the clamps on this stretch are fixed to; without clamps, the structure beside most of it."""
    names = [c.structure for c in run.clamps if stretch.from_m <= c.along_m <= stretch.to_m]
    whole_m = stretch.to_m - stretch.from_m
    if not names and whole_m >= LEAST_ALONG_M:
        shared_m: dict[str, float] = {}
        for part in along:
            common_m = min(part.to_m, stretch.to_m) - max(part.from_m, stretch.from_m)
            if common_m > 0:
                shared_m[part.structure] = shared_m.get(part.structure, 0.0) + common_m
        names = [name for name, common_m in shared_m.items() if common_m > whole_m / 2]
    return " and ".join(dict.fromkeys(names))


def _along(curve: Curve, point: tuple[float, float, float]) -> float:
    """How far along the curve it passes a point most closely."""
    along = np.linspace(0.0, curve.length_m, max(2, int(curve.length_m / 0.005)))
    return float(along[np.argmin(np.linalg.norm(curve.points_at(along) - np.array(point), axis=1))])
