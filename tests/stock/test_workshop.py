"""Pooling, cutting the rest anew, and the stock of the day after: laws that hold for every shop."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutlist.bank.stock import CuttingRules
from cutlist.stock.cut_list import CutList, JobPieces, make_cut_list
from cutlist.stock.list_check import faults_in_list
from cutlist.stock.pooling import pool
from cutlist.stock.recut import Miscut, Short, recut
from cutlist.stock.stock_after import on_hand_differences, rest_labels, stock_after
from tests.stock.shop import MM, pieces_of, shop

RULES = CuttingRules(kerf_um=3 * MM, end_trim_um=20 * MM, keep_above_um=800 * MM, kept_value_per_m=Decimal(2))


def one_reel(*lengths_mm: int, remnants_mm: tuple[int, ...] = ()) -> CutList:
    stock = shop(remnants_mm, spools=[(10_000, "100", None)], by_length=(1000, "12"), rules=RULES)
    return make_cut_list("shed", "mm", [JobPieces("shed", tuple(pieces_of(*lengths_mm)))], stock)


lengths = st.lists(st.integers(100, 3000), min_size=1, max_size=5)


few = st.lists(st.integers(100, 3000), min_size=1, max_size=3)


@settings(max_examples=12, deadline=None)
@given(few, few, st.lists(st.integers(300, 6000), max_size=2))
def test_pooled_never_costs_more(first: list[int], second: list[int], remnants: list[int]) -> None:
    """Whatever is cut one after the other can be cut so together: cuts of a kept rest only lose another end trim."""
    stock = shop(remnants, spools=[(10_000, "100", None)], by_length=(1000, "12"), rules=RULES)
    jobs = [JobPieces("a", tuple(pieces_of(*first))), JobPieces("b", tuple(pieces_of(*second)))]
    pooled = pool("both", "mm", jobs, stock)
    assert pooled.saved is not None
    assert not pooled.proved or pooled.saved >= 0
    assert faults_in_list(pooled.together) == []


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_what_is_cut_stays(data: st.DataObject) -> None:
    """A plan for the rest never cuts a done piece again, whatever was cut, miscut or short."""
    cuts = one_reel(*data.draw(lengths), remnants_mm=tuple(data.draw(st.lists(st.integers(300, 4000), max_size=2))))
    names = [p.name for p in cuts.pieces]
    done = data.draw(st.lists(st.sampled_from(names), unique=True))
    miscuts = [
        Miscut(p.name, p.length_um - 10 * MM) for p in cuts.pieces if p.name not in done and data.draw(st.booleans())
    ]
    found = recut(cuts, done, miscuts)
    before = {c.piece: (s.label, s.copy) for s in cuts.cut_plan.spools for c in s.cuts}
    after: dict[str, list[tuple[str, int]]] = {}
    for spool in found.cuts.cut_plan.spools:
        for c in spool.cuts:
            after.setdefault(c.piece, []).append((spool.label, spool.copy))
    assert all(after[name] == [before[name]] for name in done)
    assert all(len(after[name]) == 1 for name in names)
    assert faults_in_list(found.cuts) == []
    if not miscuts:
        assert found.extra == 0  # nothing went wrong: nothing is to be paid


def test_a_miscut_serves_as_a_shorter_piece() -> None:
    """By hand. Reel of 10 m, trim 20, kerf 3: 4000 + 3000 + 1500 leave 9980 - 8500 - 9 = 1471, kept.

    The first comes out at 3500 instead of 4000. From it the 3000 is cut (497 left: scrap). On the reel there are
    9980 - 3500 - 3 = 6477; 4000 and 1500 take 5506: 971, kept. Nothing to buy; kept is 500 mm less: 1.00 less worth.
    """
    cuts = one_reel(4000, 3000, 1500)
    assert cuts.cut_plan.spools[0].remains_um == 1471 * MM
    found = recut(cuts, [], [Miscut("P1", 3500 * MM)])
    reel, scrap = found.cuts.cut_plan.spools
    assert [(c.piece, c.length_um // MM) for c in reel.cuts] == [("miscut of P1", 3500), ("P1", 4000), ("P3", 1500)]
    assert (reel.remains_um, reel.kept, scrap.label) == (971 * MM, True, "miscut of P1")
    assert [(c.piece, c.remaining_um // MM) for c in scrap.cuts] == [("P2", 497)]
    assert (found.extra_spent, found.extra, found.extra_um) == (0, Decimal("1.00"), 0)


def test_a_short_spool_costs_what_has_to_be_bought() -> None:
    """By hand. After the 4000 there should be 9980 - 4003 = 5977 on the reel; 3400 are there.

    The 3000 still fits (397 left); the 1500 needs 1520 with the trim: 2 m for 24, of which 477 are scrap. Before, 1471
    were kept, worth 2.942; now nothing is: the extra is 26.942.
    """
    found = recut(one_reel(4000, 3000, 1500), ["P1"], shorts=[Short("spool 1", 3400 * MM)])
    reel, more = found.cuts.cut_plan.spools
    assert (reel.length_um, [c.piece for c in reel.cuts]) == ((10_000 - 2577) * MM, ["P1", "P2"])
    assert (more.kind, more.length_um, [c.piece for c in more.cuts]) == ("by length", 2000 * MM, ["P3"])
    assert (found.extra_spent, found.extra) == (24, Decimal("26.942"))
    assert [line.price for line in found.to_buy.lines] == [24]


@pytest.mark.parametrize(
    ("done", "miscuts", "shorts", "told"),
    [
        (["P9"], [], [], 'no piece "P9"'),
        (["P1"], [Miscut("P1", 3000 * MM)], [], "as cut and as miscut"),
        ([], [Miscut("P1", 4000 * MM)], [], "at the length it should have"),
        ([], [Miscut("P1", 12_000 * MM)], [], "not as long as what is told"),
        ([], [], [Short("R7", 1)], 'no spool "R7"'),
        ([], [], [Short("spool 1", 11_000 * MM)], "more on it than planned"),
    ],
)
def test_what_cannot_have_happened(done: list[str], miscuts: list[Miscut], shorts: list[Short], told: str) -> None:
    with pytest.raises(ValueError, match=told):
        recut(one_reel(4000, 3000, 1500), done, miscuts, shorts)


def test_a_second_miscut_goes_on_from_the_first() -> None:
    once = recut(one_reel(4000, 3000, 1500), [], [Miscut("P1", 3500 * MM)]).cuts
    twice = recut(once, ["P1"], [Miscut("P2", 2000 * MM)]).cuts
    assert twice.miscut == ("miscut of P1", "miscut of P2")
    assert faults_in_list(twice) == []
    again = recut(once, ["P1"], [Miscut("P2", 2000 * MM)]).cuts
    assert again == twice


def test_the_check_finds_a_piece_cut_twice_and_a_long_spool() -> None:
    cuts = one_reel(4000, 3000, 1500)
    spool = cuts.cut_plan.spools[0]
    twice = replace(spool, copy=2, cuts=spool.cuts)
    wrong = replace(cuts, cut_plan=replace(cuts.cut_plan, spools=(spool, twice)))
    assert any("cut 2 times" in fault for fault in faults_in_list(wrong))
    longer = replace(cuts, cut_plan=replace(cuts.cut_plan, spools=(replace(spool, length_um=spool.length_um + MM),)))
    assert any("is 10000000 um long, not 10001000 um" in fault for fault in faults_in_list(longer))


def test_the_day_after() -> None:
    """R1 (5 m) yields 4000: 5000 - 20 - 4003 = 977 stay under its label; R2 (1 m) yields 979: nothing."""
    cuts = one_reel(4000, 979, remnants_mm=(5000, 1000))
    after = stock_after(cuts.cut_plan, cuts.stock, cuts.order)
    assert [(r.label, r.length_um // MM, r.book_value) for r in after.cables[0].remnants] == [
        ("R1", 977, Decimal("1.954"))
    ]
    assert list(rest_labels(cuts.cut_plan, cuts.stock).values()) == ["R1"]
    told = on_hand_differences(cuts.stock, after)
    assert told == [
        'remnant of 50 mm2 red "R1": 5 m in the plan, 0.977 m in the stock file',
        'remnant of 50 mm2 red "R2": 1 m in the plan, not there in the stock file',
    ]
    assert on_hand_differences(cuts.stock, cuts.stock) == []
