"""The whole job as it was surveyed: one value, from which a plan follows."""

from __future__ import annotations

from dataclasses import dataclass

from cutlist.bank.batteries import Battery, LaterString, String
from cutlist.bank.bus_bars import BusBar, Device, Feeder, Load
from cutlist.bank.site import Site


@dataclass(frozen=True)
class Limits:
    drop: float  # share of nominal voltage, battery to load and back, at continuous current
    share: float = 0.10  # a string may carry this share more or less than an even one
    surge_drop: float | None = None  # at surge current; None: not limited
    support_m: float | None = None  # cable is clamped at least this often; None: not asked
    clamp_reach_m: float = 0.04  # centreline to the structure a clamp is fixed to
    fuse_distance_m: float | None = None  # along the lead from the battery; None: the rule set's own
    longest_lead_m: float | None = None  # run of every lead; None: not limited
    above_bilge_m: float = 0.0  # bus-bar studs stay this far above the bilge line, where the site has one


@dataclass(frozen=True)
class Policy:
    match: str = "all leads alike"  # "each pole alike", "whole loop alike", "equal resistance", "as routed"
    clearance_m: float = 0.005  # cable skin to solids
    relief_m: float = 0.0  # straight beyond the lug before the first bend
    end_allowance_m: float = 0.0  # spare at each end, for a second termination
    round_up_um: int = 5000  # cut lengths are rounded up to this
    longer_m: float = 0.0  # plan as if every run were this much longer
    surplus_together: bool = False
    conductors_lead: tuple[str, ...] = ()  # allowed; empty: all in stock
    conductors_jumper: tuple[str, ...] = ()
    conductors_feeder: tuple[str, ...] = ()
    string_fuse: str = "at battery"  # "at battery", "in line", "at bus bar", "none"
    string_fuse_family: str = ""
    string_fuse_distance_m: float = 0.0  # in line: along the lead from the battery
    like_batteries_swap: bool = False
    paralleled: bool = False
    one_string_out: bool = True  # limits must hold with any one string out of service
    dry_fit_stop_m: float = 0.010  # re-run if a dry-fit differs by more
    later_strings: int = 0  # studs are kept for so many
    lengthen_now: bool = False  # leads are made long enough for the later strings that are named
    bars_apart_m: float = 0.0  # between the rows of studs of both poles; never less than keeps their lugs apart
    bars_on: str = "any"  # of the mounting faces: "any", "one face" for both bars, "different faces"
    objective: str | None = None  # "least cost", "least waste"; None: as the stock file says


@dataclass(frozen=True)
class Colours:
    positive: str = "red"
    negative: str = "black"
    link: str = "red"  # jumpers inside a string


@dataclass(frozen=True)
class Job:
    name: str
    units: str  # of the sheets: "mm" or "in"
    ambient_c: float
    rules: str  # name of the ampacity rule set
    limits: Limits
    site: Site
    batteries: tuple[Battery, ...]
    strings: tuple[String, ...]
    bus_bars: tuple[BusBar, ...]  # one positive, one negative
    loads: tuple[Load, ...]
    feeders: tuple[Feeder, ...]
    devices: tuple[Device, ...] = ()
    policy: Policy = Policy()
    colours: Colours = Colours()
    notes: tuple[str, ...] = ()
    later: tuple[LaterString, ...] = ()  # those whose terminals are known; () if only their number is

    @property
    def positive_bar(self) -> BusBar:
        return next(b for b in self.bus_bars if b.pole == "positive")

    @property
    def negative_bar(self) -> BusBar:
        return next(b for b in self.bus_bars if b.pole == "negative")

    @property
    def voltage_v(self) -> float:
        return self.strings[0].voltage_v

    @property
    def continuous_a(self) -> float:
        return sum(load.continuous_a for load in self.loads if not load.charger)
