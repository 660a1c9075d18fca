"""What people write becomes exact numbers. Expected values: an inch is 25.4 mm exactly (1959); the rest is sums."""

from __future__ import annotations

import contextlib
import doctest
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutlist.job import faults, units
from cutlist.job.units import LENGTH, Unreadable, quantity, stud_size, whole_um

EIGHTH_UM = 3175  # 25 400 / 8


@pytest.mark.parametrize(
    ("text", "um"),
    [
        ("2350 mm", 2_350_000),
        ("2.35 m", 2_350_000),
        ("235cm", 2_350_000),
        ("7 ft 8 1/2 in", (7 * 96 + 8 * 8 + 4) * EIGHTH_UM),
        ("7' 8-1/2\"", (7 * 96 + 8 * 8 + 4) * EIGHTH_UM),
        ("7'8½\"", (7 * 96 + 8 * 8 + 4) * EIGHTH_UM),
        ("7 feet, 8.5 inches", (7 * 96 + 8 * 8 + 4) * EIGHTH_UM),
        ('92 1/2"', (92 * 8 + 4) * EIGHTH_UM),
        ("92-1/2 in", (92 * 8 + 4) * EIGHTH_UM),
        ("92.5 in", (92 * 8 + 4) * EIGHTH_UM),
        ("3/8 in", 3 * EIGHTH_UM),
        ("13/8 in", 13 * EIGHTH_UM),
        ("1 ft", 304_800),
        ("-1 1/8 in", -9 * EIGHTH_UM),
        ("\u22123 mm", -3000),  # a true minus sign
        ("5 µm", 5),  # micro sign
        ("5 μm", 5),  # Greek mu
        ("1 yd", 914_400),
        ("0.001 km", 1_000_000),  # known to pint only
    ],
)
def test_lengths_are_exact(text: str, um: int) -> None:
    assert whole_um(quantity(text, LENGTH)) == um


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("24 V", units.VOLTAGE, 24),
        ("500 mV", units.VOLTAGE, 0.5),
        ("1.4 kA", units.CURRENT, 1400),
        ("170 Ah", units.CHARGE, 170),
        ("2.1 mΩ", units.RESISTANCE, 0.0021),
        ("2.1 mohm", units.RESISTANCE, 0.0021),
        ("60 µΩ", units.RESISTANCE, 60e-6),
        ("0.386 ohm/km", units.OHM_PER_LENGTH, 0.000386),
        ("15 °C", units.TEMPERATURE, 15),
        ("59 °F", units.TEMPERATURE, 15),  # (59 - 32) / 1.8
        ("-40 degF", units.TEMPERATURE, -40),  # where both scales meet
        ("2 %", units.SHARE, 0.02),
        ("2 min", units.TIME, 120),
        ("90 deg", units.ANGLE, 90),
        ("9 N m", units.TORQUE, 9),
        ("11000 A²s", units.MELTING, 11_000),
    ],
)
def test_other_dimensions(text: str, dimension: units.Dimension, value: float) -> None:
    assert float(quantity(text, dimension)) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize("dimension", [d for d in vars(units).values() if isinstance(d, units.Dimension) and d.units])
def test_our_tables_agree_with_pint(dimension: units.Dimension) -> None:
    """Every unit in our tables that pint can read too has pint's size."""
    import pint

    registry: Any = pint.UnitRegistry()
    compared = 0
    for unit, factor in dimension.units.items():
        spelled = {"A²s": "A**2*s", "N m": "N*m", "lbf in": "lbf*inch", "lbf ft": "lbf*ft", "%": "percent"}
        try:
            found = registry.Quantity(1.0, registry.parse_units(spelled.get(unit, unit))).to(dimension.base)
        except Exception:
            continue  # a spelling of the trade that pint does not know
        compared += 1
        assert float(factor) == pytest.approx(found.magnitude, rel=1e-12), unit
    assert compared


@pytest.mark.parametrize(
    ("text", "says", "mend"),
    [
        ("2350", "has no unit", '"2350 mm"'),
        ("nan", "not a number", "12 mm"),
        ("-.inf m", "not a number", "12 mm"),
        ("1e300 m", "beyond anything", "slipped digit"),
        ("1e999999999 m", "beyond anything", "slipped digit"),
        ("2000 m", "beyond 1000 m", "slipped digit"),
        ("5 kg", '"kg" is no unit', "mm, cm, m"),
        ("1,200 mm", "not a number we can be sure of", "without marks"),
        ("2 350 mm", "not a number we can be sure of", "without marks"),
        ("2_350 mm", "not a number we can be sure of", "without marks"),
        ("5 1/2 mm", "not a number we can be sure of", "without marks"),
        ("2 m**9999999", "no unit", "mm, cm, m"),
        ("9**9**9**9 m", "no unit", "mm, cm, m"),
        ("__import__('os') m", "is no length", "12 mm"),
        ("1/0 in", "fraction that is none", "92 1/2 in"),
        ("", "is no length", "12 mm"),
        ("twelve mm", "is no length", "12 mm"),
    ],
)
def test_what_is_no_length(text: str, says: str, mend: str) -> None:
    with pytest.raises(Unreadable) as caught:
        quantity(text, LENGTH)
    assert says in caught.value.message
    assert mend in caught.value.mend


@given(st.integers(0, 40), st.integers(0, 11), st.integers(0, 7))
def test_feet_inches_and_eighths_add_up(feet: int, inches: int, eighths: int) -> None:
    written = f"{feet} ft {inches} {eighths}/8 in"
    assert quantity(written, LENGTH) == Fraction(feet * 96 + inches * 8 + eighths) * EIGHTH_UM / 1_000_000


@given(st.text(max_size=30))
def test_no_text_does_worse_than_be_unreadable(text: str) -> None:
    for dimension in (LENGTH, units.TEMPERATURE, units.RESISTANCE):
        with contextlib.suppress(Unreadable):
            assert isinstance(quantity(text, dimension), Fraction)


def test_sixteenths_are_not_whole_micrometres() -> None:
    """25 400 / 16 = 1587.5"""
    with pytest.raises(Unreadable, match=r"1587\.500"):
        whole_um(quantity("1/16 in", LENGTH))


def test_an_unknown_stud_size_is_refused() -> None:
    with pytest.raises(Unreadable):
        stud_size("10")


@pytest.mark.parametrize("module", [units, faults])
def test_the_examples_in_docstrings_hold(module: object) -> None:
    assert doctest.testmod(module).failed == 0  # type: ignore[arg-type]
