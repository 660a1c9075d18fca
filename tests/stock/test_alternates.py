"""Alternates worked by hand.

Two pieces of 4 m of 50 mm2 red. On hand 5 m (book value 0). To buy: a 10 m spool at 100, by the metre at 12; of
70 mm2 a 10 m spool at 130. Nothing kept. Cheapest: one piece from the 5 m on hand, one of 4 m by the metre, 48.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from cutlist.bank.cables import Conductor
from cutlist.bank.stock import ByLength, CableStock, Remnant, Spool, Stock
from cutlist.stock.alternates import Alternate, alternates
from cutlist.stock.cut_plan import Piece
from cutlist.stock.spool_cuts import cut

M = 1_000_000
SMALL = Conductor("50 mm2", "50 mm2", 50.0, 0.386, "IEC 60228", 0.014, 0.06, 90.0)
LARGE = Conductor("70 mm2", "70 mm2", 70.0, 0.272, "IEC 60228", 0.016, 0.07, 90.0)
STOCK = Stock(
    "EUR",
    (SMALL, LARGE),
    (
        CableStock(
            "50 mm2",
            "red",
            (Remnant("end", 5 * M),),
            (Spool("spool", 10 * M, Decimal(100)),),
            (ByLength("metre", M, Decimal(12)),),
        ),
        CableStock("70 mm2", "red", spools=(Spool("big spool", 10 * M, Decimal(130)),)),
    ),
)
PIECES = (Piece("a", "50 mm2", "red", 4 * M), Piece("b", "50 mm2", "red", 4 * M))


def found(stock: Stock = STOCK) -> dict[str, Alternate]:
    return {a.name: a for a in alternates(PIECES, stock, cut(PIECES, stock))}


def test_each_alternate_costs_what_it_costs():
    """Whole spools: 100, 52 more. Nothing on hand: 8 m at 12 is 96, a spool 100: 48 more. 70 mm2: 130, 82 more."""
    assert cut(PIECES, STOCK).cost == 48
    assert {name: (a.difference, a.bought_um) for name, a in found().items()} == {
        "whole spools only": (Decimal(52), 10 * M),
        "nothing from the cable on hand": (Decimal(48), 8 * M),
        "70 mm2 instead of 50 mm2": (Decimal(82), 10 * M),
    }


def test_the_plan_itself_is_no_alternate():
    assert "by length only" not in found()


def test_what_cannot_be_had_says_why():
    only_metres = replace(STOCK, cables=(replace(STOCK.cables[0], spools=(), remnants=()), STOCK.cables[1]))
    assert "50 mm2 red" in found(only_metres)["whole spools only"].why_not


def test_a_missing_price_gives_no_difference():
    free = replace(STOCK.cables[1], spools=(Spool("big spool", 10 * M, None),))
    assert found(replace(STOCK, cables=(STOCK.cables[0], free)))["70 mm2 instead of 50 mm2"].difference is None


def test_the_largest_conductor_has_no_larger():
    assert not [
        name for name in found(replace(STOCK, conductors=(SMALL,), cables=STOCK.cables[:1])) if "instead" in name
    ]
