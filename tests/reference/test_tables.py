"""The reference tables: row counts and column sums, so that a slipped digit shows; and the rule about memory."""

import pytest

from cutlist.reference.tables import constant, limit_rows, row_where, rows


def total(table, column):
    return sum(float(row[column]) for row in rows(table) if row[column])


@pytest.mark.parametrize(
    ("table", "count", "column", "sum_"),
    [  # sums added up from the published figures, not from these files
        ("ampacity_table5", 105, "ampacity_a", 16780),
        ("ampacity_factors", 12, "factor", 8.81),
        ("ampacity_rule_sets", 2, "bundle_from_v", 50),
        ("battery_ocv", 28, "low_v", 346.97),
        ("bend_radius", 8, "outside_diameters", 37),
        ("bus_bar_density", 3, "a_per_mm2", 3.72),
        ("bus_bar_materials", 4, "ohm_mm2_per_m_20c", 0.138901),
        ("cable_diameters", 25, "outside_mm", 324.69),
        ("conductors_awg", 22, "area_mm2", 514.9042),
        ("conductors_awg", 22, "nec_plain_ohm_per_kft_75c", 21.8261),
        ("conductors_awg", 22, "nec_tinned_ohm_per_kft_75c", 22.9653),
        ("conductors_metric", 17, "class5_plain_ohm_per_km_20c", 80.8241),
        ("conductors_metric", 17, "class5_tinned_ohm_per_km_20c", 83.0057),
        ("conductors_metric", 17, "class2_plain_ohm_per_km_20c", 75.3305),
        ("conductors_metric", 17, "class2_tinned_ohm_per_km_20c", 76.1452),
        ("fuse_interrupt", 7, "interrupt_a", 46000),
        ("fuse_ratings", 78, "rating_a", 16133),
        ("protection_rules", 8, "value", 507.8226),
        ("pull_out", 15, "force_lbf", 2470),
        ("stud_holes", 13, "hole_mm", 121.65),
        ("torque", 15, "low_nm", 231.5),
    ],
)
def test_row_count_and_column_sum(table, count, column, sum_):
    assert len(rows(table)) == count
    assert total(table, column) == pytest.approx(sum_, rel=1e-9)


def test_a_wrong_table_is_named():
    with pytest.raises(ValueError, match='no reference table "no such"'):
        rows("no such")
    with pytest.raises(ValueError, match="there is copper, aluminium 1350"):
        row_where("bus_bar_materials", "material", "gold")


def test_what_is_from_memory_is_never_a_limit():
    """The 72-inch figure and most fuse ratings were not read anywhere: they may be shown, not enforced."""
    assert "distance from the battery" in {row["rule"] for row in rows("protection_rules")}
    assert "distance from the battery" not in {row["rule"] for row in limit_rows("protection_rules")}
    assert limit_rows("fuse_ratings") == ()
    assert len(limit_rows("ampacity_table5")) == 105


def test_figures_known_elsewhere():
    """IEC 60028: 1/58 ohm mm2/m and 0.00393 per K; 7 in is 0.1778 m, 40 in 1.016 m."""
    assert constant("copper", "quantity", "resistivity at 20 C") == pytest.approx(1 / 58, rel=1e-4)
    assert constant("copper", "quantity", "temperature coefficient at 20 C") == 0.00393
    assert float(row_where("protection_rules", "rule", "distance from the source")["value"]) == pytest.approx(
        7 * 0.0254
    )
    sheathed = row_where("protection_rules", "rule", "distance from the source, sheathed")
    assert float(sheathed["value"]) == pytest.approx(40 * 0.0254)


def test_ampacity_rises_with_size_and_with_insulation():
    by_size = {}
    for row in rows("ampacity_table5"):
        by_size.setdefault(row["awg"], []).append((float(row["insulation_c"]), float(row["ampacity_a"])))
    columns = [[amps for _, amps in sorted(cells)] for cells in by_size.values()]
    assert all(list(cells) == sorted(cells) for cells in columns)
    assert all(list(size) == sorted(size) for size in zip(*columns, strict=True))
