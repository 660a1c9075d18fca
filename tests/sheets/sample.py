"""An invented workshop bank as a whole Plan, put together by hand, so that the sheets are tested on their own.

Strings of two 12 V batteries stand in a row along a wall. Every lead rises from its stud, goes along the wall at its
own height and comes down on its bus-bar stud; surplus is laid by going higher. Nothing here is solved: the figures
are made to agree with each other, which is what sheets need.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import numpy as np

from cutlist.bank.batteries import Battery, BatteryType, String, Terminal
from cutlist.bank.bus_bars import BarPlace, BusBar, Device, Feeder, Load, Surge
from cutlist.bank.cables import Conductor, Fuse, HeatShrink, Lug, Sundry
from cutlist.bank.job import Job, Limits, Policy
from cutlist.bank.site import MountingFace, Site, Zone
from cutlist.bank.stock import ByLength, CableStock, CuttingRules, Remnant, Spool, Stock
from cutlist.findings import Finding
from cutlist.place_types import PlaceTried
from cutlist.plan_types import (
    CableEnd,
    Compared,
    Cut,
    DropStage,
    LoadResult,
    PlacedBar,
    Plan,
    PlannedCable,
    RecordEntry,
    StringShare,
)
from cutlist.stock import cut_plan as stock_cuts
from cutlist.stock.alternates import Alternate
from cutlist.stock.order import CableEnd as OrderedEnd
from cutlist.stock.order import FuseUse, SundryUse, order_list
from geometry.curve import Curve, filleted
from geometry.runs import Clamp, Run
from geometry.solids import Box, Cylinder, Prism
from geometry.space import Obstacle, Penetration, Space

BEND_M = 0.06
UP = (0.0, 0.0, 1.0)
OUT = (0.0, 1.0, 0.0)
EIGHTH_UM = 3175


def workshop_plan(
    strings: int = 2,
    units: str = "mm",
    prices: bool = True,
    string_name: Callable[[int], str] = lambda i: f"S{i}",
    job_name: str = "Workshop bank",
    fails: bool = False,
    in_line_fuse: bool = False,
    spool_um: int | None = None,
) -> Plan:
    """A plan with two leads and a jumper a string, and two feeders to one inverter."""
    conductor = _conductor(units)
    stock = _stock(conductor, units, prices, spool_um or (30_480_000 if units == "in" else 25_000_000))
    job = _job(strings, units, string_name, job_name, in_line_fuse)
    bars = tuple(_placed(bar, string_name, strings) for bar in job.bus_bars)
    cables = _cables(job, stock, conductor, bars)
    cut_plan = _cut(cables, stock)
    order = order_list(cut_plan, stock, ends=_ends(cables), fuses=_fuses(job), sundries=_sundries(cables))
    leads = [c for c in cables if c.kind == "lead"]
    return Plan(
        job=job,
        stock=stock,
        bars=bars,
        cables=cables,
        target_um=max(cut.length_um for lead in leads for cut in lead.cuts),
        shares=_shares(job, stock),
        loads=(_load_result(),),
        cut_plan=cut_plan,
        order=order,
        findings=_findings(fails),
        tried=_tried(bars, prices),
        record=(
            RecordEntry(
                "S1 positive", "resistance", 0.001351, "ohm", "ohm_per_km / 1000 x length",
                (("ohm_per_km", 0.386, "ohm/km"), ("length", 3.5, "m")), "IEC 60228 class 5, 50 mm2",
            ),
        ),
        compared=_compared(prices),
        alternates=(
            Alternate("whole spools only", Decimal("52.00") if prices else None, 10_000_000),
            Alternate("70 mm2 instead of 50 mm2", None, 0, "no 70 mm2 red in stock"),
        ),
        left_out=("Ageing of the batteries is not looked at.", "Bundles are not planned: each run stands alone."),
    )  # fmt: skip


def _conductor(units: str) -> Conductor:
    if units == "in":
        return Conductor("1/0 AWG", "1/0 AWG", 53.5, 0.3224, "ASTM B258", 0.0142, BEND_M, 105.0, False, "AWG stranded")
    return Conductor("50 mm2", "50 mm2", 50.0, 0.386, "IEC 60228 class 5", 0.0138, BEND_M, 90.0)


def _stock(conductor: Conductor, units: str, prices: bool, spool_um: int) -> Stock:
    def money(text: str) -> Decimal | None:
        return Decimal(text) if prices else None

    foot_um = 304_800
    by = (
        ByLength("by the foot", foot_um, money("4.10"))
        if units == "in"
        else ByLength("by the metre", 1_000_000, money("13.20"))
    )
    cables = tuple(
        CableStock(
            conductor.name, colour,
            remnants=(Remnant(f"{colour} end", 9_400_000),),
            spools=(Spool(f"{spool_um / 1e6:g} m spool", spool_um, money("289.00")),),
            by_length=(by,),
        )
        for colour in ("black", "red")
    )  # fmt: skip
    return Stock(
        currency="EUR",
        conductors=(conductor,),
        cables=cables,
        lugs=(
            Lug(conductor.name, "M8", 0.022, 0.031, 0.036, money("1.90"), pack=10, on_hand=4),
            Lug(conductor.name, "M10", 0.022, 0.032, 0.037, money("2.05"), pack=10),
        ),
        heat_shrink=(HeatShrink("shrink 19/6", 0.008, 0.017, 0.05, 1.2, money("6.40"), "black"),),
        fuses=(Fuse("bolt-down", 150.0, 58.0, 20_000.0, 0.0003, "M8", None, money("14.50")),),
        sundries=(Sundry("cushion clamp 14", "clamp", 0.012, 0.015, money("0.85"), pack=25, on_hand=6),),
        rules=CuttingRules(keep_above_um=1_000_000, kept_value_per_m=Decimal("5")),
    )


def _job(strings: int, units: str, string_name: Callable[[int], str], job_name: str, in_line_fuse: bool) -> Job:
    agm = BatteryType("block 12 V", "agm", 12.0, 100.0, 0.004, 12.8, None, 0.05)
    batteries: list[Battery] = []
    members = []
    for i in range(1, strings + 1):
        left = 0.30 + 0.52 * (i - 1)
        pair = []
        for part, offset in (("a", 0.0), ("b", 0.24)):
            name, case = f"{string_name(i)}{part}", f"case {string_name(i)}{part}"
            x = left + offset
            pair.append(
                Battery(
                    name,
                    agm,
                    Terminal(f"{name} positive", (x, 0.25, 0.24), (UP,), "M8", case, 9.0),
                    Terminal(f"{name} negative", (x + 0.10, 0.25, 0.24), (UP,), "M8", case, 9.0),
                    Box((x + 0.05, 0.20, 0.11), (0.17, 0.33, 0.22)),
                )
            )
        batteries.extend(pair)
        members.append(String(string_name(i), tuple(pair)))
    reach = 0.30 + 0.52 * strings
    wall = Prism.along("x", ((-0.1, 0.0), (0.9, 0.0), (0.9, 1.6), (-0.1, 1.6)), reach + 0.3, reach + 0.32)
    space = Space(
        obstacles=(
            *(Obstacle(f"case {b.name}", b.case) for b in batteries if b.case),
            Obstacle("shelf", Box((reach / 2, 0.2, -0.01), (reach, 0.5, 0.02))),
            Obstacle("tank", Cylinder((reach - 0.2, 0.62, 0.0), UP, 0.12, 0.5), 0.05, clampable=False, laying=False),
            Obstacle("side wall", wall),
        ),
        penetrations=(
            Penetration("wall hole", "side wall", (reach + 0.31, 0.2, 0.9), (1.0, 0.0, 0.0), 0.08, 0.005, 0.02),
        ),
    )
    face = MountingFace("back wall", (0.2, 0.0, 0.7), (1.0, 0.0, 0.0), UP, 0.9, 0.5, 0.03, ((0.4, 0.0, 0.5, 0.1),))
    site = Site(space, (face,), (Zone("warm corner", Box((0.1, 0.2, 0.5), (0.2, 0.4, 1.0)), 40.0),))
    pitch = 0.04
    bars = tuple(
        BusBar(
            f"{pole} bus bar", pole, strings + 2, pitch, "M10", width_m=0.025, thickness_m=0.006, rating_a=400.0,
            places=(BarPlace((0.4 + pitch * (strings + 1) / 2, 0.02, z), (1.0, 0.0, 0.0), OUT, "back wall"),),
            reserved_studs=1, torque_nm=14.0,
        )
        for pole, z in (("positive", 1.1), ("negative", 0.8))
    )  # fmt: skip
    inverter = Load(
        "inverter",
        Terminal("inverter positive", (reach + 0.1, 0.1, 0.9), ((-1.0, 0.0, 0.0),), "M8", "", 12.0),
        Terminal("inverter negative", (reach + 0.1, 0.1, 0.7), ((-1.0, 0.0, 0.0),), "M8", "", 12.0),
        120.0,
        Surge(240.0, 5.0),
    )
    feeders = (
        Feeder("inverter positive", "positive", ("bus bar", "positive bus bar"), ("load positive", "inverter")),
        Feeder("inverter negative", "negative", ("bus bar", "negative bus bar"), ("load negative", "inverter")),
    )
    shunt = Device(
        "shunt", "shunt",
        Terminal("shunt source side", (reach - 0.1, 0.02, 0.7), (OUT,), "M10"),
        Terminal("shunt load side", (reach, 0.02, 0.7), (OUT,), "M10"),
        0.0001,
    )  # fmt: skip
    policy = Policy(
        round_up_um=EIGHTH_UM if units == "in" else 5000,
        string_fuse="in line" if in_line_fuse else "at battery",
        string_fuse_family="bolt-down",
        string_fuse_distance_m=0.15 if in_line_fuse else 0.0,
    )
    limits = Limits(drop=0.03, support_m=0.45)
    return Job(
        job_name, units, 20.0, "copper by ambient", limits, site, tuple(batteries), tuple(members), bars,
        (inverter,), feeders, (shunt,), policy,
    )  # fmt: skip


def _placed(bar: BusBar, string_name: Callable[[int], str], strings: int) -> PlacedBar:
    use: list[tuple[str, ...]] = [(f"{string_name(i)} {bar.pole}",) for i in range(1, strings + 1)]
    use.insert(strings // 2, (f"inverter {bar.pole}",))
    return PlacedBar(bar, bar.places[0], (*use, ()))


def _cables(job: Job, stock: Stock, conductor: Conductor, bars: tuple[PlacedBar, ...]) -> tuple[PlannedCable, ...]:
    cables: list[PlannedCable] = []
    wanted = []
    for bar in bars:
        points = bar.bar.stud_points(bar.place)
        for index, names in enumerate(bar.stud_use):
            for name in names:
                wanted.append((name, bar, index, points[index]))
    ends = {f"{s.name} {pole}": (s, getattr(s, pole)) for s in job.strings for pole in ("positive", "negative")}
    shortest = {
        name: _over(ends[name][1].point, stud, max(stud[2], 0.5) + 0.15) for name, _, _, stud in wanted if name in ends
    }
    target_m = max(curve.length_m for curve in shortest.values())
    step = job.policy.round_up_um
    for string in job.strings:
        for first, second in string.jumpers:
            run = _over(first.point, second.point, first.point[2] + 0.14)
            cables.append(
                _cable(
                    cables,
                    f"{string.name} jumper",
                    "jumper",
                    "link",
                    string.name,
                    stock,
                    conductor,
                    "red",
                    first,
                    second,
                    run,
                    run,
                    step,
                    job,
                )
            )
    for name, bar, index, stud in wanted:
        at = Terminal(f"{bar.bar.name}, stud {index + 1}", stud, (OUT,), bar.bar.stud, "", bar.bar.torque_nm)
        colour = "red" if bar.bar.pole == "positive" else "black"
        if name in ends:
            string, terminal = ends[name]
            laid = _at_length(terminal.point, stud, target_m)
            cables.append(
                _cable(
                    cables,
                    name,
                    "lead",
                    bar.bar.pole,
                    string.name,
                    stock,
                    conductor,
                    colour,
                    terminal,
                    at,
                    shortest[name],
                    laid,
                    step,
                    job,
                )
            )
        else:
            load = job.loads[0]
            terminal = load.positive if bar.bar.pole == "positive" else load.negative
            run = _over(stud, terminal.point, stud[2] + 0.2)
            cables.append(
                _cable(
                    cables,
                    name,
                    "feeder",
                    bar.bar.pole,
                    "",
                    stock,
                    conductor,
                    colour,
                    at,
                    terminal,
                    run,
                    run,
                    step,
                    job,
                )
            )
    return tuple(cables)


def _over(start: tuple[float, ...], finish: tuple[float, ...], height: float) -> Curve:
    a, b = np.array(start), np.array(finish)
    return filleted([a, np.array([a[0], a[1], height]), np.array([b[0], b[1], height]), b], BEND_M)


def _at_length(start: tuple[float, ...], finish: tuple[float, ...], target_m: float) -> Curve:
    low = max(finish[2], 0.5) + 0.15
    high = low + target_m
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if _over(start, finish, middle).length_m < target_m else (low, middle)
    return _over(start, finish, high)


def _cable(
    before: list[PlannedCable], name: str, kind: str, pole: str, string: str, stock: Stock, conductor: Conductor,
    colour: str, start: Terminal, finish: Terminal, shortest: Curve, laid: Curve, step_um: int, job: Job,
) -> PlannedCable:  # fmt: skip
    lugs = stock.lug(conductor.name, start.stud), stock.lug(conductor.name, finish.stud)
    off = sum(lug.hole_to_stop_m for lug in lugs if lug)
    length_um = -(-round((laid.length_m - off) * 1e6) // step_um) * step_um
    cuts = (Cut(name, length_um),)
    if kind == "lead" and pole == "positive" and job.policy.string_fuse == "in line":
        first = step_um * (200_000 // step_um)
        cuts = (Cut(f"{name} 1", first), Cut(f"{name} 2", length_um - first))
    shape = "" if laid is shortest else "way round"
    ends = [
        CableEnd(t.name, t.stud, lug, lug.strip_m if lug else None, t.torque_nm)
        for t, lug in zip((start, finish), lugs, strict=True)
    ]
    return PlannedCable(
        len(before) + 1, name, kind, pole, string, conductor, colour, ends[0], ends[1],
        _run(name, shortest, ""), _run(name, laid, shape), laid.length_m, cuts, 90.0 if kind == "lead" else 0.0,
    )  # fmt: skip


def _run(name: str, curve: Curve, shape: str) -> Run:
    places = [m for m in (0.3, 0.75, 1.2, 1.65) if m < curve.length_m - 0.1]
    points = curve.points_at(places) if places else []
    clamps = tuple(Clamp(m, tuple(float(v) for v in p), "shelf", 0.02) for m, p in zip(places, points, strict=True))
    return Run(name, curve, curve.length_m * 0.999, 0.012, (0.3, 0.2, 0.4), "shelf", (), clamps, shape)


def _cut(cables: tuple[PlannedCable, ...], stock: Stock) -> stock_cuts.CutPlan:
    """First fit, longest first: remnant, then spools."""
    spools: list[stock_cuts.SpoolUse] = []
    for conductor, colour in sorted({(c.conductor.name, c.colour) for c in cables}):
        cable_stock = stock.cable(conductor, colour)
        assert cable_stock is not None
        pieces = sorted(
            (cut for c in cables if (c.conductor.name, c.colour) == (conductor, colour) for cut in c.cuts),
            key=lambda cut: (-cut.length_um, cut.name),
        )
        sources = [(r.label, "remnant", r.length_um, Decimal(0)) for r in cable_stock.remnants]
        copy = 0
        while pieces:
            if sources:
                label, kind, length_um, price = sources.pop(0)
            else:
                spool = cable_stock.spools[0]
                copy += 1
                label, kind, length_um, price = spool.label, "spool", spool.length_um, spool.price
            room, cuts, later = length_um, [], []
            for piece in pieces:
                if piece.length_um <= room:
                    room -= piece.length_um
                    cuts.append(stock_cuts.Cut(piece.name, piece.length_um, room))
                else:
                    later.append(piece)
            pieces = later
            spools.append(
                stock_cuts.SpoolUse(
                    label,
                    kind,
                    max(copy, 1),
                    conductor,
                    colour,
                    length_um,
                    price,
                    tuple(cuts),
                    0,
                    room,
                    room >= 1_000_000,
                )
            )
    return stock_cuts.CutPlan(stock.currency, tuple(spools), ())


def _ends(cables: tuple[PlannedCable, ...]) -> tuple[OrderedEnd, ...]:
    return tuple(
        OrderedEnd(f"{c.name}, {end.at}", cut.name, end.stud)
        for c in cables
        for end, cut in ((c.start, c.cuts[0]), (c.finish, c.cuts[-1]))
    )


def _fuses(job: Job) -> tuple[FuseUse, ...]:
    return tuple(FuseUse(f"{s.name} positive", "bolt-down", 150.0) for s in job.strings)


def _sundries(cables: tuple[PlannedCable, ...]) -> tuple[SundryUse, ...]:
    return tuple(
        SundryUse(f"clamps of {c.name}", "cushion clamp 14", len(c.laid.clamps)) for c in cables if c.laid.clamps
    )


def _shares(job: Job, stock: Stock) -> tuple[StringShare, ...]:
    even = 1 / len(job.strings)
    return tuple(StringShare(s.name, 120.0 * even, even, 0.0, stock.fuses[0]) for s in job.strings)


def _load_result() -> LoadResult:
    stages = (
        DropStage("leads", 0.16),
        DropStage("jumpers", 0.02),
        DropStage("bus bars", 0.01),
        DropStage("feeders", 0.1),
    )
    return LoadResult("inverter", 120.0, 25.31, 0.29, 0.29 / 24, stages, 0.31)


def _findings(fails: bool) -> tuple[Finding, ...]:
    mend = "Use the next larger conductor for the feeders." if fails else ""
    status, limit = ("fail", 0.01) if fails else ("pass", 0.03)
    said = "Drop to the inverter is 1.21 % of 24 V."
    return (
        Finding("voltage drop", "inverter", status, said, 0.0121, limit, "", "job file", mend),
        Finding(
            "ampacity", "S1 positive", "pass", "60 A in 50 mm2, which may carry 210 A.", 60.0, 210.0, "A",
            "33 CFR 183.425, Table 5",
        ),
        Finding(
            "fault withstand", "S1 positive", "unknown", "The fuse's let-through is not given.",
            mend="Give i2t in the stock file.",
        ),
        Finding("reserve", "positive bus bar", "note", "One stud is kept free for a later string."),
    )  # fmt: skip


def _tried(bars: tuple[PlacedBar, ...], prices: bool) -> tuple[PlaceTried, ...]:
    here = tuple(bar.place for bar in bars)
    lower = BarPlace((0.6, 0.02, 0.9), (1.0, 0.0, 0.0), OUT, "back wall")
    return (
        PlaceTried(here[0], here[1], Decimal("289.00") if prices else None, 1.9, 0.0121),
        PlaceTried(lower, here[1], None, 2.4, 0.02, "S2 positive has no way to stud 1"),
    )


def _compared(prices: bool) -> tuple[Compared, ...]:
    cost = (Decimal("61.80"), Decimal("49.10")) if prices else (None, None)
    return (
        Compared("policy", "all leads alike", True, 9.36, 14.2, cost[0], 1.0, 0.0, "S1", 0.0121),
        Compared("policy", "as routed", False, 7.9, 12.7, cost[1], 1.021, -0.0105, "S2", 0.0104),
        Compared("connection", "diagonal chain", False, 0.8, 6.1, None, 1.35, 0.148, "S1", 0.0098),
    )
