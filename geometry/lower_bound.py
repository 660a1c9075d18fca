"""How short could this run be? A length that no legal run undercuts, proved.

Forget the bends between the ends and let the cable pass wherever no barrier (`barriers.py`) is: every legal run stays
legal, so the shortest of these ways is no longer than any of them. From where the run leaves a small ball about one
launch to where it enters one about the other it is no shorter than a taut way, and a taut way turns at edges of
barriers only. Edges are cut into pieces. The distance between two pieces is no more than that between any two of
their points; two pieces of different edges (a taut way does not turn twice on one; a corner belongs to several) are
taken to see each other unless one barrier hides every point of one from every point of the other. So the shortest
chain of pieces is a lower bound (the idea of Papadimitriou, 1985, turned from an upper to a lower bound). What the
lugs' directions cost is told in `launches.py`.

Pieces through which no chain is shorter than the goal are dropped for good; the rest are halved, until none is left,
which proves the goal, or they are so small that the least chain is the answer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geometry.barriers import BODY, SHEET, Barrier
from geometry.bound_pieces import barriers_round, edges_in_ball, offs, patch_balls, quartered, wall_planes, within
from geometry.clearances import Clearances, Flags, Indices, Numbers
from geometry.footing import Footing
from geometry.launches import least_between, least_to
from geometry.reach import PIECE, SINK, SOURCE, Network, packed_barriers, reach

BALL_RADII = 1.25  # of the balls about the launches, in bend radii
ROUNDS = 24
MOST_NODES = 900
KEENNESS = 0.25  # only what is on chains in the lowest part between the least chain and the goal is divided
MOST_BARRIERS = 120
SMALLEST_M = 0.002
SMALLEST_CELL_M = 0.02


@dataclass(frozen=True, eq=False)
class Proof:
    least_m: float  # no legal run is shorter
    hints: tuple[tuple[int, int, Numbers], ...]  # the last least chains: start, finish and corners (k, 3) between


def lower_bound(
    around: Clearances,
    starts: list[Footing],
    finishes: list[Footing],
    standoff_m: float,
    radius_m: float,
    goal_m: float,
    solids: Indices,
    closed: bool = False,
) -> Proof:
    """Least length from stud to stud, as far as it can be proved; not above `goal_m`, with which the search is content.

    `solids` are those to look at first; others are added where the shortest chain runs through them. `closed`: asks
    only whether there is any way, however bent; a proof of that leaves the lugs' directions out.
    """
    straight_m = starts[0].straight_m + finishes[0].straight_m
    search = _Search(around, starts, finishes, standoff_m, radius_m, goal_m - straight_m, closed)
    search.add_solids(np.sort(solids))
    least = search.run()
    return Proof(min(goal_m, straight_m + least), tuple(search.hints))


class _Search:
    def __init__(
        self,
        around: Clearances,
        starts: list[Footing],
        finishes: list[Footing],
        standoff_m: float,
        radius_m: float,
        goal_m: float,
        closed: bool,
    ) -> None:
        self.closed = closed
        self.around, self.standoff_m, self.radius_m, self.goal_m = around, standoff_m, radius_m, goal_m
        self.feet = (starts, finishes)
        apart = np.array([[float(np.linalg.norm(f.launch - s.launch)) for f in finishes] for s in starts])
        ball_m = 0.0 if closed else BALL_RADII * radius_m
        self.balls = tuple(np.minimum(ball_m, apart.min(axis=axis) / 2) for axis in (1, 0))
        self.off = offs(around, [*starts, *finishes], standoff_m)
        self.walls = wall_planes(around, self.off)
        self.active: set[int] = set()
        self.edges = 0
        self.hints: list[tuple[int, int, Numbers]] = []
        self.barriers: list[Barrier] = []
        self.packed = packed_barriers([])
        self.direct = np.array(
            [
                [
                    least_between(s.launch, s.way, one, f.launch, f.way, two, radius_m)
                    for f, two in zip(finishes, self.balls[1], strict=True)
                ]
                for s, one in zip(starts, self.balls[0], strict=True)
            ]
        )
        self.ends = np.zeros((0, 2, 3))
        self.etas = np.zeros(0)
        self.role = np.zeros(0, dtype=np.int8)
        self.foot = np.zeros(0, dtype=np.int64)
        self.parts: list[Numbers | None] = []
        self.patch: list[tuple[int, float, float, float] | None] = []
        self.first = np.zeros(0)
        self.floors = (np.zeros((len(starts), 0)), np.zeros((len(finishes), 0)))
        self.back = np.zeros(0)  # least still to go, as far as known
        self.seen = np.zeros((256, 256), dtype=np.int8)
        for which, role in ((0, SOURCE), (1, SINK)):
            for number, foot in enumerate(self.feet[which]):
                ball_m = float(self.balls[which][number])
                self._append(
                    np.array([[foot.launch, foot.launch]]),
                    np.array([ball_m]),
                    [None],
                    [(-1, 0.0, 0.0, 0.0)],
                    role=role,
                    foot=number,
                    back=np.zeros(1),
                )

    def add_solids(self, solids: Indices) -> None:
        for solid in solids.tolist():
            if solid in self.active or solid == self.around.walls or self.off[solid] <= 1e-4:
                continue
            self.active.add(solid)
            for barrier in barriers_round(self.around, solid, float(self.off[solid]), self.closed):
                if len(self.barriers) == MOST_BARRIERS:
                    return
                self.barriers.append(barrier)
                nodes = barrier.nodes
                self._append(
                    nodes.ends,
                    nodes.etas,
                    list(nodes.parts),
                    [None] * len(nodes.ends),
                    edge=self._named(len(nodes.ends)),
                )
        self.packed = packed_barriers(self.barriers)

    def _named(self, count: int) -> Indices:
        """Numbers for so many fresh edges."""
        self.edges += count
        return np.arange(self.edges - count, self.edges)

    def run(self) -> float:
        least = float(self.direct.min())
        looked = 0
        for _ in range(ROUNDS):
            if not len(self.ends):
                return self.goal_m
            self._way_out()
            found, last, forth, before = self._reach(self.back, backwards=False)
            if not found < self.goal_m:
                return self.goal_m
            least = max(least, found)
            self._hint(last, before)
            if looked < 12 and self._look_along(last, before):
                looked += 1
                continue
            rest = np.where(self.role == SOURCE, 0.0, forth)
            _, _, back, _ = self._reach(rest, backwards=True)
            # what a chain through each node takes; cells hold the whole chain already
            total = np.where(self.role == PIECE, forth + back, np.where(self.role == SINK, forth, back))
            kept = np.flatnonzero(total < self.goal_m)
            if not len(kept):
                return self.goal_m
            self._keep(kept, back)
            if not self._divide(total[kept] <= found + KEENNESS * (self.goal_m - found)):
                break
        return least

    def _reach(self, onward: Numbers, backwards: bool) -> tuple[float, int, Numbers, Indices]:
        role, floors, direct = self.role, self.floors, self.direct
        if backwards:
            role = np.where(role == PIECE, role, SOURCE + SINK - role).astype(np.int8)
            floors, direct = floors[::-1], direct.T
        network = Network(self.ends, self.etas, role, self.foot, self.first, floors[0], floors[1], direct)
        return reach(network, self.packed, onward, self.goal_m, self.seen)

    def _way_out(self) -> None:
        """Cells again: how far from the launch to there at least, within the ball and round its barriers?"""
        for which, role in ((0, SOURCE), (1, SINK)):
            for number, foot in enumerate(self.feet[which]):
                cells = np.flatnonzero(
                    (self.role == role) & (self.foot == number) & (self.etas < 0.9 * self.balls[which][number])
                )
                near = self._nearby(which, number)
                if not len(cells) or not near:
                    continue
                in_ball = [edges_in_ball(b, foot.launch, float(self.balls[which][number])) for b in near]
                pieces = np.concatenate([stretch for stretch, _ in in_ball])
                of = np.concatenate([number_of + 1000 * k for k, (_, number_of) in enumerate(in_ball)])
                inside, pieces = within(self.walls, pieces, np.zeros(len(pieces)))
                pieces, of = pieces[inside], of[inside]
                ends = np.concatenate([[[foot.launch, foot.launch]], pieces, self.ends[cells]])
                count, inner = len(ends), len(pieces)
                roles = np.array([SOURCE, *[PIECE] * inner, *[SINK] * len(cells)], dtype=np.int8)
                none = np.zeros((1, count))
                network = Network(
                    ends,
                    np.concatenate([np.zeros(1 + inner), self.etas[cells]]),
                    roles,
                    np.concatenate([[0], of, np.zeros(len(cells), dtype=np.int64)]),
                    np.zeros(count),
                    none,
                    none,
                    np.zeros((1, 1)),
                )
                seen = np.zeros((count, count), dtype=np.int8)
                _, _, reached, _ = reach(network, packed_barriers(near), np.zeros(count), self.goal_m, seen)
                self.first[cells] = np.maximum(self.first[cells], reached[1 + inner :])
        outside = (self.ends[:, 0] @ self.walls[:, :3].T - self.walls[:, 3] > self.etas[:, None] + 1e-9).any(axis=1)
        lost = (self.role != PIECE) & (outside | self._buried(self.ends, self.etas))
        self.first[lost] = math.inf

    def _nearby(self, which: int, number: int) -> list[Barrier]:
        launch, ball_m = self.feet[which][number].launch, float(self.balls[which][number])
        return [b for b in self.barriers if float(np.linalg.norm(b.ball[:3] - launch)) < b.ball[3] + ball_m]

    def _hint(self, last: int, before: Indices) -> None:
        """Where the shortest chain goes: a run may be laid there."""
        chain = [last]
        while before[chain[-1]] >= 0:
            chain.append(int(before[chain[-1]]))
        start, *middle, finish = chain[::-1]
        corners = [self.ends[i].mean(axis=0) for i in middle]
        apart = [
            c for k, c in enumerate(corners) if not k or float(np.linalg.norm(c - corners[k - 1])) > self.standoff_m
        ]
        hint = (int(self.foot[start]), int(self.foot[finish]), np.array(apart).reshape(-1, 3))
        self.hints = [*self.hints[-2:], hint]

    def _look_along(self, last: int, before: Indices) -> bool:
        """Add what the shortest chain runs through; whether there was anything."""
        chain = [last]
        while before[chain[-1]] >= 0:
            chain.append(int(before[chain[-1]]))
        path = self.ends[chain].mean(axis=1)
        spots = np.linspace(0, 1, 9)[:, None, None]
        places = (path[None, :-1] + spots * np.diff(path, axis=0)[None]).reshape(-1, 3)
        which = self.around.near(places, self.standoff_m + 0.2)
        which = np.array([s for s in which.tolist() if s not in self.active and s != self.around.walls], dtype=np.intp)
        if not len(which) or len(self.barriers) >= MOST_BARRIERS:
            return False
        _, hit = self.around.blocked_pairs(path[:-1], path[1:], which, 0.6 * self.standoff_m)
        fresh = which[np.unique(hit)]
        self.add_solids(fresh)
        return bool(len(fresh))

    def _append(
        self,
        ends: Numbers,
        etas: Numbers,
        parts: list[Numbers | None],
        patch: list[tuple[int, float, float, float] | None],
        role: int = PIECE,
        foot: int = 0,
        edge: Indices | None = None,
        back: Numbers | None = None,
    ) -> None:
        floors = [
            [
                least_to(ends, etas, end.launch, end.way, self.radius_m, float(ball))[0]
                for end, ball in zip(feet, balls, strict=True)
            ]
            for feet, balls in zip(self.feet, self.balls, strict=True)
        ]
        if role == PIECE:
            there = np.min(floors[0], axis=0) + np.min(floors[1], axis=0)
            inside, ends = within(self.walls, ends, etas)
            kept = np.flatnonzero((there < self.goal_m) & inside & ~self._buried(ends, etas))
        else:
            kept = np.arange(len(ends))
        count = len(kept)
        if not count:
            return
        ends, etas = ends[kept], etas[kept]
        first = np.zeros(count)
        if role != PIECE:
            which = 0 if role == SOURCE else 1
            ball_m = float(self.balls[which][foot])
            first = np.maximum(ball_m, floors[which][foot][kept])
        self.ends = np.concatenate([self.ends, ends])
        self.etas = np.concatenate([self.etas, etas])
        self.role = np.concatenate([self.role, np.full(count, role, dtype=np.int8)])
        of = np.full(count, foot, dtype=np.int64) if edge is None else edge[kept]
        self.foot = np.concatenate([self.foot, of])
        self.first = np.concatenate([self.first, first])
        self.parts += [parts[k] for k in kept]
        self.patch += [patch[k] for k in kept]
        self.floors = tuple(
            np.concatenate([old, np.array(new)[:, kept]], axis=1) for old, new in zip(self.floors, floors, strict=True)
        )  # type: ignore[assignment]
        onward = np.min(floors[1], axis=0)[kept] if back is None else back[kept]
        self.back = np.concatenate([self.back, np.maximum(onward, 0.0)])
        if len(self.ends) > len(self.seen):
            grown = np.zeros((2 * len(self.ends),) * 2, dtype=np.int8)
            old = len(self.ends) - count
            grown[:old, :old] = self.seen[:old, :old]
            self.seen = grown

    def _buried(self, ends: Numbers, etas: Numbers) -> Flags:
        """Pieces that lie inside one body altogether."""
        buried = np.zeros(len(ends), dtype=bool)
        for barrier in self.barriers:
            if barrier.kind == BODY:
                rows = barrier.groups[0]
                deepest = (ends @ rows[:, :3].T - rows[:, 3]).max(axis=(1, 2)) + etas
                buried |= deepest < -1e-6
        return buried

    def _keep(self, kept: Indices, back: Numbers) -> None:
        count = len(kept)
        self.seen[:count, :count] = self.seen[np.ix_(kept, kept)]
        self.seen[count:, :] = 0
        self.seen[:, count:] = 0
        self.ends, self.etas, self.role = self.ends[kept], self.etas[kept], self.role[kept]
        self.foot, self.first = self.foot[kept], self.first[kept]
        self.parts = [self.parts[k] for k in kept]
        self.patch = [self.patch[k] for k in kept]
        self.floors = (self.floors[0][:, kept], self.floors[1][:, kept])
        self.back = np.where(self.role == PIECE, back[kept], 0.0)

    def _divide(self, wanted: Flags) -> bool:
        """Smaller pieces in place of those wanted (n,); whether there were any."""
        lengths = np.linalg.norm(self.ends[:, 1] - self.ends[:, 0], axis=1)
        cells = self.role != PIECE
        thick = np.array([part is not None for part in self.parts])
        cut = self._cuts()
        large = np.where(cells, self.etas > SMALLEST_CELL_M, thick | (lengths > SMALLEST_M) | (cut != 0.5))
        large &= wanted
        if not large.any() or len(self.ends) > MOST_NODES:
            return False
        old = np.flatnonzero(large)
        split = [
            (float(cut[i]), self.ends[i], self.parts[i], self.patch[i], int(self.role[i]), int(self.foot[i]))
            for i in old
        ]
        back = self.back[old]
        rest = np.flatnonzero(~large)
        self._keep(rest, self.back)
        pieces, pieces_back, of_edge = [], [], []
        patches: dict[tuple[int, int], list[tuple[int, float, float, float]]] = {}
        for k, (share, ends, part, patch, role, foot) in enumerate(split):
            if patch is not None:
                patches.setdefault((role, foot), []).extend(quartered(patch))
                continue
            if part is not None:
                fresh, named = part, self._named(len(part))
            else:
                marks = ends[0] + np.array([[0.0], [share], [1.0]]) * (ends[1] - ends[0])
                fresh, named = np.stack([marks[:-1], marks[1:]], axis=1), np.full(2, foot)
            pieces.append(fresh)
            of_edge.append(named)
            pieces_back.append(np.full(len(fresh), back[k]))
        for (role, foot), made in patches.items():
            which = 0 if role == SOURCE else 1
            centres, etas = patch_balls(made, self.feet[which][foot].launch, float(self.balls[which][foot]))
            self._append(
                np.stack([centres, centres], axis=1),
                etas,
                [None] * len(made),
                list(made),
                role=role,
                foot=foot,
                back=np.zeros(len(made)),
            )
        if pieces:
            every = np.concatenate(pieces)
            nothing: list[None] = [None] * len(every)
            self._append(
                every,
                np.zeros(len(every)),
                list(nothing),
                list(nothing),
                edge=np.concatenate(of_edge),
                back=np.concatenate(pieces_back),
            )
        return True

    def _cuts(self) -> Numbers:
        """Where each piece is best cut in two (n,): a piece that goes through a sheet at the sheet, else in the middle.

        A piece on both sides of a sheet would be a way through it.
        """
        cut = np.full(len(self.ends), 0.5)
        for barrier in self.barriers:
            if barrier.kind == SHEET:
                off = (self.ends - barrier.frame[:3]) @ barrier.frame[9:]
                through = (np.abs(off) > 1e-9).all(axis=1) & (off[:, 0] * off[:, 1] < 0) & (self.etas == 0)
                with np.errstate(divide="ignore", invalid="ignore"):
                    cut = np.where(through, off[:, 0] / (off[:, 0] - off[:, 1]), cut)
        return cut
