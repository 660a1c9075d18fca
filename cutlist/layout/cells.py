"""Where a bus bar's centre may lie, cut into cells that are halved again and again.

A `Seat` is one way of mounting a bar: a face, a turn, and which of its studs are kept free. Its centre ranges over a
rectangle of the face; a cell is a part of that rectangle.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutlist.bank.bus_bars import BarPlace, row_along, runs_up
from cutlist.bank.site import MountingFace
from cutlist.layout.face_outlines import cells_off, has_outlines, rows_off
from cutlist.layout.place_problem import Array, BarRow, PlaceProblem
from cutlist.layout.stud_fits import firsts_of
from geometry.runs import Point

Mask = NDArray[np.bool_]
HAIR_M = 1e-9  # a stud on a border is inside


@dataclass(frozen=True, eq=False)
class Seat:
    face: str
    turn: int
    first_stud: int  # of those in use; the others are reserved
    origin: Array  # (3,) of the face; of a fixed place its centre
    u: Array
    v: Array
    low: tuple[float, float]  # of the centre on the face, m
    high: tuple[float, float]
    middle: tuple[float, float]  # of the face
    studs: Array  # (studs in use, 3) from the centre
    ends: Array  # (2, 3) first and last stud of the whole bar, from the centre
    lies: Array  # (2, 3) a lug lies along the first, one way or the other; the studs point along the second
    blocked: Array  # (n, 4) rectangles a0, b0, a1, b1 in which the centre may not lie
    lowest_z_m: float
    half: tuple[float, float]  # of the row, from its middle to its last stud, on the face
    outlined: MountingFace | None = None  # the face, if outlines tell where the row may lie
    place: BarPlace | None = None  # a fixed place

    def centres(self, a: Array, b: Array) -> Array:
        return self.origin + a[:, None] * self.u + b[:, None] * self.v

    def bar_place(self, a: float, b: float) -> BarPlace:
        if self.place is not None:
            return self.place
        along = row_along(_point(self.u), _point(self.v), self.turn)
        centre = self.origin + a * self.u + b * self.v
        return BarPlace(_point(centre), along, _point(np.cross(self.u, self.v)), self.face)


@dataclass(frozen=True, eq=False)
class Cells:
    """Parts of seats: which seat (q,), centre (q,) (q,), half sizes (q,) (q,)."""

    seat: NDArray[np.int64]
    a: Array
    b: Array
    half_a: Array
    half_b: Array

    def __len__(self) -> int:
        return len(self.seat)

    def __getitem__(self, chosen: Mask | NDArray[np.int64]) -> Cells:
        return Cells(self.seat[chosen], self.a[chosen], self.b[chosen], self.half_a[chosen], self.half_b[chosen])

    @property
    def radius_m(self) -> Array:
        """How far the bar's centre can be from the cell's."""
        return np.hypot(self.half_a, self.half_b)


def seats_of(problem: PlaceProblem, pole: str) -> tuple[Seat, ...]:
    """Every way of mounting the bar of a pole that fits, in the order faces and turns are given."""
    bar = problem.bar(pole)
    used = bar.studs - bar.reserved_studs
    if used < 1:
        raise ValueError(f"the {pole} bus bar has {bar.studs} studs and {bar.reserved_studs} of them are reserved")
    seats = []
    for first in firsts_of(problem, pole):
        seats += [_fixed_seat(bar, place, first, used) for place in bar.places]
        for face in problem.faces:
            if face.name not in bar.faces:
                continue
            for turn in bar.turns if bar.studs > 1 else bar.turns[:1]:  # a single stud has no turn
                u, v = np.array(face.u, dtype=float), np.array(face.v, dtype=float)
                steps = _steps(bar)
                along = np.array(row_along(face.u, face.v, turn), dtype=float)
                reach = (0.0, steps[-1]) if runs_up(turn) else (steps[-1], 0.0)
                low = (face.edge_m + reach[0], face.edge_m + reach[1])
                high = (face.width_m - low[0], face.height_m - low[1])
                if low[0] > high[0] + HAIR_M or low[1] > high[1] + HAIR_M:
                    continue
                blocked = [
                    (a0 - reach[0], b0 - reach[1], a1 + reach[0], b1 + reach[1]) for a0, b0, a1, b1 in face.forbidden
                ]
                studs = steps[:, None] * along
                seats.append(
                    Seat(
                        face.name,
                        turn,
                        first,
                        np.array(face.origin, dtype=float),
                        u,
                        v,
                        low,
                        (max(low[0], high[0]), max(low[1], high[1])),
                        (face.width_m / 2, face.height_m / 2),
                        studs[first : first + used],
                        studs[[0, -1]],
                        lies_of(along, np.cross(u, v)),
                        np.array(blocked, dtype=float).reshape(-1, 4),
                        -math.inf if bar.lowest_z_m is None else bar.lowest_z_m,
                        reach,
                        face if has_outlines(face) else None,
                    )
                )
    return tuple(seats)


def lies_of(along: Array, out: Array) -> Array:
    """(2, 3) for a row of studs: a lug lies across it, flat to the wall."""
    return np.stack([np.cross(out, along), out])


def _steps(bar: BarRow) -> Array:
    return np.asarray((np.arange(bar.studs) - (bar.studs - 1) / 2) * bar.pitch_m)


def _fixed_seat(bar: BarRow, place: BarPlace, first: int, used: int) -> Seat:
    studs = _steps(bar)[:, None] * np.array(place.along, dtype=float)
    nowhere = np.zeros(3)
    return Seat(
        place.face,
        0,
        first,
        np.array(place.centre, dtype=float),
        nowhere,
        nowhere,
        (0.0, 0.0),
        (0.0, 0.0),
        (0.0, 0.0),
        studs[first : first + used],
        studs[[0, -1]],
        lies_of(np.array(place.along, dtype=float), np.array(place.out, dtype=float)),
        np.empty((0, 4)),
        -math.inf,
        (0.0, 0.0),
        place=place,
    )


def whole_seats(seats: Sequence[Seat], cell_m: float) -> Cells:
    """All seats cut into cells of about this size."""
    parts: list[tuple[int, float, float, float, float]] = []
    for number, seat in enumerate(seats):
        size = (seat.high[0] - seat.low[0], seat.high[1] - seat.low[1])
        columns, rows = (max(1, math.ceil(s / cell_m - HAIR_M)) for s in size)
        half_a, half_b = size[0] / columns / 2, size[1] / rows / 2
        for i in range(columns):
            for j in range(rows):
                parts.append(
                    (number, seat.low[0] + (2 * i + 1) * half_a, seat.low[1] + (2 * j + 1) * half_b, half_a, half_b)
                )
    return _cells(parts)


def _cells(parts: Sequence[tuple[int, float, float, float, float]]) -> Cells:
    table = np.array(parts, dtype=float).reshape(-1, 5)
    return Cells(table[:, 0].astype(np.int64), table[:, 1], table[:, 2], table[:, 3], table[:, 4])


def halved(cells: Cells) -> Cells:
    """Every cell cut in two along each side that has a length.

    Both sides at once: then the reach of a part and the way to its centre add up to the reach of the whole, and a
    bound that falls with distance never gets worse by cutting.
    """
    parts = []
    for sign_a in (-1.0, 1.0):
        for sign_b in (-1.0, 1.0):
            keep = ((cells.half_a > 0) | (sign_a < 0)) & ((cells.half_b > 0) | (sign_b < 0))
            half_a, half_b = cells.half_a / 2, cells.half_b / 2
            parts.append(Cells(cells.seat, cells.a + sign_a * half_a, cells.b + sign_b * half_b, half_a, half_b)[keep])
    return joined(parts)


def at_borders(seats: Sequence[Seat], cells: Cells) -> Cells:
    """Points on the border of the seat, for the cells that touch it: where two bars just fit, only these serve."""
    low, high = (
        np.array(ends).reshape(-1, 2)[cells.seat] for ends in zip(*((s.low, s.high) for s in seats), strict=True)
    )
    parts = []
    for end_a in (low, high):
        for end_b in (low, high):
            a = np.where(np.abs(end_a[:, 0] - cells.a) <= cells.half_a + HAIR_M, end_a[:, 0], cells.a)
            b = np.where(np.abs(end_b[:, 1] - cells.b) <= cells.half_b + HAIR_M, end_b[:, 1], cells.b)
            touches = (a != cells.a) | (b != cells.b)
            none = np.zeros(len(cells))
            parts.append(Cells(cells.seat, a, b, none, none)[touches])
    return joined(parts)


def joined(parts: Sequence[Cells]) -> Cells:
    if not parts:
        return _cells([])
    return Cells(
        np.concatenate([p.seat for p in parts]),
        np.concatenate([p.a for p in parts]),
        np.concatenate([p.b for p in parts]),
        np.concatenate([p.half_a for p in parts]),
        np.concatenate([p.half_b for p in parts]),
    )


def centres_of(seats: Sequence[Seat], cells: Cells) -> Array:
    """Bar centres (q, 3)."""
    centres = np.empty((len(cells), 3))
    for number, seat in enumerate(seats):
        mine = cells.seat == number
        centres[mine] = seat.centres(cells.a[mine], cells.b[mine])
    return centres


def studs_of(seats: Sequence[Seat], cells: Cells) -> Array:
    """Stud points (q, studs, 3) of bars at the cells' centres."""
    offsets = np.stack([seat.studs for seat in seats])
    return centres_of(seats, cells)[:, None, :] + offsets[cells.seat]


def rows_of(seats: Sequence[Seat], cells: Cells) -> Array:
    """First and last stud (q, 2, 3) of bars at the cells' centres."""
    offsets = np.stack([seat.ends for seat in seats])
    return centres_of(seats, cells)[:, None, :] + offsets[cells.seat]


def allowed_points(seats: Sequence[Seat], cells: Cells) -> Mask:
    """Whether a bar may sit at the cell's centre."""
    off = _blocked(seats, cells, 0.0)
    for mine, seat, face in _outlined(seats, cells):
        off[mine] |= rows_off(face, np.column_stack([cells.a[mine], cells.b[mine]]), seat.half)
    return ~off


def shut_cells(seats: Sequence[Seat], cells: Cells) -> Mask:
    """Whether a bar may sit nowhere in the cell, as far as one rule alone shows."""
    shut = _blocked(seats, cells, 1.0)
    for mine, seat, face in _outlined(seats, cells):
        some = cells[mine]
        shut[mine] |= cells_off(face, np.column_stack([some.a, some.b]), seat.half, some.radius_m)
    return shut


def _outlined(seats: Sequence[Seat], cells: Cells) -> Iterator[tuple[NDArray[np.int64], Seat, MountingFace]]:
    """Which cells lie on each seat whose face has outlines."""
    for number, seat in enumerate(seats):
        if seat.outlined is not None:
            mine = np.flatnonzero(cells.seat == number)
            if len(mine):
                yield mine, seat, seat.outlined


def _blocked(seats: Sequence[Seat], cells: Cells, share: float) -> Mask:
    half_a, half_b = share * cells.half_a, share * cells.half_b
    blocked = np.zeros(len(cells), dtype=bool)
    for number, seat in enumerate(seats):
        mine = cells.seat == number
        if not mine.any():
            continue
        a, b, da, db = cells.a[mine], cells.b[mine], half_a[mine], half_b[mine]
        inside = np.zeros(len(a), dtype=bool)
        for a0, b0, a1, b1 in seat.blocked:
            within_a = (a - da > a0 + HAIR_M) & (a + da < a1 - HAIR_M)
            inside |= within_a & (b - db > b0 + HAIR_M) & (b + db < b1 - HAIR_M)
        if math.isfinite(seat.lowest_z_m):
            lowest = seat.centres(a, b)[:, 2] + seat.ends[:, 2].min()
            inside |= lowest + da * abs(seat.u[2]) + db * abs(seat.v[2]) < seat.lowest_z_m - HAIR_M
        blocked[mine] = inside
    return blocked


def rows_apart(first: Array, second: Array) -> Array:
    """Distance (n,) between straight rows of studs, each (n, 2, 3) first and last stud.

    >>> float(rows_apart(np.array([[[0.0, 0, 0], [1, 0, 0]]]), np.array([[[0.5, 0, 2], [0.5, 3, 2]]]))[0])
    2.0
    """
    p, q = first[:, 0], second[:, 0]
    d, e = first[:, 1] - p, second[:, 1] - q
    least = np.minimum.reduce(
        [
            _to_row(first[:, 0], q, e),
            _to_row(first[:, 1], q, e),
            _to_row(second[:, 0], p, d),
            _to_row(second[:, 1], p, d),
        ]
    )
    # two rows may be nearest inside both: where the common perpendicular stands
    dd, ee, de = (d * d).sum(axis=1), (e * e).sum(axis=1), (d * e).sum(axis=1)
    w = p - q
    dw, ew = (d * w).sum(axis=1), (e * w).sum(axis=1)
    det = dd * ee - de * de
    skew = det > 1e-12 * np.maximum(dd * ee, 1e-12)
    safe = np.where(skew, det, 1.0)
    s, t = (de * ew - ee * dw) / safe, (dd * ew - de * dw) / safe
    both = skew & (s >= 0) & (s <= 1) & (t >= 0) & (t <= 1)
    gap = w + s[:, None] * d - t[:, None] * e
    return np.where(both, np.minimum(least, np.sqrt((gap * gap).sum(axis=1))), least)


def _to_row(point: Array, start: Array, along: Array) -> Array:
    length2 = (along * along).sum(axis=1)
    share = ((point - start) * along).sum(axis=1) / np.where(length2 > 0, length2, 1.0)
    foot = start + np.clip(share, 0, 1)[:, None] * along
    return np.sqrt(((point - foot) ** 2).sum(axis=1))


def _point(vector: Array) -> Point:
    return (float(vector[0]), float(vector[1]), float(vector[2]))
