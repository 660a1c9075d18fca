"""What pieces cost when they are cut by first fit: the bill of somebody who plans the cuts by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from cutlist.bank.stock import Stock
from cutlist.stock.cut_plan import Piece
from cutlist.stock.first_fit import first_fit
from cutlist.stock.groups import kept_value, state


@dataclass(frozen=True)
class Bill:
    money: Decimal | None  # less what kept rests are worth; None when metres are counted
    bought_um: int


def first_fit_bill(pieces: Sequence[Piece], stock: Stock, *, in_money: bool) -> Bill | None:
    """Each conductor and colour from its own stock, at the price of one; None if the stock does not suffice this way.

    The best of several such plans counts (`first_fit`), so that nothing is gained on a straw man.
    """
    rules = stock.rules
    money, bought_um = Decimal(0), 0
    for conductor, colour in sorted({(p.conductor, p.colour) for p in pieces}):
        cable = stock.cable(conductor, colour)
        if cable is None:
            return None
        mine = [p for p in pieces if (p.conductor, p.colour) == (conductor, colour)]
        group = state(f"{conductor} {colour}", mine, [cable], stock, "money" if in_money else "metres bought", {})
        cuts = first_fit(group.problem)
        if cuts is None or any(group.sources[p.line].kind == "missing" for p, _ in cuts.uses):
            return None
        for pattern, times in cuts.uses:
            source = group.sources[pattern.line]
            lengths_um = [group.types[i][0].length_um for i, n in pattern.counts for _ in range(n)]
            rest_um = source.length_um - rules.end_trim_um - sum(lengths_um) - rules.kerf_um * len(lengths_um)
            price = source.book_value if source.kind == "remnant" else source.price or Decimal(0)
            money += times * (price - kept_value(rules, conductor, rest_um))
            bought_um += 0 if source.kind == "remnant" else times * source.length_um
    return Bill(money if in_money else None, bought_um)
