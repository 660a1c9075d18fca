"""Which amounts can spools cost in all? A bound between two of them is raised to the next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from heapq import heappop, heappush
from math import gcd
from typing import Any

from cutlist.bank.stock import Stock
from cutlist.stock.certificate import Leaf
from cutlist.stock.proof_stock import SpoolItem, name_of

MOST_REMAINDERS = 2_000_000


def next_sum_within(leaf: Leaf, least: int, costs: Mapping[SpoolItem, int], named: Mapping[Any, int]) -> int:
    """The smallest amount from `least` on that spools can cost in all, in plans that keep to the leaf's limits.

    Those it uses in any case cost what they cost; if a kind may not be used more often, the rest is spent on others.
    """
    kinds: dict[int, list[SpoolItem]] = {}
    for item in costs:
        if (t := named.get(name_of(item))) is not None:
            kinds.setdefault(t, []).append(item)
    sure, settled = 0, set()
    for t, alike in kinds.items():
        own = [limit for limit in leaf.limits if limit.lines == (t,)]
        low = max((limit.count for limit in own if limit.at_least), default=0)
        highs = [limit.count for limit in own if not limit.at_least]
        there = [item.there for item in alike]
        highs += [sum(n for n in there if n is not None)] if None not in there else []
        sure += low * min(costs[item] for item in alike)
        if highs and min(highs) <= low and len({costs[item] for item in alike}) == 1:
            settled.update(alike)
    return sure + next_sum(max(least - sure, 0), [cost for item, cost in costs.items() if item not in settled], [])


def next_sum(least: int, costs: Sequence[int], steps: Sequence[int]) -> int:
    """The smallest amount from `least` on that spools can cost in all; where rests have a value, the next multiple.

    The shortest way from remainder to remainder, counting in the smallest cost: an amount can be spent if the smallest
    sum with its remainder is not above it.
    """
    amounts = sorted({c for c in costs if c > 0})
    common = gcd(*amounts, *steps)
    if common == 0:
        return least
    rounded = -(-least // common) * common
    if any(steps) or not amounts or amounts[0] // common > MOST_REMAINDERS or rounded <= 0:
        return rounded
    smallest = amounts[0]
    reach: dict[int, int] = {0: 0}
    heap = [0]
    while heap:
        here = heappop(heap)
        if here > reach[here % smallest] or here > rounded + smallest:
            continue
        for amount in amounts[1:]:
            there = here + amount
            if there < reach.get(there % smallest, there + 1):
                reach[there % smallest] = there
                heappush(heap, there)
    candidates = []
    for remainder, lowest in reach.items():
        beyond = max(lowest, rounded + (remainder - rounded) % smallest)
        candidates.append(beyond)
    return min(candidates)


def value_steps(
    items: Sequence[SpoolItem], asked: Mapping[tuple[str, str, int], int], stock: Stock, per_um: int
) -> list[int]:
    """Every value of a kept rest is made of these: a whole spool's, less those of pieces with their kerfs."""
    rules = stock.rules
    steps = [per_um * (um + rules.kerf_um) for *_, um in asked]
    return steps + [per_um * (item.length_um - rules.end_trim_um) for item in items]
