"""The order list: packs, what is on hand, spares, and prices that are missing. All figures by hand."""

from dataclasses import replace
from decimal import Decimal

import pytest

from cutlist.bank.cables import Fuse, HeatShrink, Lug, Sundry
from cutlist.stock.order import CableEnd, FuseUse, SundryUse, heat_shrink_for, order_list
from cutlist.stock.spool_cuts import cut
from tests.stock.shop import pieces_of, shop

BASE = shop([2000], [(5000, "50", None)], by_length=(1000, "12"))
STOCK = replace(
    BASE,
    lugs=(
        Lug("50 mm2", "M8", 0.02, 0.02, 0.04, Decimal("1.10"), pack=10, on_hand=3),
        Lug("50 mm2", "M10", 0.02, 0.02, 0.04, None, pack=5),
    ),
    heat_shrink=(HeatShrink("shrink 19", 0.012, 0.018, 0.06, 1.2, Decimal("4.00"), "red"),),
    fuses=(Fuse("class T", 200.0, 80.0, 20_000.0, None, "M8", price=Decimal("30"), on_hand=1),),
    sundries=(Sundry("clamp 16", "clamp", 0.014, 0.017, Decimal("0.5"), pack=20),),
)


def line(order, kind):
    return next(entry for entry in order.lines if entry.kind == kind)


def test_lugs_in_packs_less_what_is_on_hand():
    """14 ends M8, 3 on hand: 11 to buy, 2 packs of 10 at 11.00 each: 22.00; 9 left over."""
    plan = cut(pieces_of(*[1000] * 7), STOCK)
    ends = [CableEnd(f"P{i} {side}", f"P{i}", "M8") for i in range(1, 8) for side in ("start", "end")]
    lug = line(order_list(plan, STOCK, ends=ends), "lug")
    assert (lug.needed, lug.on_hand_used, lug.quantity, lug.unit) == (14, 3, 2, "pack of 10")
    assert (lug.unit_price, lug.price, lug.remains) == (Decimal("11.00"), Decimal("22.00"), 9)
    assert lug.why[:2] == ("P1 start", "P1 end")


def test_missing_price_is_missing_and_never_nothing():
    """One M10 lug without a price beside one M8 from stock (0.00) and cable from the remnant (no line)."""
    plan = cut(pieces_of(1000), STOCK)
    order = order_list(plan, STOCK, ends=[CableEnd("a", "P1", "M8"), CableEnd("b", "P1", "M10")])
    m8 = next(x for x in order.lines if x.description.endswith("M8"))
    m10 = next(x for x in order.lines if x.description.endswith("M10"))
    assert (m8.quantity, m8.price) == (0, 0)
    assert (m10.quantity, m10.price) == (1, None)
    assert order.missing == ("lug 50 mm2 x M10",)
    assert not order.complete
    assert order.total == Decimal("4.00")  # the heat-shrink


def test_a_lug_the_stock_file_does_not_hold_is_said_so():
    order = order_list(cut(pieces_of(1000), STOCK), STOCK, ends=[CableEnd("a", "P1", "3/8 in")])
    assert order.missing == ("lug 50 mm2 x 3/8 in (not in the stock file)",)


def test_heat_shrink_by_whole_sleeves():
    """60 mm an end from pieces of 1.2 m: 20 ends a piece; 22 ends: 2 pieces, 1.08 m left."""
    plan = cut(pieces_of(*[1000] * 11), STOCK)
    ends = [CableEnd(f"P{i} {side}", f"P{i}", "M8") for i in range(1, 12) for side in ("start", "end")]
    shrink = line(order_list(plan, STOCK, ends=ends), "heat-shrink")
    assert (shrink.quantity, shrink.unit, shrink.price) == (2, "piece of 1.2 m", Decimal("8.00"))
    assert shrink.remains == 1_080_000


def test_heat_shrink_that_fits_no_cable():
    assert heat_shrink_for(STOCK, 0.019, "red") is None
    assert heat_shrink_for(STOCK, 0.015, "black").name == "shrink 19"  # another colour rather than none


def test_fuses_with_spares_less_on_hand():
    """4 in use and 1 spare, 1 on hand: 4 to buy at 30."""
    plan = cut(pieces_of(1000), STOCK)
    fuses = [FuseUse(f"S{i}", "class T", 200.0) for i in range(4)]
    fuse = line(order_list(plan, STOCK, fuses=fuses), "fuse")
    assert (fuse.needed, fuse.quantity, fuse.price) == (5, 4, Decimal("120"))
    assert fuse.why[-1] == "spare"


def test_sundries_in_packs():
    """6 + 17 clamps: 2 packs of 20 at 10.00."""
    plan = cut(pieces_of(1000), STOCK)
    uses = [SundryUse("S1 positive", "clamp 16", 6), SundryUse("S2 positive", "clamp 16", 17)]
    clamps = line(order_list(plan, STOCK, sundries=uses), "sundry")
    assert (clamps.needed, clamps.quantity, clamps.price, clamps.remains) == (23, 2, Decimal("20.0"), 17)


def test_cable_lines_say_what_each_spool_is_for():
    """3 m and one of the others come from the spool of 5 m at 50, the third from the remnant; 5 x 12 by the metre."""
    pieces = pieces_of(2000, 1500, 3000)
    plan = cut(pieces, STOCK)
    order = order_list(plan, STOCK)
    cable = [x for x in order.lines if x.kind == "cable"]
    assert sum(x.price for x in cable) == plan.spent == order.total
    assert sorted(w for x in cable for w in x.why) in (["P1", "P3"], ["P2", "P3"])


def test_end_of_a_piece_that_is_not_in_the_plan():
    with pytest.raises(KeyError):
        order_list(cut(pieces_of(1000), STOCK), STOCK, ends=[CableEnd("a", "P9", "M8")])
