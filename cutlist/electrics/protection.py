"""What protects the bank: fuse ratings, what they must be able to interrupt, where they sit, what they let through."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from cutlist.bank.bus_bars import Device
from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.faults import FaultCurrent, at_battery, fault_currents, fault_withstand_a2s
from cutlist.electrics.quick_bank import prepare, worst_as_laid
from cutlist.electrics.warmth import ampacity_of
from cutlist.electrics.wiring import CableSpec
from cutlist.findings import Finding
from cutlist.reference.tables import Row, limit_rows

NOISE = 1e-7  # of a solved current: a fuse exactly as large as asked is large enough
HIGH_VOLTAGE_V = 50.0  # from here up 33 CFR 183.455(c)(2) holds instead of (c)(1)


@dataclass(frozen=True)
class Protection:
    string_fuses: dict[str, Fuse]
    fault_currents: tuple[FaultCurrent, ...]
    findings: tuple[Finding, ...]


def protect(job: Job, stock: Stock, cables: Sequence[CableSpec]) -> Protection:
    """Choose string fuses from stock and hold every protective device against its rules.

    All strings get the same fuse if one fits them all. A fuse is never guessed: where stock has none that fits, the
    string has none and a finding says why. Raises ValueError as `solve_bank` does.
    """
    prepared = prepare(job, cables)
    worst = worst_as_laid(prepared)
    faults = fault_currents(job, cables)
    findings: list[Finding] = []
    fuses: dict[str, Fuse] = {}
    if job.policy.string_fuse == "none":
        findings += _unfused(job, cables, faults)
    else:
        asked = {
            s.name: _asked(job, cables, faults, s.name, Need(*worst.string_need(prepared, i)))
            for i, s in enumerate(job.strings)
        }
        fuses = _choose(job, stock, asked)
        for name, what in asked.items():
            findings += _string_findings(job, stock, cables, name, fuses.get(name), what)
        findings += _both_ends(job, cables, fuses)
    lasting_a = {d.name: float(worst.lasting_a[0, prepared.folded.column(f"devices: {d.name}")]) for d in job.devices}
    findings += _main_findings(job, cables, lasting_a, fuses, faults)
    return Protection(fuses, faults, tuple(findings))


@dataclass(frozen=True)
class Need:
    """What must flow through a string, the worst of normal use and any string out: for long, and for a moment."""

    lasting_a: float
    surge_a: float


@dataclass(frozen=True)
class Asked:
    """What is asked of a string's fuse."""

    need: Need
    allowed_a: float  # what the weakest cable of the string may carry
    through_a: float  # what it may have to interrupt


def _asked(job: Job, cables: Sequence[CableSpec], faults: Sequence[FaultCurrent], name: str, need: Need) -> Asked:
    fault = next(f for f in faults if f.place == at_battery(name))
    # Either its own string feeds the fault through it, or all the others do.
    return Asked(need, string_allowed_a(job, cables, name), max(fault.own_a, fault.others_a))


def _choose(job: Job, stock: Stock, asked: Mapping[str, Asked]) -> dict[str, Fuse]:
    choice = family(job, stock)
    hardest = Asked(
        Need(max(a.need.lasting_a for a in asked.values()), max(a.need.surge_a for a in asked.values())),
        min(a.allowed_a for a in asked.values()),
        max(a.through_a for a in asked.values()),
    )
    alike = fit_fuse(job, choice, hardest.need, hardest.allowed_a, hardest.through_a)
    if alike is not None:
        return dict.fromkeys(asked, alike)
    each = {name: fit_fuse(job, choice, a.need, a.allowed_a, a.through_a) for name, a in asked.items()}
    return {name: fuse for name, fuse in each.items() if fuse is not None}


def string_allowed_a(job: Job, cables: Sequence[CableSpec], name: str) -> float:
    """The least that any cable of a string may carry for long."""
    return min(ampacity_of(job, c).current_a * c.paralleled for c in cables if c.string == name)


def family(job: Job, stock: Stock) -> tuple[Fuse, ...]:
    """The fuses of stock that the job allows for strings."""
    wanted = job.policy.string_fuse_family
    return tuple(f for f in stock.fuses if not wanted or f.family == wanted)


def fit_fuse(job: Job, fuses: Sequence[Fuse], need: Need, allowed_a: float, through_a: float = 0.0) -> Fuse | None:
    """The smallest fuse that carries what must flow and still protects the conductor; None if there is none.

    One that carries the surge without its curve being known is preferred, then one known to interrupt `through_a`,
    then the smaller, then the cheaper. Source: 33 CFR 183.455(c), and 80 % of rating for continuous load.
    """
    volts = max(job.voltage_v, max(s.emf_v for s in job.strings))
    least_a = need.lasting_a / rule_value("continuous current, share of fuse rating")
    ratings = sorted({f.rating_a for f in fuses})
    fitting = [
        f
        for f in fuses
        if f.voltage_v >= volts
        and f.rating_a >= least_a * (1 - NOISE)
        and f.rating_a <= highest_rating_a(job, ratings, allowed_a)
    ]

    def order(f: Fuse) -> tuple:
        breaks = f.interrupt_a is not None and f.interrupt_a >= through_a
        return (f.rating_a < need.surge_a, not breaks, f.rating_a, f.price is None, f.price or 0, f.family)

    return min(fitting, key=order, default=None)


def highest_rating_a(job: Job, ratings: Sequence[float], allowed_a: float) -> float:
    """The highest fuse rating that still protects a conductor which may carry `allowed_a`.

    Under 50 V 150 % of it; from 50 V up 100 %, or the next standard rating (of `ratings`) if none equals it, to 150 %.
    """
    if job.voltage_v < HIGH_VOLTAGE_V:
        return rule_value("rating under 50 V, share of table ampacity") * allowed_a
    exact = rule_value("rating from 50 V up, share of table ampacity") * allowed_a
    most = rule_value("rating from 50 V up, next standard size, share of table ampacity") * allowed_a
    above = min((r for r in ratings if r >= exact), default=exact)
    return above if above <= most else exact


def _string_findings(
    job: Job, stock: Stock, cables: Sequence[CableSpec], name: str, fuse: Fuse | None, asked: Asked
) -> Iterator[Finding]:
    choice, need = family(job, stock), asked.need
    least_a = need.lasting_a / rule_value("continuous current, share of fuse rating")
    highest_a = highest_rating_a(job, sorted({f.rating_a for f in choice}), asked.allowed_a)
    volts = "under 50 V" if job.voltage_v < HIGH_VOLTAGE_V else "from 50 V up"
    source = rule(f"rating {volts}, share of table ampacity")["source"]
    between = (
        f"between {least_a:.0f} A (for the {need.lasting_a:.0f} A that may flow for long) and the {highest_a:.0f} A "
        f"that its conductors allow"
    )
    if fuse is None:
        status, why = ("fail", "no fuse in stock lies") if choice else ("unknown", "stock lists no fuse; it should lie")
        mend = "add such a fuse to stock, or use a larger conductor"
        yield Finding("string fuse rating", name, status, f"{name}: {why} {between}", source=source, mend=mend)
        return
    message = f"{name}: a {fuse.rating_a:g} A fuse lies {between}"
    yield Finding("string fuse rating", name, "pass", message, fuse.rating_a, highest_a, "A", source)
    if need.surge_a > fuse.rating_a:
        message = (
            f"{name}: up to {need.surge_a:.0f} A flow in a surge through a {fuse.rating_a:g} A fuse; whether it holds "
            "is in its time-current curve, which stock does not give"
        )
        mend = "read the fuse's curve, or use a conductor that allows a larger fuse"
        yield Finding("string fuse in a surge", name, "unknown", message, need.surge_a, fuse.rating_a, "A", mend=mend)
    yield _interrupt(f"{name} fuse", fuse.interrupt_a, asked.through_a)
    yield _withstand(cables, name, fuse)
    yield _distance(job, cables, name)


def _interrupt(item: str, interrupt_a: float | None, through_a: float) -> Finding:
    rule_name = "interrupt rating"
    if interrupt_a is None:
        message = f"{item} may have to interrupt {through_a:.0f} A; its interrupt rating is not given"
        return Finding(rule_name, item, "unknown", message, through_a, None, "A", mend="give it, from the fuse's label")
    message = f"{item} may have to interrupt {through_a:.0f} A and can interrupt {interrupt_a:.0f} A"
    status = "pass" if through_a <= interrupt_a else "fail"
    source = "bank's own fault current by network; interrupt rating from the stock or job file"
    return Finding(rule_name, item, status, message, through_a, interrupt_a, "A", source, "a fuse of a stronger family")


def _withstand(cables: Sequence[CableSpec], name: str, fuse: Fuse) -> Finding:
    weakest = min((c for c in cables if c.string == name), key=lambda c: (c.conductor.area_mm2, c.name))
    rule_name, bears = "fault withstand", fault_withstand_a2s(weakest.conductor)
    if bears is None or fuse.i2t_a2s is None:
        lacking = "what its fuse lets through" if bears else "how hot its insulation may get in a fault"
        message = f"{weakest.name}: {lacking} is not given, so whether it survives a fault is not known"
        mend = "give the fuse's let-through I²t" if bears else "ask the cable's maker"
        return Finding(rule_name, weakest.name, "unknown", message, fuse.i2t_a2s, bears, "A²s", mend=mend)
    message = (
        f"{weakest.name} bears {bears:.3g} A²s from {weakest.conductor.insulation_c:g} °C up; "
        f"its fuse lets through {fuse.i2t_a2s:.3g} A²s"
    )
    status = "pass" if fuse.i2t_a2s <= bears else "fail"
    source = "adiabatic heating of copper; end temperature common practice, no published source"
    return Finding(rule_name, weakest.name, status, message, fuse.i2t_a2s, bears, "A²s", source, "a larger conductor")


def _distance(job: Job, cables: Sequence[CableSpec], name: str) -> Finding:
    """How far along the lead from its battery the fuse sits."""
    row = rule("distance from the source")
    limit_m = job.limits.fuse_distance_m if job.limits.fuse_distance_m is not None else float(row["value"])
    source = "job file" if job.limits.fuse_distance_m is not None else row["source"]
    leads = [c for c in cables if c.string == name and c.kind == "lead" and c.pole == "positive"]
    away_m = {"at battery": 0.0, "in line": leads[0].length_m, "at bus bar": sum(c.length_m for c in leads)}[
        job.policy.string_fuse
    ]
    sheathed_m = float(rule("distance from the source, sheathed")["value"])
    message = (
        f"{name}: its fuse sits {1000 * away_m:.0f} mm along the lead from the battery, {1000 * limit_m:.0f} allowed"
    )
    if job.limits.fuse_distance_m is None and limit_m < away_m <= sheathed_m:
        message += f" ({1000 * sheathed_m:.0f} where the lead is sheathed all the way to it)"
    status = "pass" if away_m <= limit_m + 1e-9 else "fail"
    mend = "put the fuse on the battery terminal, or nearer to it"
    return Finding("fuse distance", name, status, message, away_m, limit_m, "m", source, mend)


def _both_ends(job: Job, cables: Sequence[CableSpec], fuses: Mapping[str, Fuse]) -> Iterator[Finding]:
    """A lead is also fed from the bus bar, by all the other strings together."""
    for name, own in sorted(fuses.items()):
        others_a = sum(f.rating_a for other, f in fuses.items() if other != name)
        if others_a == 0 or job.policy.string_fuse == "at bus bar":
            continue
        limit_a = highest_rating_a(job, (), string_allowed_a(job, cables, name))
        message = (
            f"{name}: a fault on its positive lead is fed from both ends. Its own {own.rating_a:g} A fuse stops the "
            f"battery side; from the bus bar the other strings' fuses let up to {others_a:g} A pass, "
            f"{'within' if others_a <= limit_a else 'more than'} the {limit_a:.0f} A this lead is protected at"
        )
        status = "pass" if others_a <= limit_a else "note"
        source = "33 CFR 183.455 applied to the bus bar as a second source (our reading)"
        mend = "a second fuse at the bus-bar end of the lead"
        yield Finding("protection at both ends", name, status, message, others_a, limit_a, "A", source, mend)


def _unfused(job: Job, cables: Sequence[CableSpec], faults: Sequence[FaultCurrent]) -> Iterator[Finding]:
    """No string fuses: what the others would feed into a faulted lead, and what the rules say."""
    if len(job.strings) == 1:
        return
    worst = max((f for f in faults if f.place.endswith("at the battery")), key=lambda f: (f.others_a, f.place))
    bank_ah = sum(min(b.type.capacity_ah for b in s.batteries) for s in job.strings)
    row = rule("parallel bank asks for a device at each battery above")
    allowed_a = min(ampacity_of(job, c).current_a * c.paralleled for c in cables if c.kind == "lead")
    message = (
        f"strings have no fuses of their own: the others feed up to {worst.others_a:.0f} A into a fault on a lead "
        f"that may carry {allowed_a:.0f} A ({worst.place}), and no device stops it"
    )
    binds = bank_ah > float(row["value"]) or job.rules == "33 CFR 183"
    source = row["source"] if bank_ah > float(row["value"]) else "33 CFR 183.455(a)"
    yield Finding(
        "string fuses", "bank", "fail" if binds else "note", message, worst.others_a, allowed_a, "A", source,
        "a fuse on each string's positive terminal",
    )  # fmt: skip


def _main_findings(
    job: Job,
    cables: Sequence[CableSpec],
    lasting_a: Mapping[str, float],
    fuses: Mapping[str, Fuse],
    faults: Sequence[FaultCurrent],
) -> Iterator[Finding]:
    feeders = [c for c in cables if c.kind == "feeder" and c.pole == "positive"]
    if not feeders:
        return
    weakest = min(feeders, key=lambda c: (ampacity_of(job, c).current_a * c.paralleled, c.name))
    allowed_a = ampacity_of(job, weakest).current_a * weakest.paralleled
    mains = [d for d in job.devices if d.kind == "fuse"]
    highest_a = highest_rating_a(job, [d.rating_a for d in mains if d.rating_a], allowed_a)
    if not mains:
        together_a = sum(f.rating_a for f in fuses.values())
        covered = len(fuses) == len(job.strings) and together_a <= highest_a
        message = (
            f"no main fuse: {weakest.name} may carry {allowed_a:.0f} A, so a fuse for it may be {highest_a:.0f} A; "
        )
        message += f"the string fuses together pass {together_a:g} A" if fuses else "nothing limits what reaches it"
        status = "pass" if covered else "fail"
        source, mend = "33 CFR 183.455(a)", "a main fuse next to the positive bus bar"
        yield Finding("main fuse", "feeders", status, message, together_a or None, highest_a, "A", source, mend)
        return
    for device in mains:
        yield _main_rating(device, lasting_a[device.name], highest_a, weakest.name)
        through_a = next(f.total_a for f in faults if f.place == f"beyond {device.name}")
        yield _interrupt(device.name, device.interrupt_a, through_a)


def _main_rating(device: Device, lasting_a: float, highest_a: float, feeder: str) -> Finding:
    share = rule("continuous current, share of fuse rating")
    least_a = lasting_a / float(share["value"])
    rule_name, mend = "main fuse rating", "give its rating"
    if device.rating_a is None:
        message = f"{device.name}: its rating is not given; it should lie between {least_a:.0f} and {highest_a:.0f} A"
        return Finding(rule_name, device.name, "unknown", message, mend=mend)
    message = (
        f"{device.name}: {device.rating_a:g} A; {lasting_a:.0f} A flow for long, so at least {least_a:.0f} A, "
        f"and {feeder} allows {highest_a:.0f} A"
    )
    low, high = device.rating_a < least_a * (1 - NOISE), device.rating_a > highest_a * (1 + NOISE)
    source = share["source"] if low else rule("rating under 50 V, share of table ampacity")["source"]
    limit_a, mend = (least_a, "a larger main fuse") if low else (highest_a, "larger feeders or a smaller main fuse")
    status = "fail" if low or high else "pass"
    return Finding(rule_name, device.name, status, message, device.rating_a, limit_a, "A", source, mend)


def rule(name: str) -> Row:
    """A rule of reference/protection_rules that may be a limit; ValueError if it may not."""
    for row in limit_rows("protection_rules"):
        if row["rule"] == name:
            return row
    raise ValueError(f'"{name}" is not known well enough to be a limit')


def rule_value(name: str) -> float:
    return float(rule(name)["value"])
