"""The independent check of proofs: it accepts what holds and refuses what was tampered with."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given

from cutlist.bank.stock import ByLength, CableStock, CuttingRules, Remnant, Spool, Stock
from cutlist.stock.certificate import Certificate, CountLimit, Leaf
from cutlist.stock.cut_plan import CutPlan, Piece
from cutlist.stock.proof import check_proof, faults_in_proof
from cutlist.stock.spool_cuts import cut
from tests.stock.shop import FIFTY, MM, SEVENTY, M, pieces_of, shop
from tests.stock.test_spool_cuts import QUICK, lengths, small_shops


def with_certificate(plan: CutPlan, change: Callable[[Certificate], Certificate]) -> CutPlan:
    (group,) = plan.groups
    return replace(plan, groups=(replace(group, certificates=tuple(change(c) for c in group.certificates)),))


def with_leaf(plan: CutPlan, change: Callable[[Leaf], Leaf]) -> CutPlan:
    return with_certificate(plan, lambda c: replace(c, leaves=tuple(change(leaf) for leaf in c.leaves)))


PIECES = pieces_of(500, 500, 500, 500)
TWO_A_METRE = shop(spools=[(1000, "10", None)])  # by hand: two pieces a spool, so 5 each and 20 in all


def proved_plan() -> CutPlan:
    """The plan with a proof by hand: two pieces a spool of 10, so a piece is worth 5 (5000 in thousandths)."""
    plan = cut(PIECES, TWO_A_METRE)
    assert (plan.cost, plan.proved) == (20, True)
    by_hand = Leaf((), 1000, (5000,), (0,), ())
    return with_certificate(plan, lambda c: replace(c, tried=False, leaves=(by_hand,)))


def test_prices_that_add_up_are_accepted():
    (proof,) = check_proof(proved_plan(), PIECES, TWO_A_METRE)
    assert proof.checked
    assert proof.least == 20


def test_a_bound_above_what_prices_prove_is_refused():
    plan = proved_plan()
    claimed = replace(plan, groups=(replace(plan.groups[0], least_cost=Decimal(21), cost=Decimal(21)),))
    assert "the prices prove 20" in faults_in_proof(claimed, PIECES, TWO_A_METRE)[0]


def test_prices_too_high_are_refused():
    dearer = with_leaf(proved_plan(), lambda leaf: replace(leaf, piece_prices=tuple(p + 1 for p in leaf.piece_prices)))
    # By hand: two pieces at 5 and a bit are worth more than a spool of 10.
    assert "yields more than it costs" in faults_in_proof(dearer, PIECES, TWO_A_METRE)[0]


def test_prices_too_low_prove_too_little():
    cheaper = with_leaf(
        proved_plan(), lambda leaf: replace(leaf, piece_prices=tuple(p // 2 for p in leaf.piece_prices))
    )
    assert "the prices prove 10" in faults_in_proof(cheaper, PIECES, TWO_A_METRE)[0]


def test_negative_prices_are_refused():
    for field in ("piece_prices", "line_prices"):
        wrong = with_leaf(proved_plan(), lambda leaf, field=field: replace(leaf, **{field: (-1,)}))
        assert "below nothing" in faults_in_proof(wrong, PIECES, TWO_A_METRE)[0]


def test_a_price_for_a_spool_that_is_never_short_is_refused():
    wrong = with_leaf(proved_plan(), lambda leaf: replace(leaf, line_prices=(1,)))
    assert "and is not" in faults_in_proof(wrong, PIECES, TWO_A_METRE)[0]


def test_what_was_tried_is_tried_again():
    plan = cut(PIECES, TWO_A_METRE)
    assert plan.groups[0].certificates[0].tried
    assert check_proof(plan, PIECES, TWO_A_METRE)[0].checked
    claimed = replace(plan, groups=(replace(plan.groups[0], least_cost=Decimal(21), cost=Decimal(21)),))
    assert "20, not 21" in faults_in_proof(claimed, PIECES, TWO_A_METRE)[0]
    # a cheaper remnant in the stock file: by hand, two pieces from it, and one spool for the others
    assert "10, not 20" in faults_in_proof(plan, PIECES, shop([1000], spools=[(1000, "10", None)]))[0]


def test_no_case_may_be_left_out():
    """At most 1 spool; at least 3 spools: a plan with 2 is in neither case."""

    def gap(certificate: Certificate) -> Certificate:
        (leaf,) = certificate.leaves
        low = replace(leaf, limits=(CountLimit((0,), False, 1),), limit_prices=(0,))
        high = replace(leaf, limits=(CountLimit((0,), True, 3),), limit_prices=(0,))
        return replace(certificate, leaves=(low, high))

    def one_side(certificate: Certificate) -> Certificate:
        return replace(certificate, leaves=gap(certificate).leaves[:1])

    def whole(certificate: Certificate) -> Certificate:
        low, high = gap(certificate).leaves
        return replace(certificate, leaves=(low, replace(high, limits=(CountLimit((0,), True, 2),))))

    for change in (gap, one_side, lambda c: replace(c, leaves=())):
        assert "leave something out" in faults_in_proof(with_certificate(proved_plan(), change), PIECES, TWO_A_METRE)[0]
    assert faults_in_proof(with_certificate(proved_plan(), whole), PIECES, TWO_A_METRE) == []


def test_another_stock_or_other_pieces_are_refused():
    plan = proved_plan()
    cheaper = shop(spools=[(1000, "9", None)])
    assert "yields more than it costs" in faults_in_proof(plan, PIECES, cheaper)[0]
    another = shop([700], spools=[(1000, "10", None)])
    assert "yields more than it costs" in faults_in_proof(plan, PIECES, another)[0]
    assert "pieces asked for" in faults_in_proof(plan, PIECES[:3], TWO_A_METRE)[0]
    assert "other pieces" in faults_in_proof(plan, pieces_of(500, 500, 500, 501), TWO_A_METRE)[0]


def test_a_group_without_proof_is_told():
    plan = replace(proved_plan(), groups=())
    assert "no group" in faults_in_proof(plan, PIECES, TWO_A_METRE)[0]


def test_word_of_a_search_is_no_check():
    plan = proved_plan()
    group = replace(plan.groups[0], certificates=tuple(replace(c, searched=True) for c in plan.groups[0].certificates))
    (proof,) = check_proof(replace(plan, groups=(group,)), PIECES, TWO_A_METRE)
    assert proof.word
    assert not proof.checked


def test_every_choice_of_price_breaks_needs_a_proof():
    cable = CableStock("50 mm2", "red", (), (Spool("S", M, Decimal(10), None, ((5, Decimal(7)),)),))
    stock = Stock("kr", (FIFTY,), (cable,))
    pieces = pieces_of(900, 900, 900, 900)
    plan = cut(pieces, stock)
    assert faults_in_proof(plan, pieces, stock) == []
    one = replace(plan.groups[0], certificates=plan.groups[0].certificates[:1])
    assert "price breaks" in faults_in_proof(replace(plan, groups=(one,)), pieces, stock)[0]


def test_bound_raised_to_the_next_sum_of_prices():
    """By hand: 3 pieces of 400 on spools of 1000 at 7: two fit, 1.5 spools are 10.5, and the sums are 7, 14."""
    pieces = pieces_of(400, 400, 400)
    stock = shop(spools=[(1000, "7", None)])
    plan = cut(pieces, stock)
    (proof,) = check_proof(plan, pieces, stock)
    assert (proof.least, proof.checked) == (14, True)


def test_larger_conductors_count_in_the_proof():
    cables = (
        CableStock("50 mm2", "red", (), (Spool("ten", 10 * M, Decimal(100)),)),
        CableStock("70 mm2", "red", (Remnant("end", 2 * M),), ()),
    )
    pieces = pieces_of(1500)
    plain = Stock("kr", (FIFTY, SEVENTY), cables)
    allowed = Stock("kr", (FIFTY, SEVENTY), cables, rules=CuttingRules(larger_conductor_allowed=True))
    assert check_proof(cut(pieces, allowed), pieces, allowed)[0].faults == ()
    # Proved best without the larger conductor; with it allowed, that proof is worth nothing.
    assert faults_in_proof(cut(pieces, plain), pieces, allowed) != []


def test_kept_rests_and_lengths_by_the_foot():
    """The van of test_spool_cuts: 61.065 by hand, with a rest that is kept."""
    foot = (ByLength("by the foot", 304_800, Decimal("7.2")),)
    black = CableStock(
        "50 mm2", "black", (Remnant("R", 2992 * MM),), (Spool("50 ft", 15_240 * MM, Decimal("324.95")),), foot
    )
    rules = CuttingRules(kerf_um=3 * MM, keep_above_um=600 * MM, kept_value_per_m=Decimal(15))
    stock = Stock("kr", (FIFTY,), (black,), rules=rules)
    pieces = pieces_of(2260, 1495, 1495, colour="black")
    plan = cut(pieces, stock)
    assert plan.cost == Decimal("61.065")
    assert faults_in_proof(plan, pieces, stock) == []


@pytest.mark.parametrize("number", [1, 2])
def test_buying_to_keep_without_end_is_no_proof(number):
    """A foot at 1 that is worth 2 when kept: every plan can be bettered by buying more."""
    rules = CuttingRules(keep_above_um=100 * MM, kept_value_per_m=Decimal(2))
    stock = shop(by_length=(1000, "1"), rules=rules)
    pieces = [Piece(f"P{i}", "50 mm2", "red", 900 * MM) for i in range(number)]
    assert "no end" in faults_in_proof(cut(pieces, stock), pieces, stock)[0]


def test_long_lengths_are_bounded_as_a_whole():
    """40 pieces of 5 m by the metre at 3: 200 m. By hand: 40 x 5 m without kerf are 200 m exactly, 600."""
    stock = shop(by_length=(1000, "3"))
    pieces = pieces_of(*[5000] * 40)
    plan = cut(pieces, stock)
    assert plan.groups[0].certificates[0].beyond
    (proof,) = check_proof(plan, pieces, stock)
    assert (plan.cost, proof.least, proof.checked) == (600, 600, True)
    dearer = with_leaf(plan, lambda leaf: replace(leaf, piece_prices=tuple(p + 10**4 for p in leaf.piece_prices)))
    assert faults_in_proof(dearer, pieces, stock) != []
    # without the word on long lengths every length is looked at, and the same prices hold
    assert faults_in_proof(with_certificate(plan, lambda c: replace(c, beyond=())), pieces, stock) == []


@QUICK
@given(lengths, small_shops)
def test_every_claim_of_the_solver_is_accepted_or_owned_to_be_a_search(sizes, stock):
    pieces = pieces_of(*(100 * n for n in sizes))
    plan = cut(pieces, stock)
    for proof in check_proof(plan, pieces, stock):
        assert proof.faults == ()
        assert proof.least <= plan.cost
