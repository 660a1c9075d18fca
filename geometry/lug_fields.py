"""How long must a run be at least, lugs and bends counted, from a few terminals to very many studs?

As `fields.py`, but every way begins and ends with the straight of a lug in one of its directions, and what the least
bend radius costs there is counted (`launches.py`). In between these are taut ways over way points, kinks allowed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from geometry.clearances import Clearances, Flags, Indices, Numbers
from geometry.cores import each
from geometry.fields import moved_off, places_between
from geometry.footing import footings
from geometry.launches import each_onward, least_onward, least_through
from geometry.lug_targets import Launches, Lengths, Targets, put_together
from geometry.runs import CableShape, End
from geometry.slack import Launch, pulled, slack_of
from geometry.space import Space
from geometry.way_graph import BLOCKED, FREE, UNKNOWN, WayGraph

APART_M = 0.1  # way points along a long edge
ROUNDS = 40  # of looking at what else stands in the way
SIGHTS_AT_ONCE = 6  # way points tried for each stud in one go
PROMISING = 48  # way points looked at for each stud before all of them are
FEW, FEW_TERMINALS = 11, 4  # of the studs every so many is looked at first, from every so many of the terminals
OVER_RADII = 2.0  # a curve's first bend is followed over so many bend radii: two right angles and some


@dataclass(frozen=True)
class Source:
    """A terminal, and how far its cable goes straight on at both ends."""

    end: End
    straight_m: float


class LugField:
    """Least lengths from a few terminals. What is found out for some studs is used for the next."""

    def __init__(self, space: Space, cable: CableShape, sources: Sequence[Source]) -> None:
        self.around = Clearances(space)
        self.cable = cable
        self.over_m = OVER_RADII * cable.bend_radius_m
        self.sources = tuple(sources)
        self.graph: WayGraph | None = None
        self.launches = [self._launches_of(source) for source in self.sources]

    def lengths(self, studs: Numbers, ways: Numbers, outs: Numbers) -> Lengths:
        """From each terminal to each stud (n, 3), whose lug lies along plus or minus its way (n, 3) on a face that
        looks along its out (n, 3).
        """
        count = len(studs)
        if self.graph is None:
            middles = [np.mean([s.end.point for s in self.sources], axis=0), studs.mean(axis=0)]
            self.graph = WayGraph(self.around, middles[0], middles[1], self.cable.standoff_m, math.inf, APART_M)
        launches = {m: self._at_studs(studs, ways, outs, m) for m in dict.fromkeys(s.straight_m for s in self.sources)}
        # most of what stands in the way shows at a few studs and from a few terminals, one after the other
        few = [{straight_m: Targets(some[::FEW]) for straight_m, some in launches.items()}]
        for k in range(0, len(self.sources), FEW_TERMINALS):
            self._ways([k], few)
        halves = [
            {straight_m: Targets(some[half]) for straight_m, some in launches.items()}
            for half in (slice(count), slice(count, None))
        ]
        found = self._ways(range(len(self.sources)), halves)
        shape = (len(self.sources), count)
        result = Lengths(np.empty(shape), np.empty((*shape, 3)), np.empty(shape, dtype=np.intp))
        for k, (source, way) in enumerate(zip(self.sources, found, strict=True)):
            side = way.metres.reshape(2, count).argmin(axis=0) * count + np.arange(count)
            result.metres[k] = way.metres[side] + 2 * source.straight_m
            result.slope[k] = way.slope[side]
            result.kind[k] = np.where(side < count, way.kind[side], -3 - way.kind[side])
        return result

    def _ways(self, terminals: Sequence[int], parts: Sequence[dict[float, Targets]]) -> list[Lengths]:
        """From each of these terminals to the targets of its straight, part after part, once no solid that is not in
        the graph stands in a way.

        All are asked with the same graph, whichever core asks; then it grows by what stood in their ways.
        """
        graph = self.graph
        assert graph is not None
        found: dict[int, Lengths] = {}
        open_ = list(terminals)
        for _ in range(ROUNDS):
            asked = each(partial(self._from_each, open_), parts)
            by_terminal = list(zip(*asked, strict=True))
            found.update((k, put_together([ways for ways, _ in of])) for k, of in zip(open_, by_terminal, strict=True))
            blocking = [np.concatenate([fresh for _, fresh in of]) for of in by_terminal]
            open_ = [k for k, fresh in zip(open_, blocking, strict=True) if len(fresh)]
            if not open_:
                break
            graph.add_solids(np.unique(np.concatenate(blocking)))
        return [found[k] for k in terminals]

    def _from_each(self, terminals: Sequence[int], part: dict[float, Targets]) -> list[tuple[Lengths, Indices]]:
        return [self._from(self.launches[k], part[self.sources[k].straight_m]) for k in terminals]

    def _launches_of(self, source: Source) -> Launches:
        """The directions in which the lug can be laid; all of them where none can, so that nothing is ruled out."""
        cable = CableShape(self.cable.radius_m, self.cable.clearance_m, self.cable.bend_radius_m, source.straight_m)
        usable, _ = footings(self.around, source.end, cable)
        ways = np.array([f.way for f in usable] or [np.divide(d, np.linalg.norm(d)) for d in source.end.directions])
        points = np.array(source.end.point) + source.straight_m * ways
        sides = [np.cross(ways, axis) for axis in np.eye(3)]
        further = [ways, *sides, *(-side for side in sides)]
        return Launches(points, ways, self._lookouts(points, further))

    def _at_studs(self, studs: Numbers, ways: Numbers, outs: Numbers, straight_m: float) -> Launches:
        both = np.concatenate([ways, -ways])
        points = np.concatenate([studs, studs]) + straight_m * both
        return Launches(points, both, self._lookouts(points, [np.concatenate([outs, outs]), both]))

    def _lookouts(self, points: Numbers, further: Sequence[Numbers]) -> Numbers:
        own = moved_off(self.around, points, self.cable.standoff_m)
        step_m = self.cable.bend_radius_m
        return np.stack(
            [own, *(moved_off(self.around, own + step_m * way, self.cable.standoff_m) for way in further)], axis=1
        )

    def _from(self, source: Launches, aims: Targets) -> tuple[Lengths, Indices]:
        """Lengths (n,) from one terminal, and the solids not in the graph that stand in those ways."""
        graph = self.graph
        assert graph is not None
        radius_m, over_m = self.cable.bend_radius_m, self.over_m
        targets = aims.launches
        length_m = np.full(len(targets), math.inf)
        slope, kind = np.zeros((len(targets), 3)), np.full(len(targets), -1, dtype=np.intp)
        starts, ends = [np.zeros((0, 3))], [np.zeros((0, 3))]
        for i in range(len(source)):
            through_m, unit = least_through(
                source.points[i], source.ways[i], targets.points, targets.ways, radius_m, over_m
            )
            shorter = np.flatnonzero(through_m < length_m)
            seen, here, there = self._sees(source.lookouts[i], targets.lookouts[shorter])
            better = shorter[seen]
            length_m[better], slope[better] = through_m[better], unit[better]
            starts.append(here[seen])
            ends.append(there[seen])
        if graph.alive.any():
            reached, before, first, launch = self._spread(source)
            via_m, via = self._last_step(reached, aims, length_m)
            got = np.flatnonzero(via_m < length_m)
            length_m[got], slope[got] = self._pulled(source, targets, got, via[got], before, launch)
            kind[got] = graph.way.edges[via[got]]
            starts.append(graph.points[via[got]])
            ends.append(targets.lookouts[got, 0])
            chain = np.unique(via[got])
            used = np.zeros(len(graph.points), dtype=bool)
            used[chain] = True
            while len(chain):  # back along the ways to the terminal
                parents = before[chain]
                begin = parents < 0
                starts += [first[chain[begin]], graph.points[parents[~begin]]]
                ends += [graph.points[chain[begin]], graph.points[chain[~begin]]]
                fresh = np.unique(parents[~begin][~used[parents[~begin]]])
                used[fresh] = True
                chain = fresh
        here, there = np.vstack(starts), np.vstack(ends)
        blocking = graph.blocking(here, there, np.vstack([here, there, places_between(here, there)]))
        return Lengths(length_m, slope, kind), blocking

    def _pulled(
        self, source: Launches, targets: Launches, which: Indices, via: Indices, before: Indices, launch: Indices
    ) -> tuple[Numbers, Numbers]:
        """Lengths (m,) to these targets over the way points that end with via, pulled taut, and their slopes (m, 3)."""
        graph = self.graph
        assert graph is not None
        if not len(which):
            return np.zeros(0), np.zeros((0, 3))
        steps = [via]
        while (steps[-1] >= 0).any():
            steps.append(np.where(steps[-1] >= 0, before[steps[-1]], -1))
        back = np.stack(steps[:-1], axis=1)  # from the stud to the terminal, -1 after that
        # the chain is told from the stud's side, so that those that have ended stand at the terminal
        there = back >= 0
        count = there.sum(axis=1)
        rows = np.arange(len(which))
        root = launch[back[rows, count - 1]]
        begin = Launch(targets.points[which], targets.ways[which])
        radius_m, over_m = self.cable.bend_radius_m, self.over_m
        finish = Launch(source.points[root], source.ways[root])
        way = pulled(slack_of(graph), graph.points, back, begin, finish, radius_m)
        nearest, farthest = way[:, 0], way[rows, count - 1]
        steps_m = np.linalg.norm(np.diff(way, axis=1), axis=2)
        between_m = np.where(there[:, 1:], steps_m, 0.0).sum(axis=1)
        out_m = least_onward(source.points, source.ways, farthest, radius_m, over_m).min(axis=0)
        in_m, unit = each_onward(targets.points[which], targets.ways[which], nearest, radius_m, over_m)
        return out_m + between_m + in_m, -unit

    def _sees(self, lookouts: Numbers, others: Numbers) -> tuple[Flags, Numbers, Numbers]:
        """Whether any of the lookouts (s, 3) of one launch sees the first of each of the others (n, s, 3); from where
        to where."""
        count = len(others)
        seen = np.zeros(count, dtype=bool)
        here, there = np.broadcast_to(lookouts[0], (count, 3)).copy(), others[:, 0].copy()
        for spot in lookouts:
            for k in range(others.shape[1]):
                left = np.flatnonzero(~seen)
                if not len(left):
                    break
                hidden = self._hidden(np.broadcast_to(spot, (len(left), 3)), others[left, k])
                fine = left[~hidden]
                seen[fine] = True
                here[fine], there[fine] = spot, others[fine, k]
        return seen, here, there

    def _spread(self, source: Launches) -> tuple[Numbers, Indices, Numbers, Indices]:
        """Least length from the terminal to every way point, the way point before it (-1: none), from where the first
        stretch looks (n, 3) and of which launch that is."""
        graph = self.graph
        assert graph is not None
        points = graph.points
        reached = np.full(len(points), math.inf)
        first = np.zeros((len(points), 3))
        launch = np.zeros(len(points), dtype=np.intp)
        living = np.flatnonzero(graph.alive)
        for i in range(len(source)):
            onward_m = least_onward(
                source.points[i : i + 1], source.ways[i : i + 1], points[living], self.cable.bend_radius_m, self.over_m
            )[0]
            shorter = np.flatnonzero(onward_m < reached[living])
            seen, here, _ = self._sees(source.lookouts[i], points[living[shorter]][:, None])
            better = living[shorter[seen]]
            reached[better] = onward_m[shorter[seen]]
            first[better] = here[seen]
            launch[better] = i
        nowhere, free = np.full(len(points), math.inf), np.zeros(len(points))
        reached, before, _, _ = graph.spread(reached, nowhere, free, free)
        return reached, before, first, launch

    def _last_step(self, reached: Numbers, targets: Targets, known_m: Numbers) -> tuple[Numbers, Indices]:
        """For each target the least length over a way point that sees it, below what is known; and that way point.

        Straight lines tell which promise most; the bends of those are counted, and whether they are seen."""
        graph = self.graph
        assert graph is not None
        targets.look_at(graph)
        total = targets.onward_m + np.where(graph.alive, reached, math.inf)
        total[targets.sight == BLOCKED] = math.inf
        found_m, via = known_m.copy(), np.full(len(known_m), -1, dtype=np.intp)
        open_ = np.flatnonzero(total.min(axis=1, initial=math.inf) < known_m)
        for width in (min(PROMISING, total.shape[1]), total.shape[1]):
            if not len(open_):
                break
            order = np.argpartition(total[open_], width - 1, axis=1)[:, :width]
            least_m = np.take_along_axis(total[open_], order, axis=1)
            ranks = np.argsort(least_m, axis=1)
            order = np.take_along_axis(order, ranks, axis=1)
            least_m = np.take_along_axis(least_m, ranks, axis=1)
            for first in range(0, width, SIGHTS_AT_ONCE):
                some = np.flatnonzero(least_m[:, first] < found_m[open_])
                if not len(some):
                    break
                tried = order[some, first : first + SIGHTS_AT_ONCE]
                which, points = np.repeat(open_[some], tried.shape[1]), tried.ravel()
                targets.know(which, points, graph, self.cable.bend_radius_m, self.over_m)
                self._look(targets, which, points)
                seen = targets.sight[which, points] == FREE
                metres = np.where(seen, targets.onward_m[which, points] + reached[points], math.inf)
                metres = metres.reshape(tried.shape)
                best = metres.argmin(axis=1)
                rows = np.arange(len(some))
                better = metres[rows, best] < found_m[open_[some]]
                found_m[open_[some[better]]] = metres[rows, best][better]
                via[open_[some[better]]] = tried[rows, best][better]
            open_ = open_[least_m[:, -1] < found_m[open_]]
        return np.where(via >= 0, found_m, math.inf), via

    def _look(self, targets: Targets, which: Indices, points: Indices) -> None:
        """Whether each of these targets sees the way point of its own, from any of its lookouts."""
        fresh = targets.sight[which, points] == UNKNOWN
        which, points = which[fresh], points[fresh]
        assert self.graph is not None
        hidden = np.ones(len(which), dtype=bool)
        for k in range(targets.launches.lookouts.shape[1]):
            left = np.flatnonzero(hidden)
            hidden[left] = self._hidden(targets.launches.lookouts[which[left], k], self.graph.points[points[left]])
        targets.sight[which, points] = np.where(hidden, BLOCKED, FREE)

    def _hidden(self, starts: Numbers, ends: Numbers) -> Flags:
        assert self.graph is not None
        return self.around.blocked(starts, ends, self.graph.active, self.cable.standoff_m)
