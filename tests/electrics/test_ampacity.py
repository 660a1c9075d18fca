"""Ampacity against the regulation's own cells, its notes, and the square-root law."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutlist.bank.cables import Conductor
from cutlist.electrics.ampacity import Segment, ampacity, rule_sets, table_figure


def cable(area_mm2, insulation_c=105.0):
    return Conductor(f"{area_mm2} mm2", f"{area_mm2} mm2", area_mm2, 17.241 / area_mm2, "", 0.015, 0.09, insulation_c)


def amps(rules, conductor, *segments, system_v=24.0):
    return ampacity(rules, conductor, segments, system_v=system_v)


TABLE_5 = """18 10 10 15 20 20 25 25
16 15 15 20 25 25 30 35
14 20 20 25 30 35 40 45
12 25 25 35 40 45 50 55
10 40 40 50 55 60 70 70
8 55 65 70 70 80 90 100
6 80 95 100 100 120 125 135
4 105 125 130 135 160 170 180
3 120 145 150 155 180 195 210
2 140 170 175 180 210 225 240
1 165 195 210 210 245 265 280
1/0 195 230 245 245 285 305 325
2/0 225 265 285 285 330 355 370
3/0 260 310 330 330 385 410 430
4/0 300 360 385 385 445 475 510"""
AREA_MM2 = {
    "18": 0.823, "16": 1.309, "14": 2.081, "12": 3.309, "10": 5.261, "8": 8.366, "6": 13.30, "4": 21.15, "3": 26.67,
    "2": 33.63, "1": 42.41, "1/0": 53.48, "2/0": 67.43, "3/0": 85.03, "4/0": 107.2,
}  # fmt: skip


@pytest.mark.parametrize("line", TABLE_5.splitlines(), ids=lambda line: line.split()[0] + " AWG")
def test_every_cell_of_33_cfr_183_425_table_5(line):
    """33 CFR 183.425 Table 5, 30 °C air; columns 60, 75, 80, 90, 105, 125, 200 °C."""
    awg, *cells = line.split()
    for insulation_c, printed in zip((60, 75, 80, 90, 105, 125, 200), cells, strict=True):
        found = amps("33 CFR 183", cable(AREA_MM2[awg], insulation_c), Segment(1, 30))
        assert found.current_a == float(printed)
        assert found.counted_as == f"{awg} AWG"


@pytest.mark.parametrize(
    ("insulation_c", "factor"), [(60, 0.58), (75, 0.75), (80, 0.78), (90, 0.82), (105, 0.85), (125, 0.89)]
)
def test_engine_space_factor(insulation_c, factor):
    """33 CFR 183.425 Table 5 Note 1; equal to the NEC's ambient factors for 46 to 50 °C (0.58, 0.75, 0.82) and, to
    within 0.007 (105 °C: 0.856 printed as 0.85), to sqrt((T - 50) / (T - 30))."""
    conductor = cable(67.43, insulation_c)
    cool = amps("33 CFR 183", conductor, Segment(1, 30))
    hot = amps("33 CFR 183", conductor, Segment(1, 30, engine_space=True))
    assert hot.current_a == pytest.approx(cool.current_a * factor)
    assert factor == pytest.approx(math.sqrt((insulation_c - 50) / (insulation_c - 30)), abs=0.007)


def test_2_0_cable_in_an_engine_space():
    """ABYC E-11 as widely quoted: 2/0 for 105 °C, 330 A outside and 280 A (330 x 0.85 = 280.5) inside."""
    assert amps("33 CFR 183", cable(67.43), Segment(2, 30), Segment(1, 30, True)).current_a == pytest.approx(280.5)


@pytest.mark.parametrize(("count", "factor"), [(2, 1), (3, 0.7), (4, 0.6), (6, 0.6), (7, 0.5), (24, 0.5), (25, 0.4)])
def test_bundles_count_from_50_v(count, factor):
    """33 CFR 183.425 Table 5 Note 2 with 183.435(b): at 50 V and over. The general rule set counts them always."""
    segment = Segment(1, 30, bundled_count=count)
    assert amps("33 CFR 183", cable(67.43), segment, system_v=24).current_a == 330
    assert amps("33 CFR 183", cable(67.43), segment, system_v=51.2).current_a == pytest.approx(330 * factor)
    assert amps("copper by ambient", cable(67.43), segment, system_v=12).current_a == pytest.approx(330 * factor)


def test_the_worst_stretch_decides():
    found = amps("33 CFR 183", cable(67.43), Segment(2, 30), Segment(0.3, 30, True), Segment(1, 35))
    assert found.segment == 1
    assert "engine space x 0.85" in found.source


def test_hot_air_in_an_engine_space_is_not_counted_twice():
    """At 55 °C the law's 0.85 (meant for 50 °C) is too mild: sqrt(50 / 75) = 0.8165 counts, not the product."""
    found = amps("33 CFR 183", cable(67.43), Segment(1, 55, engine_space=True))
    assert found.current_a == pytest.approx(330 * math.sqrt(50 / 75))


@given(st.floats(-10, 100))
def test_square_root_law(air_c):
    """I squared x (rise allowed) is constant: 330 A at 30 °C and 105 °C insulation."""
    found = amps("copper by ambient", cable(67.43), Segment(1, air_c))
    assert found.current_a**2 / (105 - air_c) == pytest.approx(330**2 / 75)


def test_metric_sizes_count_as_the_next_smaller_gauge():
    """50 mm2 lies between 1 AWG (42.4) and 1/0 (53.5); 35 above 2 AWG (33.6); 70 above 2/0 (67.4)."""
    assert table_figure(50, 105) == ("1 AWG", 105.0, 245.0)
    assert table_figure(35, 90) == ("2 AWG", 90.0, 180.0)
    assert table_figure(70, 70) == ("2/0 AWG", 60.0, 225.0)
    assert table_figure(240, 105) == ("4/0 AWG", 105.0, 445.0)


def test_insulation_between_columns():
    """70 °C insulation: the law's 60 °C column; by heat balance it may rise 40 K where the column rises 30 K."""
    assert amps("33 CFR 183", cable(53.48, 70), Segment(1, 30)).current_a == 195
    assert amps("copper by ambient", cable(53.48, 70), Segment(1, 30)).current_a == pytest.approx(
        195 * math.sqrt(4 / 3)
    )


def test_refusals():
    with pytest.raises(ValueError, match="can carry nothing"):
        amps("copper by ambient", cable(50, 60), Segment(1, 60))
    with pytest.raises(ValueError, match="no ampacity"):
        amps("33 CFR 183", cable(0.5), Segment(1, 30))
    with pytest.raises(ValueError, match="no ampacity"):
        amps("33 CFR 183", cable(50, 40), Segment(1, 30))
    with pytest.raises(ValueError, match="rule_set"):
        amps("ISO 13297", cable(50), Segment(1, 30))
    assert rule_sets() == ("33 CFR 183", "copper by ambient")


def test_no_stretches_means_table_air():
    assert ampacity("33 CFR 183", cable(67.43), (), system_v=24).current_a == 330
