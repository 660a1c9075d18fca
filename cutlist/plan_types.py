"""What a plan is: every figure that any sheet prints, with its evidence."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from cutlist.bank.bus_bars import BarPlace, BusBar
from cutlist.bank.cables import Conductor, Fuse, Lug
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.charge_state import Drift
from cutlist.electrics.rejoin import Rejoined
from cutlist.electrics.sharing import Chance, Contribution, Spread, Tolerance
from cutlist.electrics.what_if import BadJoint, Further, Isolated
from cutlist.findings import Finding
from cutlist.place_types import FaceCost, LeastDrop, PlaceLandscape, PlaceProof, PlaceSaving, PlaceTried
from geometry.beside import Beside
from geometry.company import BundleClamp, Company
from geometry.runs import Run

if TYPE_CHECKING:
    from cutlist.stock.alternates import Alternate
    from cutlist.stock.later_leads import LaterLeads
    from cutlist.stock.order import Order
    from cutlist.stock.spool_cuts import CutPlan


@dataclass(frozen=True)
class CableEnd:
    at: str  # terminal, or "positive bus bar, stud 3"
    stud: str  # "M10"
    lug: Lug | None  # None: not in stock; a finding says so
    strip_m: float | None
    torque_nm: float | None


@dataclass(frozen=True)
class Cut:
    """One piece of cable. A lead with an in-line fuse is two of them."""

    name: str  # text of the tag at both ends: short, unique
    length_um: int


@dataclass(frozen=True)
class PlannedCable:
    number: int  # in installing order
    name: str  # "S1 positive"
    kind: str  # "lead", "jumper", "feeder"
    pole: str  # "positive", "negative", "link"
    string: str  # "" for feeders
    conductor: Conductor
    colour: str
    start: CableEnd
    finish: CableEnd
    shortest: Run
    laid: Run  # at the target length
    target_m: float  # developed length, stud centre to stud centre
    cuts: tuple[Cut, ...]
    lug_angle_deg: float | None  # between the lugs, as seen along the cable from start to finish
    beside: tuple[Beside, ...] = ()  # the structure that the laid run lies along, from start to finish
    company: tuple[Company, ...] = ()  # the cables that the laid run lies together with, and where

    @property
    def surplus_m(self) -> float:
        return self.target_m - self.shortest.length_m


@dataclass(frozen=True)
class PlacedBar:
    bar: BusBar
    place: BarPlace
    stud_use: tuple[tuple[str, ...], ...]  # for each stud the cables on it, largest first; () free


@dataclass(frozen=True)
class StringShare:
    string: str
    current_a: float
    share: float  # of the bank's current
    departure: float  # from an even share: 0.03 is 3 % more
    fuse: Fuse | None


@dataclass(frozen=True)
class DropStage:
    stage: str  # "leads", "jumpers", "bus bars", "feeders", "fuses and devices", "terminations"
    drop_v: float


@dataclass(frozen=True)
class LoadResult:
    load: str
    current_a: float
    voltage_v: float
    drop_v: float
    drop: float  # share of nominal voltage
    stages: tuple[DropStage, ...]
    handbook_drop_v: float  # K * I * L / E, printed beside ours


@dataclass(frozen=True)
class Compared:
    """One way of matching the leads, or of connecting the strings, beside the others."""

    kind: str  # "policy", "connection"
    name: str
    chosen: bool
    lead_m: float  # of the leads; in a chain of the links, which stand for them
    cable_m: float  # of all cables
    cost: Decimal | None  # estimated, of all cables and their lugs
    largest_over_smallest: float  # string currents
    worst_departure: float  # signed, from an even share
    worst_string: str
    drop: float  # worst, share of nominal voltage
    drift: Drift | None = None  # of the strings' charge over a cycle; None: not asked, or no curve for the chemistry


@dataclass(frozen=True)
class Equality:
    """How unequal the strings are, what makes them so, and how equal is enough."""

    largest_over_smallest: float  # of the string currents
    causes: tuple[Contribution, ...]
    tolerance: Tolerance  # how far every lead may be off its length
    held_m: float  # how near the cutter holds a length: the step that cuts are rounded to
    spread: Spread  # what the banks of `chance` differ in
    chance: Chance


@dataclass(frozen=True)
class WhatIf:
    """Questions asked of the finished bank."""

    isolated: tuple[Isolated, ...] = ()
    rejoined: tuple[Rejoined, ...] = ()
    joints: tuple[BadJoint, ...] = ()
    further: tuple[Further, ...] = ()

    @property
    def failing(self) -> bool:
        """Whether some answer breaks a limit that the bank as it is keeps."""
        return (
            any(i.failing for i in self.isolated)
            or any(f.failing for f in self.further)
            or any(r.finding.status == "fail" for r in self.rejoined)
        )


@dataclass(frozen=True)
class MakeUp:
    """The batteries of one string, from the positive end to the negative end."""

    string: str
    stated: tuple[str, ...]  # as the job has it
    laid: tuple[str, ...]

    @property
    def changed(self) -> bool:
        return self.stated != self.laid


@dataclass(frozen=True)
class Regrouped:
    """Which of several like batteries make up which string, so that jumpers and leads come out shortest.

    Lengths are quick ones: taut ways with lugs, the bus bars at the best of a few places; changed jumpers as routed.
    """

    strings: tuple[MakeUp, ...]
    saved_m: float  # of cable, against the strings as the job states them
    stated_m: float  # of all leads, jumpers and feeders with those
    least_m: float  # no grouping takes less
    how: str

    @property
    def changed(self) -> bool:
        return any(string.changed for string in self.strings)


@dataclass(frozen=True)
class RecordEntry:
    """One calculated figure, so that anybody can do it again."""

    item: str
    quantity: str
    value: float
    unit: str
    formula: str
    inputs: tuple[tuple[str, float, str], ...]  # (name, value, unit)
    source: str


@dataclass(frozen=True)
class Plan:
    job: Job
    stock: Stock
    bars: tuple[PlacedBar, ...]  # positive, negative
    cables: tuple[PlannedCable, ...]  # in installing order
    target_um: int  # cut length of the leads, when all are alike; else the longest
    shares: tuple[StringShare, ...]
    loads: tuple[LoadResult, ...]
    cut_plan: CutPlan
    order: Order
    findings: tuple[Finding, ...]
    tried: tuple[PlaceTried, ...]
    record: tuple[RecordEntry, ...]
    left_out: tuple[str, ...]  # what this plan does not look at, in words
    compared: tuple[Compared, ...] = ()
    face_costs: tuple[FaceCost, ...] = ()
    landscape: PlaceLandscape | None = None  # None: places not searched together
    equality: Equality | None = None  # None: one string shares with none, or the bank carries nothing
    what_if: WhatIf = WhatIf()
    place_proof: PlaceProof | None = None
    place_saving: PlaceSaving | None = None  # None: places not searched together, or nothing naive can be built
    least_drop: LeastDrop | None = None  # where the drop limit holds nowhere
    alternates: tuple[Alternate, ...] = ()  # other ways of buying the cable
    clamps: tuple[BundleClamp, ...] = ()  # every clamp once, with all cables in it
    later_leads: LaterLeads | None = None  # None: no later string is named
    regrouped: Regrouped | None = None  # None: the job does not let like batteries change places

    @property
    def name(self) -> str:
        return self.job.name

    @property
    def units(self) -> str:
        return self.job.units

    @property
    def round_up_um(self) -> int | None:
        return self.job.policy.round_up_um

    @property
    def later_strings(self) -> int:
        return self.job.policy.later_strings

    @property
    def leads(self) -> tuple[PlannedCable, ...]:
        return tuple(c for c in self.cables if c.kind == "lead")

    @property
    def failing(self) -> tuple[Finding, ...]:
        return tuple(f for f in self.findings if f.status == "fail")


@dataclass(frozen=True)
class Infeasible:
    """No plan exists: which cable, what stops it, how much is missing."""

    cable: str
    reason: str
    obstacle: str
    missing_m: float
