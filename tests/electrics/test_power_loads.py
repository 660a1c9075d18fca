"""Loads of constant power against the quadratic they satisfy."""

import math
from dataclasses import replace

import pytest

from cutlist.electrics.power_loads import at_power, guessed_power, power_findings, solve_at_power
from tests.electrics.banks import bank, cables_of, conductor

CU50 = conductor("50 mm2")


def thevenin():
    """12.8 V behind two strings of 4 + 1.544 + 4 x 0.06 milliohm and feeders of 0.772 + 4 x 0.06 milliohm at 20 °C."""
    return 12.8, (4 + 1.544 + 0.24) / 2e3 + (0.772 + 0.24) / 1e3


def test_the_current_solves_its_quadratic():
    """V I = P and V = E - I R give V = (E + sqrt(E2 - 4 P R)) / 2."""
    job = bank(2, 1)
    cables = cables_of(job, CU50)
    emf, ohm = thevenin()
    solved = solve_at_power(job, cables, {"inverter": 2000.0}, conductor_c=20.0)
    volts = (emf + math.sqrt(emf**2 - 4 * 2000 * ohm)) / 2
    assert solved.load_voltages_v["inverter"] == pytest.approx(volts, rel=1e-8)
    assert solved.load_currents_a["inverter"] * volts == pytest.approx(2000, rel=1e-7)


def test_a_power_takes_more_current_than_the_resting_voltage_says():
    job = bank(2, 1)
    solved = solve_at_power(job, cables_of(job, CU50), {"inverter": 1280.0})
    assert solved.load_currents_a["inverter"] > 100


def test_no_more_than_the_bank_can_give():
    """At most E2 / 4 R: 12.8 squared / 4 / 3.904 milliohm = 10,492 W."""
    job = bank(2, 1)
    cables = cables_of(job, CU50)
    emf, ohm = thevenin()
    most_w = emf**2 / 4 / ohm
    assert most_w == pytest.approx(10492, abs=1)
    assert solve_at_power(job, cables, {"inverter": 0.97 * most_w}, conductor_c=20.0)
    with pytest.raises(ValueError, match="cannot give"):
        solve_at_power(job, cables, {"inverter": 1.01 * most_w}, conductor_c=20.0)


def test_refusals():
    job = bank(2, 1)
    cables = cables_of(job, CU50)
    with pytest.raises(ValueError, match="no load kettle"):
        solve_at_power(job, cables, {"kettle": 100.0})
    with pytest.raises(ValueError, match="0 W is no load"):
        solve_at_power(job, cables, {"inverter": 0.0})


def with_power(job, power_w, lowest_v=None):
    return replace(job, loads=(replace(job.loads[0], power_w=power_w, lowest_v=lowest_v, surge=None),))


def test_the_worst_with_a_string_out_is_counted():
    """With one of two strings out the bank sags more, so the same power takes more current; both by the quadratic."""
    job = with_power(bank(2, 1), 1500.0)
    cables = cables_of(job, CU50)
    settled = at_power(job, cables).loads[0].continuous_a
    out = solve_at_power(job, cables, {"inverter": 1500.0}, out=("S1",)).load_currents_a["inverter"]
    whole = solve_at_power(job, cables, {"inverter": 1500.0}).load_currents_a["inverter"]
    assert settled == pytest.approx(out, rel=1e-9)
    assert out > whole
    calm = replace(job, policy=replace(job.policy, one_string_out=False))
    assert at_power(calm, cables).loads[0].continuous_a == pytest.approx(whole, rel=1e-9)


def test_a_lowest_voltage_settles_it_beforehand():
    """1500 W at 10.5 V are 142.857 A, whatever the bank: nothing is left to settle."""
    job = with_power(replace(bank(2, 1), loads=(replace(bank(2, 1).loads[0], continuous_a=1500 / 10.5),)), 1500.0, 10.5)
    assert at_power(job, cables_of(job, CU50)) == job == guessed_power(job)
    assert [(f.status, "142.9 A" in f.message) for f in power_findings(job)] == [("note", True)]


def test_without_a_lowest_voltage_it_is_not_known():
    job = guessed_power(with_power(bank(2, 1), 1500.0))
    assert job.loads[0].continuous_a == 125.0  # 1500 W / 12 V
    assert [f.status for f in power_findings(job)] == ["unknown"]
    assert not list(power_findings(bank(2, 1)))
