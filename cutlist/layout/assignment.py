"""Which string goes on which stud, so that the longest lead of the pole is as short as can be.

For a whole batch of bar positions at once the least longest lead follows from Hall's theorem: a stretch of studs can
serve no more leads than it has room for, so of any more leads than that, one must reach beyond the stretch. The
largest such demand over all stretches is a lower bound for any runs, and it is the exact answer when the length
of a run falls and then rises along the bar, as straight lines do: then only stretches can be crowded.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray

from cutlist.layout.place_problem import Array
from geometry.least_sum import least_sum

Index = NDArray[np.int64]
COST_STEP = 1e-8  # m: finer than anybody measures, coarse enough for sums of whole numbers


def feeder_seats(studs: int, feeders: int, lugs_per_stud: int) -> Index:
    """Every way (ways, feeders) of choosing studs for the feeders; one empty way without any."""
    ways = [
        way
        for way in product(range(studs), repeat=feeders)
        if all(way.count(stud) <= lugs_per_stud for stud in set(way))
    ]
    return np.array(ways, dtype=np.int64).reshape(len(ways), feeders)


def least_longest(runs_m: Array, lugs_per_stud: int, seats: Index) -> Array:
    """Metres (q, ways): the least longest lead for each of q bars, runs_m (q, strings, studs), with the feeders seated.

    A feeder whose seat is negative sits on none of these studs: where only some studs take a lead, only those count.
    Never too long; exact where `falls_then_rises`. Infinite where the studs do not suffice.

    >>> two_strings_two_studs = np.array([[[1.0, 2.0], [1.5, 4.0]]])
    >>> least_longest(two_strings_two_studs, 1, feeder_seats(2, 0, 1)).tolist()
    [[2.0]]
    """
    q, strings, studs = runs_m.shape
    ways, feeders = seats.shape
    if studs * lugs_per_stud < strings + (seats >= 0).sum(axis=1).min(initial=feeders):
        return np.full((q, ways), np.inf)
    first, after = _stretches(studs, strings + feeders, lugs_per_stud)
    by_stud_m = np.ascontiguousarray(runs_m.swapaxes(1, 2))
    before_m = np.full((q, studs + 1, strings), np.inf)
    behind_m = np.full((q, studs + 1, strings), np.inf)
    np.minimum.accumulate(by_stud_m, axis=1, out=before_m[:, 1:])
    behind_m[:, :studs] = np.minimum.accumulate(by_stud_m[:, ::-1], axis=1)[:, ::-1]
    beyond_m = np.minimum(before_m[:, first], behind_m[:, after])  # (q, stretches, strings): to a stud outside
    beyond_m.sort(axis=2)
    room = (after - first) * lugs_per_stud
    stretches = np.arange(len(first))
    demand = np.empty((feeders + 1, len(first), q))  # with 0, 1, ... feeders seated in the stretch
    for seated in range(feeders + 1):
        left = room - seated
        crowded = (left >= 0) & (left < strings)
        longest_out = beyond_m[:, stretches, strings - 1 - np.clip(left, 0, strings - 1)]
        demand[seated] = np.where(crowded, longest_out, -np.inf).T
    longest = np.empty((q, ways))
    for way in range(ways):
        inside = ((seats[way] >= first[:, None]) & (seats[way] < after[:, None])).sum(axis=1)
        longest[:, way] = demand[inside, stretches].max(axis=0)
    return longest


def _stretches(studs: int, leads: int, lugs_per_stud: int) -> tuple[Index, Index]:
    """First stud and the one after the last, of the empty stretch and of all that might be crowded."""
    pairs = [(0, 0)]
    for length in range(1, studs):
        if length * lugs_per_stud < leads:
            pairs += [(first, first + length) for first in range(studs - length + 1)]
    table = np.array(pairs, dtype=np.int64)
    return table[:, 0], table[:, 1]


def falls_then_rises(runs_m: Array) -> NDArray[np.bool_]:
    """For each bar (q,): whether every run of runs_m (q, strings, studs) falls and then rises along the studs."""
    change = np.diff(runs_m, axis=2)
    has_risen = np.maximum.accumulate(change > 1e-12, axis=2)
    return np.asarray(~(has_risen & (change < -1e-12)).any(axis=(1, 2)))


def assign(runs_m: Array, room: Sequence[int]) -> tuple[int, ...] | None:
    """The stud of each string for runs_m (strings, studs): least longest lead, then least total; None if none exists.

    `room` is the number of lugs each stud can still take.
    """
    longest_m = bottleneck(runs_m, room)
    if longest_m is None:
        return None
    slots = [stud for stud, free in enumerate(room) for _ in range(min(free, len(runs_m)))]
    price = np.asarray(runs_m, dtype=float)[:, slots]
    forbidden = price > longest_m + 1e-12
    price = np.where(forbidden, 1e3 * (1.0 + longest_m) * len(runs_m), price)
    return tuple(slots[slot] for slot in least_assignment(price))


def least_assignment(costs: np.ndarray) -> list[int]:
    """The column of each row, every column once at most: the sum of the costs is least, to 1e-8 of their unit.

    Of equal sums the one with the least sum of squares: two cables to a bar that lies on their way are as long
    crossed as not, and uncrossed the longer one is shorter.
    costs: (rows, columns) of finite numbers of 0 and more, no more rows than columns.
    """
    # counted in small steps, so that what is equal but for rounding is equal
    steps = np.rint(costs / COST_STEP).astype(np.int64).tolist()
    most = 1 + len(costs) * max((max(row) for row in steps), default=0) ** 2
    columns = least_sum([[cost * most + cost**2 for cost in row] for row in steps])
    return [column for column in columns if column is not None]


def bottleneck(runs_m: Array, room: Sequence[int]) -> float | None:
    """The least longest lead, exactly, by augmenting ways; None if the studs do not suffice."""
    lengths = np.unique(runs_m[np.isfinite(runs_m)])
    low, high = 0, len(lengths) - 1
    if high < 0 or not _all_seated(runs_m <= lengths[high], room):
        return None
    while low < high:
        middle = (low + high) // 2
        if _all_seated(runs_m <= lengths[middle], room):
            high = middle
        else:
            low = middle + 1
    return float(lengths[low])


def _all_seated(allowed: NDArray[np.bool_], room: Sequence[int]) -> bool:
    held: list[list[int]] = [[] for _ in room]
    choices = [np.flatnonzero(row).tolist() for row in allowed]

    def seat(string: int, tried: set[int]) -> bool:
        for stud in choices[string]:
            if stud in tried:
                continue
            tried.add(stud)
            if len(held[stud]) < room[stud]:
                held[stud].append(string)
                return True
            for other in held[stud]:
                if seat(other, tried):
                    held[stud].remove(other)
                    held[stud].append(string)
                    return True
        return False

    return all(seat(string, set()) for string in range(len(choices)))
