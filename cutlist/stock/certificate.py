"""What is handed over with a proved lower bound, so that somebody else can check it.

The bound rests on prices: give every piece a price so that no way of cutting a spool yields more than the spool
costs; then no plan can cost less than the sum of the prices of all pieces asked for. Where the stock is limited, each
limit has a price too. Where that is not enough, the cases are told apart by how many spools of some kinds are used
('leaves'), and the last step lists every way of cutting that a cheaper plan could use.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class CountLimit:
    """How many spools of these stock lines (by index) a plan uses in all: at least or at most `count`."""

    lines: tuple[int, ...]
    at_least: bool
    count: int


@dataclass(frozen=True)
class Leaf:
    """One case: the limits that define it, and why no plan within them costs less than the bound.

    Whole-number prices, in 1/`scale` of a cost unit: one a piece type, one (>= 0) a stock line that has an
    availability, one (>= 0) a limit. `listed`: None, or how many ways of cutting have a reduced cost below the gap;
    a search over just these found no plan below the bound.
    """

    limits: tuple[CountLimit, ...]
    scale: int
    piece_prices: tuple[int, ...]
    line_prices: tuple[int, ...]
    limit_prices: tuple[int, ...]
    listed: int | None = None


@dataclass(frozen=True)
class Offered:
    """What one line of prices stands for in the stock file. Labels: of like remnants, all; else one."""

    kind: str  # "remnant", "spool", "by length"; "missing": not really there
    labels: tuple[str, ...]
    conductor: str
    colour: str
    length_um: int
    paid_for: bool = False  # one of a number bought for a price break


@dataclass(frozen=True)
class Certificate:
    """`bound`, in cost units of the group's problem: no plan costs less. One leaf for each case.

    `searched`: the bound is higher than the prices prove; an exhaustive search found no cheaper plan. That search is
    its solver's word: it cannot be replayed with a pocket calculator as the prices can.

    `tried`: the group is so small that every way to share its pieces among spools was tried, as whoever checks does
    again.

    `unit`: worth of one cost unit, in money or metres. `kinds`: (conductor, colour, um) of each piece type, in
    the order of the prices; `offers`: the stock lines, likewise. `tiers`: which price break is used, for each spool
    that has some. `beyond`: cable by the metre told apart by length only up to this; longer is bounded as a whole.
    """

    bound: int
    leaves: tuple[Leaf, ...]
    searched: bool = False
    tried: bool = False
    unit: Decimal = Decimal(1)
    kinds: tuple[tuple[str, str, int], ...] = ()
    offers: tuple[Offered, ...] = ()
    tiers: tuple[tuple[str, int], ...] = ()
    beyond: tuple[Offered, ...] = ()
