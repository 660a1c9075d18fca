"""Cutting problems whose least cost is published, known from how they were made, or proved here without a search."""

from __future__ import annotations

import random
from collections.abc import Sequence
from decimal import Decimal

import pytest

from cutlist.bank.stock import CuttingRules
from cutlist.stock import spool_cuts
from cutlist.stock.check import faults_in
from cutlist.stock.cut_plan import CutPlan, Piece
from cutlist.stock.proof import check_proof
from cutlist.stock.spool_cuts import cut
from tests.stock.shop import MM, pieces_of, shop


def spools_needed(length_mm: int, lengths_mm: Sequence[int]) -> CutPlan:
    """One kind of spool at 1: the cost is the number of spools."""
    pieces = pieces_of(*lengths_mm)
    stock = shop(spools=[(length_mm, "1", None)])
    plan = cut(pieces, stock, time_limit_s=60)
    assert faults_in(plan, pieces, stock) == []
    assert [fault for proof in check_proof(plan, pieces, stock) for fault in proof.faults] == []
    return plan


def test_paper_mill():
    """Rolls of 5600 mm, thirteen widths: 73 rolls, as published in the public encyclopaedia's article on the cutting
    stock problem (widths and numbers from memory, not checked). That 72 do not suffice is sure without it: the widths
    add up to 407 160 mm, and 72 rolls are 403 200 mm."""
    demand = {1380: 22, 1520: 25, 1560: 12, 1710: 14, 1820: 18, 1880: 18, 1930: 20}
    demand |= {2000: 10, 2050: 12, 2100: 14, 2140: 16, 2150: 18, 2200: 20}
    assert sum(width * n for width, n in demand.items()) == 407_160
    plan = spools_needed(5600, [width for width, n in demand.items() for _ in range(n)])
    assert (plan.cost, plan.proved) == (73, True)


def test_four_widths_from_raws_of_a_hundred():
    """V. Chvatal, Linear Programming (1983), ch. 13: 453 raws, fractions 452.25 (from memory, not checked).

    Recomputed by hand: worth 1/2 for 45, 1/2 for 36, 1/4 for 31 and 0 for 14: no way of cutting 100 is worth more than
    1 (45 + 45, 45 + 36, 36 + 36, 36 + 31 + 31 and 31 x 3 come to at most 1). 97/2 + 610/2 + 395/4 = 452.25.
    """
    plan = spools_needed(100, [45] * 97 + [36] * 610 + [31] * 395 + [14] * 211)
    assert (plan.cost, plan.proved) == (453, True)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_triplets_fill_their_spools_to_the_last_millimetre(seed):
    """Made by cutting 20 spools of 1000 into three: 20 suffice, and no fewer, because nothing is left over."""
    dice = random.Random(seed)
    lengths = []
    for _ in range(20):
        first = dice.randint(380, 490)
        second = dice.randint(250, (1000 - first) // 2 - 1)
        lengths += [first, second, 1000 - first - second]
    plan = spools_needed(1000, lengths)
    assert (plan.cost, plan.proved) == (20, True)


@pytest.mark.parametrize("seed", [1, 2])
def test_uniform_lengths_are_proved_by_prices(seed):
    """120 pieces of 20 to 100 from spools of 150: the prices of pieces prove the number, checked by a stranger."""
    dice = random.Random(seed)
    lengths = [dice.randint(20, 100) for _ in range(120)]
    plan = spools_needed(150, lengths)
    assert plan.proved
    assert plan.cost >= -(-sum(lengths) // 150)


def test_remnants_and_three_spools_with_a_kerf():
    """14 pieces of five kinds, remnants first: every case is tried, by the solver and by the checker."""
    stock = shop(
        [5329, 3692, 1638],
        [(15_240, "407", None), (30_480, "718", None), (76_200, "1529", None)],
        rules=CuttingRules(kerf_um=3 * MM),
    )
    pieces = pieces_of(*[1358] * 4, *[2417] * 3, *[3190] * 3, *[4105] * 2, *[6493] * 2)
    plan = cut(pieces, stock)
    assert check_proof(plan, pieces, stock)[0].checked
    assert faults_in(plan, pieces, stock) == []


def many_groups() -> list[Piece]:
    dice = random.Random(5)
    return [Piece(f"P{i}", "50 mm2", "red", dice.randint(300, 990) * MM) for i in range(90)]


def test_interrupted_the_best_so_far_is_handed_over(monkeypatch):
    stock = shop(spools=[(1000, "7", None), (1700, "11", None)])

    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("cutlist.stock.solve.relax", interrupted)
    with pytest.raises(KeyboardInterrupt):
        cut(many_groups(), stock)
    plan = spool_cuts.cut(many_groups(), stock, keep_on_interrupt=True)
    assert faults_in(plan, many_groups(), stock) == []
    assert plan.gap > Decimal(0)
