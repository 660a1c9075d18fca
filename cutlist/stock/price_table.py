"""The least money for a handful of kinds of piece, for many lengths at once.

A bus-bar search asks thousands of times: what do n leads of this length and a feeder of that length cost, cut
from the stock at its best? All those questions have the same shape and differ only in the lengths, so one exact
dynamic programme over 'how many of each kind are cut so far' answers a whole batch of them in numpy.

It must agree with the cutting solver (`cutlist.stock.spool_cuts`), which handles any list of pieces and proves
its answer; a property test holds the two together.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from cutlist.bank.stock import ByLength, CableStock, CuttingRules
from cutlist.stock.one_more import with_one_more

Whole = NDArray[np.int64]

IMPOSSIBLE = 1 << 60  # no stock can give these pieces; two of them still add up inside 63 bits
SPLIT = 10**7  # a cost is first * SPLIT + second; the second is millimetres, below 10 km
TABLE = 150_000  # numbers in a table: keeps it inside the processor's cache


@dataclass(frozen=True)
class Measure:
    """What is minimised first: "money" or "metres" bought. Ties in money are decided by the millimetres bought, ties in
    metres by the millimetres of all that is cut into, remnants too, less the rests that are kept.

    `places` is the number of decimal places that makes every price a whole number.
    """

    first: str
    places: int = 0

    def money(self, cost: int) -> Decimal | None:
        """The money in a cost; None when it was not counted in money."""
        return Decimal(cost // SPLIT).scaleb(-self.places) if self.first == "money" else None

    def units(self, price: Decimal) -> int:
        return int(price.scaleb(self.places))


def measure_for(cables: Sequence[CableStock], rules: CuttingRules, more_prices: Sequence[Decimal] = ()) -> Measure:
    """Money when every price is known; else, or when the rules ask for least waste, metres bought."""
    if rules.least_waste:
        return Measure("metres")
    prices: list[Decimal | None] = [*more_prices]
    for cable in cables:
        prices += [s.price for s in cable.spools] + [b.price for b in cable.by_length]
        prices += [price for s in cable.spools for _, price in s.price_breaks]
        prices += [r.book_value for r in cable.remnants]
    known = [price for price in prices if price is not None]
    if len(known) < len(prices):
        return Measure("metres")
    exponents = [price.as_tuple().exponent for price in known]
    places = max((-e for e in exponents if isinstance(e, int) and e < 0), default=0)
    if rules.kept_value_per_m or rules.kept_value_by_conductor:
        places = max(places, 4)  # a kept remnant is worth part of a metre's value: counted down to this
    return Measure("money", places)


@dataclass(frozen=True)
class _Container:
    """A remnant, spool or length that pieces are cut from. `room_um` counts a kerf to every piece, the last too."""

    room_um: int
    cost: int  # of the container itself
    copies: int | None = 1  # None: as many as wanted
    tiers: tuple[tuple[int, int], ...] = ()  # (from this many, cost each), ascending, the first from 1


@dataclass(frozen=True, eq=False)
class _Stage:
    """Containers of one sort: the cost of opening one for every content, and how many may be opened."""

    opened: Whole
    copies: int | None
    by_tiers: _Container | None = None  # whose price depends on how many are bought; `opened` is then without it


def least_costs(
    cable: CableStock | None,
    rules: CuttingRules,
    measure: Measure,
    counts: Sequence[int],
    lengths_um: Whole,
) -> Whole:
    """Least cost (q,) of counts[k] pieces of length lengths_um[q, k] for every kind k; IMPOSSIBLE where none.

    A cost is measure's whole units times SPLIT plus the millimetres that decide a tie.
    Lengths are whole micrometres. n pieces fit a spool when their sum + kerf * (n - 1) is not above its length
    less the end trim.
    """
    lengths = np.asarray(lengths_um, dtype=np.int64).reshape(-1, len(counts))
    if sum(counts) == 0:
        return np.zeros(len(lengths), dtype=np.int64)
    if cable is None:
        return np.full(len(lengths), IMPOSSIBLE, dtype=np.int64)
    distinct, back = distinct_rows(lengths)
    found = np.empty(len(distinct), dtype=np.int64)
    batch = max(1, TABLE // math.prod(count + 1 for count in counts))
    for start in range(0, len(distinct), batch):
        part = distinct[start : start + batch]
        cost = _Filling(cable, rules, measure, tuple(counts), part).cost()
        found[start : start + batch] = np.where(cost >= IMPOSSIBLE // 2, IMPOSSIBLE, cost)
    return found[back]


def distinct_rows(rows: Whole) -> tuple[Whole, NDArray[np.int64]]:
    """The distinct rows (m, k) in rising order, and for each row which it is; quicker than sorting whole rows."""
    key = np.zeros(len(rows), dtype=np.int64)
    for column in rows.T:
        values, rank = np.unique(column, return_inverse=True)
        _, key = np.unique(key * len(values) + rank, return_inverse=True)
    first = np.full(int(key.max(initial=-1)) + 1, len(rows), dtype=np.int64)
    np.minimum.at(first, key, np.arange(len(rows)))
    return rows[first], key


class _Filling:
    """The tables of one batch: `least` (kinds' counts + 1, q) is the least cost of every list of so many of each kind.

    One container after the other may be opened for any part of what is still to be cut: a whole table at a time.
    """

    def __init__(
        self, cable: CableStock, rules: CuttingRules, measure: Measure, counts: tuple[int, ...], lengths_um: Whole
    ) -> None:
        self.cable, self.rules, self.measure = cable, rules, measure
        self.kept_value_per_m = rules.value_per_m(cable.conductor)
        self.shape = (*(count + 1 for count in counts), len(lengths_um))
        steps = np.indices(self.shape[:-1])  # how many of each kind
        self.number = steps.sum(axis=0)[..., None]  # of pieces
        self.pieces_um = np.einsum("k...,qk->...q", steps, lengths_um)
        self.none = (0,) * len(counts)
        self.whole = (-1,) * len(counts)
        self.most = sum(counts)
        self.by_content = bool(self.kept_value_per_m and rules.keep_above_um is not None)

    def cost(self) -> Whole:
        stages = [*(self._spools(c) for c in self._containers()), *(self._cut_off(o) for o in self.cable.by_length)]
        # opened once: in any order, so those that can hold most come first and last, where they are least work
        once = [stage for stage in stages if stage.copies == 1]
        once.sort(key=lambda stage: -int((stage.opened < IMPOSSIBLE).any(axis=-1).sum()))
        first, last, between = once[:1], once[1:2], [*once[2:], *(stage for stage in stages if stage.copies != 1)]
        least = np.full(self.shape, IMPOSSIBLE, dtype=np.int64)
        least[self.none] = 0
        for stage in first:
            least = np.minimum(least, stage.opened)
        for stage in between:
            least = self._as_often(least, stage)
        done = least[self.whole]
        for stage in last:
            # what is left to it is what the table's other end still lacks
            turned = least[tuple(slice(None, None, -1) for _ in self.none)]
            done = np.minimum(done, (stage.opened + turned).reshape(-1, self.shape[-1]).min(axis=0))
        return np.asarray(done)

    def _containers(self) -> list[_Container]:
        room_um = self.rules.kerf_um - self.rules.end_trim_um
        in_money = self.measure.first == "money"
        found = []
        for remnant in self.cable.remnants:
            cost = self.measure.units(remnant.book_value) * SPLIT if in_money else _mm(remnant.length_um)
            found.append(_Container(remnant.length_um + room_um, cost))
        for spool in self.cable.spools:
            second = _mm(spool.length_um)
            price = self._price(spool.price, spool.length_um) + second
            breaks = [(n, self._price(p, spool.length_um) + second) for n, p in spool.price_breaks if in_money]
            tiers = ((1, price), *breaks) if breaks else ()
            found.append(_Container(spool.length_um + room_um, price, spool.available, tuple(tiers)))
        return found

    def _price(self, price: Decimal | None, length_um: int) -> int:
        if self.measure.first == "money":
            assert price is not None  # measure_for counts in money only when every price is known
            return self.measure.units(price) * SPLIT
        return length_um * SPLIT

    def _content_cost(self, container: _Container) -> Whole:
        """What is due for one such container beyond its price, for every content: less what its rest is worth."""
        spare_um = container.room_um - self.pieces_um - self.number * self.rules.kerf_um
        return np.where(spare_um >= 0, self._kept(spare_um), IMPOSSIBLE)

    def _kept(self, spare_um: Whole) -> Whole:
        """Minus what the rest of a container is worth, when it is kept.

        spare_um still counts a kerf behind the last piece, which is lost when anything remains.
        """
        keep_um = self.rules.keep_above_um
        if keep_um is None:
            return np.zeros_like(spare_um)
        remains_um = spare_um - self.rules.kerf_um
        if self.measure.first == "money":
            per_um = float(self.kept_value_per_m) * 10.0**self.measure.places / 1e6
            value = np.floor(remains_um * per_um).astype(np.int64) * SPLIT
        else:
            value = remains_um // 1000
        return np.where((remains_um > 0) & (remains_um >= keep_um), -value, 0)

    def _cut_off(self, offer: ByLength) -> _Stage:
        """The cost of one length cut off for us, for every content: as many increments as that asks for."""
        each = self._price(offer.price, offer.increment_um)
        between_um = np.maximum(self.number - 1, 0) * self.rules.kerf_um
        needed_um = self.pieces_um + between_um + self.rules.end_trim_um
        increments = -(-np.maximum(needed_um, offer.least_um) // offer.increment_um)
        length_um = increments * offer.increment_um
        cost = increments * each + -(-length_um // 1000) + self._kept(length_um - needed_um)
        fits = self.number > 0
        if offer.longest_um is not None:
            fits = fits & (length_um <= offer.longest_um)
        opened = np.where(fits, cost, IMPOSSIBLE)
        # one length for all needs no more than two: it spares a trim and needs a cut in its place
        in_one = self._all_fit(opened) and self.rules.end_trim_um >= self.rules.kerf_um
        return _Stage(opened, 1 if in_one else self.most)

    def _spools(self, container: _Container) -> _Stage:
        content = self._content_cost(container)
        if container.tiers:
            return _Stage(content, None, container)
        opened = np.where(content < IMPOSSIBLE, content + container.cost, IMPOSSIBLE)
        opened[self.none] = IMPOSSIBLE  # an empty one brings nothing
        copies = self.most if container.copies is None else min(container.copies, self.most)
        # what fits into one is not cheaper in two, unless their rests are worth more than the second costs
        spare = container.room_um + max(self.rules.keep_above_um or 0, 0)
        worth = float(self.kept_value_per_m) * spare / 1e6 * 10.0**self.measure.places * SPLIT if self.by_content else 0
        if self._all_fit(opened) and container.cost >= worth:
            copies = min(copies, 1)
        return _Stage(opened, copies)

    def _all_fit(self, opened: Whole) -> bool:
        return bool((opened[self.whole] < IMPOSSIBLE).all())

    def _by_tiers(self, least: Whole, container: _Container, content: Whole) -> Whole:
        """Where the price of all copies depends on their number, every number is tried."""
        copies = self.most if container.copies is None else min(container.copies, self.most)
        copies = max(copies, container.tiers[-1][0])  # a break may be worth reaching with a spool that stays whole
        copies = copies if container.copies is None else min(copies, container.copies)
        best, using = least, least
        for number in range(1, copies + 1):
            using = with_one_more(using, content, IMPOSSIBLE)
            price = next(cost for start, cost in reversed(container.tiers) if start <= number)
            best = np.minimum(best, using + number * price)
        return np.minimum(best, IMPOSSIBLE)

    def _as_often(self, least: Whole, stage: _Stage) -> Whole:
        """Up to so many containers of one sort, until one more brings nothing."""
        if stage.by_tiers is not None:
            return self._by_tiers(least, stage.by_tiers, stage.opened)
        for _ in range(stage.copies or 0):
            further = with_one_more(least, stage.opened, IMPOSSIBLE)
            if np.array_equal(further, least):
                break
            least = further
        return least


def _mm(length_um: int) -> int:
    return -(-length_um // 1000)
