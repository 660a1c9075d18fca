"""Which spools may a plan use, and what does each cost? Worked out from the stock file, for the check of a proof."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from fractions import Fraction
from typing import Any

from cutlist.bank.stock import ByLength, CableStock, Spool, Stock
from cutlist.stock.check import may_serve

M = 1_000_000  # micrometres


class Refused(Exception):
    """A certificate that proves nothing, with the reason."""


@dataclass(frozen=True)
class SpoolItem:
    """One kind of spool that a plan may use."""

    kind: str
    label: str
    cable: tuple[str, str]
    length_um: int
    cost: Decimal  # money; metres where no prices are known
    there: int | None  # how many; None: as many as are wanted
    paid_for: bool = False  # bought in any case, for a price break


@dataclass(frozen=True)
class LongLength:
    """Cable by the metre, longer than `from_um` in one length; exact price of a micrometre."""

    cable: tuple[str, str]
    label: str
    from_um: int
    price_per_um: Fraction


def items_of(
    cables: Sequence[CableStock],
    stock: Stock,
    money: bool,
    tiers: Mapping[str, int],
    total_um: int,
    longest: Sequence[tuple[tuple[str, tuple[str, str]], int]],
) -> tuple[list[SpoolItem], Decimal, list[LongLength]]:
    """All spools that a plan may use, and what is spent or worth whatever it uses.

    A remnant that is used costs its book value and what it would have been worth if left alone; that worth, of all
    remnants, is taken off at the start. So it is with spools that a price break makes one buy.
    """
    items: list[SpoolItem] = []
    beyond: list[LongLength] = []
    fixed = Decimal(0)
    for cable in cables:
        key = (cable.conductor, cable.colour)
        for remnant in cable.remnants:
            spared, cost = Decimal(0), Decimal(0)
            if money:
                spared = max(Decimal(0), _kept(stock, cable.conductor, remnant.length_um) - remnant.book_value)
                cost = remnant.book_value + spared
            fixed -= spared
            items.append(SpoolItem("remnant", remnant.label, key, remnant.length_um, cost, 1))
        for spool in cable.spools:
            if not money:
                metres = Decimal(spool.length_um) / M
                items.append(SpoolItem("spool", spool.label, key, spool.length_um, metres, spool.available))
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
                    raise Refused(f'"{line.label}" costs less than what is kept is worth: buying would have no end')
            steps = max(-(-line.least_um // line.increment_um), 1)
            last = max(steps, -(-(total_um + stock.rules.end_trim_um) // line.increment_um))
            if line.longest_um is not None:
                last = min(last, line.longest_um // line.increment_um)
            named_um = [um for label, um in longest if label == (line.label, key)]
            if named_um and named_um[0] // line.increment_um < last:
                # beyond this, `refuse_long_lengths` looks at all lengths together
                last = max(steps, named_um[0] // line.increment_um)
                beyond.append(LongLength(key, line.label, last * line.increment_um, _price_per_um(line, money)))
            for n in range(steps, last + 1):
                length_um = n * line.increment_um
                cost = n * line.price if money and line.price is not None else Decimal(length_um) / M
                items.append(SpoolItem("by length", line.label, key, length_um, cost, None))
    return items, fixed, beyond


def _spool_items(spool: Spool, key: tuple[str, str], kept: Decimal, tier: int) -> tuple[list[SpoolItem], int, Decimal]:
    """The spool in one price break: those bought in any case, and more at the same price up to the next break."""
    assert spool.price is not None
    breaks = ((0, spool.price), *spool.price_breaks)
    least, price = breaks[tier]
    ends = [n for n in (spool.available, breaks[tier + 1][0] - 1 if tier + 1 < len(breaks) else None) if n is not None]
    more = min(ends) - least if ends else None
    items = [SpoolItem("spool", spool.label, key, spool.length_um, kept, least, True)] if least else []
    if more is None or more > 0:
        items.append(SpoolItem("spool", spool.label, key, spool.length_um, price, more))
    return items, least, price


def _kept(stock: Stock, conductor: str, length_um: int) -> Decimal:
    keep = stock.rules.keep_above_um
    if keep is None or length_um <= 0 or length_um < keep:
        return Decimal(0)
    return stock.rules.value_per_m(conductor) * length_um / M


def kept_rate(cables: Sequence[CableStock], stock: Stock) -> Decimal:
    rates = {stock.rules.value_per_m(c.conductor) for c in cables}
    if stock.rules.keep_above_um is None:
        return Decimal(0)
    if len(rates) > 1:
        raise Refused("cables that may serve keep different values per metre; that was not compared")
    return rates.pop()


def _price_per_um(line: ByLength, money: bool) -> Fraction:
    if not money or line.price is None:
        return Fraction(1, M)
    return Fraction(line.price) / line.increment_um


def needed(items: Sequence[SpoolItem], named: Mapping[Any, int], steps_um: int, more_um: int) -> list[SpoolItem]:
    """Leaves out what no plan needs: unlimited spools beside one at least as long, unlimited, that costs no more."""
    # of quite equal ones, the one that has a name in the certificate stays
    sizes = {i: (i.length_um + more_um) // steps_um for i in items}
    order = sorted(items, key=lambda i: (i.cable, -sizes[i], i.cost, name_of(i) not in named, name_of(i)))
    kept: list[SpoolItem] = []
    cheapest: dict[tuple[str, str], Decimal] = {}
    for item in order:
        if item.there is None:
            if item.cable in cheapest and cheapest[item.cable] <= item.cost:
                continue
            cheapest[item.cable] = item.cost
        kept.append(item)
    return kept


def name_of(item: SpoolItem) -> tuple[str, str, tuple[str, str], int, bool]:
    return (item.kind, item.label, item.cable, item.length_um, item.paid_for)


def shortest_piece_um(cable: CableStock, asked: Mapping[tuple[str, str, int], int], stock: Stock) -> int | None:
    """The shortest piece that may be cut from this cable."""
    return min(
        (um for *key, um in asked if may_serve((cable.conductor, cable.colour), (key[0], key[1]), stock)), default=None
    )


def whole(amount: Decimal, what: str) -> int:
    number = int(amount.to_integral_value(rounding=ROUND_CEILING))
    if number != amount:
        raise Refused(f"{what}: {amount} is not whole in the unit of the prices")
    return number
