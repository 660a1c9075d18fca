"""Leads long enough for later strings: what it costs to cut them so now, and to make them anew when those come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from cutlist.bank.stock import Stock
from cutlist.stock.cut_plan import Piece
from cutlist.stock.order import CableEnd, Order, order_list
from cutlist.stock.spool_cuts import cut
from cutlist.stock.stock_after import stock_after


@dataclass(frozen=True)
class LaterLeads:
    """The bus bars as placed, prices as of today. What the later strings themselves take is bought then either way.

    Made anew then: cable from what today's order leaves over, new lugs and heat-shrink; the old leads count nothing.
    """

    strings: tuple[str, ...]
    lengthened: bool  # the plan's leads are long enough for them
    target_um: int  # longest lead for today's strings alone
    long_target_um: int  # with the later ones
    longest: str  # the later lead that sets it; "" if one of today's does
    remade: tuple[str, ...]  # leads that would have to be longer
    more_um: int = 0  # more cable in today's leads
    more_now: Decimal | None = None  # on today's order; None: a price is missing
    remade_um: int = 0  # cable in the leads made anew
    remade_then: Decimal | None = None
    drop: float | None = None  # of today's whole bank with the long leads, at the load that loses most
    why_not: str = ""  # not worked out, and why


@dataclass(frozen=True)
class Priced:
    more_now: Decimal | None
    remade_then: Decimal | None


def priced(
    short: Sequence[Piece],
    long: Sequence[Piece],
    remade: Sequence[Piece],
    ends: Sequence[CableEnd],
    stock: Stock,
    *,
    time_limit_s: float,
) -> Priced:
    """`short`, `long`: every piece of the bank, leads for today's strings alone or long enough for the later ones too.

    `remade` are pieces of `long`; `ends` those of every piece. Raises CannotCut.
    """
    today = cut(short, stock, time_limit_s=time_limit_s)
    ordered = order_list(today, stock, ends=ends)
    longer = order_list(cut(long, stock, time_limit_s=time_limit_s), stock, ends=ends)
    left = stock_after(today, stock, ordered)
    names = {piece.name for piece in remade}
    anew = order_list(
        cut(remade, left, time_limit_s=time_limit_s), left, ends=[end for end in ends if end.piece in names]
    )
    more = _total(longer), _total(ordered)
    return Priced(None if more[0] is None or more[1] is None else more[0] - more[1], _total(anew))


def _total(order: Order) -> Decimal | None:
    return order.total if order.complete else None
