"""What a conductor may carry for long, by the rule set the job names, and which stretch of its run decides.

A rule set is data (reference/ampacity_rule_sets): the same 30 °C figures, and how air, engine spaces and bundles
are counted.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

from cutlist.bank.cables import Conductor
from cutlist.reference.tables import limit_rows, row_where

SQUARE_ROOT = "square-root law: current squared goes with the rise the insulation allows above the air"


@dataclass(frozen=True)
class Segment:
    """A stretch of a run in air of one temperature, `bundled_count` current-carrying cables lying together."""

    length_m: float
    ambient_c: float
    engine_space: bool = False
    bundled_count: int = 1


@dataclass(frozen=True)
class Factor:
    name: str  # "engine space", "ambient 45 °C", "bundle of 4"
    value: float
    source: str


@dataclass(frozen=True)
class Ampacity:
    current_a: float  # what one conductor may carry: the worst segment's figure
    table_a: float  # the table's figure, before factors
    counted_as: str  # the gauge whose row was used
    column_c: float  # the insulation column that was used
    factors: tuple[Factor, ...]  # of the segment that governs
    segment: int  # index of that segment
    air_c: float  # its air
    warming_a: tuple[float, ...]  # per segment: the current that warms it from table air to the insulation's limit
    table_air_c: float
    source: str  # of the governing figure, with the factors


def rule_sets() -> tuple[str, ...]:
    return tuple(row["rule_set"] for row in limit_rows("ampacity_rule_sets"))


def ampacity(rules: str, conductor: Conductor, segments: Sequence[Segment], *, system_v: float) -> Ampacity:
    """The current a conductor may carry for long along its whole run.

    Each segment has its own factors; the segment that allows least decides. A metric size counts as the next
    smaller gauge by area, and insulation as the next lower column, so a figure is never above the table.
    Raises ValueError if the rule set is unknown, the conductor is below the table, or a segment's air is as hot
    as the insulation allows.
    """
    return _ampacity(rules, conductor, tuple(segments), system_v)


@lru_cache(maxsize=4096)
def _ampacity(rules: str, conductor: Conductor, segments: tuple[Segment, ...], system_v: float) -> Ampacity:
    rule = row_where("ampacity_rule_sets", "rule_set", rules)
    table_air_c = float(rule["table_ambient_c"])
    gauge, column_c, table_a = table_figure(conductor.area_mm2, conductor.insulation_c)
    warming, figures = [], []
    for segment in segments or (Segment(0.0, table_air_c),):
        factors = _factors(rule["rule_set"], segment, column_c, conductor, system_v)
        # Cables lying together warm one another at any voltage, whatever the rule set counts.
        bundle = _row_factor("bundle", segment.bundled_count)[0]
        # The rise to the insulation's own limit, which may lie above its column: only where air is counted so.
        limit_c = conductor.insulation_c if rule["ambient"] == "both ways" else column_c
        stretch = math.sqrt((limit_c - table_air_c) / (column_c - table_air_c))
        warming.append(table_a * bundle * stretch)
        figures.append((table_a * math.prod(f.value for f in factors), factors))
    worst = min(range(len(figures)), key=lambda i: (figures[i][0], i))
    current_a, factors = figures[worst]
    air_c = segments[worst].ambient_c if segments else table_air_c
    named = "".join(f"; {f.name} x {f.value:.2f} ({f.source})" for f in factors)
    base = f"33 CFR 183.425 Table 5: {gauge}, {column_c:g} °C column, {table_a:g} A"
    return Ampacity(
        current_a, table_a, gauge, column_c, factors, worst, air_c, tuple(warming), table_air_c, base + named
    )


@cache
def table_figure(area_mm2: float, insulation_c: float) -> tuple[str, float, float]:
    """(gauge, insulation column °C, amperes at 30 °C) of Table 5 that may be used for this conductor.

    >>> table_figure(50.0, 105.0)
    ('1 AWG', 105.0, 245.0)
    """
    areas = {row["awg"]: float(row["area_mm2"]) for row in limit_rows("conductors_awg")}
    table = limit_rows("ampacity_table5")
    columns = sorted({float(row["insulation_c"]) for row in table})
    below = [c for c in columns if c <= insulation_c]
    # A gauge's geometric area is printed rounded; 0.1 % keeps "53.5 mm2" a 1/0.
    gauges = [g for g in dict.fromkeys(row["awg"] for row in table) if areas[g] <= area_mm2 * 1.001]
    if not below or not gauges:
        raise ValueError(
            f"no ampacity in 33 CFR 183.425 Table 5 for {area_mm2:g} mm2 with insulation for {insulation_c:g} °C "
            f"(the table starts at 18 AWG and {columns[0]:g} °C)"
        )
    gauge = max(gauges, key=lambda g: areas[g])
    figure = next(r for r in table if r["awg"] == gauge and float(r["insulation_c"]) == below[-1])
    return f"{gauge} AWG", below[-1], float(figure["ampacity_a"])


def _factors(
    rules: str, segment: Segment, column_c: float, conductor: Conductor, system_v: float
) -> tuple[Factor, ...]:
    rule = row_where("ampacity_rule_sets", "rule_set", rules)
    table_air_c = float(rule["table_ambient_c"])
    factors = []
    air_c = segment.ambient_c
    by_air_c = air_c
    if segment.engine_space:
        by_air_c = max(air_c, float(rule["engine_ambient_c"]))
    if rule["ambient"] == "both ways":
        limit_c = conductor.insulation_c
        value = _square_root(by_air_c, limit_c, table_air_c, column_c)
        if not math.isclose(value, 1.0):
            factors.append(Factor(f"air at {by_air_c:g} °C", value, SQUARE_ROOT))
    else:
        options = []
        if segment.engine_space:
            value, source = _row_factor("engine space", column_c)
            options.append(Factor("engine space", value, source))
        if air_c > table_air_c:
            value = _square_root(air_c, column_c, table_air_c, column_c)
            options.append(Factor(f"air at {air_c:g} °C", value, f"{SQUARE_ROOT}; stricter than the rule set"))
        if options:
            # Both stand for hot air, so they do not multiply: the lower one counts.
            factors.append(min(options, key=lambda f: (f.value, f.name)))
    if segment.bundled_count > 2 and system_v >= float(rule["bundle_from_v"]):
        value, source = _row_factor("bundle", segment.bundled_count)
        factors.append(Factor(f"bundle of {segment.bundled_count}", value, source))
    return tuple(factors)


def _square_root(air_c: float, limit_c: float, table_air_c: float, column_c: float) -> float:
    if air_c >= limit_c:
        raise ValueError(f"the air is {air_c:g} °C: insulation for {limit_c:g} °C can carry nothing there")
    return math.sqrt((limit_c - air_c) / (column_c - table_air_c))


def _row_factor(kind: str, key: float) -> tuple[float, str]:
    for row in limit_rows("ampacity_factors"):
        if row["kind"] == kind and float(row["key_low"]) <= key <= float(row["key_high"]):
            return float(row["factor"]), row["source"]
    raise ValueError(f"no {kind} factor for {key:g}")
