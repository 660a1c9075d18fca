"""The bank as a network: hand-worked cases, laws, and what is said of missing data."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutlist.electrics.ampacity import Segment
from cutlist.electrics.bank_solution import solve_bank, solve_states
from cutlist.electrics.drop import handbook_area_mm2, handbook_drop_v
from tests.electrics.banks import bank, battery_type, cables_of, conductor, fuse, with_shunt

CU50 = conductor("50 mm2")


def test_two_strings_worked_by_hand():
    """Two strings of one battery (12.8 V, 4 milliohm), leads 2 m of 50 mm2 at 20 °C, joints left out, bars without
    resistance, feeders 1 m, 100 A.
    One lead 0.386 x 2 / 1000 = 0.772 milliohm; a string 4 + 2 x 0.772 = 5.544; the two share 50 : 50.
    Feeders 2 x 0.386 = 0.772 milliohm at 100 A = 77.2 mV; leads 2 x 0.772 x 50 A = 77.2 mV; drop 154.4 mV of 12 V
    = 1.28667 %. Load voltage 12.8 - 50 x 5.544e-3 - 0.0772 = 12.4456 V."""
    job = bank(2, 1)
    solved = solve_bank(job, cables_of(job, CU50), joint_ohm=0.0, conductor_c=20.0)
    assert solved.string_currents_a == pytest.approx({"S1": 50, "S2": 50})
    assert solved.load_voltages_v["inverter"] == pytest.approx(12.4456, abs=1e-9)
    worst = solved.worst_drop
    assert worst.total_v == pytest.approx(0.1544)
    assert worst.share == pytest.approx(0.0128667, rel=1e-5)
    stages = dict(worst.stages)
    assert stages["positive leads"] == pytest.approx(0.0386)
    assert stages["negative leads"] == pytest.approx(0.0386)
    assert stages["feeders"] == pytest.approx(0.0772)
    assert stages["bus bars"] == pytest.approx(0, abs=1e-12)
    assert sum(stages.values()) == pytest.approx(worst.total_v)
    assert solved.losses_w["positive leads"] == pytest.approx(2 * 50**2 * 0.772e-3)


def test_unequal_leads_by_hand():
    """As above, but string 2 has a positive lead of 6 m: 4 + 0.772 + 2.316 = 7.088 milliohm.
    I1 / I2 = 7.088 / 5.544, so I1 = 100 x 7.088 / 12.632 = 56.1115 A."""
    job = bank(2, 1)
    cables = cables_of(job, CU50, lead_m={"S2 positive": 6.0})
    solved = solve_bank(job, cables, joint_ohm=0.0, conductor_c=20.0)
    assert solved.string_currents_a["S1"] == pytest.approx(100 * 7.088 / 12.632)
    # Both strings lose different amounts in copper; the worse is what counts: string 1 carries more, string 2 has
    # more copper: 43.8885 A x 3.088 milliohm = 135.5 mV, and 77.2 mV of feeders.
    assert solved.worst_drop.string == "S2"
    assert solved.worst_drop.total_v == pytest.approx(43.88854 * 3.088e-3 + 0.0772, rel=1e-6)


def test_jumpers_joints_and_fuses_are_counted():
    """One string of two batteries, 100 A. Jumper 0.3 m 0.1158 milliohm = 11.58 mV. Eight joints in the string's three
    cables (2 each: 6) and two feeders (4): ten of 50 microohm = 50 mV. Fuse 0.25 milliohm = 25 mV."""
    job = bank(1, 2, policy=replace(bank().policy, string_fuse="at battery"))
    solved = solve_bank(job, cables_of(job, CU50), fuses={"S1": fuse(100)}, joint_ohm=50e-6, conductor_c=20.0)
    stages = dict(solved.worst_drop.stages)
    assert stages["jumpers"] == pytest.approx(0.01158)
    assert stages["terminations"] == pytest.approx(0.05)
    assert stages["string fuses"] == pytest.approx(0.025)


@pytest.mark.parametrize("place", ["at battery", "at bus bar"])
def test_the_fuse_counts_wherever_it_sits(place):
    job = bank(2, 2, policy=replace(bank().policy, string_fuse=place))
    fuses = {"S1": fuse(100), "S2": fuse(100)}
    solved = solve_bank(job, cables_of(job, CU50), fuses=fuses, joint_ohm=0.0, conductor_c=20.0)
    assert dict(solved.worst_drop.stages)["string fuses"] == pytest.approx(50 * 0.25e-3)


def test_a_lead_cut_in_two_about_its_fuse():
    """The same metres and the same fuse in the middle: the same currents and drop as with the fuse on the battery,
    but for two more joints."""
    job = bank(2, 2, policy=replace(bank().policy, string_fuse="in line"))
    cables = []
    for cable in cables_of(job, CU50):
        if cable.kind == "lead" and cable.pole == "positive":
            near, far = ("fuse battery side", cable.string), ("fuse bar side", cable.string)
            cables.append(replace(cable, name=f"{cable.name} to fuse", finish=near, length_m=0.2))
            cables.append(replace(cable, name=f"{cable.name} from fuse", start=far, length_m=1.8))
        else:
            cables.append(cable)
    fuses = {"S1": fuse(100), "S2": fuse(100)}
    split = solve_bank(job, cables, fuses=fuses, joint_ohm=0.0, conductor_c=20.0)
    whole_job = replace(job, policy=replace(job.policy, string_fuse="at battery"))
    whole = solve_bank(whole_job, cables_of(job, CU50), fuses=fuses, joint_ohm=0.0, conductor_c=20.0)
    assert split.worst_drop.total_v == pytest.approx(whole.worst_drop.total_v)
    assert split.string_currents_a == pytest.approx(whole.string_currents_a)


def test_bars_as_ladders_by_hand():
    """Bars 20 x 3 mm copper, studs 50 mm apart: 0.017241 x 0.05 / 60 mm2 = 14.3675 microohm a pitch at 20 °C.
    One string on stud 1, feeder on stud 0, 100 A: one pitch in each bar: 2.8735 mV."""
    job = bank(1, 1, bar=(0.020, 0.003))
    solved = solve_bank(job, cables_of(job, CU50), joint_ohm=0.0, conductor_c=20.0)
    assert dict(solved.worst_drop.stages)["bus bars"] == pytest.approx(2.8735e-3, rel=1e-6)
    direct = solved.node_voltages_v[("stud", "positive bar", 1)] - solved.node_voltages_v[("stud", "positive bar", 0)]
    assert 2 * direct == pytest.approx(2.8735e-3, rel=1e-6)


def test_same_end_feed_of_a_small_bar_by_the_ladder_law():
    """n strings of R on bars of l a pitch, fed at one end: to first order the nearest string exceeds the farthest
    by n (n - 1) l / R (each pitch j carries (n - j) shares, in both bars). l small: within 3 % of that."""
    n, tiny = 5, 1e-6
    job = bank(n, 1, bar=(0.017241 * 0.05 / tiny / 3e-3 * 1e-6, 0.003), battery=battery_type(resistance_ohm=0.01))
    solved = solve_bank(job, cables_of(job, CU50, lead_m=0.0), joint_ohm=0.0, conductor_c=20.0)
    amps = list(solved.string_currents_a.values())
    assert max(amps) / min(amps) - 1 == pytest.approx(n * (n - 1) * tiny / 0.01, rel=0.03)


def test_warm_conductors_settle_where_current_and_air_put_them():
    """One string, 100 A, 50 mm2 in 30 °C air: rise 75 x (100 / 245)^2 = 12.495 K (Table 5: 1 AWG, 245 A)."""
    job = bank(1, 1, ambient_c=30.0)
    solved = solve_bank(job, cables_of(job, CU50), joint_ohm=0.0)
    lead = solved.cables["S1 positive"]
    assert lead.temperature_c == pytest.approx(30 + 75 * (100 / 245) ** 2)
    assert lead.resistance_ohm == pytest.approx(0.772e-3 * (1 + 0.00393 * (lead.temperature_c - 20)))
    assert lead.use == pytest.approx(100 / 245)


def test_a_hot_stretch_costs_the_string_its_share():
    """Half of string 2's lead lies in 60 °C air: more resistance, less current; the stretch's air is counted."""
    job = bank(2, 1, ambient_c=30.0)
    cables = [
        replace(c, segments=(Segment(1, 30), Segment(1, 60))) if c.name == "S2 positive" else c
        for c in cables_of(job, CU50)
    ]
    solved = solve_bank(job, cables, joint_ohm=0.0)
    assert solved.string_currents_a["S2"] < solved.string_currents_a["S1"]
    assert solved.cables["S2 positive"].temperature_c > solved.cables["S1 positive"].temperature_c + 29
    assert solved.cables["S2 positive"].ampacity.segment == 1


def test_a_paralleled_pair_halves_resistance_and_doubles_ampacity():
    job = bank(1, 1)
    single = solve_bank(job, cables_of(job, CU50), joint_ohm=0.0, conductor_c=20.0)
    twins = [replace(c, paralleled=2) for c in cables_of(job, CU50)]
    double = solve_bank(job, twins, joint_ohm=0.0, conductor_c=20.0)
    assert double.worst_drop.total_v == pytest.approx(single.worst_drop.total_v / 2)
    assert double.cables["S1 positive"].use == pytest.approx(single.cables["S1 positive"].use / 2)


def test_surge_warms_only_as_long_as_it_lasts():
    """200 A for 5 s against a time constant of minutes: barely warmer than at 100 A; for an hour: the full rise."""
    from cutlist.bank.bus_bars import Surge

    def surge_c(seconds):
        job = bank(1, 1, ambient_c=30.0, surge=Surge(200.0, seconds))
        return solve_bank(job, cables_of(job, CU50), state="surge").cables["S1 positive"].temperature_c

    calm = 30 + 75 * (100 / 245) ** 2
    assert calm < surge_c(5) < calm + 1
    assert surge_c(3600) == pytest.approx(30 + 75 * (200 / 245) ** 2, abs=0.1)


def test_charging_flows_the_other_way():
    """A charger of 60 A: strings take -30 A each and the drop is what the charger must add."""
    job = bank(2, 1)
    charger = replace(job.loads[0], charger=True, continuous_a=60.0, surge=None)
    job = replace(job, loads=(charger,))
    solved = solve_bank(job, cables_of(job, CU50), joint_ohm=0.0, conductor_c=20.0, state="charge")
    assert solved.string_currents_a == pytest.approx({"S1": -30, "S2": -30})
    assert solved.worst_drop.total_v == pytest.approx(60 * 0.772e-3 + 30 * 1.544e-3)
    assert all(volts >= 0 for _, volts in solved.worst_drop.stages)
    assert solved.load_voltages_v["inverter"] > 12.8


def test_a_shunt_is_in_the_way():
    job = with_shunt(bank(2, 1))
    solved = solve_bank(job, cables_of(job, CU50), joint_ohm=0.0, conductor_c=20.0)
    stages = dict(solved.worst_drop.stages)
    assert stages["devices"] == pytest.approx(100 * 0.0001)
    assert stages["feeders"] == pytest.approx(3 * 0.0386)
    unknown = solve_bank(with_shunt(bank(2, 1), None), cables_of(job, CU50))
    assert ("shunt", "unknown") in {(f.item, f.status) for f in unknown.findings}


def test_an_isolated_string_carries_nothing():
    job = bank(3, 2)
    solved = solve_bank(job, cables_of(job, CU50), out=("S2",))
    assert solved.string_currents_a["S2"] == pytest.approx(0, abs=1e-12)
    assert solved.string_currents_a["S1"] == pytest.approx(50)
    assert {d.string for d in solved.drops} == {"S1", "S3"}


def test_every_state_with_every_outage():
    job = bank(3, 1)
    seen = [(s.state, s.out) for s in solve_states(job, cables_of(job, CU50))]
    assert seen[:2] == [("continuous", ()), ("surge", ())]
    assert ("surge", ("S3",)) in seen
    assert len(seen) == 8
    calm = replace(job, policy=replace(job.policy, one_string_out=False))
    assert len(solve_states(calm, cables_of(calm, CU50))) == 2


lengths = st.lists(st.floats(0.3, 6.0), min_size=3, max_size=3)


@settings(max_examples=40, deadline=None)
@given(lengths, st.permutations([0, 1, 2]))
def test_permuting_strings_permutes_answers(lead_m, order):
    """Bars without resistance do not care which string is which."""
    job = bank(3, 1)
    named = {f"S{k + 1} positive": long_m for k, long_m in enumerate(lead_m)}
    moved = {f"S{k + 1} positive": lead_m[order[k]] for k in range(3)}
    one = solve_bank(job, cables_of(job, CU50, lead_m=named)).string_currents_a
    two = solve_bank(job, cables_of(job, CU50, lead_m=moved)).string_currents_a
    for k in range(3):
        assert two[f"S{k + 1}"] == pytest.approx(one[f"S{order[k] + 1}"], rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(lengths, st.sampled_from([("25 mm2", "35 mm2"), ("50 mm2", "70 mm2"), ("2 AWG", "1 AWG")]))
def test_more_copper_never_raises_drop_and_currents_add_up(lead_m, sizes):
    job = bank(3, 2, bar=(0.025, 0.006))
    named = {f"S{k + 1} positive": long_m for k, long_m in enumerate(lead_m)}
    thin, thick = (solve_bank(job, cables_of(job, conductor(s), lead_m=named)) for s in sizes)
    assert thick.worst_drop.total_v < thin.worst_drop.total_v
    for solved in (thin, thick):
        assert sum(solved.string_currents_a.values()) == pytest.approx(100)


def test_what_is_missing_is_named():
    job = bank(2, 1)
    cables = cables_of(job, CU50)
    with pytest.raises(ValueError, match="string S2 has no positive lead"):
        solve_bank(job, [c for c in cables if c.name != "S2 positive"])
    with pytest.raises(ValueError, match="no feeder reaches the positive of inverter"):
        solve_bank(job, [c for c in cables if c.name != "main positive"])
    with pytest.raises(ValueError, match="no feeder leaves bus bar negative bar"):
        solve_bank(job, [c for c in cables if c.name != "main negative"])
    hot = replace(cables[0], segments=(Segment(1, 110),))
    with pytest.raises(ValueError, match="S1 positive: the air is 110"):
        solve_bank(job, (hot, *cables[1:]))
    far = replace(cables[0], finish=("stud", "positive bar", 7))
    with pytest.raises(ValueError, match="studs 0 to 2; a cable asks for 7"):
        solve_bank(bank(2, 1, bar=(0.02, 0.003)), (far, *cables[1:]))
    assert ("positive bar", "unknown") in {(f.item, f.status) for f in solve_bank(bank(2, 1), cables).findings}


def test_the_handbook_figure_beside_ours():
    """The 3 % bilge-pump example of ABYC E-11's formula: 10 A, 21 ft out and back, 0.36 V: 6271 circular mils."""
    out_and_back_m = 21 / 3.280839895
    assert handbook_area_mm2(10, out_and_back_m, 0.36) * 1973.525 == pytest.approx(6271, abs=1)
    assert handbook_drop_v(10, out_and_back_m, 6271 / 1973.525) == pytest.approx(0.36, rel=1e-4)


def test_an_idle_bank_is_no_fault():
    job = bank(3, 2, load_a=0.0, surge=None)
    solved = solve_bank(job, cables_of(job, CU50))
    assert list(solved.string_currents_a.values()) == pytest.approx([0, 0, 0], abs=1e-9)
    assert solved.worst_drop is None
