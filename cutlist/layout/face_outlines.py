"""Where a row of studs may lie on a face of any outline, and where surely not.

Everything is told on the plane of the face: (a, b) in metres along and up. A row is a straight stretch from its first
stud to its last; with one stud it is a point.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from cutlist.bank.bus_bars import BusBar, runs_up
from cutlist.bank.site import MountingFace
from geometry.outlines import Vertex, outline_distance

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
HAIR_M = 1e-9  # a stud on a border is inside
SQUARES = 60  # along each side of a face, when it is asked whether a row fits at all
PROBES = np.linspace(-1.0, 1.0, 5)  # points of a row, from end to end, at which a whole cell is judged


def has_outlines(face: MountingFace) -> bool:
    """Whether anything of the face is not told by rectangles."""
    return bool(face.outline or face.forbidden_outlines)


def rows_off(face: MountingFace, middles: Array, half: tuple[float, float]) -> Mask:
    """Whether rows (q,) from middles - half to middles + half (q, 2) break the outlines of the face. Exact.

    The whole row keeps `edge_m` from the outline, and no part of it lies within a forbidden one.
    """
    first, last = middles - np.array(half), middles + np.array(half)
    off = np.zeros(len(middles), dtype=bool)
    if face.outline:
        off |= _to_sides(face.outline, first, last) < face.edge_m - HAIR_M
        off |= _deepest(face.outline, first, last, sign=1.0) > HAIR_M
    for zone in face.forbidden_outlines:
        off |= _deepest(zone, first, last, sign=-1.0) > HAIR_M
    return off


def cells_off(face: MountingFace, middles: Array, half: tuple[float, float], reach_m: Array) -> Mask:
    """Whether no row whose middle is within reach_m (q,) of middles (q, 2) can be right.

    A distance to an outline changes by no more than the row moves; so what breaks a rule by more than that breaks it
    everywhere in the cell. Cells of which this is not known are left.
    """
    probes = middles[:, None, :] + PROBES[None, :, None] * np.array(half)
    flat = probes.reshape(-1, 2)
    off = np.zeros(len(middles), dtype=bool)
    if face.outline:
        beyond = outline_distance(flat, face.outline).reshape(len(middles), -1).max(axis=1)
        off |= beyond - reach_m > -face.edge_m + HAIR_M
    for zone in face.forbidden_outlines:
        inside = -outline_distance(flat, zone).reshape(len(middles), -1).min(axis=1)
        off |= inside - reach_m > HAIR_M
    return off


def _to_sides(outline: tuple[Vertex, ...], first: Array, last: Array) -> Array:
    """Distance (q,) from stretches to the outline; of those that cross it that of the nearest end or corner."""
    corners = np.array(outline)
    ends = np.minimum(np.abs(outline_distance(first, outline)), np.abs(outline_distance(last, outline)))
    along = (last - first)[:, None, :]
    length2 = np.maximum((along * along).sum(axis=2), 1e-30)
    share = np.clip(((corners[None] - first[:, None]) * along).sum(axis=2) / length2, 0.0, 1.0)
    foot = first[:, None] + share[:, :, None] * along
    return np.asarray(np.minimum(ends, np.linalg.norm(corners[None] - foot, axis=2).min(axis=1)))


def _deepest(outline: tuple[Vertex, ...], first: Array, last: Array, sign: float) -> Array:
    """How far (q,) stretches get outside (sign 1) or inside (sign -1) an outline, looked at between its sides.

    Cut where it meets the line of a side, a stretch has no part that is both inside and outside: the middles of the
    parts and the two ends tell.
    """
    corners = np.array(outline)
    sides = np.roll(corners, -1, axis=0) - corners
    along = last - first
    normal = np.stack([-sides[:, 1], sides[:, 0]], axis=1)
    fall = along @ normal.T
    height = ((corners[None] - first[:, None]) * normal[None]).sum(axis=2)
    crossing = np.abs(fall) > 1e-15
    shares = np.where(crossing, height / np.where(crossing, fall, 1.0), 0.0)
    shares = np.sort(np.clip(np.column_stack([np.zeros(len(first)), shares, np.ones(len(first))]), 0.0, 1.0), axis=1)
    middles = np.column_stack([np.zeros(len(first)), (shares[:, 1:] + shares[:, :-1]) / 2, np.ones(len(first))])
    points = first[:, None] + middles[:, :, None] * along[:, None]
    depth = sign * outline_distance(points.reshape(-1, 2), outline)
    return np.asarray(depth.reshape(len(first), -1).max(axis=1))


def no_room(face: MountingFace, bar: BusBar, turn: int) -> bool:
    """Whether outlines and forbidden parts leave a row of studs surely no place on the face; False also where that is
    not known."""
    if not has_outlines(face) and not face.forbidden:
        return False
    half_m = (bar.studs - 1) * bar.pitch_m / 2
    half = (0.0, half_m) if runs_up(turn) else (half_m, 0.0)
    sizes = (face.width_m, face.height_m)
    a, b = ((np.arange(SQUARES) + 0.5) * size_m / SQUARES for size_m in sizes)
    middles = np.stack(np.meshgrid(a, b), axis=2).reshape(-1, 2)
    reach = np.array(sizes) / SQUARES / 2
    off = cells_off(face, middles, half, np.full(len(middles), float(np.hypot(*reach))))
    low, high = middles - reach, middles + reach
    keep = face.edge_m + np.array(half)
    off |= ((high < keep - HAIR_M) | (low > np.array(sizes) - keep + HAIR_M)).any(axis=1)
    for a0, b0, a1, b1 in face.forbidden:
        inside = (low > np.array([a0, b0]) - half + HAIR_M) & (high < np.array([a1, b1]) + half - HAIR_M)
        off |= inside.all(axis=1)
    return bool(off.all())
