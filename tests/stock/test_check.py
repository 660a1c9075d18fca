"""The stranger's check finds every fault that is put into a sound plan."""

from dataclasses import replace
from decimal import Decimal

import pytest

from cutlist.bank.stock import CuttingRules
from cutlist.stock.check import faults_in
from cutlist.stock.spool_cuts import cut
from tests.stock.shop import MM, pieces_of, shop

PIECES = pieces_of(1495, 1495, 900)
STOCK = shop(
    [2993], [(5000, "40", 1)], by_length=(500, "6"), rules=CuttingRules(kerf_um=3 * MM, keep_above_um=400 * MM)
)
PLAN = cut(PIECES, STOCK)


def with_spool(**changes):
    first, *others = PLAN.spools
    return replace(PLAN, spools=(replace(first, **changes), *others))


def test_a_sound_plan_has_no_faults():
    assert faults_in(PLAN, PIECES, STOCK) == []


@pytest.mark.parametrize(
    ("plan", "words"),
    [
        (replace(PLAN, spools=PLAN.spools[1:]), "is cut 0 times"),
        (replace(PLAN, spools=(*PLAN.spools, PLAN.spools[0])), "is cut 2 times"),
        (replace(PLAN, spools=(*PLAN.spools, PLAN.spools[0])), "and there is 1"),
        (with_spool(length_um=2992 * MM), "2993000 um of cuts and kerfs on 2992000 um"),
        (with_spool(label="unheard of"), "is not in the stock file"),
        (with_spool(price=Decimal(1)), "costs 0, not 1"),
        (with_spool(remains_um=5), "5 um said to remain, not 0 um"),
        (with_spool(kept=True), "kept or scrapped against the rule"),
        (with_spool(conductor="70 mm2"), "may not be cut from 70 mm2 red"),
        (with_spool(cuts=tuple(reversed(PLAN.spools[0].cuts))), "said to remain after"),
        (with_spool(end_trim_um=1), "1 um trimmed instead of 0 um"),
        (replace(PLAN, untouched_value=Decimal(3)), "remnants left alone are worth 0, not 3"),
    ],
)
def test_a_fault_is_found(plan, words):
    assert any(words in fault for fault in faults_in(plan, PIECES, STOCK))


def test_a_bound_above_the_cost_is_found():
    (group,) = PLAN.groups
    wrong = replace(PLAN, groups=(replace(group, least_cost=group.cost + 1),))
    assert any("is above the cost" in fault for fault in faults_in(wrong, PIECES, STOCK))


def test_a_piece_of_another_length_is_found():
    asked = [replace(PIECES[0], length_um=1490 * MM), *PIECES[1:]]
    assert any("asked for 1490000 um" in fault for fault in faults_in(PLAN, asked, STOCK))
