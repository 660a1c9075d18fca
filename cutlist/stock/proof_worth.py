"""What do the prices of pieces come to, and does no spool yield pieces worth more than it costs?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from math import gcd
from typing import Any

import numpy as np

from cutlist.bank.stock import CableStock, Stock
from cutlist.stock.certificate import Certificate, Leaf
from cutlist.stock.check import may_serve
from cutlist.stock.proof_stock import LongLength, M, Refused, SpoolItem, name_of, whole

LARGEST = 2**62  # of a whole number that a table of worth may hold


def leaf_value(
    leaf: Leaf,
    certificate: Certificate,
    asked: Mapping[tuple[str, str, int], int],
    items: Sequence[SpoolItem],
    named: Mapping[Any, int],
    cables: Sequence[CableStock],
    stock: Stock,
    rate: Decimal,
) -> int:
    """What the leaf's prices come to, in 1/scale of a unit. Raises Refused if some spool yields more than it costs."""
    if leaf.scale <= 0 or len(leaf.piece_prices) != len(certificate.kinds):
        raise Refused("prices that do not fit the pieces")
    if len(leaf.limit_prices) != len(leaf.limits) or len(leaf.line_prices) != len(certificate.offers):
        raise Refused("prices that do not fit the stock")
    if any(p < 0 for p in (*leaf.piece_prices, *leaf.line_prices, *leaf.limit_prices)):
        raise Refused("a price below nothing")
    price = dict(zip(certificate.kinds, leaf.piece_prices, strict=True))
    value = sum(price[kind] * n for kind, n in asked.items())
    for limit, limit_price in zip(leaf.limits, leaf.limit_prices, strict=True):
        value += limit_price * (limit.count if limit.at_least else -limit.count)
    per_um = whole(rate / M / certificate.unit * leaf.scale, "value kept per um")
    for cable in cables:
        own = [item for item in items if item.cable == (cable.conductor, cable.colour)]
        kinds = {kind: n for kind, n in asked.items() if may_serve((cable.conductor, cable.colour), kind[:2], stock)}
        value -= _line_costs(leaf, certificate, own, kinds, price, named, stock, per_um)
    return value


def _line_costs(
    leaf: Leaf,
    certificate: Certificate,
    items: Sequence[SpoolItem],
    kinds: Mapping[tuple[str, str, int], int],
    price: Mapping[tuple[str, str, int], int],
    named: Mapping[Any, int],
    stock: Stock,
    per_um: int,
) -> int:
    """Price times number there, of all limited spools of one cable. Raises Refused as leaf_value does."""
    rules = stock.rules
    if not items or not kinds:
        return 0
    step = gcd(*(um + rules.kerf_um for _, _, um in kinds))
    worth = _worths(kinds, price, max(i.length_um for i in items) - rules.end_trim_um + rules.kerf_um, step, stock)
    total = 0
    for item in items:
        t = named.get(name_of(item))
        spool_price = 0 if t is None else leaf.line_prices[t]
        most = whole(item.cost / certificate.unit, "cost of a spool") * leaf.scale + spool_price
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
            raise Refused(f'{item.kind} "{item.label}" of {item.length_um} um yields more than it costs')
        if item.there is not None:
            total += spool_price * item.there
        elif spool_price:
            raise Refused(f'"{item.label}" has a price for being short, and is not')
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
        raise Refused("prices too large to add")
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


def refuse_long_lengths(leaf: Leaf, certificate: Certificate, beyond: Sequence[LongLength], stock: Stock) -> None:
    """Pieces with their kerfs that need more than L um cost at least their width, less one kerf, by the metre.

    So they cost at least (1 - kerf / L) of their width; no piece may be worth more than its share of that.
    """
    kerf_um = stock.rules.kerf_um
    for long in beyond:
        for kind, price in zip(certificate.kinds, leaf.piece_prices, strict=True):
            if may_serve(long.cable, kind[:2], stock):
                share = long.price_per_um * (kind[2] + kerf_um) * (1 - Fraction(kerf_um, long.from_um))
                if price * Fraction(certificate.unit) > share * leaf.scale:
                    raise Refused(f'"{long.label}" in lengths beyond {long.from_um} um yields more than it costs')
