"""Pieces and stock, told apart by conductor and colour, and put in whole numbers for the solvers.

What counts is money spent, and the book value of the remnants used, less the value of what is kept in the end:
rests long enough, and remnants left alone. For the solvers a remnant therefore costs what it would be worth if left
alone, and the worth of all remnants left alone is taken off as a fixed sum.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import gcd

from cutlist.bank.stock import ByLength, CableStock, CuttingRules, Remnant, Stock
from cutlist.stock.cut_plan import Piece
from cutlist.stock.problem import Problem, StockLine

UM_PER_M = 1_000_000
# Of cable by the metre every length is a line of its own, up to all pieces in one. For many pieces that is too many:
# from here on lengths are not told apart, and a bound on the worth of pieces stands for them.
MANY_PIECES = 30
LONGEST_LINE_UM = 60 * UM_PER_M


@dataclass(frozen=True)
class Source:
    """What one line of a Problem stands for in the stock file."""

    kind: str  # "remnant", "spool", "by length", "missing" (no stock: a plan that uses it is none)
    labels: tuple[str, ...]  # of like remnants, one each; else a single label
    conductor: str
    colour: str
    length_um: int
    price: Decimal | None  # of one, to spend
    book_value: Decimal = Decimal(0)
    paid_for: bool = False  # one of a number bought for a price break, whether it is used or not


@dataclass(frozen=True)
class Group:
    """Pieces that share stock, and one way of paying for it. `fixed_cost` comes on top of the problem's cost."""

    name: str
    by: str  # "money", "metres bought"
    problem: Problem
    sources: tuple[Source, ...]  # one for each line of the problem
    types: tuple[tuple[Piece, ...], ...]  # the pieces of each piece type, by name
    unit: Decimal  # worth of one cost unit, in money or metres
    fixed_cost: Decimal
    bought: tuple[tuple[Source, int], ...] = ()  # bought whatever is used, for a price break
    beyond: tuple[Source, ...] = ()  # the longest line of cable by the metre, where longer is sold
    short_remnants_value: Decimal = Decimal(0)  # remnants too short for any piece, left alone


def kept_value(rules: CuttingRules, conductor: str, length_um: int) -> Decimal:
    """What a remnant of this length is counted at in stock."""
    if rules.keep_above_um is None or length_um < max(rules.keep_above_um, 1):
        return Decimal(0)
    return rules.value_per_m(conductor) * length_um / UM_PER_M


def untouched_value(rules: CuttingRules, remnant: Source) -> Decimal:
    """What a remnant that is left alone is counted at, above its book value."""
    return max(Decimal(0), kept_value(rules, remnant.conductor, remnant.length_um) - remnant.book_value)


def state(
    name: str,
    pieces: Sequence[Piece],
    cables: Sequence[CableStock],
    stock: Stock,
    by: str,
    tiers: Mapping[str, int],
) -> Group:
    """The group's problem by "money" (stock without a price is left out) or by "metres bought".

    `tiers`: label of a spool with price breaks -> which of its breaks is used (0: none).
    """
    rules = stock.rules
    priced = by == "money"
    lengths = sorted({(p.length_um, p.conductor, p.colour) for p in pieces}, key=lambda t: (-t[0], t[1], t[2]))
    types = [
        tuple(sorted((p for p in pieces if (p.length_um, p.conductor, p.colour) == t), key=lambda p: p.name))
        for t in lengths
    ]
    total_um = sum(p.length_um + rules.kerf_um for p in pieces) + rules.end_trim_um
    widths_um = [length + rules.kerf_um for length, _, _ in lengths]
    step_um = gcd(*widths_um)

    offers: list[tuple[Source, int | None, int, Decimal]] = []  # source, available, family, cost
    beyond: list[tuple[int, Source, Decimal]] = []  # the longest line of cable by the metre, where longer is sold
    fixed = Decimal(0)
    bought: list[tuple[Source, int]] = []
    for family, cable in enumerate(cables):
        for source, copies in _remnants(cable.remnants, cable):
            spared = untouched_value(rules, source) if priced else Decimal(0)
            fixed -= spared * copies
            offers.append((source, copies, family, source.book_value + spared if priced else Decimal(0)))
        for spool in cable.spools:
            if priced and spool.price is None:
                continue
            tier = tiers.get(spool.label, 0)
            least, price = spool.price_breaks[tier - 1] if tier and priced else (0, spool.price)
            source = Source("spool", (spool.label,), cable.conductor, cable.colour, spool.length_um, price)
            if least:
                paid = Source(
                    "spool", (spool.label,), cable.conductor, cable.colour, spool.length_um, price, paid_for=True
                )
                whole = kept_value(rules, cable.conductor, spool.length_um)
                fixed += least * ((price or Decimal(0)) - whole)
                bought.append((paid, least))
                offers.append((paid, least, family, whole))
            # From the next break on another price holds, and another case of the comparison.
            next_breaks = [n - 1 for n, _ in spool.price_breaks[tier : tier + 1] if priced]
            most = min((n for n in (spool.available, *next_breaks) if n is not None), default=None)
            more = None if most is None else most - least
            if more is None or more > 0:
                cost = (price or Decimal(0)) if priced else Decimal(spool.length_um) / UM_PER_M
                offers.append((source, more, family, cost))
        for line in cable.by_length:
            if priced and line.price is None:
                continue
            last_um = total_um
            if len(pieces) > MANY_PIECES:
                spools_um = [s.length_um for s in cable.spools]
                last_um = min(total_um, max([LONGEST_LINE_UM, *widths_um, *spools_um]))
            found = _lengths(line, cable, last_um, priced)
            offers += [(s, None, family, cost) for s, cost in found]
            if found and last_um < total_um and (line.longest_um is None or line.longest_um > found[-1][0].length_um):
                beyond.append((family, *found[-1]))

    keep_um = rules.keep_above_um if priced else None
    rate = rules.value_per_m(cables[0].conductor) if keep_um is not None and cables else Decimal(0)
    assert keep_um is None or all(rules.value_per_m(c.conductor) == rate for c in cables)
    unit = _unit([cost for *_, cost in offers], rate, step_um)
    lines: list[StockLine] = []
    sources: list[Source] = []
    short = Decimal(0)
    for source, available, family, cost in offers:
        room_um = source.length_um - rules.end_trim_um + rules.kerf_um
        if room_um < min(widths_um):
            if source.kind == "remnant" and priced:
                short += untouched_value(rules, source) * (available or 0)
            continue
        capacity, left_um = divmod(room_um, step_um)
        keep_slack, keep_base = None, 0
        if rate and keep_um is not None:
            keep_slack = max(0, -(-(max(keep_um, 1) + rules.kerf_um - left_um) // step_um))
            keep_base = int(rate * (left_um - rules.kerf_um) / UM_PER_M / unit)
        by_length = source.kind == "by length"
        lines.append(StockLine(capacity, int(cost / unit), available, family, keep_slack, keep_base, by_length))
        sources.append(source)
    may_yield = tuple(
        tuple(i for i, (_, conductor, colour) in enumerate(lengths) if serves(stock, cable, conductor, colour))
        for cable in cables
    )
    order = _without_dominated(lines, sources, rests_count=bool(rate))
    lines = [lines[t] for t in order]
    sources = [sources[t] for t in order]
    widths = tuple(w // step_um for w in widths_um)
    families = {line.family for line in lines if line.available is None}
    sure = {
        i
        for family in families
        for i in may_yield[family]
        if any(ln.capacity >= widths[i] for ln in lines if ln.family == family and ln.available is None)
    }
    last_resort = None
    if len(sure) < len(widths):
        # No end of stock is sure to be there for every piece: a line dearer than all the rest together tells
        # (and costs a multiple of their common step, so that bounds are still rounded up to it).
        dear = sum(ln.cost * min(len(pieces), len(pieces) if ln.available is None else ln.available) for ln in lines)
        dear += max(1, gcd(*(ln.cost for ln in lines)))
        last_resort = len(lines)
        lines.append(StockLine(max(widths), dear, None, len(cables)))
        sources.append(Source("missing", ("",), "", "", 0, None))
        may_yield = (*may_yield, tuple(range(len(widths))))
    problem = Problem(
        widths,
        tuple(len(t) for t in types),
        tuple(lines),
        may_yield,
        int(rate * step_um / UM_PER_M / unit) if rate else 0,
        _ceilings(widths_um, may_yield, beyond, unit, rules.kerf_um),
        last_resort,
    )
    longest = tuple(source for _, source, _ in beyond)
    return Group(name, by, problem, tuple(sources), tuple(types), unit, fixed, tuple(bought), longest, short)


def _ceilings(
    widths_um: Sequence[int],
    may_yield: Sequence[Sequence[int]],
    beyond: Sequence[tuple[int, Source, Decimal]],
    unit: Decimal,
    kerf_um: int,
) -> tuple[tuple[int, int], ...]:
    """What a piece can be worth at most when lengths beyond the longest line can be bought, in cost units (num, den).

    Pieces that take w um with their kerfs need w - kerf um of cable, at the price per um of the line. On more than L um
    that is at least w * (1 - kerf / L) times that price: if no piece is worth more than its part of this, no length
    beyond L yields more than it costs.
    """
    if not beyond:
        return ()
    found = []
    for i, width_um in enumerate(widths_um):
        parts = [
            Fraction(cost / unit) / source.length_um * width_um * (source.length_um - kerf_um) / source.length_um
            for family, source, cost in beyond
            if i in may_yield[family]
        ]
        least = min(parts, default=Fraction(2**50))
        found.append((least.numerator, least.denominator))
    return tuple(found)


def serves(stock: Stock, cable: CableStock, conductor: str, colour: str) -> bool:
    """Whether pieces asked for in this conductor and colour may be cut from this cable."""
    if colour != cable.colour and not stock.rules.other_colour_allowed:
        return False
    if conductor == cable.conductor:
        return True
    return stock.rules.larger_conductor_allowed and next_larger(stock, conductor) == cable.conductor


def next_larger(stock: Stock, conductor: str) -> str | None:
    """The next larger conductor of the stock file, by area, with insulation for at least the same temperature."""
    own = stock.conductor(conductor)
    larger = [c for c in stock.conductors if c.area_mm2 > own.area_mm2 and c.insulation_c >= own.insulation_c]
    return min(larger, key=lambda c: (c.area_mm2, c.name)).name if larger else None


def _remnants(remnants: Sequence[Remnant], cable: CableStock) -> list[tuple[Source, int]]:
    """Like remnants together, so that no search tells them apart."""
    alike: dict[tuple[int, Decimal], list[str]] = {}
    for remnant in remnants:
        alike.setdefault((remnant.length_um, remnant.book_value), []).append(remnant.label)
    return [
        (Source("remnant", tuple(labels), cable.conductor, cable.colour, length_um, Decimal(0), book), len(labels))
        for (length_um, book), labels in alike.items()
    ]


def _lengths(line: ByLength, cable: CableStock, total_um: int, priced: bool) -> list[tuple[Source, Decimal]]:
    """Every length of this line that could be of use: up to all pieces in one length."""
    least = max(1, -(-line.least_um // line.increment_um))
    most = max(least, -(-total_um // line.increment_um) + 1)
    if line.longest_um is not None:
        most = min(most, line.longest_um // line.increment_um)
    found = []
    for k in range(least, most + 1):
        price = None if line.price is None else k * line.price
        length_um = k * line.increment_um
        source = Source("by length", (line.label,), cable.conductor, cable.colour, length_um, price)
        cost = price if priced and price is not None else Decimal(length_um) / UM_PER_M
        found.append((source, cost))
    return found


def _unit(costs: Sequence[Decimal], rate: Decimal, step_um: int) -> Decimal:
    """The largest power of ten in which every cost, and the value kept per step, is whole."""
    amounts = [*costs, rate / UM_PER_M, rate * step_um / UM_PER_M]
    digits = max((-int(a.normalize().as_tuple().exponent) for a in amounts if a), default=0)
    return Decimal(1).scaleb(-max(0, digits))


def _without_dominated(lines: Sequence[StockLine], sources: Sequence[Source], rests_count: bool) -> list[int]:
    """Indexes of the lines worth keeping: a longer one without limit that costs no more makes another superfluous.

    Longer means that it holds more; where rests have a value (`rests_count`), that it is longer by the tape.

    Sorted so that the choice does not depend on the order of the stock file.
    """
    order = sorted(
        range(len(lines)),
        key=lambda t: (
            lines[t].family,
            -sources[t].length_um if rests_count else -lines[t].capacity,
            lines[t].cost,
            lines[t].available is not None,
            sources[t].labels,
        ),
    )
    kept: list[int] = []
    cheapest: dict[int, int] = {}
    for t in order:
        line = lines[t]
        if line.available is None and line.family in cheapest and cheapest[line.family] <= line.cost:
            continue
        kept.append(t)
        if line.available is None:
            cheapest[line.family] = min(line.cost, cheapest.get(line.family, line.cost))
    return kept
