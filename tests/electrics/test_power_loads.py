"""Loads of constant power against the quadratic they satisfy."""

import math

import pytest

from cutlist.electrics.power_loads import solve_at_power
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
