"""Resistance, warmth and size of conductors against published figures and the laws they follow."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutlist.electrics.conductors import (
    adiabatic_i2t_a2s,
    conductor_c,
    conductor_data,
    known_sizes,
    plain_size,
    resistance_ohm,
    resistance_ratio,
    time_constant_s,
    typical_bend_multiple,
    typical_outside_diameter_m,
    warmed_c,
)


def test_iec_60228_figures():
    """IEC 60228 Tables 2 and 3, ohm per km at 20 °C."""
    assert conductor_data("35 mm2").ohm_per_km_20c == 0.554
    assert conductor_data("50 mm2").ohm_per_km_20c == 0.386
    assert conductor_data("50 mm2", strands="class 2").ohm_per_km_20c == 0.387
    assert conductor_data("70 mm2", tinned=True).ohm_per_km_20c == 0.277
    assert conductor_data("95 mm2", strands="class 2", tinned=True).ohm_per_km_20c == 0.195


def test_nec_table_8_at_75_c():
    """NFPA 70 Chapter 9 Table 8 at 75 °C, ohm per 1000 ft (= 304.8 m): 1/0 0.122 and 0.127, 4 AWG 0.308, 2/0 0.0967."""
    for size, tinned, printed in (
        ("1/0 AWG", False, 0.122),
        ("1/0 AWG", True, 0.127),
        ("4 AWG", False, 0.308),
        ("2/0 AWG", False, 0.0967),
    ):
        data = conductor_data(size, tinned=tinned)
        assert resistance_ohm(data.ohm_per_km_20c, 304.8, 75.0) == pytest.approx(printed, rel=1e-6)


def test_gauges_the_nec_leaves_out_follow_copper_and_stranding():
    """5 AWG: 16.7732 mm2 by ASTM B258; 0.017241 / 16.7732 m2 = 1.02789 ohm/km solid, 2 % more stranded."""
    assert conductor_data("5 AWG").ohm_per_km_20c == pytest.approx(1.02789 * 1.02, rel=1e-4)
    assert "stranding" in conductor_data("5 AWG").source


@pytest.mark.parametrize("size", known_sizes())
def test_stranded_is_never_better_than_solid_copper_nor_far_worse(size):
    """IEC 60028: 1/58 ohm for 1 m of 1 mm2. IEC 60228 lets thin class 5 metric be 16 % above
    the copper of its nominal area, 20 % with tin."""
    for tinned in (False, True):
        data = conductor_data(size, tinned=tinned)
        solid = 1000 / 58 / data.area_mm2
        assert 1.01 * solid < data.ohm_per_km_20c < 1.20 * solid


def test_tin_never_lowers_resistance():
    for size in known_sizes():
        assert conductor_data(size, tinned=True).ohm_per_km_20c > conductor_data(size).ohm_per_km_20c


def test_temperature_of_copper():
    """FAA AC 43.13-1B p. 11-22: run lengths scale with 254.5 / (234.5 + T); at 75 °C that is 0.82229."""
    assert 1 / resistance_ratio(75.0) == pytest.approx(254.5 / (234.5 + 75), rel=2e-4)
    assert 1 / resistance_ratio(75.0) == pytest.approx(0.82229, rel=2e-4)


def test_spellings_and_refusals():
    assert plain_size("AWG 4/0") == plain_size("4/0 awg") == plain_size("0000 AWG") == "4/0 AWG"
    assert plain_size("2.5 mm²") == "2.5 mm2"
    for wrong in ("50", "fifty mm2", "", "1/0", "5/0 AWG", "nan mm2", "-50 mm2", "1e3 mm2"):
        with pytest.raises(ValueError, match="no conductor size"):
            plain_size(wrong)
    with pytest.raises(ValueError, match=r"there is 0\.75, 1, 1\.5"):
        conductor_data("45 mm2")
    with pytest.raises(ValueError, match="metric size"):
        conductor_data("50 mm2", strands="AWG stranded")
    with pytest.raises(ValueError, match="is an AWG size"):
        conductor_data("2 AWG", strands="class 5")
    with pytest.raises(ValueError, match="not one of"):
        conductor_data("2 AWG", strands="class 6")


@given(st.floats(-20, 90), st.floats(0, 400))
def test_rise_goes_with_current_squared(air_c, amps):
    rise = conductor_c(air_c, amps, 285, 30, 105) - air_c
    assert conductor_c(air_c, 2 * amps, 285, 30, 105) - air_c == pytest.approx(4 * rise, abs=1e-9)


def test_faa_temperature_example_is_another_law():
    """FAA AC 43.13-1B Example 2 takes the rise as going with the square ROOT of current over rating, which reads
    high at part load: 182 °C where a rise with the square gives 50 + 150 (20/26)^2 = 138.8 °C. Ours is the square."""
    assert conductor_c(50, 20, 26, 50, 200) == pytest.approx(138.757, abs=1e-3)


@given(st.floats(1.0, 1000.0))
def test_warming_follows_one_exponential(seconds):
    """After one time constant 1 - 1/e of the way; never past the end; in two steps as in one."""
    assert warmed_c(30, 105, 300, 300) == pytest.approx(105 - 75 / math.e)
    half = warmed_c(30, 105, seconds / 2, 300)
    assert warmed_c(half, 105, seconds / 2, 300) == pytest.approx(warmed_c(30, 105, seconds, 300))
    assert warmed_c(30, 105, math.inf, 300) == 105


def test_adiabatic_heating_by_hand():
    """50 mm2 from 20 to 150 °C. Heat per mm3 K: 8.89e-3 g x 0.384 J = 3.41376e-3 J. ln(1.5109 / 1) = 0.412706.
    50^2 x 3.41376e-3 / (0.017241e-3 x 0.00393) x 0.412706 = 51 981 000 A2s."""
    assert adiabatic_i2t_a2s(50, 20, 150) == pytest.approx(51.98e6, rel=1e-3)


@given(st.floats(20, 90), st.floats(91, 250))
def test_adiabatic_heating_agrees_with_small_steps(start_c, end_c):
    """The same heat added up in 2,000 steps of temperature: I2t = sum of S2 c dT / rho(T)."""
    steps = 2000
    width = (end_c - start_c) / steps
    total = sum(
        25.0**2 * 8.89 * 0.384 / 1000 * width / (0.017241e-3 * (1 + 0.00393 * (start_c + (i + 0.5) * width - 20)))
        for i in range(steps)
    )
    assert adiabatic_i2t_a2s(25.0, start_c, end_c) == pytest.approx(total, rel=1e-5)


def test_time_constant_by_hand():
    """50 mm2, 245 A bring it from 30 to 105 °C. Held: 50 x 3.41376 = 170.69 J/(m K). Given off: 245^2 x 0.386e-3 x
    1.33405 = 30.91 W/m over 75 K. 170.69 x 75 / 30.91 = 414 s."""
    assert time_constant_s(50, 0.386, 245, 30, 105) == pytest.approx(414, rel=2e-3)


def test_estimates_where_the_cable_gives_none():
    outside_m, source = typical_outside_diameter_m("1/0 AWG")
    assert outside_m == pytest.approx(0.01479)
    assert source.startswith("estimate")
    assert typical_outside_diameter_m("50 mm2")[0] == pytest.approx(0.01479)  # next larger: 1/0, 53.5 mm2
    with pytest.raises(ValueError, match="give the cable's own"):
        typical_outside_diameter_m("150 mm2")
    assert typical_bend_multiple() == (6.0, "common practice, no published source")
