"""Cuts at least cost: worked by hand, published, by brute force, and laws."""

from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cutlist.bank.stock import ByLength, CableStock, CuttingRules, Remnant, Spool, Stock
from cutlist.sheets.rows import waste_text
from cutlist.stock.check import faults_in
from cutlist.stock.cut_plan import CannotCut, Piece
from cutlist.stock.spool_cuts import cut
from tests.stock.shop import FIFTY, MM, SEVENTY, M, least_cost_by_trying_all, pieces_of, shop

KERF_3 = CuttingRules(kerf_um=3 * MM)


def test_two_leads_and_one_kerf_fill_a_remnant_exactly():
    """By hand: 1495 + 3 + 1495 = 2993 mm, so a remnant of 2993 yields both and nothing is bought."""
    pieces = pieces_of(1495, 1495)
    plan = cut(pieces, shop([2993], [(30_000, "596", None)], rules=KERF_3))
    assert plan.cost == 0 == plan.least_cost
    (spool,) = plan.spools
    assert [c.remaining_um for c in spool.cuts] == [1495 * MM, 0]
    assert faults_in(plan, pieces, shop([2993], [(30_000, "596", None)], rules=KERF_3)) == []


def test_one_millimetre_less_and_a_spool_is_bought():
    plan = cut(pieces_of(1495, 1495), shop([2992], by_length=(1000, "10"), rules=KERF_3))
    # By hand: one lead from the remnant, the other needs 2 increments of 1 m: 20.
    assert plan.cost == Decimal(20)
    assert plan.proved


def test_van_of_the_worked_example():
    """Worked by hand, kerf 3 mm, cable by the foot of 304.8 mm at 7.2.

    Black: remnant 2992; pieces 2260, 1495, 1495. The remnant holds one of them: two 1495 need 2993. The two others cost
    5 ft each (1524 >= 1495) when cut singly: 2 x 36 = 72; together 1495 + 3 + 1495 = 2993 > 9 ft (2743): 10 ft, 72 as
    well; 2260 on the remnant or not: 2260 alone costs 8 ft (2438), more than 1495. So 72.
    """
    foot = (ByLength("by the foot", 304_800, Decimal("7.2")),)
    black = CableStock(
        "50 mm2", "black", (Remnant("R", 2992 * MM),), (Spool("50 ft", 15_240 * MM, Decimal("324.95")),), foot
    )
    stock = Stock("kr", (FIFTY,), (black,), rules=KERF_3)
    plan = cut(pieces_of(2260, 1495, 1495, colour="black"), stock)
    assert plan.cost == Decimal(72)
    assert plan.gap == 0


def test_kept_value_is_taken_off():
    """By hand: as above, the rest of the remnant is 2992 - 2260 - 3 = 729 mm, at 15 per m worth 10.935: 61.065."""
    foot = (ByLength("by the foot", 304_800, Decimal("7.2")),)
    black = CableStock(
        "50 mm2", "black", (Remnant("R", 2992 * MM),), (Spool("50 ft", 15_240 * MM, Decimal("324.95")),), foot
    )
    rules = CuttingRules(kerf_um=3 * MM, keep_above_um=600 * MM, kept_value_per_m=Decimal(15))
    stock = Stock("kr", (FIFTY,), (black,), rules=rules)
    pieces = pieces_of(2260, 1495, 1495, colour="black")
    plan = cut(pieces, stock)
    assert plan.cost == Decimal("61.065")
    assert plan.proved
    assert faults_in(plan, pieces, stock) == []


def test_longest_piece_is_cut_first_and_remainders_run_down():
    plan = cut(pieces_of(1000, 3000, 2000), shop(spools=[(7000, "100", None)], rules=CuttingRules(kerf_um=10 * MM)))
    (spool,) = plan.spools
    assert [c.length_um for c in spool.cuts] == [3000 * MM, 2000 * MM, 1000 * MM]
    assert [c.remaining_um for c in spool.cuts] == [3990 * MM, 1980 * MM, 970 * MM]


def test_end_trim_is_lost_on_every_spool():
    """By hand: 20 mm trimmed off 1000 mm leaves 980: a piece of 981 needs the next spool."""
    rules = CuttingRules(end_trim_um=20 * MM)
    stock = shop(spools=[(1000, "1", None), (2000, "5", None)], rules=rules)
    assert cut(pieces_of(980), stock).cost == 1
    assert cut(pieces_of(981), stock).cost == 5


def test_price_break():
    """By hand: 4 pieces, one a spool. Singly 4 x 10 = 40; from 5 on 7 each: 5 bought for 35, one left over."""
    cable = CableStock("50 mm2", "red", (), (Spool("S", M, Decimal(10), None, ((5, Decimal(7)),)),))
    stock = Stock("kr", (FIFTY,), (cable,))
    pieces = pieces_of(900, 900, 900, 900)
    plan = cut(pieces, stock)
    assert plan.cost == Decimal(35) == plan.least_cost
    assert len(plan.spools) == 5
    assert faults_in(plan, pieces, stock) == []
    assert cut(pieces[:3], stock).cost == Decimal(30)


def test_without_prices_metres_bought_are_least():
    """By hand: two of 900 mm do not fit 1 m or 1.5 m together; one each of 1 m is 2 m, less than one spool of 3 m."""
    pieces = pieces_of(900, 900)
    stock = shop(spools=[(1000, None, None), (1500, None, None), (3000, None, None)])
    plan = cut(pieces, stock)
    assert plan.bought_um == 2 * M
    assert plan.cost is None
    assert plan.missing_prices == ("spool 1",)
    assert plan.groups[0].by == "metres bought"
    assert plan.groups[0].proved
    assert faults_in(plan, pieces, stock) == []


def test_least_waste_is_asked_for_though_prices_are_known():
    """By hand: two of 900 mm need 2 m from 1 m spools, 60 kr, where one spool of 3 m would cost 50."""
    pieces = pieces_of(900, 900)
    spools = [(1000, "30", None), (3000, "50", None)]
    least = cut(pieces, stock := shop(spools=spools, rules=CuttingRules(least_waste=True)))
    assert (least.bought_um, least.spent, least.waste_um) == (2 * M, 60, 200 * MM)
    assert faults_in(least, pieces, stock) == []
    assert waste_text(least, "mm") == "200 mm, 10.0 % of what is bought; planned for least waste, as asked"
    assert cut(pieces, shop(spools=spools)).spent == 50


def test_a_line_without_a_price_is_left_out_while_others_suffice():
    plan = cut(pieces_of(900), shop(spools=[(1000, None, None), (2000, "50", None)]))
    assert plan.cost == 50
    assert "spool 1" in plan.groups[0].notes[0]


def test_larger_conductor_when_it_pays():
    """By hand: 50 mm2 comes in spools of 10 m at 100; a 70 mm2 remnant of 2 m lies there. One piece of 1.5 m: 0."""
    cables = (
        CableStock("50 mm2", "red", (), (Spool("ten", 10 * M, Decimal(100)),)),
        CableStock("70 mm2", "red", (Remnant("end", 2 * M),), ()),
    )
    pieces = pieces_of(1500)
    plain = Stock("kr", (FIFTY, SEVENTY), cables)
    allowed = Stock("kr", (FIFTY, SEVENTY), cables, rules=CuttingRules(larger_conductor_allowed=True))
    assert cut(pieces, plain).cost == 100
    plan = cut(pieces, allowed)
    assert plan.cost == 0
    assert plan.spools[0].cuts[0].instead_of == "50 mm2 red"
    assert plan.conductor_of("P1") == ("70 mm2", "red")
    assert faults_in(plan, pieces, allowed) == []
    assert faults_in(plan, pieces, plain) != []


def test_other_colour_only_where_allowed():
    cables = (CableStock("50 mm2", "red", (Remnant("end", 2 * M),)), CableStock("50 mm2", "black", (Remnant("b", M),)))
    pieces = pieces_of(1500, colour="black")
    with pytest.raises(CannotCut, match="longest is 1 m"):
        cut(pieces, Stock("kr", (FIFTY,), cables))
    assert cut(pieces, Stock("kr", (FIFTY,), cables, rules=CuttingRules(other_colour_allowed=True))).cost == 0


def test_no_spool_long_enough_names_piece_and_longest_stock():
    with pytest.raises(CannotCut) as caught:
        cut(pieces_of(900, 5200, 6000), shop([4000], [(5000, "9", None)]))
    first, second = caught.value.faults
    assert '"P2" (5.2 m)' in first
    assert "longest is 5 m" in first
    assert '"P3"' in second


def test_not_enough_stock_in_all_names_what_is_not_covered():
    with pytest.raises(CannotCut, match=r"does not suffice: 2\.7 m of pieces, 2 m in stock"):
        cut(pieces_of(900, 900, 900), shop([1000], [(1000, "9", 1)]))


def test_conductor_not_in_stock_at_all():
    with pytest.raises(CannotCut, match="there is none in stock"):
        cut([Piece("P", "35 mm2", "red", M)], shop([1000]))


def test_names_must_differ_and_lengths_be_positive():
    with pytest.raises(ValueError, match="same name: P"):
        cut([Piece("P", "50 mm2", "red", M), Piece("P", "50 mm2", "red", M)], shop([1000]))
    with pytest.raises(ValueError, match="no length"):
        cut([Piece("P", "50 mm2", "red", 0)], shop([1000]))


def test_order_of_the_lists_changes_nothing():
    pieces = pieces_of(1200, 800, 2300, 700, 900)
    stock = shop([2500], [(3000, "30", None), (5000, "45", 1)])
    again = Stock("kr", stock.conductors, (stock.cables[0],), rules=stock.rules)
    assert cut(pieces, stock) == cut(list(reversed(pieces)), again)


lengths = st.lists(st.integers(1, 12), min_size=1, max_size=5)
small_shops = st.builds(
    lambda remnants, spools, step, kerf, trim, keep: shop(
        [100 * r for r in remnants],
        [(100 * mm, str(price), n) for mm, price, n in spools],
        by_length=(100 * step, str(2 * step)),
        rules=CuttingRules(
            kerf_um=kerf * MM,
            end_trim_um=trim * MM,
            keep_above_um=None if keep is None else 100 * keep * MM,
            kept_value_per_m=Decimal(0) if keep is None else Decimal(3),
        ),
    ),
    st.lists(st.integers(3, 20), max_size=2),
    st.lists(st.tuples(st.integers(8, 30), st.integers(9, 40), st.sampled_from([None, 1])), max_size=2),
    st.sampled_from([2, 3, 5]),
    st.sampled_from([0, 3, 50]),
    st.sampled_from([0, 20]),
    st.sampled_from([None, 4, 10]),
)
QUICK = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@QUICK
@given(lengths, small_shops)
def test_never_dearer_than_trying_everything(sizes, stock):
    """Every plan of a handful of pieces, one by one (tests/stock/shop.py), against the solver."""
    pieces = pieces_of(*(100 * n for n in sizes))
    plan = cut(pieces, stock)
    assert plan.cost == least_cost_by_trying_all([100 * n for n in sizes], stock)
    assert plan.least_cost <= plan.cost
    assert faults_in(plan, pieces, stock) == []


@QUICK
@given(lengths, small_shops)
def test_scaling_all_lengths_changes_nothing(sizes, stock):
    cable, rules = stock.cables[0], stock.rules
    double = CableStock(
        cable.conductor,
        cable.colour,
        tuple(Remnant(r.label, 2 * r.length_um) for r in cable.remnants),
        tuple(Spool(s.label, 2 * s.length_um, s.price, s.available) for s in cable.spools),
        tuple(ByLength(b.label, 2 * b.increment_um, b.price) for b in cable.by_length),
    )
    keep = None if rules.keep_above_um is None else 2 * rules.keep_above_um
    scaled = CuttingRules(2 * rules.kerf_um, 2 * rules.end_trim_um, keep, rules.kept_value_per_m / 2)
    one = cut(pieces_of(*(100 * n for n in sizes)), stock)
    other = cut(pieces_of(*(200 * n for n in sizes)), Stock("kr", stock.conductors, (double,), rules=scaled))
    assert one.cost == other.cost


@QUICK
@given(lengths, small_shops, st.integers(3, 20))
def test_one_more_remnant_never_costs_more(sizes, stock, extra):
    """A remnant that is left alone keeps its value, so compare spending less value of what is there in the end."""
    cable = stock.cables[0]
    more = CableStock(
        cable.conductor,
        cable.colour,
        (*cable.remnants, Remnant("extra", extra * 100 * MM)),
        cable.spools,
        cable.by_length,
    )
    pieces = pieces_of(*(100 * n for n in sizes))
    richer = Stock("kr", stock.conductors, (more,), rules=stock.rules)
    assert cut(pieces, richer).cost <= cut(pieces, stock).cost
