"""What protects the bank: fuse ratings, what they must be able to interrupt, where they sit, what they let through."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.faults import FaultCurrent, at_battery, fault_currents
from cutlist.electrics.fuse_rules import (
    Need,
    family,
    fit_fuse,
    fuse_distance_limit,
    highest_rating_a,
    interrupt_finding,
    rating_source,
    rule,
    rule_value,
)
from cutlist.electrics.main_fuses import main_findings
from cutlist.electrics.quick_bank import prepare, worst_as_laid
from cutlist.electrics.warmth import ampacity_of
from cutlist.electrics.wiring import CableSpec
from cutlist.electrics.withstand import withstand_findings
from cutlist.findings import Finding


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
    findings += main_findings(job, cables, lasting_a, fuses, faults)
    findings += withstand_findings(job, cables, fuses)
    return Protection(fuses, faults, tuple(findings))


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


def _string_findings(
    job: Job, stock: Stock, cables: Sequence[CableSpec], name: str, fuse: Fuse | None, asked: Asked
) -> Iterator[Finding]:
    choice, need = family(job, stock), asked.need
    least_a = need.lasting_a / rule_value("continuous current, share of fuse rating")
    highest_a = highest_rating_a(job, sorted({f.rating_a for f in choice}), asked.allowed_a)
    source = rating_source(job)
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
    yield interrupt_finding(f"{name} fuse", fuse.interrupt_a, asked.through_a)
    yield _distance(job, cables, name)


def _distance(job: Job, cables: Sequence[CableSpec], name: str) -> Finding:
    """How far along the lead from its battery the fuse sits."""
    limit_m, source = fuse_distance_limit(job)
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
    limit_a = highest_rating_a(job, (), allowed_a)
    message = (
        f"strings have no fuses of their own: the others feed up to {worst.others_a:.0f} A into a fault on a lead "
        f"that may carry {allowed_a:.0f} A ({worst.place}), and no device stops it"
    )
    source = row["source"] if bank_ah > float(row["value"]) else "33 CFR 183.455(a)"
    # what the others can feed for ever without harm needs no device, unless a rule asks for one all the same
    binds = bank_ah > float(row["value"]) or job.rules == "33 CFR 183" or worst.others_a > limit_a
    if job.rules != "33 CFR 183":
        source += ", written for boats: elsewhere read the local code, which asks no less"
    yield Finding(
        "string fuses", "bank", "fail" if binds else "note", message, worst.others_a, limit_a, "A", source,
        "a fuse on each string's positive terminal",
    )  # fmt: skip
