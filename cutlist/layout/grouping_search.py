"""Where the bus bars go and how far leads may reach, beside the strings that then need least links: best bound first.

Each case (a place for each bar, and how long leads are) adds what its leads and feeders take to the least links among
the batteries within reach. Of many cases together nothing takes less than the least that one of them adds, and the
links that parts of batteries would need with every end that is allowed in any of them. Cases stand in order of what
they add; whichever range of them has the least bound is halved, down to single ones, which are joined.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np

from cutlist.layout.grouping_flow import Flow
from cutlist.layout.like_batteries import LOOPS, GroupingProblem, Strings, total_m
from cutlist.layout.place_problem import Array

# A programme takes longer the more columns it has. Least and most in number, and columns in all:
BOUNDS = (20, 400, 80_000)  # programmes of parts of batteries
JOININGS = (2, 40, 8_000)  # cases joined


@dataclass(frozen=True)
class Searched:
    strings: tuple[Strings, ...]  # what was found, the best first
    least_m: float  # no grouping takes less
    how: str


@dataclass(frozen=True, eq=False)
class _Case:
    base_m: float  # leads that are alike, and feeders
    starts_m: Array  # (n,) beside it for a string that begins with this battery; inf: it is out of reach
    ends_m: Array

    @property
    def key(self) -> bytes:
        return self.starts_m.tobytes() + self.ends_m.tobytes()

    @property
    def order(self) -> float:
        ends_m = np.concatenate([self.starts_m, self.ends_m])
        return self.base_m + float(ends_m[np.isfinite(ends_m)].sum())


def searched(problem: GroupingProblem) -> Searched:
    """Alike by loop: what is found, and its bound, are those of leads as routed, which never take more."""
    flow = Flow(problem)
    most_bounds, most_joined = _affordable(BOUNDS, flow.columns), _affordable(JOININGS, flow.columns)
    anywhere = np.zeros(len(problem.kinds))
    best_m = total_m(problem, problem.own)
    cases = _cases(problem, best_m - flow.least(anywhere, anywhere))
    tree = _Tree(flow, cases)
    found: list[tuple[float, Strings]] = []
    open_m: list[float] = []  # of cases joined, but not to the end
    waiting = [tree.node(0, len(cases))] if cases else []
    joined = 0
    while waiting and waiting[0][0] < best_m - 1e-9:
        if tree.bounded >= most_bounds or joined >= most_joined:
            break
        node = heapq.heappop(waiting)
        while node[2] - node[1] > 1:  # dive to a single case: it gives something to hold the others against
            middle = (node[1] + node[2]) // 2
            node, other = sorted((tree.node(node[1], middle, node[0]), tree.node(middle, node[2], node[0])))
            heapq.heappush(waiting, other)
        if node[0] >= best_m - 1e-9:
            heapq.heappush(waiting, node)
            continue
        made = flow.join(cases[node[1]].starts_m, cases[node[1]].ends_m)
        joined += 1
        if made.strings is not None:
            metres = total_m(problem, made.strings)
            found.append((metres, made.strings))
            best_m = min(best_m, metres)
        if cases[node[1]].base_m + made.least_m < best_m - 1e-4:
            open_m.append(cases[node[1]].base_m + made.least_m)
    least_m = min([best_m, *open_m, *(node[0] for node in waiting[:1])])
    how = f"whole-number programmes ({joined} solved, {len(cases)} cases of places and reach, {tree.bounded} bounds)"
    return Searched(tuple(dict.fromkeys(strings for _, strings in sorted(found))), least_m, how)


def _affordable(limits: tuple[int, int, int], columns: int) -> int:
    least, most, in_all = limits
    return max(least, min(most, in_all // columns))


class _Tree:
    """Ranges of the cases, each as (bound, first, after)."""

    def __init__(self, flow: Flow, cases: list[_Case]) -> None:
        self.flow = flow
        self.base_m = np.array([case.base_m for case in cases])
        self.starts_m = np.array([case.starts_m for case in cases])
        self.ends_m = np.array([case.ends_m for case in cases])
        self.bounded = 0

    def node(self, first: int, after: int, least_m: float = 0.0) -> tuple[float, int, int]:
        self.bounded += 1
        links_m = self.flow.least(self.starts_m[first:after].min(axis=0), self.ends_m[first:after].min(axis=0))
        return max(least_m, float(self.base_m[first:after].min()) + links_m), first, after


def _cases(problem: GroupingProblem, most_m: float) -> list[_Case]:
    """Those whose leads and feeders take no more than that; of any with the same ends the one that takes least."""
    least: dict[bytes, _Case] = {}
    for case in _all_cases(problem, most_m):
        if case.key not in least or case.base_m < least[case.key].base_m:
            least[case.key] = case
    return sorted(least.values(), key=lambda case: case.order)


def _all_cases(problem: GroupingProblem, most_m: float) -> Iterator[_Case]:
    one, other = problem.positive_m, problem.negative_m
    rest_one, rest_other = problem.positive_rest_m, problem.negative_rest_m
    count = len(problem.own)
    places = product(_undominated(one, rest_one), _undominated(other, rest_other))
    if problem.match in (*LOOPS, "as routed"):
        for p, q in places:
            yield _Case(float(rest_one[p] + rest_other[q]), one[:, p], other[:, q])
    elif problem.match == "each pole alike":
        firsts, lasts = (
            sorted(_reaches(m, r, count), key=lambda x: x[0]) for m, r in ((one, rest_one), (other, rest_other))
        )
        for first_m, starts_m in firsts:
            for last_m, ends_m in lasts:
                if first_m + last_m > most_m:
                    break
                yield _Case(first_m + last_m, starts_m, ends_m)
    else:
        for p, q in places:
            rest_m = float(rest_one[p] + rest_other[q])
            shortest_m = max(np.sort(one[:, p])[count - 1], np.sort(other[:, q])[count - 1])
            for reach_m in np.unique(np.concatenate([one[:, p], other[:, q]])):
                base_m = 2 * count * float(reach_m) + rest_m
                if reach_m >= shortest_m and base_m <= most_m:
                    yield _Case(base_m, _within(one[:, p], reach_m), _within(other[:, q], reach_m))


def _reaches(lengths_m: Array, rest_m: Array, count: int) -> Iterator[tuple[float, Array]]:
    """(metres, ends) of one pole: its leads all as long as the reach, and its feeders."""
    for place in _undominated(lengths_m, rest_m):
        steps = np.unique(lengths_m[:, place])
        shortest_m = np.sort(lengths_m[:, place])[count - 1]
        for reach_m in steps[(steps >= shortest_m) & np.isfinite(steps)]:
            yield count * float(reach_m) + float(rest_m[place]), _within(lengths_m[:, place], reach_m)


def _within(lengths_m: Array, reach_m: float) -> Array:
    return np.where(lengths_m <= reach_m, 0.0, np.inf)


def _undominated(lengths_m: Array, rest_m: Array) -> list[int]:
    """Places than which no other is as near to every battery with no more feeder; of equal ones the first."""
    table = np.vstack([lengths_m, rest_m[None]])
    kept = []
    for place in range(table.shape[1]):
        as_good = (table <= table[:, [place]]).all(axis=0)
        better = as_good & ((table < table[:, [place]]).any(axis=0) | (np.arange(table.shape[1]) < place))
        if np.isfinite(rest_m[place]) and not better.any():
            kept.append(place)
    return kept
