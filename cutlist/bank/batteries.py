"""Batteries, their terminals, and strings of them in series."""

from __future__ import annotations

from dataclasses import dataclass

from geometry.runs import Point
from geometry.solids import Solid


@dataclass(frozen=True)
class Terminal:
    name: str  # "B7 positive"
    point: Point  # stud centre, m
    directions: tuple[Point, ...]  # ways the lug may point, away from the stud (unit)
    stud: str  # "M8", "3/8 in"
    stands_on: str = ""  # the solid it belongs to, which its own lug may touch
    torque_nm: float | None = None
    axis: Point | None = None  # the way the stud points; None: across the lug's ways, else up


@dataclass(frozen=True)
class BatteryType:
    name: str
    chemistry: str  # "flooded", "agm", "gel", "lifepo4"
    voltage_v: float  # nominal
    capacity_ah: float
    resistance_ohm: float
    emf_v: float  # at full charge, at rest
    short_circuit_a: float | None = None  # maker's figure; None: from emf and resistance
    resistance_spread: float = 0.0  # standard deviation as a share


@dataclass(frozen=True)
class Battery:
    name: str
    type: BatteryType
    positive: Terminal
    negative: Terminal
    case: Solid | None = None  # None: only the terminals were measured


@dataclass(frozen=True)
class LaterString:
    """A string still to come: all that is known of it is where its leads will begin."""

    name: str
    positive: Terminal
    negative: Terminal


@dataclass(frozen=True)
class String:
    """Batteries in series, from the positive end to the negative end."""

    name: str
    batteries: tuple[Battery, ...]

    @property
    def positive(self) -> Terminal:
        return self.batteries[0].positive

    @property
    def negative(self) -> Terminal:
        return self.batteries[-1].negative

    @property
    def jumpers(self) -> tuple[tuple[Terminal, Terminal], ...]:
        """From each battery's negative to the next one's positive."""
        pairs = zip(self.batteries, self.batteries[1:], strict=False)
        return tuple((first.negative, second.positive) for first, second in pairs)

    @property
    def voltage_v(self) -> float:
        return sum(b.type.voltage_v for b in self.batteries)

    @property
    def emf_v(self) -> float:
        return sum(b.type.emf_v for b in self.batteries)

    @property
    def resistance_ohm(self) -> float:
        return sum(b.type.resistance_ohm for b in self.batteries)
