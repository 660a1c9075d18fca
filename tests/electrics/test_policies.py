"""Matching policies: hand-worked lengths, even currents where they are promised, and the cost of mixed sizes."""

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutlist.electrics.bank_solution import solve_bank
from cutlist.electrics.policies import MIXED, POLICIES, compare_policies, matched, mixed_sizes
from tests.electrics.banks import bank, battery_type, cables_of, conductor, fuse, stock

CU50 = conductor("50 mm2")
NAMES = [f"S{k} {pole}" for k in (1, 2, 3) for pole in ("positive", "negative")]
ROUTED = dict(zip(NAMES, (0.8, 1.0, 2.0, 1.5, 3.1, 2.2), strict=True))


def routed_bank(bar=(0.025, 0.006), long_jumper=0.3):
    job = bank(3, 2, bar=bar, battery=battery_type(resistance_ohm=0.002))
    cables = cables_of(job, CU50, lead_m=ROUTED)
    return job, [replace(c, length_m=long_jumper) if c.name == "S1 jumper 1" else c for c in cables]


def leads(cables):
    return {c.name: c.length_m for c in cables if c.kind == "lead"}


def test_lengths_by_hand():
    """Longest lead 3.1 m; longest negative 2.2. Loops with 0.3 m jumpers: 2.1, 3.8, 5.6: missing 3.5, 1.8, 0."""
    job, cables = routed_bank()
    assert leads(matched(job, cables, "as routed")) == ROUTED
    assert set(leads(matched(job, cables, "all leads alike")).values()) == {3.1}
    each = leads(matched(job, cables, "each pole alike"))
    assert {each[f"S{k} positive"] for k in (1, 2, 3)} == {3.1}
    assert {each[f"S{k} negative"] for k in (1, 2, 3)} == {2.2}
    loop = leads(matched(job, cables, "whole loop alike"))
    assert loop["S1 positive"] == pytest.approx(0.8 + 1.75)
    assert loop["S2 negative"] == pytest.approx(1.5 + 0.9)
    assert loop["S3 positive"] == pytest.approx(3.1)


@settings(max_examples=20, deadline=None)
@given(
    st.lists(st.floats(0.3, 4.0), min_size=6, max_size=6),
    st.floats(0.2, 3.0),
    st.sampled_from([(0.0, 0.0), (0.02, 0.003)]),
)
def test_equal_resistance_means_equal_currents(lead_m, jumper_m, bar):
    """Bars, jumpers, joints and warmth counted: every string carries a third, and no lead is shorter than its run."""
    job = bank(3, 2, bar=bar, battery=battery_type(resistance_ohm=0.002))
    lengths = dict(zip(ROUTED, lead_m, strict=True))
    cables = [
        replace(c, length_m=jumper_m) if c.name == "S2 jumper 1" else c for c in cables_of(job, CU50, lead_m=lengths)
    ]
    equal = matched(job, cables, "equal resistance")
    amps = solve_bank(job, equal).string_currents_a
    assert list(amps.values()) == pytest.approx([100 / 3] * 3, rel=1e-6)
    assert all(leads(equal)[name] >= metres - 1e-9 for name, metres in lengths.items())
    assert any(leads(equal)[name] == pytest.approx(metres, abs=1e-6) for name, metres in lengths.items())


def test_what_each_policy_costs_and_gives():
    """Copper rises from as routed over the loop and the poles to all alike; a long jumper is only seen by the two
    policies that count it."""
    job, cables = routed_bank(long_jumper=2.6)
    found = {r.policy: r for r in compare_policies(job, stock(), cables)}
    assert tuple(found) == (*POLICIES, MIXED)
    metres = [found[p].lead_m for p in ("as routed", "whole loop alike", "each pole alike", "all leads alike")]
    assert metres == sorted(metres)
    costs = [found[p].cost for p in ("as routed", "whole loop alike", "each pole alike", "all leads alike")]
    assert costs == sorted(costs)
    assert found["equal resistance"].largest_over_smallest == pytest.approx(1, abs=1e-5)
    assert found["all leads alike"].worst_string == "S1"  # its jumper is the longest
    assert found["all leads alike"].worst_departure < -0.05
    assert abs(found["whole loop alike"].worst_departure) < 0.02


def test_a_lead_in_two_cuts_keeps_its_first():
    job = bank(2, 1, policy=replace(bank().policy, string_fuse="in line"))
    cables = []
    for cable in cables_of(job, CU50, lead_m={"S1 positive": 1.0}):
        if cable.kind == "lead" and cable.pole == "positive":
            near, far = ("fuse battery side", cable.string), ("fuse bar side", cable.string)
            cables.append(replace(cable, name=f"{cable.name} to fuse", finish=near, length_m=0.15))
            cables.append(replace(cable, name=f"{cable.name} from fuse", start=far, length_m=cable.length_m - 0.15))
        else:
            cables.append(cable)
    alike = {c.name: c.length_m for c in matched(job, cables, "all leads alike")}
    assert alike["S1 positive to fuse"] == 0.15
    assert alike["S1 positive from fuse"] == pytest.approx(1.85)
    fuses = {s.name: fuse(100) for s in job.strings}
    assert len(compare_policies(job, stock(), cables, fuses=fuses)) == len(POLICIES) + 1


def test_mixed_sizes_are_the_cheapest_common_resistance():
    """Against every choice of conductor for every string: the common resistance is then the largest of r x run, and
    the cost is that of leads of just that resistance. Bars and jumpers alike, so that leads alone decide."""
    job = bank(3, 1, policy=replace(bank().policy, one_string_out=False), load_a=60)
    cables = cables_of(job, CU50, lead_m=ROUTED)
    store = stock()
    run_m = {s: ROUTED[f"{s} positive"] + ROUTED[f"{s} negative"] for s in ("S1", "S2", "S3")}
    per_m = {c.name: c.ohm_per_km_20c / 1000 for c in store.conductors}
    price = {c.name: c.area_mm2 / 5 for c in store.conductors}
    best = min(
        sum(max(per_m[c] * run_m[s] for s, c in zip(run_m, choice, strict=True)) / per_m[c] * price[c] for c in choice)
        for choice in itertools.product(per_m, repeat=3)
    )
    mixed = mixed_sizes(job, store, cables)
    cost = sum(c.length_m * price[c.conductor.name] for c in mixed if c.kind == "lead")
    assert cost == pytest.approx(best, rel=2e-3)  # warmth moves lengths a little
    assert len({c.conductor.name for c in mixed if c.kind == "lead"}) > 1
    assert list(solve_bank(job, mixed).string_currents_a.values()) == pytest.approx([20] * 3, rel=1e-6)


def test_no_mixed_sizes_without_prices():
    job, cables = routed_bank()
    bare = replace(stock(), cables=())
    assert mixed_sizes(job, bare, cables) is None
    assert [r.policy for r in compare_policies(job, bare, cables)] == list(POLICIES)
    assert all(r.cost is None for r in compare_policies(job, bare, cables))


def test_refusals():
    job, cables = routed_bank()
    with pytest.raises(ValueError, match="is not one of as routed"):
        matched(job, cables, "by eye")
    one = bank(1, 1)
    with pytest.raises(ValueError, match="one string shares with none"):
        compare_policies(one, stock(), cables_of(one, CU50))
