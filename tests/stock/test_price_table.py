"""The price table against a search that tries every way of sharing pieces out, and against answers worked by hand."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutlist.bank.stock import ByLength, CableStock, CuttingRules, Remnant, Spool, Stock
from cutlist.stock.cut_plan import CannotCut, Piece
from cutlist.stock.price_table import IMPOSSIBLE, SPLIT, least_costs, measure_for
from cutlist.stock.spool_cuts import cut

MM = 1000


def every_way(cable: CableStock, rules: CuttingRules, pieces_mm: tuple[int, ...]) -> Decimal | None:
    """Least money by recursion over spools opened and pieces put into them, one at a time: slow and plain."""
    best: list[Decimal | None] = [None]

    def price_of_bought(opened: list[tuple[str, int, list[int]]]) -> Decimal | None:
        total = Decimal(0)
        for kind, index, held in opened:
            used = sum(held) + rules.kerf_um // MM * (len(held) - 1) + rules.end_trim_um // MM
            if kind == "remnant":
                length = cable.remnants[index].length_um // MM
                total += cable.remnants[index].book_value
            elif kind == "spool":
                length = cable.spools[index].length_um // MM
            else:
                offer = cable.by_length[index]
                step = offer.increment_um // MM
                number = -(-max(used, offer.least_um // MM) // step)
                length = number * step
                if offer.longest_um is not None and length > offer.longest_um // MM:
                    return None
                total += number * offer.price
            if used > length:
                return None
            remains = length - used - rules.kerf_um // MM
            if rules.keep_above_um is not None and remains > 0 and remains >= rules.keep_above_um // MM:
                total -= rules.kept_value_per_m * remains / 1000
        for index, spool in enumerate(cable.spools):
            number = sum(1 for kind, i, _ in opened if kind == "spool" and i == index)
            if spool.available is not None and number > spool.available:
                return None
            options = [number * spool.price]
            for start, price in spool.price_breaks:
                if spool.available is None or start <= spool.available:
                    options.append(max(number, start) * price)
            tier = max((s for s, _ in spool.price_breaks if s <= number), default=None)
            if tier is not None:
                options[0] = number * dict(spool.price_breaks)[tier]
            total += min(options) if number else 0
        return total

    def share(left: tuple[int, ...], opened: list[tuple[str, int, list[int]]]) -> None:
        if not left:
            cost = price_of_bought(opened)
            if cost is not None and (best[0] is None or cost < best[0]):
                best[0] = cost
            return
        piece, rest = left[0], left[1:]
        for _, _, held in opened:
            held.append(piece)
            share(rest, opened)
            held.pop()
        for index in range(len(cable.remnants)):
            if not any(kind == "remnant" and i == index for kind, i, _ in opened):
                share(rest, [*opened, ("remnant", index, [piece])])
        for index in range(len(cable.spools)):
            share(rest, [*opened, ("spool", index, [piece])])
        for index in range(len(cable.by_length)):
            share(rest, [*opened, ("length", index, [piece])])

    share(pieces_mm, [])
    return best[0]


def table_money(cable: CableStock, rules: CuttingRules, counts: tuple[int, ...], lengths_mm: tuple[int, ...]):
    measure = measure_for([cable], rules)
    cost = int(least_costs(cable, rules, measure, counts, np.array([lengths_mm]) * MM)[0])
    return None if cost >= IMPOSSIBLE else measure.money(cost)


def test_two_reels_when_a_lead_and_the_feeder_share_one():
    """By hand: reels of 2000 at 30, kerf 3. Three leads of 970 and a feeder of 925: 970 + 970 + 3 = 1943 and
    970 + 925 + 3 = 1898 fit one reel each, so two reels, 60. Leads of 1000: 1000 + 1000 + 3 = 2003 do not fit, but
    1000 + 925 + 3 = 1928 does, so three reels, 90."""
    cable = CableStock("35", "red", spools=(Spool("reel", 2000 * MM, Decimal(30)),))
    rules = CuttingRules(kerf_um=3 * MM)
    assert table_money(cable, rules, (3, 1), (970, 925)) == 60
    assert table_money(cable, rules, (3, 1), (1000, 925)) == 90
    assert table_money(cable, rules, (3, 1), (2005, 925)) is None


def test_one_length_cut_off_saves_no_kerf_but_rounds_once():
    """By hand: four leads of 875 with three kerfs of 3 are 3509 mm: 351 increments of 10 at 0.12 are 42.12."""
    cable = CableStock("35", "red", by_length=(ByLength("metre", 10 * MM, Decimal("0.12")),))
    assert table_money(cable, CuttingRules(kerf_um=3 * MM), (4,), (875,)) == Decimal("42.12")


def test_a_price_break_is_reached_by_a_spool_that_stays_whole():
    """By hand: two spools at 10 are 20, but three at 6 are 18."""
    cable = CableStock("35", "red", spools=(Spool("s", 1000 * MM, Decimal(10), price_breaks=((3, Decimal(6)),)),))
    assert table_money(cable, CuttingRules(), (2,), (800,)) == 18


def test_least_waste_counts_metres_bought():
    """By hand: two pieces of 900 with a remnant of 950 need one spool of 1000 (bought 1000, 100 wasted) rather than one
    of 2000 (200 wasted), whatever they cost."""
    spools = (Spool("long", 2000 * MM, Decimal(1)), Spool("short", 1000 * MM, Decimal(9)))
    cable = CableStock("35", "red", remnants=(Remnant("r", 950 * MM),), spools=spools)
    rules = CuttingRules(least_waste=True)
    cost = int(least_costs(cable, rules, measure_for([cable], rules), (2,), np.array([[900 * MM]]))[0])
    assert cost // SPLIT == 1000 * MM


def test_without_a_price_metres_are_counted():
    """By hand: two pieces of 900 need one spool of 2000 or two of 1000; one of 1000 and the remnant are 1000."""
    spools = (Spool("long", 2000 * MM, Decimal(1)), Spool("short", 1000 * MM, None))
    cable = CableStock("35", "red", remnants=(Remnant("r", 950 * MM),), spools=spools)
    measure = measure_for([cable], CuttingRules())
    cost = int(least_costs(cable, CuttingRules(), measure, (2,), np.array([[900 * MM]]))[0])
    assert measure.first == "metres"
    assert cost // SPLIT == 1000 * MM


def test_nothing_to_cut_costs_nothing_and_no_stock_is_impossible():
    measure = measure_for([], CuttingRules())
    assert least_costs(None, CuttingRules(), measure, (0,), np.array([[5]])).tolist() == [0]
    assert least_costs(None, CuttingRules(), measure, (1,), np.array([[5]])).tolist() == [IMPOSSIBLE]


stocks = st.builds(
    lambda remnants, spools, offers: CableStock(
        "35",
        "red",
        tuple(Remnant(f"r{i}", length * 10 * MM, Decimal(value)) for i, (length, value) in enumerate(remnants)),
        tuple(
            Spool(f"s{i}", length * 10 * MM, Decimal(price), available, breaks)
            for i, (length, price, available, breaks) in enumerate(spools)
        ),
        tuple(
            ByLength(f"b{i}", step * MM, Decimal(price) / 10, least * MM, longest and longest * 10 * MM)
            for i, (step, price, least, longest) in enumerate(offers)
        ),
    ),
    st.lists(st.tuples(st.integers(30, 300), st.sampled_from([0, 0, 3])), max_size=2),
    st.lists(
        st.tuples(
            st.integers(80, 400),
            st.integers(5, 60),
            st.sampled_from([None, None, 1, 2]),
            st.sampled_from([(), (), ((2, Decimal(4)),)]),
        ),
        max_size=2,
    ),
    st.lists(
        st.tuples(st.integers(10, 300), st.integers(1, 60), st.integers(0, 900), st.sampled_from([None, 200, 120])),
        max_size=1,
    ),
)


@settings(max_examples=150, deadline=None)
@given(
    stocks,
    st.integers(0, 3),
    st.integers(0, 1),
    st.integers(0, 1),
    st.tuples(st.integers(20, 140), st.integers(20, 140), st.integers(20, 140)),
    st.sampled_from([0, 3, 7]),
    st.sampled_from([0, 0, 25]),
    st.sampled_from([(None, 0), (None, 0), (300, 2)]),
)
def test_the_table_equals_trying_every_way(stock, leads, feeders, others, tens, kerf, trim, keep):
    """Law: the least over all ways of sharing out, whatever the stock."""
    rules = CuttingRules(kerf * MM, trim * MM, keep[0] and keep[0] * MM, Decimal(keep[1]))
    lengths = tuple(10 * t for t in tens)
    pieces = (lengths[0],) * leads + (lengths[1],) * feeders + (lengths[2],) * others
    expected = every_way(stock, rules, pieces)
    found = table_money(stock, rules, (leads, feeders, others), lengths)
    if expected is None:
        assert found is None
    else:
        assert found == pytest.approx(expected, abs=Decimal("0.005"))


@settings(max_examples=60, deadline=None)
@given(stocks, st.integers(1, 6), st.integers(0, 2), st.sampled_from([0, 3]))
def test_longer_pieces_never_cost_less(stock, leads, feeders, kerf):
    """Law: whoever can cut the longer pieces can cut the shorter ones from the same spools."""
    rules = CuttingRules(kerf * MM)
    lengths = np.array([(c, f) for c in range(200, 1500, 100) for f in range(100, 1300, 100)]) * MM
    costs = least_costs(stock, rules, measure_for([stock], rules), (leads, feeders), lengths).reshape(13, 12) // SPLIT
    assert (np.diff(costs, axis=0) >= 0).all()
    assert (np.diff(costs, axis=1) >= 0).all()


@settings(max_examples=40, deadline=None)
@given(
    stocks,
    st.integers(1, 5),
    st.integers(0, 2),
    st.tuples(st.integers(20, 140), st.integers(20, 140)),
    st.sampled_from([0, 3]),
    st.sampled_from([0, 25]),
)
def test_the_table_agrees_with_the_cutting_solver(stock, leads, feeders, tens, kerf, trim):
    """Law: two methods, one question. The table's answer lies between what the solver found and what it proved."""
    rules = CuttingRules(kerf * MM, trim * MM)
    lengths = [10 * tens[0]] * leads + [10 * tens[1]] * feeders
    pieces = [Piece(f"piece {i}", "35", "red", length * MM) for i, length in enumerate(lengths)]
    found = table_money(stock, rules, (leads, feeders), (10 * tens[0], 10 * tens[1]))
    try:
        plan = cut(pieces, Stock("", (), (stock,), rules=rules))
    except CannotCut:
        assert found is None
        return
    assert found is not None
    assert plan.least_cost is not None
    assert plan.cost is not None
    assert plan.least_cost - Decimal("0.005") <= found <= plan.cost + Decimal("0.005")


def least_left(cable: CableStock, rules: CuttingRules, pieces_mm: tuple[int, ...]) -> tuple[int, int] | None:
    """Least metres bought, then least left over in no piece and no kept rest (mm), by trying every way."""
    best: list[tuple[int, int] | None] = [None]
    kerf, trim = rules.kerf_um // MM, rules.end_trim_um // MM

    def left_by(opened: list[tuple[str, int, list[int]]]) -> tuple[int, int] | None:
        bought, over = 0, 0
        for kind, index, held in opened:
            used = sum(held) + kerf * (len(held) - 1) + trim
            if kind == "length":
                offer = cable.by_length[index]
                step = offer.increment_um // MM
                length = -(-max(used, offer.least_um // MM) // step) * step
                if offer.longest_um is not None and length > offer.longest_um // MM:
                    return None
            else:
                length = (cable.remnants if kind == "remnant" else cable.spools)[index].length_um // MM
            if used > length:
                return None
            remains = length - used - kerf
            kept = rules.keep_above_um is not None and remains > 0 and remains >= rules.keep_above_um // MM
            bought += 0 if kind == "remnant" else length
            over += length - sum(held) - (remains if kept else 0)
        for index, spool in enumerate(cable.spools):
            if spool.available is not None and [o[:2] for o in opened].count(("spool", index)) > spool.available:
                return None
        return bought, over

    def share(left: tuple[int, ...], opened: list[tuple[str, int, list[int]]]) -> None:
        if not left:
            found = left_by(opened)
            if found is not None and (best[0] is None or found < best[0]):
                best[0] = found
            return
        for _, _, held in opened:
            held.append(left[0])
            share(left[1:], opened)
            held.pop()
        fresh = [("remnant", i) for i in range(len(cable.remnants)) if ("remnant", i) not in [o[:2] for o in opened]]
        fresh += [("spool", i) for i in range(len(cable.spools))] + [("length", i) for i in range(len(cable.by_length))]
        for kind, index in fresh:
            share(left[1:], [*opened, (kind, index, [left[0]])])

    share(pieces_mm, [])
    return best[0]


@settings(max_examples=120, deadline=None)
@given(
    stocks,
    st.integers(1, 3),
    st.integers(0, 2),
    st.tuples(st.integers(20, 140), st.integers(20, 140)),
    st.sampled_from([0, 3]),
    st.sampled_from([0, 25]),
    st.sampled_from([None, 300, 500]),
)
def test_least_waste_buys_least_and_then_leaves_least_over(stock, leads, feeders, tens, kerf, trim, keep):
    """Law: of all ways of sharing out, table and cutting solver both find one that buys least and, of those, leaves
    least in no piece and no kept rest."""
    rules = CuttingRules(kerf * MM, trim * MM, keep and keep * MM, Decimal(0), least_waste=True)
    lengths = (10 * tens[0],) * leads + (10 * tens[1],) * feeders
    expected = least_left(stock, rules, lengths)
    measure = measure_for([stock], rules)
    asked = np.array([[10 * tens[0], 10 * tens[1]]]) * MM
    cost = int(least_costs(stock, rules, measure, (leads, feeders), asked)[0])
    pieces = [Piece(f"piece {i}", "35", "red", length * MM) for i, length in enumerate(lengths)]
    if expected is None:
        assert cost >= IMPOSSIBLE
        with pytest.raises(CannotCut):
            cut(pieces, Stock("", (), (stock,), rules=rules))
        return
    assert cost // SPLIT == expected[0] * MM
    assert cost % SPLIT - sum(lengths) == expected[1]
    plan = cut(pieces, Stock("", (), (stock,), rules=rules))
    assert (plan.bought_um, plan.waste_um) == (expected[0] * MM, expected[1] * MM)
