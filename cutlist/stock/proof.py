"""A stranger's check of the claim that no plan costs less: it knows pieces, stock file and rules, and no solver.

Prices of pieces prove a bound if no way of cutting a spool yields pieces worth more than the spool costs; the plan must
then cost at least what all pieces are worth. Here every spool of the stock file is taken in turn, and the worthiest way
of cutting it is worked out in whole numbers. Where cases are told apart by numbers of spools, the cases must leave
nothing out, and each needs prices of its own. What a search found and prices do not show is not proved here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from fractions import Fraction
from heapq import heappop, heappush
from itertools import product
from math import gcd
from typing import Any

import numpy as np

from cutlist.bank.stock import ByLength, CableStock, Spool, Stock
from cutlist.stock.certificate import Certificate, CountLimit, Leaf
from cutlist.stock.check import may_serve
from cutlist.stock.cut_plan import CutPlan, GroupResult, Piece
from cutlist.stock.proof_by_trying import Asked, Offer, least_by_trying

M = 1_000_000  # micrometres
LARGEST = 2**62  # of a whole number that a table of worth may hold
MOST_REMAINDERS = 2_000_000


@dataclass(frozen=True)
class GroupProof:
    """What the prices of a group prove, checked. `least`: no plan costs less; None: the prices prove nothing.

    `word`: the claim goes beyond the prices, on the word of a search. `faults`: why the claim is refused.
    """

    name: str
    claimed: Decimal
    least: Decimal | None
    word: bool
    faults: tuple[str, ...]

    @property
    def checked(self) -> bool:
        """The whole claim was checked here."""
        return not self.faults and not self.word


def faults_in_proof(plan: CutPlan, pieces: Sequence[Piece], stock: Stock) -> list[str]:
    """Every claim of a least cost that does not hold, in words; empty when all hold or own to rest on a search."""
    return [fault for group in check_proof(plan, pieces, stock) for fault in group.faults]


def check_proof(plan: CutPlan, pieces: Sequence[Piece], stock: Stock) -> tuple[GroupProof, ...]:
    """The least cost of each group, worked out from its prices anew."""
    wanted: dict[tuple[str, str], list[Piece]] = {}
    for piece in pieces:
        wanted.setdefault((piece.conductor, piece.colour), []).append(piece)
    names = Counter(name for group in plan.groups for name in group.name.split(" + "))
    proofs = []
    for group in plan.groups:
        keys = [key for key in wanted if " ".join(key) in group.name.split(" + ")]
        faults = [f"{name}: planned in {n} groups" for name, n in names.items() if n > 1 and name in group.name]
        proofs.append(_group_proof(group, keys, [p for key in keys for p in wanted[key]], stock, faults))
    for key in wanted:
        if " ".join(key) not in names:
            name = " ".join(key)
            proofs.append(GroupProof(name, Decimal(0), None, False, (f"{name}: no group has these pieces",)))
    return tuple(proofs)


class _Refused(Exception):
    """A certificate that proves nothing, with the reason."""


@dataclass(frozen=True)
class _Item:
    """One kind of spool that a plan may use, in whole numbers of money (see _Scale)."""

    kind: str
    label: str
    cable: tuple[str, str]
    length_um: int
    cost: Decimal
    there: int | None
    paid_for: bool = False


def _group_proof(
    group: GroupResult, keys: Sequence[tuple[str, str]], pieces: Sequence[Piece], stock: Stock, faults: list[str]
) -> GroupProof:
    cables = [c for c in stock.cables if any(may_serve((c.conductor, c.colour), key, stock) for key in keys)]
    word = any(c.searched or any(leaf.listed is not None for leaf in c.leaves) for c in group.certificates)
    least: Decimal | None = None
    try:
        if len(pieces) != group.pieces:
            raise _Refused(f"{len(pieces)} pieces asked for, {group.pieces} said to be planned")
        money = group.by == "money"
        by_tiers = {c.tiers: c for c in group.certificates}
        bounds = []
        for tiers in _price_cases(cables) if money else [{}]:
            certificate = by_tiers.get(tuple(sorted(tiers.items())))
            if certificate is None:
                raise _Refused(f"no proof for the choice of price breaks {tiers}")
            bounds.append(_case_bound(certificate, pieces, cables, stock, money, tiers))
        least = min(bounds)
        if least < group.least_cost and not word:
            raise _Refused(f"the prices prove {least}, not {group.least_cost}")
    except _Refused as refused:
        faults = [*faults, f"{group.name}: {refused}"]
    return GroupProof(group.name, group.least_cost, least, word and not faults, tuple(faults))


def _price_cases(cables: Sequence[CableStock]) -> list[dict[str, int]]:
    """Every choice of price breaks: no plan falls outside of all."""
    with_price = [s for c in cables for s in c.spools if s.price is not None]
    reach = [sum(s.available is None or least <= s.available for least, _ in s.price_breaks) for s in with_price]
    return [
        dict(zip([s.label for s in with_price], choice, strict=True))
        for choice in product(*(range(n + 1) for n in reach))
    ]


def _case_bound(
    certificate: Certificate,
    pieces: Sequence[Piece],
    cables: Sequence[CableStock],
    stock: Stock,
    money: bool,
    tiers: Mapping[str, int],
) -> Decimal:
    """What the certificate proves for plans that buy in these price breaks."""
    asked = Counter((p.conductor, p.colour, p.length_um) for p in pieces)
    if set(asked) != set(certificate.kinds) or len(asked) != len(certificate.kinds):
        raise _Refused("prices for other pieces than those asked for")
    _refuse_gaps(list(certificate.leaves), 0)
    longest = [((o.labels[0], (o.conductor, o.colour)), o.length_um) for o in certificate.beyond]
    total_um = sum(p.length_um + stock.rules.kerf_um for p in pieces)
    items, fixed, beyond = _items(cables, stock, money, tiers, total_um, longest)
    named = {
        (o.kind, label, (o.conductor, o.colour), o.length_um, o.paid_for): t
        for t, o in enumerate(certificate.offers)
        for label in o.labels
        if o.kind != "missing"
    }
    shortest = {(c.conductor, c.colour): _shortest(c, asked, stock) for c in cables}
    room = {item: item.length_um - stock.rules.end_trim_um for item in items}
    items = [i for i in items if (least := shortest[i.cable]) is not None and room[i] >= least]
    steps_um = gcd(*(um + stock.rules.kerf_um for *_, um in asked))
    rate = _rate(cables, stock) if money else Decimal(0)
    # Where rests have no value, two spools are as long as each other if they hold the same pieces.
    items = _needed(items, named, 1 if rate else steps_um, stock.rules.kerf_um - stock.rules.end_trim_um)
    if certificate.tried and beyond:
        raise _Refused("not every length that is sold was tried")
    if certificate.tried:
        return fixed + _tried(certificate, asked, items, stock, rate) * certificate.unit
    if not certificate.leaves:
        raise _Refused("no prices")
    costs = {item: _whole(item.cost / certificate.unit, "cost of a spool") for item in items}
    steps = [] if not rate else _value_steps(items, asked, stock, _whole(rate / M / certificate.unit, "value per um"))
    reached = None
    for leaf in certificate.leaves:
        _refuse_long_lengths(leaf, certificate, beyond, stock)
        value = _leaf_value(leaf, certificate, asked, items, named, cables, stock, rate)
        proved = -(-value // leaf.scale)
        if rate:
            proved = _next_sum(proved, list(costs.values()), steps)
        else:
            proved = _next_sum_within(leaf, max(proved, 0), costs, named)
        reached = proved if reached is None else min(reached, proved)
    assert reached is not None
    return fixed + reached * certificate.unit


def _tried(
    certificate: Certificate,
    asked: Mapping[tuple[str, str, int], int],
    items: Sequence[_Item],
    stock: Stock,
    rate: Decimal,
) -> int:
    """The least cost of a small group, in cost units, by trying everything once more."""
    rules = stock.rules
    kinds = list(asked)
    offers = [
        Offer(
            _whole(item.cost / certificate.unit, "cost of a spool"),
            item.length_um - rules.end_trim_um + rules.kerf_um,
            item.there,
            tuple(i for i, kind in enumerate(kinds) if may_serve(item.cable, kind[:2], stock)),
        )
        for item in items
    ]
    pieces = Asked(
        tuple(um + rules.kerf_um for *_, um in kinds),
        tuple(asked.values()),
        rules.kerf_um,
        rules.keep_above_um,
        _whole(rate / M / certificate.unit, "value kept per um"),
    )
    try:
        least = least_by_trying(pieces, offers)
    except ValueError as error:
        raise _Refused(f"said to have been tried: {error}") from None
    if least is None:
        raise _Refused("no plan at all from this stock")
    return least


def _refuse_gaps(leaves: Sequence[Leaf], depth: int) -> None:
    """The leaves must be all cases: at each fork at most n spools of some kinds on one side, n + 1 on the other."""
    if len(leaves) == 1 and len(leaves[0].limits) == depth:
        return
    if not leaves or any(len(leaf.limits) <= depth for leaf in leaves):
        raise _Refused("the cases by numbers of spools leave something out")
    forks = {leaf.limits[depth] for leaf in leaves}
    first = leaves[0].limits[depth]
    count = first.count - 1 if first.at_least else first.count
    sides = (CountLimit(first.lines, False, count), CountLimit(first.lines, True, count + 1))
    if forks != set(sides):
        raise _Refused("the cases by numbers of spools leave something out")
    for side in sides:
        _refuse_gaps([leaf for leaf in leaves if leaf.limits[depth] == side], depth + 1)


def _kept(stock: Stock, conductor: str, length_um: int) -> Decimal:
    keep = stock.rules.keep_above_um
    if keep is None or length_um <= 0 or length_um < keep:
        return Decimal(0)
    return stock.rules.value_per_m(conductor) * length_um / M


def _rate(cables: Sequence[CableStock], stock: Stock) -> Decimal:
    rates = {stock.rules.value_per_m(c.conductor) for c in cables}
    if stock.rules.keep_above_um is None:
        return Decimal(0)
    if len(rates) > 1:
        raise _Refused("cables that may serve keep different values per metre; that was not compared")
    return rates.pop()


def _items(
    cables: Sequence[CableStock],
    stock: Stock,
    money: bool,
    tiers: Mapping[str, int],
    total_um: int,
    longest: Sequence[tuple[tuple[str, tuple[str, str]], int]],
) -> tuple[list[_Item], Decimal, list[_Long]]:
    """All spools that a plan may use, and what is spent or worth whatever it uses.

    A remnant that is used costs its book value and what it would have been worth if left alone; that worth, of all
    remnants, is taken off at the start. So it is with spools that a price break makes one buy.
    """
    items: list[_Item] = []
    beyond: list[_Long] = []
    fixed = Decimal(0)
    for cable in cables:
        key = (cable.conductor, cable.colour)
        for remnant in cable.remnants:
            spared, cost = Decimal(0), Decimal(0)
            if money:
                spared = max(Decimal(0), _kept(stock, cable.conductor, remnant.length_um) - remnant.book_value)
                cost = remnant.book_value + spared
            fixed -= spared
            items.append(_Item("remnant", remnant.label, key, remnant.length_um, cost, 1))
        for spool in cable.spools:
            if not money:
                metres = Decimal(spool.length_um) / M
                items.append(_Item("spool", spool.label, key, spool.length_um, metres, spool.available))
            elif spool.price is not None:
                kept = _kept(stock, cable.conductor, spool.length_um)
                bought, least, price = _spool_items(spool, key, kept, tiers.get(spool.label, 0))
                items += bought
                fixed += least * (price - kept)
        for line in cable.by_length:
            if money and line.price is None:
                continue
            if money and line.price is not None:
                longer = stock.rules.value_per_m(cable.conductor) * line.increment_um / M
                if stock.rules.keep_above_um is not None and longer > line.price:
                    raise _Refused(f'"{line.label}" costs less than what is kept is worth: buying would have no end')
            steps = max(-(-line.least_um // line.increment_um), 1)
            last = max(steps, -(-(total_um + stock.rules.end_trim_um) // line.increment_um))
            if line.longest_um is not None:
                last = min(last, line.longest_um // line.increment_um)
            named_um = [um for label, um in longest if label == (line.label, key)]
            if named_um and named_um[0] // line.increment_um < last:
                # beyond this, `_refuse_long_lengths` looks at all lengths together
                last = max(steps, named_um[0] // line.increment_um)
                beyond.append(_Long(key, line.label, last * line.increment_um, _price_per_um(line, money)))
            for n in range(steps, last + 1):
                length_um = n * line.increment_um
                cost = n * line.price if money and line.price is not None else Decimal(length_um) / M
                items.append(_Item("by length", line.label, key, length_um, cost, None))
    return items, fixed, beyond


@dataclass(frozen=True)
class _Long:
    """Cable by the metre, longer than `from_um` in one length; exact price of a micrometre."""

    cable: tuple[str, str]
    label: str
    from_um: int
    price_per_um: Fraction


def _price_per_um(line: ByLength, money: bool) -> Fraction:
    if not money or line.price is None:
        return Fraction(1, M)
    return Fraction(line.price) / line.increment_um


def _refuse_long_lengths(leaf: Leaf, certificate: Certificate, beyond: Sequence[_Long], stock: Stock) -> None:
    """Pieces with their kerfs that need more than L um cost at least their width, less one kerf, by the metre.

    So they cost at least (1 - kerf / L) of their width; no piece may be worth more than its share of that.
    """
    kerf_um = stock.rules.kerf_um
    for long in beyond:
        for kind, price in zip(certificate.kinds, leaf.piece_prices, strict=True):
            if may_serve(long.cable, kind[:2], stock):
                share = long.price_per_um * (kind[2] + kerf_um) * (1 - Fraction(kerf_um, long.from_um))
                if price * Fraction(certificate.unit) > share * leaf.scale:
                    raise _Refused(f'"{long.label}" in lengths beyond {long.from_um} um yields more than it costs')


def _spool_items(spool: Spool, key: tuple[str, str], kept: Decimal, tier: int) -> tuple[list[_Item], int, Decimal]:
    """The spool in one price break: those bought in any case, and more at the same price up to the next break."""
    assert spool.price is not None
    breaks = ((0, spool.price), *spool.price_breaks)
    least, price = breaks[tier]
    ends = [n for n in (spool.available, breaks[tier + 1][0] - 1 if tier + 1 < len(breaks) else None) if n is not None]
    more = min(ends) - least if ends else None
    items = [_Item("spool", spool.label, key, spool.length_um, kept, least, True)] if least else []
    if more is None or more > 0:
        items.append(_Item("spool", spool.label, key, spool.length_um, price, more))
    return items, least, price


def _name(item: _Item) -> tuple[str, str, tuple[str, str], int, bool]:
    return (item.kind, item.label, item.cable, item.length_um, item.paid_for)


def _needed(items: Sequence[_Item], named: Mapping[Any, int], steps_um: int, more_um: int) -> list[_Item]:
    """Leaves out what no plan needs: unlimited spools beside one at least as long, unlimited, that costs no more."""
    # of quite equal ones, the one that has a name in the certificate stays
    sizes = {i: (i.length_um + more_um) // steps_um for i in items}
    order = sorted(items, key=lambda i: (i.cable, -sizes[i], i.cost, _name(i) not in named, _name(i)))
    kept: list[_Item] = []
    cheapest: dict[tuple[str, str], Decimal] = {}
    for item in order:
        if item.there is None:
            if item.cable in cheapest and cheapest[item.cable] <= item.cost:
                continue
            cheapest[item.cable] = item.cost
        kept.append(item)
    return kept


def _shortest(cable: CableStock, asked: Mapping[tuple[str, str, int], int], stock: Stock) -> int | None:
    """The shortest piece that may be cut from this cable."""
    return min(
        (um for *key, um in asked if may_serve((cable.conductor, cable.colour), (key[0], key[1]), stock)), default=None
    )


def _value_steps(
    items: Sequence[_Item], asked: Mapping[tuple[str, str, int], int], stock: Stock, per_um: int
) -> list[int]:
    """Every value of a kept rest is made of these: a whole spool's, less those of pieces with their kerfs."""
    rules = stock.rules
    steps = [per_um * (um + rules.kerf_um) for *_, um in asked]
    return steps + [per_um * (item.length_um - rules.end_trim_um) for item in items]


def _whole(amount: Decimal, what: str) -> int:
    number = int(amount.to_integral_value(rounding=ROUND_CEILING))
    if number != amount:
        raise _Refused(f"{what}: {amount} is not whole in the unit of the prices")
    return number


def _leaf_value(
    leaf: Leaf,
    certificate: Certificate,
    asked: Mapping[tuple[str, str, int], int],
    items: Sequence[_Item],
    named: Mapping[Any, int],
    cables: Sequence[CableStock],
    stock: Stock,
    rate: Decimal,
) -> int:
    """What the leaf's prices come to, in 1/scale of a unit. Raises _Refused if some spool yields more than it costs."""
    if leaf.scale <= 0 or len(leaf.piece_prices) != len(certificate.kinds):
        raise _Refused("prices that do not fit the pieces")
    if len(leaf.limit_prices) != len(leaf.limits) or len(leaf.line_prices) != len(certificate.offers):
        raise _Refused("prices that do not fit the stock")
    if any(p < 0 for p in (*leaf.piece_prices, *leaf.line_prices, *leaf.limit_prices)):
        raise _Refused("a price below nothing")
    price = dict(zip(certificate.kinds, leaf.piece_prices, strict=True))
    value = sum(price[kind] * n for kind, n in asked.items())
    for limit, limit_price in zip(leaf.limits, leaf.limit_prices, strict=True):
        value += limit_price * (limit.count if limit.at_least else -limit.count)
    per_um = _whole(rate / M / certificate.unit * leaf.scale, "value kept per um")
    for cable in cables:
        own = [item for item in items if item.cable == (cable.conductor, cable.colour)]
        kinds = {kind: n for kind, n in asked.items() if may_serve((cable.conductor, cable.colour), kind[:2], stock)}
        value -= _line_costs(leaf, certificate, own, kinds, price, named, stock, per_um)
    return value


def _line_costs(
    leaf: Leaf,
    certificate: Certificate,
    items: Sequence[_Item],
    kinds: Mapping[tuple[str, str, int], int],
    price: Mapping[tuple[str, str, int], int],
    named: Mapping[Any, int],
    stock: Stock,
    per_um: int,
) -> int:
    """Price times number there, of all limited spools of one cable. Raises _Refused as _leaf_value does."""
    rules = stock.rules
    if not items or not kinds:
        return 0
    step = gcd(*(um + rules.kerf_um for _, _, um in kinds))
    worth = _worths(kinds, price, max(i.length_um for i in items) - rules.end_trim_um + rules.kerf_um, step, stock)
    total = 0
    for item in items:
        t = named.get(_name(item))
        spool_price = 0 if t is None else leaf.line_prices[t]
        most = _whole(item.cost / certificate.unit, "cost of a spool") * leaf.scale + spool_price
        if t is not None:
            for limit, limit_price in zip(leaf.limits, leaf.limit_prices, strict=True):
                if t in limit.lines:
                    most += -limit_price if limit.at_least else limit_price
        room_um = item.length_um - rules.end_trim_um + rules.kerf_um
        if room_um < 0:
            continue
        best = int(worth[min(room_um // step, len(worth) - 1)])
        if per_um and rules.keep_above_um is not None:
            rests = room_um - rules.kerf_um - step * np.arange(len(worth))
            keeps = rests >= max(rules.keep_above_um, 1)
            if keeps.any():
                best = max(best, int((worth[keeps] + per_um * rests[keeps]).max()))
        if best > most:
            raise _Refused(f'{item.kind} "{item.label}" of {item.length_um} um yields more than it costs')
        if item.there is not None:
            total += spool_price * item.there
        elif spool_price:
            raise _Refused(f'"{item.label}" has a price for being short, and is not')
    return total


def _worths(
    kinds: Mapping[tuple[str, str, int], int],
    price: Mapping[tuple[str, str, int], int],
    room_um: int,
    step: int,
    stock: Stock,
) -> np.ndarray[Any, Any]:
    """Entry n: the most that pieces, each with its kerf, can be worth in n steps of length."""
    widths = {kind: (kind[2] + stock.rules.kerf_um) // step for kind in kinds}
    size = min(max(room_um, 0) // step, sum(widths[kind] * n for kind, n in kinds.items()))
    if sum(price[kind] * n for kind, n in kinds.items()) > LARGEST:
        raise _Refused("prices too large to add")
    worth = np.zeros(size + 1, dtype=np.int64)
    for kind, asked in kinds.items():
        if price[kind] == 0 or widths[kind] > size:
            continue
        # taking 0 to `most` of a kind is taking or leaving batches of 1, 2, 4, ... and what then lacks
        most, batch = min(asked, size // widths[kind]), 1
        while most:
            n = min(batch, most)
            shift = n * widths[kind]
            worth[shift:] = np.maximum(worth[shift:], worth[: size + 1 - shift] + n * price[kind])
            most, batch = most - n, 2 * batch
    return worth


def _next_sum_within(leaf: Leaf, least: int, costs: Mapping[_Item, int], named: Mapping[Any, int]) -> int:
    """The smallest amount from `least` on that spools can cost in all, in plans that keep to the leaf's limits.

    Those it uses in any case cost what they cost; if a kind may not be used more often, the rest is spent on others.
    """
    kinds: dict[int, list[_Item]] = {}
    for item in costs:
        if (t := named.get(_name(item))) is not None:
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
    return sure + _next_sum(max(least - sure, 0), [cost for item, cost in costs.items() if item not in settled], [])


def _next_sum(least: int, costs: Sequence[int], steps: Sequence[int]) -> int:
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
