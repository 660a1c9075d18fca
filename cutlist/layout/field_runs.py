"""Run lengths among obstacles from a table: least lengths to a grid of points on each mounting face, read in between.

A search asks for the runs to a hundred thousand studs; a way past obstacles takes a millisecond. So ways are found once
to points some centimetres apart on every face, for each way a lug may lie there. Between them a length is interpolated,
and no run is taken to be shorter than the slopes at those points allow: a way round the same edges is convex in where
its stud is. (A way that is best nowhere on the grid but somewhere between its points would be missed.)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutlist.bank.bus_bars import runs_up
from cutlist.bank.site import MountingFace
from cutlist.layout.cells import lies_of
from cutlist.layout.place_problem import Array
from geometry.lug_fields import LugField, Source
from geometry.lug_targets import Lengths
from geometry.runs import CableShape
from geometry.space import Space

ON_FACE_M = 1e-6
NO_WAY = -(1 << 40)  # the kind of a way where there is none


@dataclass(frozen=True, eq=False)
class _Sheet:
    """Ways (terminals, rows along u, columns along v) to the points of one face's grid, lugs lying one way."""

    face: MountingFace
    step_a_m: float
    step_b_m: float
    side: Array  # (3,) a lug lies along this, one way or the other
    metres: Array
    slope_a: Array  # metres a metre along u
    slope_b: Array  # and along v
    kind: NDArray[np.intp]

    def on_face(self, points: Array, sides: Array) -> tuple[Array, Array, Array]:
        """Along u, along v (n,), and whether the points lie on the face, their lugs this way."""
        away = points - np.array(self.face.origin)
        a, b = away @ np.array(self.face.u), away @ np.array(self.face.v)
        off = np.abs(away @ np.cross(self.face.u, self.face.v))
        within = (a > -ON_FACE_M) & (a < self.face.width_m + ON_FACE_M)
        within &= (b > -ON_FACE_M) & (b < self.face.height_m + ON_FACE_M)
        alike = np.abs(np.abs(sides @ self.side) - 1) < ON_FACE_M
        return a, b, within & alike & (off < ON_FACE_M)

    def read(self, rows: Sequence[int], a: Array, b: Array, straight_m: Array) -> tuple[Array, Array]:
        """Lengths and bounds (k, n) of some terminals' ways to places on the face; `straight_m` where nothing is known.

        Of ways of one kind the steepest slope from a corner of the grid tells how short they can be; of those kinds
        that are the best at some corner the least counts.
        """
        last_row, last_column = self.metres.shape[1] - 1, self.metres.shape[2] - 1
        i = np.clip(np.floor(a / self.step_a_m), 0, last_row - 1).astype(int)
        j = np.clip(np.floor(b / self.step_b_m), 0, last_column - 1).astype(int)
        s, t = np.clip(a / self.step_a_m - i, 0, 1), np.clip(b / self.step_b_m - j, 0, 1)
        between = np.zeros(straight_m.shape)
        told, kinds = [], []
        for di in (0, 1):
            for dj in (0, 1):
                at = (np.array(rows)[:, None], (i + di)[None], (j + dj)[None])
                metres = self.metres[at]
                share = (s if di else 1 - s) * (t if dj else 1 - t)
                # a corner without share does not count, even where no way leads to it
                between += np.where(share > 0, share * np.where(share > 0, metres, 0.0), 0.0)
                da, db = a - (i + di) * self.step_a_m, b - (j + dj) * self.step_b_m
                known = np.isfinite(metres)
                told.append(np.where(known, metres + self.slope_a[at] * da + self.slope_b[at] * db, -np.inf))
                kinds.append(np.where(known, self.kind[at], NO_WAY))
        least = np.full(straight_m.shape, np.inf)
        for kind in kinds:
            best = np.full(straight_m.shape, -np.inf)
            for other, value in zip(kinds, told, strict=True):
                np.maximum(best, np.where(other == kind, value, -np.inf), out=best)
            np.minimum(least, np.where(kind == NO_WAY, np.inf, best), out=least)
        least = np.where(np.isfinite(least), np.maximum(least, straight_m), straight_m)
        return np.maximum(between, least), least


@dataclass(frozen=True, eq=False)
class Kind:
    """Cables alike in shape, and the terminals they lead to."""

    cable: CableShape
    sources: tuple[Source, ...]


class FieldRuns:
    """Least lengths from a job's terminals to studs on its faces (elsewhere asked for one by one).

    The bounds hold for ways that begin and end with a lug's straight, bend there no tighter than allowed and are taut
    over way points in between; the certificate speaks of them and not of the runs that are laid in the end.
    """

    speaks_of = "lugs, their bends and taut ways past obstacles in between"

    def __init__(
        self,
        space: Space,
        kinds: Sequence[Kind],
        faces: Sequence[MountingFace],
        turns: Sequence[int] = (0, 90),
        step_m: float = 0.05,
    ) -> None:
        self._fields = [LugField(space, kind.cable, kind.sources) for kind in kinds]
        points = [source.end.point for kind in kinds for source in kind.sources]
        self._terminals = np.array(points, dtype=float).reshape(-1, 3)
        self._row = {tuple(point): i for i, point in enumerate(self._terminals.tolist())}
        self._sheets = self._sampled(faces, turns, step_m)

    def lengths(self, terminals: Array, studs: Array, lies: Array) -> Array:
        """Metres (k, n). Raises KeyError for a terminal that was not named at the start."""
        return self._read(terminals, studs, lies, bounds=False)

    def bounds(self, terminals: Array, studs: Array, lies: Array) -> Array:
        return self._read(terminals, studs, lies, bounds=True)

    def _asked(self, studs: Array, lies: Array) -> Lengths:
        found = [field.lengths(studs, lies[:, 0], lies[:, 1]) for field in self._fields]
        return Lengths(
            np.concatenate([f.metres for f in found]),
            np.concatenate([f.slope for f in found]),
            np.concatenate([f.kind for f in found]),
        )

    def _sampled(self, faces: Sequence[MountingFace], turns: Sequence[int], step_m: float) -> list[_Sheet]:
        grids, points, ways = [], [], []
        for face in faces:
            count_a, count_b = (max(1, math.ceil(s / step_m - 1e-9)) for s in (face.width_m, face.height_m))
            step_a, step_b = face.width_m / count_a, face.height_m / count_b
            a, b = np.meshgrid(step_a * np.arange(count_a + 1), step_b * np.arange(count_b + 1), indexing="ij")
            u, v = np.array(face.u, dtype=float), np.array(face.v, dtype=float)
            for up in sorted({runs_up(turn) for turn in turns}):  # end for end lugs lie as before
                points.append(np.array(face.origin) + a.reshape(-1, 1) * u + b.reshape(-1, 1) * v)
                lies = lies_of(v if up else u, np.cross(u, v))
                ways.append(np.broadcast_to(lies, (a.size, 2, 3)))
                grids.append((face, step_a, step_b, a.shape, lies[0]))
        if not points:
            return []
        table = self._asked(np.vstack(points), np.vstack(ways))
        sheets, start = [], 0
        for (face, step_a, step_b, shape, side), some in zip(grids, points, strict=True):
            mine = slice(start, start + len(some))
            grid = (len(self._terminals), *shape)
            slope = table.slope[:, mine]
            sheets.append(
                _Sheet(
                    face,
                    step_a,
                    step_b,
                    side,
                    table.metres[:, mine].reshape(grid),
                    (slope @ np.array(face.u, dtype=float)).reshape(grid),
                    (slope @ np.array(face.v, dtype=float)).reshape(grid),
                    table.kind[:, mine].reshape(grid),
                )
            )
            start += len(some)
        return sheets

    def _read(self, terminals: Array, studs: Array, lies: Array, *, bounds: bool) -> Array:
        rows = [self._row[tuple(point)] for point in np.asarray(terminals, dtype=float).tolist()]
        result = np.full((len(rows), len(studs)), np.nan)
        for sheet in self._sheets:
            a, b, on = sheet.on_face(studs, lies[:, 0])
            here = np.flatnonzero(on & np.isnan(result[0]) if len(rows) else on)
            if not len(here):
                continue
            straight_m = np.linalg.norm(self._terminals[rows][:, None] - studs[here][None], axis=2)
            lengths, least = sheet.read(rows, a[here], b[here], straight_m)
            result[:, here] = least if bounds else lengths
        elsewhere = np.flatnonzero(np.isnan(result).any(axis=0))
        if len(elsewhere):
            result[:, elsewhere] = self._asked(studs[elsewhere], lies[elsewhere]).metres[rows]
        return result
