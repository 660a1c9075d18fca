"""What a conductor's size says: its area, its resistance, and how both grow warm.

Resistance comes from tables (IEC 60228 for mm2, NEC Chapter 9 Table 8 for AWG), never from an area a maker prints.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass

from cutlist.reference.tables import constant, row_where, rows

FEET_PER_KM = 3280.839895
CLASSES = ("class 2", "class 5", "AWG stranded")


@dataclass(frozen=True)
class ConductorData:
    size: str  # "50 mm2", "1/0 AWG": one spelling
    area_mm2: float  # nominal (mm2) or geometric (AWG)
    ohm_per_km_20c: float
    source: str
    strands: str


def plain_size(text: str) -> str:
    """One spelling for a conductor size: "50 mm2" or "1/0 AWG".

    Raises ValueError if it is neither.

    >>> plain_size("50mm²"), plain_size("AWG 1/0"), plain_size("2 awg"), plain_size("0000 AWG")
    ('50 mm2', '1/0 AWG', '2 AWG', '4/0 AWG')
    """
    metric = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(?:mm2|mm²|mm\^2|sq\s?mm)\s*", text, re.IGNORECASE)
    if metric:
        return f"{float(metric[1]):g} mm2"
    gauge = re.fullmatch(r"\s*(?:AWG)?\s*(\d{1,2}|[1-4]/0|0{1,4})\s*(?:AWG)?\s*", text, re.IGNORECASE)
    if gauge and "awg" in text.lower():
        number = gauge[1]
        if set(number) == {"0"}:
            number = f"{len(number)}/0"
        return f"{number} AWG"
    raise ValueError(f'"{text}" is no conductor size; sizes read "50 mm2" or "1/0 AWG"')


def conductor_data(size: str, *, strands: str = "", tinned: bool = False) -> ConductorData:
    """Area and resistance at 20 °C of a size as the trade writes it.

    `strands`: "class 5" (default for mm2), "class 2" or "AWG stranded" (default, and the only one, for AWG).
    Raises ValueError for a size or class that is in no table, naming those that are.
    Source: IEC 60228 (mm2, highest value allowed); NEC Chapter 9 Table 8, taken from 75 °C to 20 °C (AWG); for
    gauges not in Table 8 the wire's geometry (ASTM B258), IEC 60028 copper, and 2 % for stranding, 4 % for tin.

    >>> conductor_data("50 mm2").ohm_per_km_20c
    0.386
    >>> round(conductor_data("1/0 AWG").ohm_per_km_20c, 4)
    0.3291
    """
    plain = plain_size(size)
    if strands and strands not in CLASSES:
        raise ValueError(f'strands "{strands}" is not one of {", ".join(CLASSES)}')
    if plain.endswith("mm2"):
        return _metric(plain, strands or "class 5", tinned)
    if strands not in ("", "AWG stranded"):
        raise ValueError(f"{plain} is an AWG size: its strands are not {strands}")
    return _awg(plain, tinned)


def _metric(plain: str, strands: str, tinned: bool) -> ConductorData:
    if strands == "AWG stranded":
        raise ValueError(f"{plain} is a metric size: its strands are class 2 or class 5")
    row = row_where("conductors_metric", "area_mm2", plain.removesuffix(" mm2"))
    coat = "tinned" if tinned else "plain"
    ohm_per_km = float(row[f"{strands.replace(' ', '')}_{coat}_ohm_per_km_20c"])
    return ConductorData(plain, float(row["area_mm2"]), ohm_per_km, f"{row['source']}, {strands}, {coat}", strands)


def _awg(plain: str, tinned: bool) -> ConductorData:
    row = row_where("conductors_awg", "awg", plain.removesuffix(" AWG"))
    coat = "tinned" if tinned else "plain"
    hot_ohm_per_kft = row[f"nec_{coat}_ohm_per_kft_75c"]
    if hot_ohm_per_kft:
        ohm_per_km = float(hot_ohm_per_kft) * FEET_PER_KM / 1000 / resistance_ratio(75.0)
        source = f"{row['source']}, {coat}, from 75 °C to 20 °C"
    else:
        ohm_per_km = float(row["iacs_ohm_per_km_20c"]) * constant("copper", "quantity", "stranding")
        ohm_per_km *= constant("copper", "quantity", "tinning") if tinned else 1.0
        source = f"{row['source']}; 2 % for stranding" + (", 4 % for tin" if tinned else "")
    return ConductorData(plain, float(row["area_mm2"]), ohm_per_km, source, "AWG stranded")


def known_sizes() -> tuple[str, ...]:
    """Every size the tables hold, small to large, metric first."""
    metric = tuple(f"{row['area_mm2']} mm2" for row in rows("conductors_metric"))
    return metric + tuple(f"{row['awg']} AWG" for row in rows("conductors_awg"))


def resistance_ratio(temperature_c: float) -> float:
    """Resistance of copper against its resistance at 20 °C. Source: IEC 60028, 0.00393 per K.

    >>> round(resistance_ratio(75.0), 5)
    1.21615
    """
    return 1 + constant("copper", "quantity", "temperature coefficient at 20 C") * (temperature_c - 20)


def resistance_ohm(ohm_per_km_20c: float, length_m: float, temperature_c: float = 20.0) -> float:
    """Ohms of one conductor, one way. Raises ValueError for a negative length or resistance.

    >>> round(resistance_ohm(0.386, 2.0), 9)
    0.000772
    """
    if length_m < 0 or ohm_per_km_20c < 0:
        raise ValueError(f"length {length_m} m and {ohm_per_km_20c} ohm/km may not be negative")
    return ohm_per_km_20c * length_m / 1000 * resistance_ratio(temperature_c)


def conductor_c(air_c: float, current_a: float, table_a: float, table_air_c: float, insulation_c: float) -> float:
    """Temperature of a conductor that carries `current_a` for long.

    `table_a` is the current (at the table's air temperature, bundle factor in) that brings it to `insulation_c`.
    The rise above the air follows the square of the current: the heat put in is I²R and the heat given off is
    nearly proportional to the rise. Resistance is taken as at full load, so a lightly loaded cable is a little
    cooler than this.

    >>> conductor_c(air_c=30, current_a=285, table_a=285, table_air_c=30, insulation_c=105)
    105.0
    >>> conductor_c(air_c=50, current_a=142.5, table_a=285, table_air_c=30, insulation_c=105)
    68.75
    """
    return air_c + (insulation_c - table_air_c) * (current_a / table_a) ** 2


def warmed_c(start_c: float, steady_c: float, duration_s: float, time_constant_s: float) -> float:
    """Temperature after `duration_s` on the way from `start_c` to `steady_c`: exponential, as for one heat store."""
    if math.isinf(duration_s):
        return steady_c
    return steady_c + (start_c - steady_c) * math.exp(-duration_s / time_constant_s)


def time_constant_s(area_mm2: float, ohm_per_km_20c: float, table_a: float, table_air_c: float, hot_c: float) -> float:
    """How quickly a conductor warms: heat its copper holds per kelvin over the heat it gives off per kelvin.

    The table's own figure gives the heat given off (I²R at `hot_c` over its rise). The insulation's heat is left
    out, which makes the conductor warm sooner than it does. Source: heat balance; copper from reference/copper.
    """
    held_j_per_m_k = area_mm2 * heat_capacity_j_per_mm3_k() * 1000
    given_w_per_m = table_a**2 * resistance_ohm(ohm_per_km_20c, 1.0, hot_c)
    return held_j_per_m_k * (hot_c - table_air_c) / given_w_per_m


def heat_capacity_j_per_mm3_k() -> float:
    """Heat that 1 mm3 of copper takes up per kelvin: density times specific heat (reference/copper)."""
    density = constant("copper", "quantity", "density")
    return density * constant("copper", "quantity", "specific heat at 25 C") / 1000


def adiabatic_i2t_a2s(area_mm2: float, start_c: float, end_c: float) -> float:
    """The I²t (A²s) that warms copper from `start_c` to `end_c` when no heat escapes.

    From I² ρ(T) / S dt = c S dT with ρ(T) = ρ20 (1 + α (T - 20)):  I²t = S² c / (ρ20 α) ln(ρ(end) / ρ(start)).
    Raises ValueError if the end is not above the start. Source: heat balance, figures of reference/copper.
    """
    if end_c <= start_c:
        raise ValueError(f"a fault cannot warm a conductor from {start_c:g} °C to {end_c:g} °C")
    rho_ohm_mm = constant("copper", "quantity", "resistivity at 20 C") / 1000
    alpha = constant("copper", "quantity", "temperature coefficient at 20 C")
    log = math.log(resistance_ratio(end_c) / resistance_ratio(start_c))
    return area_mm2**2 * heat_capacity_j_per_mm3_k() / (rho_ohm_mm * alpha) * log


def typical_outside_diameter_m(size: str) -> tuple[float, str]:
    """Outside diameter of a fine-stranded cable of this size where none is given, with its source.

    Metric sizes take the AWG cable of the next larger copper area. Raises ValueError beyond the table.
    """
    wanted_mm2 = conductor_data(size).area_mm2
    cables = [row for row in rows("cable_diameters") if row["cable"] == "fine-stranded PVC"]
    fitting: Iterable[tuple[float, str, str]] = (
        (conductor_data(row["size"]).area_mm2, row["outside_mm"], row["source"]) for row in cables
    )
    for area_mm2, outside_mm, source in sorted(fitting):
        if area_mm2 >= wanted_mm2 * 0.999:
            return float(outside_mm) / 1000, f"estimate: {source}"
    raise ValueError(f"no outside diameter is known for {size}: give the cable's own")


def typical_bend_multiple() -> tuple[float, str]:
    """Least bend radius as a multiple of the outside diameter where the cable's own is not given, with its source."""
    row = row_where("bend_radius", "cable", "fine-stranded battery or welding cable")
    return float(row["outside_diameters"]), row["source"]
