"""The least money for a handful of kinds of piece, for many lengths at once.

A bus-bar search asks thousands of times: what do n leads of this length and a feeder of that length cost, cut
from the stock at its best? All those questions have the same shape and differ only in the lengths, so one exact
dynamic programme over 'how many of each kind are cut so far' answers a whole batch of them in numpy.

It must agree with the cutting solver (`cutlist.stock.spool_cuts`), which handles any list of pieces and proves
its answer; a property test holds the two together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import product

import numpy as np
from numpy.typing import NDArray

from cutlist.bank.stock import ByLength, CableStock, CuttingRules

Whole = NDArray[np.int64]
Tables = dict[tuple[int, ...], Whole]  # for every rest, (leads + 1, q)

IMPOSSIBLE = 1 << 60  # no stock can give these pieces; two of them still add up inside 63 bits
SPLIT = 10**7  # a cost is first * SPLIT + second; the second is millimetres bought, below 10 km
BATCH = 8192  # questions answered at once: keeps the tables inside the processor's cache


@dataclass(frozen=True)
class Measure:
    """What is minimised first: "money" or "metres" bought; the millimetres bought decide a tie.

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


def least_costs(
    cable: CableStock | None,
    rules: CuttingRules,
    measure: Measure,
    counts: Sequence[int],
    lengths_um: Whole,
) -> Whole:
    """Least cost (q,) of counts[k] pieces of length lengths_um[q, k] for every kind k; IMPOSSIBLE where none.

    The first kind should be the most numerous. A cost is measure's whole units times SPLIT plus the millimetres bought.
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
    for start in range(0, len(distinct), BATCH):
        part = distinct[start : start + BATCH]
        cost = _Filling(cable, rules, measure, tuple(counts), part).cost()
        found[start : start + BATCH] = np.where(cost >= IMPOSSIBLE // 2, IMPOSSIBLE, cost)
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
    """The tables of one batch: `least[rest][m]` (q,) is the least cost of m leads and of `rest` of the other kinds.

    More leads never cost less, so a container whose cost does not depend on what is in it is filled with as many
    leads as it takes; otherwise every number of leads is tried.
    """

    def __init__(
        self, cable: CableStock, rules: CuttingRules, measure: Measure, counts: tuple[int, ...], lengths_um: Whole
    ) -> None:
        self.cable, self.rules, self.measure = cable, rules, measure
        self.kept_value_per_m = rules.value_per_m(cable.conductor)
        self.leads = counts[0]
        self.batch = len(lengths_um)
        self.column = np.arange(self.batch)
        self.lead_um = lengths_um[:, 0]
        self.rests = list(product(*(range(count + 1) for count in counts[1:])))  # in an order that only grows
        self.rest_um = {rest: lengths_um[:, 1:] @ np.array(rest, dtype=np.int64) for rest in self.rests}
        self.parts = {
            whole: [(rest, _less(whole, rest)) for rest in self.rests if _within(rest, whole)] for whole in self.rests
        }
        self.most = sum(counts)
        self.by_content = bool(self.kept_value_per_m and rules.keep_above_um is not None)

    def cost(self) -> Whole:
        least = {rest: np.full((self.leads + 1, self.batch), IMPOSSIBLE, dtype=np.int64) for rest in self.rests}
        least[self.rests[0]][0] = 0
        for container in self._containers():
            bundles = self._bundles(container) if self.by_content else None
            if container.copies is None and not container.tiers:
                if bundles is None:
                    self._open_full(least, least, container, container.cost)
                else:
                    self._open_any(least, least, bundles)
            else:
                least = self._open_counted(least, container, bundles)
        for offer in self.cable.by_length:
            self._open_any(least, least, self._bundles_by_length(offer))
        return least[self.rests[-1]][self.leads]

    def _containers(self) -> list[_Container]:
        room_um = self.rules.kerf_um - self.rules.end_trim_um
        in_money = self.measure.first == "money"
        found = []
        for remnant in self.cable.remnants:
            cost = self.measure.units(remnant.book_value) * SPLIT if in_money else 0
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

    def _content(self, rest: tuple[int, ...], leads: int) -> tuple[Whole, int]:
        """Micrometres of the pieces, and how many they are."""
        return self.rest_um[rest] + leads * self.lead_um, sum(rest) + leads

    def _bundles(self, container: _Container) -> dict[tuple[int, ...], Whole]:
        """For every rest, the cost (leads + 1, q) of one such container that holds it and j leads."""
        return {rest: np.stack([self._whole(container, rest, j) for j in range(self.leads + 1)]) for rest in self.rests}

    def _whole(self, container: _Container, rest: tuple[int, ...], leads: int) -> Whole:
        pieces_um, number = self._content(rest, leads)
        spare_um = container.room_um - pieces_um - number * self.rules.kerf_um
        cost = self._kept(spare_um) + container.cost
        return np.where(spare_um >= 0, cost, IMPOSSIBLE)

    def _kept(self, spare_um: Whole) -> Whole:
        """Minus what the rest of a container is worth, when it is kept.

        spare_um still counts a kerf behind the last piece, which is lost when anything remains.
        """
        keep_um = self.rules.keep_above_um
        if self.measure.first != "money" or keep_um is None:
            return np.zeros_like(spare_um)
        remains_um = spare_um - self.rules.kerf_um
        value = np.floor(remains_um * (float(self.kept_value_per_m) * 10.0**self.measure.places / 1e6))
        return np.where((remains_um > 0) & (remains_um >= keep_um), -value.astype(np.int64) * SPLIT, 0)

    def _bundles_by_length(self, offer: ByLength) -> dict[tuple[int, ...], Whole]:
        """The same for one length cut off for us: as many increments as its content asks for."""
        each = self._price(offer.price, offer.increment_um)
        table = {}
        for rest in self.rests:
            rows = []
            for leads in range(self.leads + 1):
                pieces_um, number = self._content(rest, leads)
                needed_um = pieces_um + max(number - 1, 0) * self.rules.kerf_um + self.rules.end_trim_um
                increments = -(-np.maximum(needed_um, offer.least_um) // offer.increment_um)
                length_um = increments * offer.increment_um
                spare_um = length_um - needed_um
                cost = increments * each + -(-length_um // 1000) + self._kept(spare_um)
                allowed = number > 0 and (offer.longest_um is None or length_um <= offer.longest_um)
                rows.append(np.where(allowed, cost, IMPOSSIBLE))
            table[rest] = np.stack(rows)
        return table

    def _open_full(self, before: Tables, after: Tables, container: _Container, cost: int) -> None:
        """Fill one container that costs the same whatever it holds; any number of them when before is after."""
        kerf = self.rules.kerf_um
        fits = {}
        for rest in self.rests:
            spare_um = container.room_um - self.rest_um[rest] - sum(rest) * kerf
            fits[rest] = np.where(spare_um >= 0, spare_um // np.maximum(self.lead_um + kerf, 1), -1)
        for whole in self.rests:
            for leads in range(self.leads + 1):
                row = after[whole][leads]
                for rest, left in self.parts[whole]:
                    fit = fits[rest]
                    from_row = np.maximum(leads - np.maximum(fit, 0), 0)
                    opened = before[left][from_row, self.column] + cost
                    np.minimum(row, np.where(fit >= 0, opened, IMPOSSIBLE), out=row)

    def _open_any(self, before: Tables, after: Tables, bundles: dict[tuple[int, ...], Whole]) -> None:
        """The same when the cost depends on the content."""
        nothing = self.rests[0]
        for whole in self.rests:
            for leads in range(self.leads + 1):
                row = after[whole][leads]
                for rest, left in self.parts[whole]:
                    first = 1 if rest == nothing else 0  # an empty container brings nothing further
                    if first > leads:
                        continue
                    opened = before[left][leads - first :: -1] + bundles[rest][first : leads + 1]
                    np.minimum(row, opened.min(axis=0), out=row)

    def _open_counted(
        self, least: Tables, container: _Container, bundles: dict[tuple[int, ...], Whole] | None
    ) -> Tables:
        """Up to so many copies; where the price of all depends on their number, every number is tried."""
        copies = self.most if container.copies is None else min(container.copies, self.most)
        tiers = container.tiers or ((1, container.cost),)
        if container.tiers:  # a break may be worth reaching with a spool that stays whole
            copies = max(copies, tiers[-1][0])
            copies = copies if container.copies is None else min(copies, container.copies)
        best = {rest: table.copy() for rest, table in least.items()}
        using = least
        for number in range(1, copies + 1):
            filled = {rest: table.copy() for rest, table in using.items()}
            if bundles is None:
                self._open_full(using, filled, container, 0)
            else:
                self._open_any(using, filled, {rest: table - container.cost for rest, table in bundles.items()})
            using = filled
            price = next(cost for start, cost in reversed(tiers) if start <= number)
            for rest, table in using.items():
                np.minimum(best[rest], table + number * price, out=best[rest])
        return best


def _within(part: tuple[int, ...], whole: tuple[int, ...]) -> bool:
    return all(p <= w for p, w in zip(part, whole, strict=True))


def _less(whole: tuple[int, ...], part: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(w - p for w, p in zip(whole, part, strict=True))


def _mm(length_um: int) -> int:
    return -(-length_um // 1000)
