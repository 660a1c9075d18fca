"""Conductors, lugs and fuses: what a cable is made of."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class Conductor:
    name: str  # as the stock file calls it: "50 mm2"
    size: str  # as the trade writes it: "50 mm2", "1/0 AWG"
    area_mm2: float
    ohm_per_km_20c: float
    ohm_source: str  # where the resistance comes from
    outside_diameter_m: float
    bend_radius_m: float  # least, of the centreline
    insulation_c: float  # temperature rating of the insulation
    tinned: bool = False
    strands: str = "class 5"  # "class 2", "class 5", "AWG stranded"


@dataclass(frozen=True)
class Lug:
    conductor: str
    stud: str  # "M8", "3/8 in"
    strip_m: float  # insulation taken off
    hole_to_stop_m: float  # stud centre to where the conductor stops in the barrel
    barrel_to_skin_m: float  # stud centre to where the insulation starts: straight and stiff so far
    price: Decimal | None = None  # each
    pack: int = 1
    on_hand: int = 0


@dataclass(frozen=True)
class HeatShrink:
    name: str
    fits_from_m: float  # outside diameters it shrinks onto
    fits_to_m: float
    per_end_m: float
    length_m: float  # of one piece as sold
    price: Decimal | None = None  # of one piece as sold
    colour: str = "black"


@dataclass(frozen=True)
class Fuse:
    family: str
    rating_a: float
    voltage_v: float  # highest DC voltage
    interrupt_a: float | None  # at that DC voltage; None: not known, never a pass
    resistance_ohm: float | None
    stud: str
    i2t_a2s: float | None = None  # let-through to clear; None: not known
    price: Decimal | None = None
    on_hand: int = 0
    source: str = "stock file"


@dataclass(frozen=True)
class Sundry:
    """Clamps, grommets, boots, labels: bought by the piece."""

    name: str
    kind: str  # "clamp", "grommet", "boot", "label", "fuse holder", "bus bar", "other"
    fits_from_m: float = 0.0  # outside diameters of cable it fits
    fits_to_m: float = 0.0
    price: Decimal | None = None
    pack: int = 1
    on_hand: int = 0
