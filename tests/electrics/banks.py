"""Small banks for the electrical tests: batteries, cables and stock with round figures."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from cutlist.bank.batteries import Battery, BatteryType, String, Terminal
from cutlist.bank.bus_bars import BusBar, Device, Feeder, Load, Surge
from cutlist.bank.cables import Conductor, Fuse, Lug
from cutlist.bank.job import Job, Limits, Policy
from cutlist.bank.site import Site
from cutlist.bank.stock import ByLength, CableStock, Stock
from cutlist.electrics.conductors import conductor_data
from cutlist.electrics.wiring import CableSpec
from geometry.space import Space

OUT = ((0.0, 0.0, 1.0),)


def terminal(name: str, stud: str = "M8") -> Terminal:
    return Terminal(name, (0.0, 0.0, 0.0), OUT, stud)


def battery_type(**changes) -> BatteryType:
    usual = {
        "name": "twelve",
        "chemistry": "agm",
        "voltage_v": 12.0,
        "capacity_ah": 100.0,
        "resistance_ohm": 0.004,
        "emf_v": 12.8,
    }
    return BatteryType(**(usual | changes))


def conductor(size: str, **changes) -> Conductor:
    data = conductor_data(size)
    usual = {"outside_diameter_m": 0.015, "bend_radius_m": 0.09, "insulation_c": 105.0}
    return Conductor(size, size, data.area_mm2, data.ohm_per_km_20c, data.source, **(usual | changes))


def bank(strings: int = 2, series: int = 2, *, bar=(0.0, 0.0), load_a: float = 100.0, **job_changes) -> Job:
    """`strings` of `series` twelve-volt batteries on two bars of `strings` + 1 studs, one load."""
    kind = job_changes.pop("battery", battery_type())
    surge = job_changes.pop("surge", Surge(2 * load_a, 5.0))
    made = []
    for s in range(1, strings + 1):
        names = [f"S{s}B{b}" for b in range(1, series + 1)]
        batteries = tuple(Battery(n, kind, terminal(f"{n} positive"), terminal(f"{n} negative")) for n in names)
        made.append(String(f"S{s}", batteries))
    bars = tuple(
        BusBar(f"{pole} bar", pole, strings + 1, 0.05, "M10", width_m=bar[0], thickness_m=bar[1], rating_a=400.0)
        for pole in ("positive", "negative")
    )
    load = Load("inverter", terminal("inverter plus", "M10"), terminal("inverter minus", "M10"), load_a, surge)
    usual = {
        "name": "test bank",
        "units": "mm",
        "ambient_c": 20.0,
        "rules": "copper by ambient",
        "limits": Limits(drop=0.03),
        "site": Site(Space(())),
        "batteries": tuple(b for s in made for b in s.batteries),
        "strings": tuple(made),
        "bus_bars": bars,
        "loads": (load,),
        "feeders": (
            Feeder("main positive", "positive", ("bus bar", "positive bar"), ("load positive", "inverter")),
            Feeder("main negative", "negative", ("bus bar", "negative bar"), ("load negative", "inverter")),
        ),
        "policy": Policy(string_fuse="none"),
    }
    return Job(**(usual | job_changes))


def cables_of(
    job: Job,
    wire: Conductor,
    *,
    lead_m: float | dict[str, float] = 2.0,
    jumper_m: float = 0.3,
    feeder_m: float = 1.0,
    tap: tuple[int, int] = (0, 0),
) -> tuple[CableSpec, ...]:
    """String k lands on stud k + 1 of both bars (the feeder has `tap`'s); `lead_m` may name leads of other lengths."""
    found = []
    for k, string in enumerate(job.strings):
        for pole, end in (("positive", string.positive), ("negative", string.negative)):
            name = f"{string.name} {pole}"
            long_m = lead_m.get(name, 2.0) if isinstance(lead_m, dict) else lead_m
            found.append(
                CableSpec(name, "lead", pole, string.name, end.name, ("stud", f"{pole} bar", k + 1), wire, long_m)
            )
        for n, (start, finish) in enumerate(string.jumpers, start=1):
            name = f"{string.name} jumper {n}"
            found.append(CableSpec(name, "jumper", "", string.name, start.name, finish.name, wire, jumper_m))
    studs = dict(zip(("positive", "negative"), tap, strict=True))
    for feeder in job.feeders:
        ends = [("stud", e[1], studs[feeder.pole]) if e[0] == "bus bar" else e for e in (feeder.start, feeder.finish)]
        found.append(CableSpec(feeder.name, "feeder", feeder.pole, "", *ends, wire, feeder_m))
    return tuple(found)


def with_shunt(job: Job, ohm: float | None = 0.0001) -> Job:
    """The negative feeder passes a shunt: two feeders."""
    shunt = Device("shunt", "shunt", terminal("shunt bank", "M10"), terminal("shunt load", "M10"), ohm)
    feeders = (
        job.feeders[0],
        Feeder("bar to shunt", "negative", ("bus bar", "negative bar"), ("device source side", "shunt")),
        Feeder("shunt to load", "negative", ("device load side", "shunt"), ("load negative", "inverter")),
    )
    return replace(job, devices=(shunt,), feeders=feeders)


def fuse(rating_a: float, **changes) -> Fuse:
    usual = {
        "family": "strip",
        "rating_a": rating_a,
        "voltage_v": 58.0,
        "interrupt_a": 20000.0,
        "resistance_ohm": 0.025 / rating_a,
        "stud": "M8",
        "i2t_a2s": 40.0 * rating_a**2 / 100,
        "price": Decimal(9),
    }
    return Fuse(**(usual | changes))


def stock(sizes=("25 mm2", "35 mm2", "50 mm2", "70 mm2"), studs=("M8", "M10"), fuses=()) -> Stock:
    """Cable by the metre at 0.2 a mm2, lugs for every size and stud."""
    conductors = tuple(conductor(size) for size in sizes)
    cables = tuple(
        CableStock(c.name, colour, by_length=(ByLength("by the metre", 1_000_000, Decimal(str(c.area_mm2 / 5))),))
        for c in conductors
        for colour in ("red", "black")
    )
    lugs = tuple(Lug(c.name, stud, 0.02, 0.03, 0.05, Decimal(1)) for c in conductors for stud in studs)
    return Stock("EUR", conductors, cables, lugs, fuses=tuple(fuses))
