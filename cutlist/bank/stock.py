"""The purchaser's stock: what is on hand, what can be bought, at what price.

Lengths are whole micrometres: exact for millimetres, for 1/8 in (3 175 um) and for feet (304 800 um), so no
sum of cuts is ever off by a rounding.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from cutlist.bank.cables import Conductor, Fuse, HeatShrink, Lug, Sundry


@dataclass(frozen=True)
class Remnant:
    label: str
    length_um: int
    book_value: Decimal = Decimal(0)  # what using it is counted at


@dataclass(frozen=True)
class Spool:
    """A whole spool that can be bought."""

    label: str
    length_um: int
    price: Decimal | None  # None: not known; shown as missing, never counted as zero
    available: int | None = None  # None: as many as wanted
    price_breaks: tuple[tuple[int, Decimal], ...] = ()  # (from this many, price each), ascending


@dataclass(frozen=True)
class ByLength:
    """Cable bought by the metre or the foot, in whole increments."""

    label: str
    increment_um: int
    price: Decimal | None  # of one increment
    least_um: int = 0  # shortest length sold
    longest_um: int | None = None  # longest single length sold


@dataclass(frozen=True)
class CableStock:
    conductor: str
    colour: str
    remnants: tuple[Remnant, ...] = ()
    spools: tuple[Spool, ...] = ()
    by_length: tuple[ByLength, ...] = ()


@dataclass(frozen=True)
class CuttingRules:
    kerf_um: int = 0  # lost at each cut
    end_trim_um: int = 0  # cut off each spool before the first piece
    keep_above_um: int | None = None  # what remains at least this long is kept as a remnant
    kept_value_per_m: Decimal = Decimal(0)  # what a kept remnant is worth
    kept_value_by_conductor: tuple[tuple[str, Decimal], ...] = ()  # (conductor, per m), where it differs
    least_waste: bool = False  # cut for least metres bought, then least scrap, instead of money
    larger_conductor_allowed: bool = False
    other_colour_allowed: bool = False  # with tape

    def value_per_m(self, conductor: str) -> Decimal:
        return dict(self.kept_value_by_conductor).get(conductor, self.kept_value_per_m)


@dataclass(frozen=True)
class Stock:
    currency: str
    conductors: tuple[Conductor, ...]
    cables: tuple[CableStock, ...]
    lugs: tuple[Lug, ...] = ()
    heat_shrink: tuple[HeatShrink, ...] = ()
    fuses: tuple[Fuse, ...] = ()
    sundries: tuple[Sundry, ...] = ()
    rules: CuttingRules = CuttingRules()

    def conductor(self, name: str) -> Conductor:
        return next(c for c in self.conductors if c.name == name)

    def cable(self, conductor: str, colour: str) -> CableStock | None:
        return next((c for c in self.cables if (c.conductor, c.colour) == (conductor, colour)), None)

    def lug(self, conductor: str, stud: str) -> Lug | None:
        return next((x for x in self.lugs if (x.conductor, x.stud) == (conductor, stud)), None)

    def threads_of(self, conductor: str) -> frozenset[str]:
        """The studs that a lug for this conductor is listed for."""
        return frozenset(x.stud for x in self.lugs if x.conductor == conductor)
