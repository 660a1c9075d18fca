"""What do loose triangles make up: closed bodies, a skin, or neither?

Triangles as files hold them share no corners and may face any way. Here corners that coincide become one, neighbours
are found by the sides they share, and every closed body is turned to face outwards.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Triples = NDArray[np.intp]  # (m, 3) numbers of corners

SAME_M = 1e-6  # corners nearer than this to each other are one
FLAT = 1e-9  # a triangle less high than this part of its longest side has no area


class NotAMesh(ValueError):
    """Why triangles make no surface that can be used: the reason, where first (m), and how many times."""

    def __init__(self, reason: str, at: tuple[float, float, float] | None = None, count: int = 0) -> None:
        super().__init__(reason)
        self.reason, self.at, self.count = reason, at, count


@dataclass(frozen=True, eq=False)
class Surface:
    corners: Points  # (n, 3) m
    triangles: Triples  # (m, 3), body by body; those of closed bodies anticlockwise seen from outside
    first: NDArray[np.intp]  # (bodies + 1,) where each body's triangles begin
    closed: bool


def surface_of(points: Points, triangles: Triples, closed: bool = True) -> Surface:
    """The surface of triangles given by numbers of points (n, 3), metres.

    Where `closed`, it is the union of the bodies that the triangles enclose; hollows within a body are filled, since
    no cable gets into them. Else it is a skin without an inside. Raises NotAMesh if there is no triangle, a corner is
    no number, a triangle has no area, and, where closed, if some side has no neighbour or more than one.
    """
    if not len(triangles):
        raise NotAMesh("it holds no triangle")
    if not np.isfinite(points).all():
        raise NotAMesh("it holds corners that are no numbers")
    corners, triangles = _joined(np.asarray(points, dtype=float), np.asarray(triangles, dtype=np.intp), closed)
    if not len(triangles):
        raise NotAMesh("its triangles have no size: all their corners coincide")
    _with_area(corners, triangles)
    if not closed:
        return Surface(corners, triangles, np.array([0, len(triangles)], dtype=np.intp), False)
    triangles, first = _bodies(triangles, _neighbours(corners, triangles))
    return _facing_out(corners, triangles, first)


def _joined(points: Points, triangles: Triples, closed: bool) -> tuple[Points, Triples]:
    """Corners that coincide made one; triangles that are thereby none are left out: they were slits.

    Of triangles that lie on each other one is kept; none, where two closed bodies stand face to face.
    """
    places = np.rint(points / SAME_M)
    _, chosen, number = np.unique(places, axis=0, return_index=True, return_inverse=True)
    # in the order of the file, so that the same file gives the same surface
    rank = np.empty(len(chosen), dtype=np.intp)
    order = np.argsort(chosen)
    rank[order] = np.arange(len(chosen))
    triangles = rank[number.reshape(-1)][triangles]
    distinct = (triangles != np.roll(triangles, 1, axis=1)).all(axis=1)
    triangles = triangles[distinct]
    _, kept, times = np.unique(np.sort(triangles, axis=1), axis=0, return_index=True, return_counts=True)
    if closed and (times % 2 == 1).any():
        kept = kept[times % 2 == 1]
    return points[chosen[order]], triangles[np.sort(kept)]


def _with_area(corners: Points, triangles: Triples) -> None:
    a, b, c = (corners[triangles[:, k]] for k in range(3))
    twice = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    longest = np.max([np.linalg.norm(b - a, axis=1), np.linalg.norm(c - b, axis=1), np.linalg.norm(a - c, axis=1)], 0)
    flat = np.flatnonzero(twice < FLAT * longest**2)
    if len(flat):
        x, y, z = (float(v) for v in corners[triangles[flat[0], 0]])
        raise NotAMesh("triangles whose corners lie on one line have no area", (x, y, z), len(flat))


def _neighbours(corners: Points, triangles: Triples) -> NDArray[np.intp]:
    """(k, 3): two triangles that share a side, and whether they face opposite ways (1) or the same (0)."""
    sides = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    owner = np.tile(np.arange(len(triangles)), 3)
    forward = sides[:, 0] < sides[:, 1]
    low, high = sides.min(axis=1), sides.max(axis=1)
    order = np.lexsort((owner, high, low))
    low, high, owner, forward = low[order], high[order], owner[order], forward[order]
    starts = np.flatnonzero(np.concatenate([[True], (low[1:] != low[:-1]) | (high[1:] != high[:-1])]))
    counts = np.diff(np.append(starts, len(low)))
    for wrong, reason in (
        (counts == 1, "it is not closed: sides of triangles have no neighbour"),
        (counts > 2, "more than two triangles meet in one side"),
    ):
        if wrong.any():
            first = starts[np.flatnonzero(wrong)[0]]
            x, y, z = (float(v) for v in (corners[low[first]] + corners[high[first]]) / 2)
            raise NotAMesh(reason, (x, y, z), int(wrong.sum()))
    # neighbours that face alike run along their side in opposite ways
    return np.column_stack([owner[starts], owner[starts + 1], forward[starts] == forward[starts + 1]]).astype(np.intp)


def _bodies(triangles: Triples, pairs: NDArray[np.intp]) -> tuple[Triples, NDArray[np.intp]]:
    """Triangles body by body, those of one body facing alike."""
    beside: list[list[tuple[int, bool]]] = [[] for _ in triangles]
    for one, two, opposite in pairs.tolist():
        beside[one].append((two, bool(opposite)))
        beside[two].append((one, bool(opposite)))
    turned: list[bool | None] = [None] * len(triangles)
    order: list[int] = []
    first = [0]
    for seed in range(len(triangles)):
        if turned[seed] is not None:
            continue
        turned[seed] = False
        waiting = [seed]
        while waiting:
            here = waiting.pop()
            order.append(here)
            for there, opposite in beside[here]:
                wanted = bool(turned[here]) != opposite
                if turned[there] is None:
                    turned[there] = wanted
                    waiting.append(there)
                elif turned[there] != wanted:
                    raise NotAMesh("it has no inside and outside: it is one-sided, like a band with half a twist")
        first.append(len(order))
    found = triangles[order]
    back = np.array([bool(turned[i]) for i in order])
    found[back] = found[back][:, ::-1]
    return found, np.array(first, dtype=np.intp)


def _facing_out(corners: Points, triangles: Triples, first: NDArray[np.intp]) -> Surface:
    """Bodies turned outwards; what lies wholly within another, bounded by it alone, is a hollow or adds nothing."""
    parts: list[Triples] = []
    for low, high in pairwise(first.tolist()):
        body = triangles[low:high]
        volume = _volume(corners, body)
        if volume == 0.0:
            raise NotAMesh("one of its bodies encloses nothing")
        parts.append(body if volume > 0 else body[:, ::-1])
    begin = np.concatenate([[0], np.cumsum([len(part) for part in parts])]).astype(np.intp)
    return Surface(corners, np.vstack(parts), begin, True)


def _volume(corners: Points, body: Triples) -> float:
    # about the body's own first corner: a far origin would eat the digits
    a, b, c = (corners[body[:, k]] - corners[body[0, 0]] for k in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum()) / 6
