"""Sizing: the quick arrays against the full solution, least cost, and every reason to refuse a conductor."""

import itertools
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutlist.bank.bus_bars import Surge
from cutlist.bank.job import Limits
from cutlist.bank.stock import Remnant
from cutlist.electrics.ampacity import Segment
from cutlist.electrics.bank_solution import bank_findings, solve_states
from cutlist.electrics.costs import amounts_of, cost_of_cables, estimated_cost
from cutlist.electrics.sizing import (
    Combination,
    combination_meets,
    prepare,
    size,
    with_conductors,
    worst_drop_v,
)
from tests.electrics.banks import bank, cables_of, conductor, fuse, stock, with_shunt

SIZES = {name: conductor(name) for name in ("25 mm2", "35 mm2", "50 mm2", "70 mm2")}
CU50 = SIZES["50 mm2"]


def all_of(name, count=1):
    return Combination(SIZES[name], SIZES[name], SIZES[name], count, count, count)


def exact_worst_drop_v(job, cables):
    return max(s.worst_drop.total_v for s in solve_states(job, cables) if s.state == "continuous")


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.sampled_from(sorted(SIZES)), min_size=3, max_size=3),
    st.lists(st.floats(0.4, 5.0), min_size=3, max_size=3),
    st.sampled_from([(0.0, 0.0), (0.025, 0.006)]),
    st.sampled_from([1, 2]),
)
def test_quick_arrays_agree_with_the_full_solution(sizes, lead_m, bar, count):
    job = bank(3, 2, bar=bar, ambient_c=30.0)
    lengths = {f"S{k + 1} positive": metres for k, metres in enumerate(lead_m)}
    cables = [
        replace(c, segments=(Segment(1, 30), Segment(2, 50))) if c.name == "S2 positive" else c
        for c in cables_of(job, CU50, lead_m=lengths)
    ]
    combination = Combination(*(SIZES[name] for name in sizes), count, 1, count)
    quick = worst_drop_v(prepare(job, cables), combination)
    exact = exact_worst_drop_v(job, with_conductors(cables, combination))
    assert quick == pytest.approx([exact], rel=1e-5)


def test_lengths_as_arrays_agree_with_one_at_a_time():
    job = with_shunt(bank(3, 2))
    cables = cables_of(job, CU50)
    prepared = prepare(job, cables)
    lead_m = np.array([0.5, 1.5, 4.0])
    shunt_m = np.array([0.2, 3.0, 0.7])
    quick = worst_drop_v(prepared, all_of("35 mm2"), lead_m=lead_m, feeder_m={"bar to shunt": shunt_m})
    for i in range(3):
        laid = [
            replace(c, length_m=lead_m[i])
            if c.kind == "lead"
            else (replace(c, length_m=shunt_m[i]) if c.name == "bar to shunt" else c)
            for c in with_conductors(cables, all_of("35 mm2"))
        ]
        assert quick[i] == pytest.approx(exact_worst_drop_v(job, laid), rel=1e-5)
    assert list(np.argsort(worst_drop_v(prepared, all_of("35 mm2"), lead_m=lead_m))) == [0, 1, 2]


def test_an_in_line_fuse_keeps_its_first_cut():
    """Lead of 3 m with its fuse at 0.2 m: the second cut is 2.8 m, so the drop is that of 3 m uncut, but for joints."""
    job = bank(2, 1, policy=replace(bank().policy, string_fuse="in line"))
    cables = []
    for cable in cables_of(job, CU50):
        if cable.kind == "lead" and cable.pole == "positive":
            near, far = ("fuse battery side", cable.string), ("fuse bar side", cable.string)
            cables.append(replace(cable, name=f"{cable.name} to fuse", finish=near, length_m=0.2))
            cables.append(replace(cable, name=f"{cable.name} from fuse", start=far, length_m=1.8))
        else:
            cables.append(cable)
    whole = bank(2, 1)
    split_v = worst_drop_v(prepare(job, cables, joint_ohm=1e-12), all_of("50 mm2"), lead_m=3.0)
    whole_v = worst_drop_v(prepare(whole, cables_of(whole, CU50), joint_ohm=1e-12), all_of("50 mm2"), lead_m=3.0)
    assert split_v == pytest.approx(whole_v, rel=1e-6)


def brute_force_cheapest(job, store, cables):
    """Every combination by the full solution and its findings, cheapest that passes."""
    best = None
    for lead, jumper, feeder in itertools.product(store.conductors, repeat=3):
        combination = Combination(lead, jumper, feeder)
        cost = estimated_cost(store, amounts_of(job, cables), combination)
        laid = with_conductors(cables, combination)
        findings = bank_findings(job, laid, solve_states(job, laid))
        limits = ("voltage drop", "voltage drop, one string out", "voltage drop in a surge", "ampacity")
        limits += ("conductor temperature", "conductor temperature in a surge")
        if all(f.status == "pass" for f in findings if f.rule in limits) and (best is None or cost < best):
            best = cost
    return best


@pytest.mark.parametrize(
    ("load_a", "drop", "surge_drop", "lead_m"),
    [(100, 0.03, None, 2.0), (150, 0.02, None, 2.5), (200, 0.035, 0.06, 3.0), (60, 0.01, 0.015, 4.0)],
)
def test_the_choice_is_the_cheapest_that_passes_every_limit(load_a, drop, surge_drop, lead_m):
    job = bank(3, 2, load_a=load_a, limits=Limits(drop=drop, surge_drop=surge_drop), surge=Surge(2.0 * load_a, 20))
    store = stock(("25 mm2", "35 mm2", "50 mm2"))
    cables = cables_of(job, CU50, lead_m=lead_m)
    found = size(job, store, cables)
    best = brute_force_cheapest(job, store, cables)
    assert (found.chosen and found.chosen.cost) == best
    if found.chosen:
        laid = with_conductors(cables, found.chosen.combination)
        assert not [f for f in bank_findings(job, laid, solve_states(job, laid)) if f.status == "fail"]


def test_what_is_on_hand_is_cheaper_by_hand():
    """Leads 4 x 2 m, jumpers 2 x 0.3, feeders 2 x 1: red 4 + 0.6 + 1 = 5.6 m, black 5 m at 10 a metre for 50 mm2:
    106. Lugs: M8 on four lead ends and four jumper ends, M10 on four lead ends and four feeder ends: 16 x 1.
    With 3 m of red left over: 30 less."""
    job = bank(2, 2)
    amounts = amounts_of(job, cables_of(job, CU50))
    store = stock()
    assert estimated_cost(store, amounts, all_of("50 mm2")) == Decimal(122)
    assert cost_of_cables(job, store, cables_of(job, CU50)) == Decimal(122)
    held = tuple(
        replace(c, remnants=(Remnant("end", 3_000_000),)) if (c.conductor, c.colour) == ("50 mm2", "red") else c
        for c in store.cables
    )
    assert estimated_cost(replace(store, cables=held), amounts, all_of("50 mm2")) == Decimal(92)
    unpriced = tuple(replace(c, by_length=()) for c in store.cables)
    assert estimated_cost(replace(store, cables=unpriced), amounts, all_of("50 mm2")) is None


def test_no_prices_at_all_takes_least_copper():
    job = bank(2, 2)
    store = stock()
    bare = replace(store, cables=tuple(replace(c, by_length=()) for c in store.cables))
    with_prices = size(job, store, cables_of(job, CU50)).chosen
    without = size(job, bare, cables_of(job, CU50)).chosen
    assert without.cost is None
    assert without.combination == with_prices.combination  # prices here go with copper


def test_a_stud_without_a_lug_rules_a_conductor_out():
    job = bank(2, 2)
    store = stock()
    few = replace(store, lugs=tuple(x for x in store.lugs if x.conductor == "70 mm2" or x.stud == "M8"))
    chosen = size(job, few, cables_of(job, CU50)).chosen
    assert chosen.combination.lead.name == chosen.combination.feeder.name == "70 mm2"
    tried = size(job, few, cables_of(job, CU50)).tried
    assert any("no lug in stock for 50 mm2 on M10" in s.faults for s in tried)


def test_only_allowed_conductors_are_tried():
    policy = replace(bank().policy, conductors_lead=("70 mm2",), conductors_feeder=("50 mm2", "70 mm2"))
    job = bank(2, 2, policy=policy)
    found = size(job, stock(), cables_of(job, CU50))
    assert found.chosen.combination.lead.name == "70 mm2"
    with pytest.raises(ValueError, match=r"no conductor for leads \(the job allows 95 mm2\)"):
        size(bank(2, 2, policy=replace(policy, conductors_lead=("95 mm2",))), stock(), cables_of(job, CU50))


def test_one_string_out_asks_for_more_copper():
    """Two strings, 150 A: with one out the other carries it all, 150 A in leads that halved it before."""
    limits = Limits(drop=0.03)
    both = size(bank(2, 1, load_a=150, limits=limits), stock(), cables_of(bank(2, 1), CU50)).chosen
    calm = bank(2, 1, load_a=150, limits=limits, policy=replace(bank().policy, one_string_out=False))
    without = size(calm, stock(), cables_of(calm, CU50)).chosen
    assert without.combination.lead.area_mm2 < both.combination.lead.area_mm2


def test_pairs_are_tried_only_if_the_job_says_so():
    job = bank(1, 1, load_a=400, limits=Limits(drop=0.05))
    cables = cables_of(job, CU50, lead_m=1.0, feeder_m=0.5)
    alone = size(job, stock(), cables)
    assert alone.chosen is None
    assert "loaded to" in " ".join(alone.tried[-1].faults)
    assert alone.findings[0].status == "fail"
    paired = size(replace(job, policy=replace(job.policy, paralleled=True)), stock(), cables).chosen
    assert paired.combination.lead_count == 2


def test_a_fuse_must_fit_between_current_and_conductor():
    """Two strings, 100 A, one may be out: 100 A a string, so at least 125 A; 25 mm2 counts as 4 AWG: 160 A in 30 °C
    air, 171 A at 20 °C, 150 % of it 256 A. A stock of 400 A fuses alone fits no conductor here; 200 A fuses do."""
    policy = replace(bank().policy, string_fuse="at battery")
    job = bank(2, 1, policy=policy, limits=Limits(drop=0.1))
    cables = cables_of(job, CU50)
    assert size(job, stock(fuses=[fuse(600)]), cables).chosen is None
    found = size(job, stock(fuses=[fuse(600), fuse(200)]), cables).chosen
    assert found.combination.lead.name == "25 mm2"


def test_air_too_hot_for_a_conductor():
    job = bank(1, 1)
    hot = [replace(c, segments=(Segment(1, 120),)) if c.name == "S1 positive" else c for c in cables_of(job, CU50)]
    assert size(job, stock(), hot).chosen is None
    assert not combination_meets(prepare(job, hot), all_of("50 mm2"))[0]
    assert np.isinf(worst_drop_v(prepare(job, hot), all_of("50 mm2")))[0]


def test_a_long_surge_heats_where_a_short_one_does_not():
    job = bank(1, 1, load_a=100, surge=Surge(400.0, 5), limits=Limits(drop=0.05))
    cables = cables_of(job, CU50)
    assert combination_meets(prepare(job, cables), all_of("50 mm2"))[0]
    lasting = bank(1, 1, load_a=100, surge=Surge(400.0, 900), limits=Limits(drop=0.05))
    assert not combination_meets(prepare(lasting, cables), all_of("50 mm2"))[0]
