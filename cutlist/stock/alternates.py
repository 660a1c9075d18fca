"""What else could be bought for the same pieces, and what it would cost more or less.

Each alternate is the pieces cut anew, at least cost, from stock that differs in one respect. Only cable is compared:
a larger conductor also changes lugs and heat-shrink.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from cutlist.bank.stock import CableStock, Stock
from cutlist.stock.cut_plan import CannotCut, CutPlan, Piece
from cutlist.stock.groups import next_larger
from cutlist.stock.spool_cuts import cut


@dataclass(frozen=True)
class Alternate:
    name: str  # "by length only", "70 mm2 instead of 50 mm2"
    difference: Decimal | None  # cost of its cable less the plan's; None: a price is missing
    bought_um: int
    why_not: str = ""  # it cannot be done, and why


def alternates(
    pieces: Sequence[Piece], stock: Stock, plan: CutPlan, *, time_limit_s: float = 10.0
) -> tuple[Alternate, ...]:
    """Other mixes of spools, new cable instead of what is on hand, and the next larger conductor of each size used.

    `time_limit_s` is for each; one that is not proved best by then is still a price that can be had. What comes to the
    plan's own cost with the plan's own purchases is left out: it is no alternative.
    """
    ways = [
        ("whole spools only", _with(stock, lambda c: replace(c, by_length=()))),
        ("by length only", _with(stock, lambda c: replace(c, spools=()))),
        ("nothing from the cable on hand", _with(stock, lambda c: replace(c, remnants=()))),
    ]
    found = [_alternate(name, pieces, other, plan, time_limit_s) for name, other in ways]
    for conductor in sorted({p.conductor for p in pieces}):
        larger = next_larger(stock, conductor)
        if larger is not None:
            moved = [replace(p, conductor=larger) if p.conductor == conductor else p for p in pieces]
            found.append(_alternate(f"{larger} instead of {conductor}", moved, stock, plan, time_limit_s))
    return tuple(a for a in found if a.why_not or (a.difference, a.bought_um) != (Decimal(0), plan.bought_um))


def _with(stock: Stock, change: Callable[[CableStock], CableStock]) -> Stock:
    return replace(stock, cables=tuple(map(change, stock.cables)))


def _alternate(name: str, pieces: Sequence[Piece], stock: Stock, plan: CutPlan, time_limit_s: float) -> Alternate:
    try:
        other = cut(pieces, stock, time_limit_s=time_limit_s)
    except CannotCut as cannot:
        return Alternate(name, None, 0, cannot.faults[0])
    difference = None if other.cost is None or plan.cost is None else other.cost - plan.cost
    return Alternate(name, difference, other.bought_um)
