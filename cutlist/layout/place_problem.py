"""The question 'where do the bus bars go?' as plain frozen values, and what is known of the length of runs.

Lengths of runs come from a `RunLengths`: straight lines here (tape in the air, and the reference cases), a distance
field among obstacles in a real plan. The search asks only for those two functions.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from cutlist.bank.bus_bars import BarPlace
from cutlist.bank.site import MountingFace
from cutlist.bank.stock import Stock
from geometry.runs import Point

Array = NDArray[np.float64]


class RunLengths(Protocol):
    """How long the run from a terminal to a stud is, for any number of both."""

    @property
    def speaks_of(self) -> str:
        """Whose length the bounds are: "straight runs", "run-length bounds among obstacles"."""

    def lengths(self, terminals: Array, studs: Array, lies: Array) -> Array:
        """Metres (k, n) from each terminal (k, 3) to each stud (n, 3), whose lug lies one way or the other along
        `lies[:, 0]`, the stud pointing along `lies[:, 1]` (n, 2, 3); infinite where no run is known."""

    def bounds(self, terminals: Array, studs: Array, lies: Array) -> Array:
        """The same, never too long: no run that obeys the rules is shorter. Moves no faster than the stud does."""


@dataclass(frozen=True)
class StraightRuns:
    """Straight lines from terminal to stud: the bound is the run itself."""

    speaks_of: str = "straight runs"

    def lengths(self, terminals: Array, studs: Array, lies: Array) -> Array:  # noqa: ARG002
        """
        >>> StraightRuns().lengths(np.zeros((1, 3)), np.array([[3.0, 4.0, 0.0]]), np.zeros((1, 2, 3))).tolist()
        [[5.0]]
        """
        return np.sqrt(((terminals[:, None, :] - studs[None, :, :]) ** 2).sum(axis=2))

    def bounds(self, terminals: Array, studs: Array, lies: Array) -> Array:
        return self.lengths(terminals, studs, lies)


@dataclass(frozen=True)
class StringEnds:
    name: str
    positive: Point
    negative: Point
    later: bool = False  # a string still to come: it gets studs and counts for the target, but no lead is bought


@dataclass(frozen=True)
class FeederEnd:
    """The far end of a feeder, as seen from its bus bar: a device, a load."""

    name: str
    pole: str  # "positive" or "negative"
    far: Point
    current_a: float
    longest_m: float | None = None  # a rule that limits its run (a fuse within reach of its source)
    allowance_um: int = 0  # taken off its run beyond the conductor's own allowance


@dataclass(frozen=True)
class Circuit:
    """A load's way out and back, and the drop it may have. The leads carry the whole bank's current."""

    name: str
    feeders: tuple[str, ...]  # names, of both poles
    drop_limit_v: float
    other_v: float = 0.0  # of what does not depend on the places: jumpers, devices, cables beyond
    leads_a: float | None = None  # of all leads of a pole together; None: the bank's current
    feeders_a: tuple[tuple[str, float], ...] = ()  # where a feeder carries another current than it says of itself
    fixed_am: float = 0.0  # ampere-metres of feeders that do not move, of the feeders' conductor

    def feeder_a(self, feeder: FeederEnd) -> float:
        return dict(self.feeders_a).get(feeder.name, feeder.current_a)


@dataclass(frozen=True)
class BarRow:
    """A bus bar as a row of studs, and where it may go: anywhere on faces, or one of some fixed places."""

    pole: str  # "positive" or "negative"
    studs: int
    pitch_m: float
    lugs_per_stud: int = 4
    turns: tuple[int, ...] = (0,)  # on a face: 0 along u, 90 along v, 180 and 270 the same with stud 1 at the other end
    faces: tuple[str, ...] = ()
    places: tuple[BarPlace, ...] = ()
    reserved_studs: int = 0  # at the ends of the row, kept free for later strings
    lowest_z_m: float | None = None  # no stud lies lower (bilge water)
    most_lugs: int | None = None  # of unlike studs: as many where those that fit would not suffice; None: no more


@dataclass(frozen=True)
class ConductorChoice:
    """A conductor that leads, or feeders, may be made of."""

    name: str  # as the stock calls it
    ohm_per_m: float  # at the temperature at which the drop is limited
    positive_allowance_um: int = 0  # cut length = run less this, rounded up
    negative_allowance_um: int = 0
    other_price: Decimal = Decimal(0)  # of lugs and fuses that come with it
    shared_price: Decimal = Decimal(0)  # of leads, and due besides if feeders of it use up the same lugs on hand
    # studs of the bars on which its lugs go, counted from 0 along the whole bar; None: any
    positive_studs: tuple[int, ...] | None = None
    negative_studs: tuple[int, ...] | None = None

    def studs_on(self, pole: str) -> tuple[int, ...] | None:
        return self.positive_studs if pole == "positive" else self.negative_studs


@dataclass(frozen=True)
class OtherPieces:
    """Pieces cut from the same spools whose lengths do not depend on the places: jumpers, feeders between devices."""

    conductor: str
    colour: str
    length_um: int
    count: int
    as_feeders: bool = False  # of whatever conductor the feeders are; else of the one named


@dataclass(frozen=True)
class PlaceProblem:
    strings: tuple[StringEnds, ...]
    feeders: tuple[FeederEnd, ...]
    circuits: tuple[Circuit, ...]
    faces: tuple[MountingFace, ...]
    bars: tuple[BarRow, BarRow]  # positive, negative
    stock: Stock
    lead_conductors: tuple[ConductorChoice, ...]
    feeder_conductors: tuple[ConductorChoice, ...]
    current_a: float  # of the whole bank
    runs: RunLengths = field(default_factory=StraightRuns)
    pairs: tuple[tuple[str, str], ...] | None = None  # (lead, feeder) conductors allowed together; None: all
    positive_colour: str = "red"
    negative_colour: str = "black"
    separation_m: float = 0.0  # between the two rows of studs
    same_face: bool | None = None  # True: both bars on one face; False: on two
    round_up_um: int = 5000
    longer_m: float = 0.0  # plan as if every run were this much longer
    longest_lead_m: float | None = None  # a rule that limits every lead's run
    poles_alike: bool = True  # False: the leads of each pole are alike, the two poles need not be
    other_pieces: tuple[OtherPieces, ...] = ()

    def bar(self, pole: str) -> BarRow:
        return next(bar for bar in self.bars if bar.pole == pole)

    def together(self, lead: ConductorChoice, feeder: ConductorChoice | None) -> bool:
        """Whether leads and feeders may be built of these; without feeders: the leads of this one."""
        if self.pairs is None:
            return True
        if feeder is None:
            return any(name == lead.name for name, _ in self.pairs)
        return (lead.name, feeder.name) in self.pairs

    def other_price(self, lead: ConductorChoice, feeder: ConductorChoice | None) -> Decimal:
        """Of what comes with the conductors: lugs, those on hand used once."""
        if feeder is None:
            return lead.other_price
        shared = lead.shared_price if feeder.name == lead.name else Decimal(0)
        return lead.other_price + feeder.other_price + shared

    def feeders_of(self, pole: str) -> tuple[FeederEnd, ...]:
        return tuple(feeder for feeder in self.feeders if feeder.pole == pole)

    def colour_of(self, pole: str) -> str:
        return self.positive_colour if pole == "positive" else self.negative_colour

    def string_points(self, pole: str) -> Array:
        """(strings, 3) terminals at which the leads of a pole begin."""
        return np.array([s.positive if pole == "positive" else s.negative for s in self.strings], dtype=float)

    def feeder_points(self, pole: str) -> Array:
        return np.array([feeder.far for feeder in self.feeders_of(pole)], dtype=float).reshape(-1, 3)
