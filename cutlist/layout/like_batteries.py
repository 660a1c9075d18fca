"""Which of several like batteries make up which string, and in which order, so that least cable is laid.

Batteries stay where they stand; only what is joined to what changes. Lengths are quick ones (taut ways, before anything
is routed), and the bus bars may be at any of a few places: what counts is the cable of the best of them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from cutlist.layout.assignment import least_assignment
from cutlist.layout.place_problem import Array

LOOPS = ("whole loop alike", "equal resistance")  # matches in which a string's jumpers count with its leads
LEAST_GAIN_M = 0.005  # a grouping that saves less is no reason to leave the one the job states

Strings = tuple[tuple[int, ...], ...]  # numbers of batteries, from the positive end to the negative end


@dataclass(frozen=True, eq=False)
class GroupingProblem:
    own: Strings  # as the job states them
    kinds: tuple[str, ...]  # type of each battery: only like ones change places
    links_m: Array  # (n, n) from the negative of the row's battery to the positive of the column's; inf: no way
    positive_m: Array  # (n, p) from each battery's positive to each place of the positive bus bar
    negative_m: Array  # (n, q) from each battery's negative to each place of the negative one
    positive_rest_m: Array  # (p,) feeders of a bus bar there
    negative_rest_m: Array  # (q,)
    match: str  # the policy by which leads are made alike


@dataclass(frozen=True)
class FoundGrouping:
    strings: Strings  # in the order of the job's own, each the nearest to its own there is
    total_m: float  # jumpers, leads as matched and feeders, by quick lengths
    own_m: float  # of the job's own grouping
    least_m: float  # no grouping takes less
    how: str

    @property
    def proved(self) -> bool:
        return self.total_m - self.least_m < LEAST_GAIN_M


def total_m(problem: GroupingProblem, strings: Strings) -> float:
    """Jumpers, leads made alike by the policy, and feeders, with the bus bars at the best of their places.

    Alike by loop a string's leads make up for its jumpers: what is laid is then the longest loop for every string.
    """
    links = np.array([sum(problem.links_m[a, b] for a, b in pairwise(s)) for s in strings])
    starts = problem.positive_m[[s[0] for s in strings]]
    ends = problem.negative_m[[s[-1] for s in strings]]
    rest = problem.positive_rest_m[:, None] + problem.negative_rest_m[None]
    if problem.match in LOOPS:
        loops = starts[:, :, None] + ends[:, None, :] + links[:, None, None]
        return float((len(strings) * loops.max(axis=0) + rest).min())
    if problem.match == "as routed":
        leads = starts.sum(axis=0)[:, None] + ends.sum(axis=0)[None]
    elif problem.match == "each pole alike":
        leads = len(strings) * (starts.max(axis=0)[:, None] + ends.max(axis=0)[None])
    else:
        leads = 2 * len(strings) * np.maximum(starts.max(axis=0)[:, None], ends.max(axis=0)[None])
    return float(links.sum() + (leads + rest).min())


def shortest_grouping(problem: GroupingProblem) -> FoundGrouping:
    """The grouping of least cable, with what no grouping can beat; the job's own where none saves LEAST_GAIN_M.

    Leads alike, or as routed: one whole-number programme. Alike by loop: the same for leads as routed, whose least is
    a bound, then batteries changed two by two while that shortens the longest loop.
    """
    own_m = total_m(problem, problem.own)
    if not may_swap(problem):
        return FoundGrouping(problem.own, own_m, own_m, own_m, "no string can be made up in another way")
    from cutlist.layout.grouping_search import searched

    found = searched(problem)
    least_m, how = min(found.least_m, own_m), found.how
    candidates = list(found.strings)
    if problem.match in LOOPS:
        candidates = [_improved(problem, strings) for strings in (*candidates[:1], problem.own)]
        how = f"{how} for leads as routed, then batteries changed two by two"
    best, best_m = problem.own, own_m
    for strings in candidates:
        metres = total_m(problem, strings)
        if metres < best_m - LEAST_GAIN_M:
            best, best_m = strings, metres
    return FoundGrouping(_named(problem, best), best_m, own_m, min(least_m, best_m), how)


def may_swap(problem: GroupingProblem) -> bool:
    """Whether there is a jumper at all whose batteries could be others."""
    return any(len(string) > 1 for string in problem.own)


def _improved(problem: GroupingProblem, strings: Strings) -> Strings:
    """Two like batteries change places while that saves cable, the best exchange first."""
    now, now_m = strings, total_m(problem, strings)
    while True:
        tried = ((total_m(problem, other), other) for other in _exchanges(problem, now))
        best_m, best = min(tried, default=(now_m, now))
        if best_m > now_m - 1e-9:
            return now
        now, now_m = best, best_m


def _exchanges(problem: GroupingProblem, strings: Strings) -> Sequence[Strings]:
    where = [(i, j) for i, string in enumerate(strings) for j in range(len(string))]
    found = []
    for number, (i, j) in enumerate(where):
        for k, m in where[number + 1 :]:
            a, b = strings[i][j], strings[k][m]
            if problem.kinds[a] == problem.kinds[b]:
                other = [list(string) for string in strings]
                other[i][j], other[k][m] = b, a
                found.append(tuple(map(tuple, other)))
    return found


def _named(problem: GroupingProblem, strings: Strings) -> Strings:
    """In the order of the job's strings: each of its own type and length, most batteries staying in theirs."""
    never = 10.0 * sum(map(len, strings))

    def cost(own: tuple[int, ...], other: tuple[int, ...]) -> float:
        unlike = problem.kinds[own[0]] != problem.kinds[other[0]] or len(own) != len(other)
        common = sum((Counter(own) & Counter(other)).values())
        return never if unlike else len(own) - common + (0.0 if own[0] == other[0] else 0.01)

    columns = least_assignment(np.array([[cost(own, other) for other in strings] for own in problem.own]))
    return tuple(strings[column] for column in columns)
