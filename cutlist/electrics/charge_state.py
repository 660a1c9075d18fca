"""Resting voltage by state of charge, and how the charge of parallel strings drifts apart and back."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from cutlist.bank.batteries import BatteryType, String
from cutlist.reference.tables import Row, rows

CURVES = {"flooded": "flooded", "agm": "agm", "gel": "agm", "lifepo4": "lifepo4"}
MOST_STEPS = 20_000
LEAST_STEPS = 400


@dataclass(frozen=True)
class Drift:
    """Charge of the fullest string less that of the emptiest, as a share of capacity."""

    start: float  # mean state of charge at both ends of the cycle
    depth: float  # mean state of charge taken out and put back
    current_a: float
    discharge_h: float
    after_discharge: float
    after_charge: float
    largest: float
    emptiest: str  # the string lowest at the end of the discharge
    first_ratio: float  # largest over smallest current at the first moment
    last_ratio: float  # and at the end of the discharge


def resting_v(battery: BatteryType, soc: np.ndarray | float) -> np.ndarray:
    """EMF at rest of one battery at a state of charge (0 to 1, an array if wanted).

    The table's curve (middle of its range) for the chemistry, scaled to the battery's voltage and moved so that a
    full battery has the type's own `emf_v`. Raises ValueError for a chemistry without a curve.
    Source: reference/battery_ocv.
    """
    known = curve_rows(battery.chemistry)
    points = sorted(
        (float(r["soc"]), (float(r["low_v"]) + float(r["high_v"])) / 2, float(r["nominal_v"])) for r in known
    )
    at = np.array([p[0] for p in points])
    volts = np.array([p[1] * battery.voltage_v / p[2] for p in points])
    return battery.emf_v + np.interp(soc, at, volts) - volts[-1]


def curve_rows(chemistry: str) -> tuple[Row, ...]:
    if chemistry not in CURVES:
        raise ValueError(f'no resting voltages are known for chemistry "{chemistry}" ({", ".join(CURVES)} are)')
    return tuple(r for r in rows("battery_ocv") if r["chemistry"] == CURVES[chemistry])


def curve_is_checked(chemistry: str) -> bool:
    """False if any figure of the curve is from memory: then what follows from it is an estimate, never a limit."""
    return all(r["status"] != "from-memory" for r in curve_rows(chemistry))


def string_emf_v(strings: Sequence[String], soc: np.ndarray) -> np.ndarray:
    """(strings,) EMF of each string with all its batteries at the string's state of charge."""
    return np.array([sum(resting_v(b.type, s) for b in x.batteries) for x, s in zip(strings, soc, strict=True)])


def drift(
    strings: Sequence[String],
    currents: Callable[[np.ndarray, float], np.ndarray],
    *,
    current_a: float,
    start: float = 0.9,
    depth: float = 0.5,
) -> Drift:
    """Discharge the bank by `depth` of its capacity at a constant current, then charge it back at the same current.

    `currents(emf_v, load_a)` gives each string's current (A, discharge positive) and must be linear in both. Strings
    are resting voltage plus resistance; no charge is lost. Raises ValueError for a depth or current that makes no
    cycle.
    """
    if not (0 < depth <= start <= 1) or current_a <= 0:
        raise ValueError(f"no cycle from {start:.0%} by {depth:.0%} at {current_a:g} A")
    n = len(strings)
    capacity_ah = np.array([min(b.type.capacity_ah for b in s.batteries) for s in strings])
    # Linear: one column for each string's EMF and one for the load give every state there can be.
    by_emf = np.stack([currents(unit, 0.0) for unit in np.eye(n)], axis=1)
    by_load = currents(np.zeros(n), 1.0)
    hours = depth * float(capacity_ah.sum()) / current_a
    tables = [_curve(s) for s in strings]

    lines = [_Line(at.tolist(), volts.tolist()) for at, volts in tables]

    def flow(soc: np.ndarray, load_a: float) -> np.ndarray:
        emf_v = [line.at(x) for line, x in zip(lines, soc.tolist(), strict=True)]
        return by_emf @ np.array(emf_v) + by_load * load_a

    steps = _steps(hours, by_emf, tables, capacity_ah)
    soc, largest, marks = np.full(n, start), 0.0, []
    first = flow(soc, current_a)
    for load_a in (current_a, -current_a):
        for _ in range(steps):
            half = soc - flow(soc, load_a) * hours / steps / 2 / capacity_ah
            soc = soc - flow(half, load_a) * hours / steps / capacity_ah
            shares = soc.tolist()
            largest = max(largest, max(shares) - min(shares))
        marks.append(soc)
    last = flow(marks[0], current_a)
    return Drift(
        start=start,
        depth=depth,
        current_a=current_a,
        discharge_h=hours,
        after_discharge=float(np.ptp(marks[0])),
        after_charge=float(np.ptp(marks[1])),
        largest=largest,
        emptiest=strings[int(marks[0].argmin())].name,
        first_ratio=_ratio(first),
        last_ratio=_ratio(last),
    )


class _Line:
    """A line through points, asked for one value at a time: numpy's `interp` is quick for many, slow for one."""

    def __init__(self, at: list[float], values: list[float]) -> None:
        self.knots, self.values = at, values
        self.slopes = [(v2 - v1) / (x2 - x1) for x1, x2, v1, v2 in zip(at, at[1:], values, values[1:], strict=False)]

    def at(self, x: float) -> float:
        """The value at x; that of the end beyond it."""
        i = bisect_right(self.knots, x) - 1
        if i < 0:
            return self.values[0]
        if i >= len(self.slopes):
            return self.values[-1]
        return self.slopes[i] * (x - self.knots[i]) + self.values[i]


def _curve(string: String) -> tuple[np.ndarray, np.ndarray]:
    """The string's EMF at every state of charge where any of its batteries' curves bends."""
    at = np.unique([float(r["soc"]) for b in string.batteries for r in curve_rows(b.type.chemistry)])
    volts = np.sum([resting_v(b.type, at) for b in string.batteries], axis=0)
    return at, volts


def _steps(
    hours: float, by_emf: np.ndarray, tables: Sequence[tuple[np.ndarray, np.ndarray]], capacity_ah: np.ndarray
) -> int:
    """Enough that a step is a tenth of the quickest time constant, C / (dI/dV x dV/dSOC)."""
    steepest = max(float(np.max(np.diff(volts) / np.diff(at))) for at, volts in tables)
    quickest_h = float((capacity_ah / (np.abs(by_emf).sum(axis=1) * steepest)).min())
    return min(MOST_STEPS, max(LEAST_STEPS, math.ceil(10 * hours / quickest_h)))


def _ratio(amps: np.ndarray) -> float:
    return float(amps.max() / amps.min()) if amps.min() > 0 else math.inf
