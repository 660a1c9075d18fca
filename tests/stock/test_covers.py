"""Spools chosen by total length alone: never a bound above the answer, and whole yards proved and checked."""

import random
from decimal import Decimal

from hypothesis import given, settings

from cutlist.bank.stock import ByLength, CableStock, CuttingRules, Remnant, Spool, Stock
from cutlist.stock.check import faults_in
from cutlist.stock.covers import covers
from cutlist.stock.cut_plan import Piece
from cutlist.stock.deadline import Deadline
from cutlist.stock.first_fit import first_fit
from cutlist.stock.groups import state
from cutlist.stock.proof import check_proof
from cutlist.stock.spool_cuts import cut
from tests.stock.shop import FIFTY, MM, least_cost_by_trying_all, pieces_of, shop
from tests.stock.test_spool_cuts import lengths, small_shops

QUICK = settings(max_examples=60, deadline=None)
FOOT = 304_800


@QUICK
@given(lengths, small_shops)
def test_bound_below_and_plan_above_the_least_cost(sizes, stock):
    least = least_cost_by_trying_all([100 * n for n in sizes], stock)
    group = state("x", pieces_of(*(100 * n for n in sizes)), list(stock.cables), stock, "money", {})
    found = covers(group.problem, first_fit(group.problem), Deadline(None))
    if found is None or least is None:
        return
    assert group.fixed_cost + found.bound * group.unit <= least
    if found.cuts is not None:
        assert least <= group.fixed_cost + found.cuts.cost(group.problem) * group.unit


def test_three_long_spools_and_a_rest_by_the_foot():
    """By hand: 30 pieces of 1 m, no kerf, spools of 8 m at 8 and metres at 1.50.

    Three spools and 6 m: 24 + 9 = 33; four spools 32; two spools and 14 m: 16 + 21 = 37. In fractions 3.75 spools
    would do: 30. So 32, and 30 alone does not prove it.
    """
    stock = shop((), [(8_000, "8", None)], by_length=(1_000, "1.50"))
    pieces = pieces_of(*[1_000] * 30)
    group = state("x", pieces, list(stock.cables), stock, "money", {})
    found = covers(group.problem, None, Deadline(None))
    assert found is not None
    assert found.cuts is not None
    assert found.cuts.cost(group.problem) * group.unit == 32
    assert found.bound * group.unit == 32
    plan = cut(pieces, stock)
    assert plan.cost == plan.least_cost == 32
    assert all(proof.checked for proof in check_proof(plan, pieces, stock))


def yard(count: int, seed: int) -> tuple[list[Piece], Stock]:
    """Pieces of 0.4 to 6 m for many boats; three remnants, spools of 50, 100 and 250 ft, and by the foot."""
    draw = random.Random(seed)
    pieces = [Piece(f"P{n:03d}", "50 mm2", "red", draw.randrange(400, 6_000, 5) * MM) for n in range(count)]
    spools = ((50, "103.46"), (100, "192.02"), (250, "426.72"))
    cable = CableStock(
        "50 mm2",
        "red",
        tuple(Remnant(f"R{n}", draw.randrange(1_500, 9_000, 5) * MM) for n in range(3)),
        tuple(Spool(f"{feet} ft", feet * FOOT, Decimal(price)) for feet, price in spools),
        (ByLength("by the foot", FOOT, Decimal("2.13")),),
    )
    return pieces, Stock("kr", (FIFTY,), (cable,), rules=CuttingRules(kerf_um=3 * MM))


def test_a_yards_group_within_half_a_percent_and_the_bound_checked():
    """Half a percent is what a yard is promised; the check that knows no solver must come to the same bound."""
    for seed in (1, 2, 3):
        pieces, stock = yard(84, seed)
        plan = cut(pieces, stock, time_limit_s=2)
        assert plan.gap <= plan.cost / 200
        assert faults_in(plan, pieces, stock) == []
        assert all(proof.checked for proof in check_proof(plan, pieces, stock))
        group = state("x", pieces, list(stock.cables), stock, "money", {})
        plain = first_fit(group.problem)
        assert plain is not None
        assert plan.cost <= plain.cost(group.problem) * group.unit


def test_total_length_is_not_enough_for_pieces_that_do_not_pair():
    """By hand: six pieces of 3 m from spools of 5 m at 10 (one piece each) or of 6 m at 13 (two each): 3 x 13 = 39.

    18 m in 5 m spools would be 3.6 of them, 36 in fractions, if pieces could be split; and 4 x 10 = 40 by length.
    """
    stock = shop((), [(5_000, "10", None), (6_000, "13", None)])
    group = state("x", pieces_of(*[3_000] * 6), list(stock.cables), stock, "money", {})
    found = covers(group.problem, None, Deadline(None))
    assert found is not None
    assert found.cuts is not None
    assert found.bound * group.unit <= 39
    assert found.cuts.cost(group.problem) * group.unit == 39
    assert cut(pieces_of(*[3_000] * 6), stock).cost == 39
