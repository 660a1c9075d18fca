"""Sharing: causes one by one, how equal is enough, and the chance of leaving the band."""

import itertools
import math
import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutlist.electrics.bank_solution import solve_bank
from cutlist.electrics.sharing import (
    Spread,
    chance_outside,
    contributions,
    length_tolerance,
    unevenness,
    usual_spread,
    wilson_interval,
)
from cutlist.electrics.string_model import departures, sharing_of, string_currents, string_model
from tests.electrics.banks import bank, battery_type, cables_of, conductor, fuse, with_shunt

CU50 = conductor("50 mm2")


def model_of(job, cables=None, **solve):
    solution = solve_bank(job, cables or cables_of(job, CU50), **solve)
    return string_model(job, solution), solution


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.floats(0.3, 6.0), min_size=4, max_size=4),
    st.sampled_from([(0.0, 0.0), (0.02, 0.003)]),
    st.integers(0, 4),
    st.integers(0, 4),
)
def test_the_reduced_model_shares_as_the_full_network(lead_m, bar, plus, minus):
    job = with_shunt(bank(4, 2, bar=bar))
    lengths = {f"S{k + 1} positive": metres for k, metres in enumerate(lead_m)}
    cables = cables_of(job, CU50, lead_m=lengths, tap=(plus, minus))
    model, solution = model_of(job, cables)
    assert string_currents(model)[0] == pytest.approx(list(solution.string_currents_a.values()), rel=1e-7)


def test_fuses_and_outages_are_in_the_model():
    job = bank(3, 2, policy=replace(bank().policy, string_fuse="at battery"))
    fuses = {s.name: fuse(100 + 50 * i) for i, s in enumerate(job.strings)}
    model, solution = model_of(job, fuses=fuses, out=("S2",))
    assert model.strings == ("S1", "S3")
    wanted = [solution.string_currents_a["S1"], solution.string_currents_a["S3"]]
    assert string_currents(model)[0] == pytest.approx(wanted, rel=1e-7)


def test_two_unequal_strings_by_hand():
    """R of 5.544 and 7.088 milliohm (see test_bank): I1 / I2 = 7.088 / 5.544 = 1.27850, all of it lead length."""
    job = bank(2, 1)
    model, _ = model_of(job, cables_of(job, CU50, lead_m={"S2 positive": 6.0}), joint_ohm=0.0, conductor_c=20.0)
    by_cause = {c.cause: c for c in contributions(model)}
    assert unevenness(model) == pytest.approx(7.088 / 5.544 - 1)
    assert by_cause["lead length"].alone == pytest.approx(7.088 / 5.544 - 1)
    assert by_cause["lead length"].without == pytest.approx(0, abs=1e-12)
    assert by_cause["lead length"].spread_ohm == pytest.approx(1.544e-3)
    assert by_cause["jumpers"].alone == pytest.approx(0, abs=1e-12)
    assert contributions(model)[0].cause == "lead length"


def test_every_cause_is_seen_where_it_is_the_only_one():
    job = bank(3, 2, bar=(0.02, 0.003))
    level = cables_of(job, CU50)

    def changed(name, **changes):
        return [replace(c, **changes) if c.name == name else c for c in level]

    from cutlist.electrics.ampacity import Segment

    cases = {
        "jumpers": {"cables": changed("S2 jumper 1", length_m=2.6)},
        "lead length": {"cables": changed("S2 negative", length_m=3.0)},
        "temperature": {"cables": changed("S2 negative", segments=(Segment(1, 80),))},
        "battery resistance": {"resistance_ohm": {"S2B1": 0.006}},
        "battery EMF": {"emf_v": {"S2B2": 12.9}},
    }
    for cause, solve in cases.items():
        model, _ = model_of(job, **solve)
        assert contributions(model)[0].cause == cause
    # With nothing else the bars are what is left.
    model, _ = model_of(job)
    assert contributions(model)[0].cause == "bus bars and tap"


def test_ten_millimetres_and_one_bad_crimp_by_hand():
    """Four strings, battery 1 milliohm, leads 2 x 2.4 m of 50 mm2 at 20 °C: R = 1 + 4.8 x 0.386 = 2.8528 milliohm.
    10 mm is 3.86 microohm: largest over smallest moves by 3.86e-3 / 2.8528 = 0.135 %. One milliohm more in one string
    gives 3.8528 / 2.8528 = 1.351: a crimp outweighs metres of care."""
    job = bank(4, 1, battery=battery_type(resistance_ohm=0.001))

    def ratio(**lead_m):
        lengths = {f"{s.name} {p}": 2.4 for s in job.strings for p in ("positive", "negative")}
        lengths |= {name.replace("_", " "): metres for name, metres in lead_m.items()}
        model, _ = model_of(job, cables_of(job, CU50, lead_m=lengths), joint_ohm=0.0, conductor_c=20.0)
        return 1 + unevenness(model)

    assert ratio(S1_positive=2.41) - 1 == pytest.approx(3.86e-6 / 2.8528e-3, rel=1e-6)
    assert ratio(S1_positive=2.4 + 1 / 0.386) == pytest.approx(3.8528 / 2.8528)


def test_tolerance_by_hand():
    """Two strings of 5.544 milliohm, leads 0.386 milliohm a metre. With one string's two leads short by t and the
    other's long by t, R = 5.544 -+ 0.772 t and the departure is exactly 0.772 t / 5.544: 5 % at t = 359.07 mm."""
    model, _ = model_of(bank(2, 1), joint_ohm=0.0, conductor_c=20.0)
    found = length_tolerance(model, 0.05)
    assert found.length_m == pytest.approx(0.05 * 5.544 / 0.772, rel=1e-9)


def test_tolerance_is_the_edge():
    """Of all 256 ways to err by that much on eight leads, none leaves the band; a thousandth more and one does."""
    job = bank(4, 2, bar=(0.025, 0.006))
    model, _ = model_of(job)
    found = length_tolerance(model, 0.03)
    signs = np.array(list(itertools.product([-1.0, 1.0], repeat=8))).reshape(-1, 4, 2)  # every bank of the kind

    def worst(error_m):
        ohm = model.resistance_ohm + (signs * error_m * model.lead_ohm_per_m).sum(axis=2)
        return np.abs(departures(model, string_currents(model, resistance_ohm=ohm))).max()

    assert worst(found.length_m) <= 0.03 + 1e-9
    assert worst(found.length_m * 1.001) > 0.03


def test_no_tolerance_where_the_share_is_not_kept_anyway():
    job = bank(2, 1)
    model, _ = model_of(job, cables_of(job, CU50, lead_m={"S2 positive": 6.0}))
    assert length_tolerance(model, 0.05).length_m == 0.0


def test_lower_battery_resistance_asks_for_more_care():
    """The more a battery holds back by itself, the less its leads matter."""
    tolerances = [
        length_tolerance(model_of(bank(4, 1, battery=battery_type(resistance_ohm=r)))[0], 0.02).length_m
        for r in (0.003, 0.006, 0.012)
    ]
    assert tolerances == sorted(tolerances)
    assert tolerances[-1] > 2 * tolerances[0]


def test_chance_against_a_normal_law():
    """Two strings, R alike but for batteries of 10 % spread: the departure is (d2 - d1) / (2 R) to first order, d a
    normal of 0.4 milliohm: standard deviation 0.4 sqrt(2) / (2 x 5.544) = 5.102 %. Beyond 5 %: 32.7 % of banks."""
    model, _ = model_of(bank(2, 1), joint_ohm=0.0, conductor_c=20.0)
    found = chance_outside(model, Spread(battery_resistance=0.1), 0.05, samples=40_000)
    sd = 0.4 * math.sqrt(2) / (2 * 5.544)
    wanted = math.erfc(0.05 / sd / math.sqrt(2))
    assert found.chance == pytest.approx(wanted, abs=0.012)
    assert found.low < found.chance < found.high
    assert found.median_departure == pytest.approx(0.6745 * sd, rel=0.03)


def test_chance_is_the_same_for_the_same_seed_and_near_for_another():
    job = bank(4, 2, bar=(0.025, 0.006), battery=battery_type(resistance_spread=0.05))
    model, _ = model_of(job)
    spread = usual_spread(job)
    first = chance_outside(model, spread, 0.03)
    assert chance_outside(model, spread, 0.03) == first
    other = chance_outside(model, spread, 0.03, seed=2)
    assert other != first
    assert other.chance == pytest.approx(first.chance, abs=0.03)


def test_no_spread_is_no_chance():
    model, _ = model_of(bank(3, 1))
    found = chance_outside(model, Spread(), 0.01, samples=1000)
    assert (found.chance, found.median_departure) == (0.0, pytest.approx(0, abs=1e-9))


def test_each_source_of_scatter_counts():
    model, _ = model_of(bank(3, 2))
    base = Spread()
    for spread in (
        Spread(battery_resistance=0.05),
        Spread(battery_emf_v=0.01),
        Spread(length_m=0.1),
        Spread(joint_low_ohm=20e-6, joint_high_ohm=100e-6),
    ):
        still = chance_outside(model, base, 0.01, samples=500).median_departure
        assert chance_outside(model, spread, 0.01, samples=500).median_departure > still + 1e-4


def test_ten_thousand_banks_of_four_strings_in_under_a_second():
    model, _ = model_of(bank(4, 2, bar=(0.025, 0.006)))
    start = time.perf_counter()
    chance_outside(model, Spread(0.05, 0.01, 0.005, 20e-6, 100e-6), 0.05)
    assert time.perf_counter() - start < 2.0  # under 0.2 s on a quiet core


def test_sharing_in_each_state():
    """Charge, discharge and surge divide alike where EMFs are alike and temperatures are."""
    job = bank(3, 1)
    charger = replace(job.loads[0], name="charger", charger=True, continuous_a=60.0, surge=None)
    job = replace(job, loads=(*job.loads, charger), feeders=(
        *job.feeders,
        replace(job.feeders[0], name="charge positive", finish=("load positive", "charger")),
        replace(job.feeders[1], name="charge negative", finish=("load negative", "charger")),
    ))  # fmt: skip
    cables = cables_of(job, CU50, lead_m={"S3 positive": 4.0})
    found = [sharing_of(solve_bank(job, cables, state=s, conductor_c=40.0)) for s in ("continuous", "surge", "charge")]
    assert [f.worst_string for f in found] == ["S3"] * 3
    ratios = [f.largest_over_smallest for f in found]
    assert ratios == pytest.approx([ratios[0]] * 3)
    assert found[0].worst_departure < 0
    assert sharing_of(solve_bank(bank(1, 1), cables_of(bank(1, 1), CU50))) is None


def test_wilson_interval():
    """Wilson 1927 for 10 in 100: 0.0552 to 0.1744."""
    assert wilson_interval(10, 100) == pytest.approx((0.0552, 0.1744), abs=5e-5)
