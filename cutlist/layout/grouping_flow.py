"""Least links that join like batteries into strings when it is known which may be first and last, and at what cost.

Strings are not told apart, which would only multiply equal answers: of every type each battery stands at one position
(first, second, ... of its string), and links lead from every position to the next. Flow through the positions falls
apart into strings of the right length. Solved by HiGHS (inside scipy), which speaks for its bounds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutlist.layout.like_batteries import GroupingProblem, Strings
from cutlist.layout.place_problem import Array

OWN_M = 1e-5  # a link that the job states counts this much shorter: of equal groupings the one nearest to it
EXACT = 32  # batteries up to which a programme is solved to the end
NODES = (20_000, 60)  # of its branching, up to so many batteries and beyond
GAPS = (0.0, 0.01)  # share of the links that may be left open
SLACK_M = 1e-6  # taken off every bound: the solver's own tolerance

Columns = NDArray[np.int64]


@dataclass(frozen=True)
class Joining:
    strings: Strings | None  # None: there is none, or none was found
    least_m: float  # no joining takes less


@dataclass(frozen=True, eq=False)
class _Kind:
    """The columns of one type of battery, member by member."""

    members: tuple[int, ...]
    firsts: Columns  # (members,)
    pairs: Columns  # (pairs, 2) members by number in `members`
    links: Columns  # (positions - 1, pairs)
    lasts: Columns  # (members,)


class Flow:
    """The programme of one bank, asked again and again with other ends."""

    def __init__(self, problem: GroupingProblem) -> None:
        self.large = sum(map(len, problem.own)) > EXACT
        self.kinds: list[_Kind] = []
        costs: list[Array] = []
        self.columns = 0
        for strings in _by_kind(problem).values():
            kind, links_m = self._kind(problem, strings)
            self.kinds.append(kind)
            none = np.zeros(len(kind.members))
            costs += [none, *([links_m] * len(kind.links)), none]
        self.costs = np.concatenate(costs)
        self.matrix, self.right = self._rows()

    def _kind(self, problem: GroupingProblem, strings: Sequence[tuple[int, ...]]) -> tuple[_Kind, Array]:
        members = np.array(sorted(battery for string in strings for battery in string))
        own = np.zeros(problem.links_m.shape)
        for string in strings:
            own[list(string[:-1]), list(string[1:])] = OWN_M
        links_m = (problem.links_m - own)[np.ix_(members, members)]
        one, other = np.nonzero(np.isfinite(links_m) & ~np.eye(len(members), dtype=bool))
        steps, first = len(strings[0]) - 1, self.columns
        after = first + len(members)
        links = after + np.arange(steps * len(one)).reshape(steps, len(one))
        lasts = after + steps * len(one) + np.arange(len(members))
        self.columns = int(lasts[-1]) + 1
        firsts = first + np.arange(len(members))
        kind = _Kind(tuple(members.tolist()), firsts, np.column_stack([one, other]), links, lasts)
        return kind, links_m[one, other]

    def _rows(self) -> tuple[object, Array]:
        """What comes to a battery at a position leaves it; every battery is at one position."""
        from scipy.sparse import csc_matrix

        rows: list[Columns] = []
        columns: list[Columns] = []
        values: list[Array] = []
        right: list[Array] = []
        start = 0

        def put(row: Columns, column: Columns, value: float) -> None:
            rows.append(row)
            columns.append(column)
            values.append(np.full(len(column), value))

        for kind in self.kinds:
            count, positions = len(kind.members), len(kind.links) + 1
            each = np.arange(count)
            at_one = start + positions * count + each
            for position in range(positions):
                here = start + position * count + each
                into = kind.firsts if position == 0 else kind.links[position - 1]
                of = each if position == 0 else kind.pairs[:, 1]
                put(here[of], into, 1.0)
                put(at_one[of], into, 1.0)
                last = position == positions - 1
                put(here[each if last else kind.pairs[:, 0]], kind.lasts if last else kind.links[position], -1.0)
            right.append(np.concatenate([np.zeros(positions * count), np.ones(count)]))
            start += (positions + 1) * count
        shape = (start, self.columns)
        index = (np.concatenate(rows), np.concatenate(columns))
        return csc_matrix((np.concatenate(values), index), shape), np.concatenate(right)

    def least(self, starts_m: Array, ends_m: Array) -> float:
        """A bound, quickly: the same with parts of batteries. Infinite where there is no joining at all."""
        from scipy.optimize import linprog

        costs, most = self._with_ends(starts_m, ends_m)
        bounds = np.column_stack([np.zeros(len(most)), most])
        found = linprog(costs, A_eq=self.matrix, b_eq=self.right, bounds=bounds, method="highs")
        return float("inf") if found.fun is None else float(found.fun) - SLACK_M

    def join(self, starts_m: Array, ends_m: Array) -> Joining:
        """starts_m, ends_m: (n,) added for the first and the last of each string; inf: it cannot be one.

        Bounded by nodes, not by time: the same job gives the same strings on any machine.
        """
        from scipy.optimize import Bounds, LinearConstraint, milp

        costs, most = self._with_ends(starts_m, ends_m)
        found = milp(
            costs,
            integrality=np.ones(len(costs)),
            bounds=Bounds(0, most),
            constraints=LinearConstraint(self.matrix, self.right, self.right),
            options={"node_limit": NODES[self.large], "mip_rel_gap": GAPS[self.large]},
        )
        bound = found.mip_dual_bound
        least_m = -np.inf if bound is None or np.isnan(bound) else float(bound) - SLACK_M
        if found.x is None:
            return Joining(None, float("inf") if found.status == 2 else least_m)
        return Joining(tuple(string for kind in self.kinds for string in _strings(kind, found.x > 0.5)), least_m)

    def _with_ends(self, starts_m: Array, ends_m: Array) -> tuple[Array, Array]:
        costs, most = self.costs.copy(), np.ones(self.columns)
        for kind in self.kinds:
            for columns, metres in ((kind.firsts, starts_m), (kind.lasts, ends_m)):
                mine = metres[list(kind.members)]
                costs[columns] = np.where(np.isfinite(mine), mine, 0.0)
                most[columns] = np.isfinite(mine)
        return costs, most


def _by_kind(problem: GroupingProblem) -> dict[tuple[str, int], list[tuple[int, ...]]]:
    kinds: dict[tuple[str, int], list[tuple[int, ...]]] = {}
    for string in problem.own:
        kinds.setdefault((problem.kinds[string[0]], len(string)), []).append(string)
    return kinds


def _strings(kind: _Kind, taken: NDArray[np.bool_]) -> list[tuple[int, ...]]:
    found = []
    for first in np.flatnonzero(taken[kind.firsts]).tolist():
        string = [first]
        for links in kind.links:
            (step,) = np.flatnonzero(taken[links] & (kind.pairs[:, 0] == string[-1])).tolist()
            string.append(int(kind.pairs[step, 1]))
        found.append(tuple(kind.members[i] for i in string))
    return found
