"""What is cut from what: the pieces asked for, and the plan that yields them.

Lengths are whole micrometres and money is decimal, so that every sum in a plan can be checked to the last digit.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from cutlist.stock.certificate import Certificate


@dataclass(frozen=True)
class Piece:
    name: str  # unique in a job: "S1 positive"
    conductor: str  # as the stock file calls it
    colour: str
    length_um: int  # as marked and cut


@dataclass(frozen=True)
class Cut:
    piece: str
    length_um: int
    remaining_um: int  # of the spool, after this cut
    instead_of: str = ""  # "35 mm2 red" when it is cut from a larger conductor or another colour


@dataclass(frozen=True)
class SpoolUse:
    label: str  # of the line in the stock file
    kind: str  # "remnant", "spool", "by length"
    copy: int  # 1, 2, ... among the uses of this label
    conductor: str
    colour: str
    length_um: int
    price: Decimal | None  # money to spend on it: a remnant 0; None: not known
    cuts: tuple[Cut, ...]  # longest first; empty: bought for a price break only
    end_trim_um: int
    remains_um: int
    kept: bool  # goes back to stock; else it is scrap
    book_value: Decimal = Decimal(0)  # of a remnant: what using it is counted at
    kept_value: Decimal = Decimal(0)  # what the kept rest is counted at

    @property
    def cut_um(self) -> int:
        return sum(c.length_um for c in self.cuts)


@dataclass(frozen=True)
class GroupResult:
    """One conductor and colour (several, if pieces may be cut from more than their own), and how good its cuts are.

    `by` is "money" or "metres bought"; `cost` and `least_cost` are in that measure (money, or metres), `cost` with book
    values added and kept values taken off. `least_cost` is proved: no plan for these pieces costs less.
    """

    name: str  # "50 mm2 red"
    pieces: int
    by: str
    cost: Decimal
    least_cost: Decimal
    how_proved: str
    certificates: tuple[Certificate, ...]  # one for each choice of price breaks
    notes: tuple[str, ...] = ()

    @property
    def gap(self) -> Decimal:
        return self.cost - self.least_cost

    @property
    def proved(self) -> bool:
        return self.gap == 0


@dataclass(frozen=True)
class CutPlan:
    currency: str
    spools: tuple[SpoolUse, ...]
    groups: tuple[GroupResult, ...]
    untouched_value: Decimal = Decimal(0)  # of remnants left alone, above their book value
    interrupted: bool = False  # somebody asked for the best found so far

    @property
    def missing_prices(self) -> tuple[str, ...]:
        """Labels of what must be bought at a price that is not known."""
        return tuple(sorted({s.label for s in self.spools if s.price is None}))

    @property
    def spent(self) -> Decimal:
        """Money to spend, as far as prices are known: look at `missing_prices` beside it."""
        return sum((s.price for s in self.spools if s.price is not None), Decimal(0))

    @property
    def kept_value(self) -> Decimal:
        return sum((s.kept_value for s in self.spools), Decimal(0))

    @property
    def book_value(self) -> Decimal:
        return sum((s.book_value for s in self.spools), Decimal(0))

    @property
    def cost(self) -> Decimal | None:
        """Money spent and book value used, less the value kept and left alone; None when a price is missing."""
        return None if self.missing_prices else self.spent + self.book_value - self.kept_value - self.untouched_value

    @property
    def least_cost(self) -> Decimal | None:
        """Proved: no plan costs less. None when any group was planned by metres."""
        if any(g.by != "money" for g in self.groups):
            return None
        return sum((g.least_cost for g in self.groups), Decimal(0))

    @property
    def gap(self) -> Decimal | None:
        """0: proved best. None when the plan has no cost in money."""
        if self.cost is None or self.least_cost is None:
            return None
        return self.cost - self.least_cost

    @property
    def proved(self) -> bool:
        return all(g.proved for g in self.groups)

    @property
    def bought_um(self) -> int:
        return sum(s.length_um for s in self.spools if s.kind != "remnant")

    @property
    def cut_um(self) -> int:
        return sum(s.cut_um for s in self.spools)

    @property
    def kept_um(self) -> int:
        return sum(s.remains_um for s in self.spools if s.kept)

    @property
    def waste_um(self) -> int:
        """What ends up in no piece and in no kept remnant: scrap, kerfs, trimmed ends."""
        return sum(s.length_um - s.cut_um - (s.remains_um if s.kept else 0) for s in self.spools)

    def conductor_of(self, piece: str) -> tuple[str, str]:
        """(conductor, colour) a piece is really cut from. Raises KeyError if it is in no spool."""
        for spool in self.spools:
            if any(c.piece == piece for c in spool.cuts):
                return spool.conductor, spool.colour
        raise KeyError(piece)


class CannotCut(ValueError):
    """No plan exists; `faults` says in words which pieces cannot be had, and what the longest stock is."""

    def __init__(self, faults: tuple[str, ...]):
        super().__init__("; ".join(faults))
        self.faults = faults
