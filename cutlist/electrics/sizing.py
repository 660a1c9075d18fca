"""The least-cost conductors for leads, jumpers and feeders that meet every electrical limit together."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import product

import numpy as np

from cutlist.bank.cables import Conductor, Fuse
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.ampacity import ampacity
from cutlist.electrics.costs import amounts_of, estimated_cost, studs_at
from cutlist.electrics.fuse_rules import Need, family, fit_fuse
from cutlist.electrics.main_fuses import feeder_faults
from cutlist.electrics.quick_bank import (
    KINDS,
    Combination,
    Prepared,
    Worst,
    combination_meets,
    meets,
    prepare,
    worst_drop_v,
    worst_of,
)
from cutlist.electrics.wiring import CableSpec, segments_of
from cutlist.electrics.withstand import withstand_findings
from cutlist.findings import Finding

__all__ = [
    "Combination",
    "Prepared",
    "Sized",
    "Sizing",
    "combination_meets",
    "prepare",
    "size",
    "with_conductors",
    "worst_drop_v",
]

NO_LUG = "no lug in stock"
LUG_MEND = "list a lug for that stud, or give the bus bar or terminal a stud for which one is listed"
CHUNK = 24  # combinations looked at with every outage at a time, cheapest first


@dataclass(frozen=True)
class Sized:
    combination: Combination
    meets: bool
    worst_drop: float  # share of nominal voltage
    ampacity_use: float  # largest current over what is allowed
    faults: tuple[str, ...]  # which limits it breaks, in words; rules of the main fuses come last
    cost: Decimal | None  # estimate, for the order in which they are tried; None: a price is missing
    meets_but_main_fuse: bool = False  # every limit is met but a rule of the main fuses


@dataclass(frozen=True)
class Sizing:
    chosen: Sized | None  # None: nothing in stock meets the limits
    tried: tuple[Sized, ...]  # cheapest first; those dearer than the chosen one may be left out
    findings: tuple[Finding, ...]


def with_conductors(cables: Sequence[CableSpec], combination: Combination) -> tuple[CableSpec, ...]:
    return tuple(
        replace(c, conductor=combination.conductor(c.kind), paralleled=combination.count(c.kind)) for c in cables
    )


def size(
    job: Job,
    stock: Stock,
    cables: Sequence[CableSpec],
    *,
    price: Callable[[Combination], Decimal | None] | None = None,
    fuses: Mapping[str, Fuse] | None = None,
    allowed: Callable[[Combination], bool] | None = None,
) -> Sizing:
    """Try every allowed combination of conductors, cheapest first, and choose the first that meets all limits.

    Lengths, ends and air are the cables' own; the conductors they carry are ignored. Limits: lug for every stud, drop
    and ampacity in normal use and (if the job asks) with any string out, heat in a surge, a string fuse that fits, and
    feeders that suit the main fuses, if any in stock do.
    `fuses`: by string, counted in the drop; `allowed`: which combinations may be tried, None: all.
    `price` None: metres at stock's best price, less what is on hand. Combinations without a price come last, by copper.
    Raises ValueError if the job allows no conductor that is in stock, or `allowed` none of their combinations.
    """
    candidates = [c for c in _combinations(job, stock, cables) if allowed is None or allowed(c)]
    if not candidates:
        raise ValueError("no combination of the conductors in stock is allowed")
    amounts = amounts_of(job, cables)
    cost_of = price or (lambda c: estimated_cost(stock, amounts, c))
    costs = {c: cost_of(c) for c in candidates}
    ordered = sorted(candidates, key=lambda c: _order(c, costs[c], cables))
    missing = _missing_lugs(job, stock, cables, candidates)
    prepared = prepare(job, cables, fuses=fuses)

    tried: list[Sized] = []
    for at in range(0, len(ordered), CHUNK):
        some = ordered[at : at + CHUNK]
        first = worst_of(prepared, some, outages=False)
        good = meets(job, first) & np.array([not missing[c] for c in some])
        worst = worst_of(prepared, [c for c, ok in zip(some, good, strict=True) if ok]) if good.any() else None
        rows = iter(range(int(good.sum())))
        for i, combination in enumerate(some):
            figures, row = (worst, next(rows)) if good[i] and worst is not None else (first, i)
            tried.append(_sized(job, stock, prepared, combination, figures, row, missing[combination], costs))
        chosen = next((s for s in tried if s.meets), None)
        if chosen is not None:
            return Sizing(chosen, tuple(tried), _findings(chosen, tried))
    # no feeder in stock mends the main fuse: its own finding says so, and the feeder need not be the thickest for it
    chosen = next((s for s in tried if s.meets_but_main_fuse), None)
    return Sizing(chosen, tuple(tried), _findings(chosen, tried))


def _combinations(job: Job, stock: Stock, cables: Sequence[CableSpec]) -> list[Combination]:
    policy = job.policy
    allowed = dict(
        zip(KINDS, (policy.conductors_lead, policy.conductors_jumper, policy.conductors_feeder), strict=True)
    )
    counts = (1, 2) if policy.paralleled else (1,)
    choice: dict[str, list[tuple[Conductor, int]]] = {}
    for kind in KINDS:
        names = allowed[kind]
        found = [c for c in stock.conductors if not names or c.name in names]
        if not found:
            listed = ", ".join(names) or "any"
            raise ValueError(f"stock has no conductor for {kind}s (the job allows {listed})")
        choice[kind] = [(c, n) for c in found for n in counts]
    jumpers: list[tuple[Conductor | None, int]] = [(None, 1)]
    if any(c.kind == "jumper" for c in cables):
        jumpers = list(choice["jumper"])
    return [
        Combination(lead, jumper, feeder, lead_n, jumper_n, feeder_n)
        for (lead, lead_n), (jumper, jumper_n), (feeder, feeder_n) in product(choice["lead"], jumpers, choice["feeder"])
    ]


def _order(combination: Combination, cost: Decimal | None, cables: Sequence[CableSpec]) -> tuple:
    copper = sum(c.length_m * combination.conductor(c.kind).area_mm2 * combination.count(c.kind) for c in cables)
    names = tuple(combination.conductor(k).name for k in KINDS if k != "jumper" or combination.jumper)
    return (cost is None, cost or Decimal(0), copper, names, combination.lead_count)


def _missing_lugs(
    job: Job, stock: Stock, cables: Sequence[CableSpec], candidates: Sequence[Combination]
) -> dict[Combination, tuple[str, ...]]:
    """For each combination the lugs that stock lacks; none if stock lists no lugs at all: then they are not known."""
    # of a bar's unlike studs any will do
    studs = {(c.kind, tuple(sorted(studs_at(job, node)))) for c in cables for node in (c.start, c.finish)}
    lacking: dict[tuple[str, str], tuple[str, ...]] = {}
    for kind in KINDS:
        wanted = sorted(some for k, some in studs if k == kind and some)
        for conductor in stock.conductors:
            lacking[(kind, conductor.name)] = tuple(
                f"{NO_LUG} for {conductor.name} on {' or '.join(some)}"
                for some in wanted
                if stock.lugs and all(stock.lug(conductor.name, stud) is None for stud in some)
            )
    return {
        c: tuple(dict.fromkeys(text for k in c.kinds for text in lacking[(k, c.conductor(k).name)])) for c in candidates
    }


def _sized(
    job: Job,
    stock: Stock,
    prepared: Prepared,
    combination: Combination,
    worst: Worst,
    row: int,
    lugs: tuple[str, ...],
    costs: Mapping[Combination, Decimal | None],
) -> Sized:
    limits = job.limits
    faults = list(lugs)
    drop, use = float(worst.drop[row]), float(worst.use[row].max())
    if not drop <= limits.drop:
        faults.append(f"voltage drop {drop:.2%}, limit {limits.drop:.2%}")
    if limits.surge_drop is not None and not worst.surge_drop[row] <= limits.surge_drop:
        faults.append(f"voltage drop in a surge {worst.surge_drop[row]:.2%}, limit {limits.surge_drop:.2%}")
    if not use <= 1:
        cable = prepared.cables[int(worst.use[row].argmax())]
        faults.append(
            f"{cable.name} in {combination.conductor(cable.kind).name} is loaded to {use:.0%} of its ampacity"
        )
    if not worst.heat[row].max() <= 1:
        cable = prepared.cables[int(worst.heat[row].argmax())]
        faults.append(
            f"{cable.name} in {combination.conductor(cable.kind).name} grows hotter than its insulation bears"
        )
    others: tuple[str, ...] = ()
    if not faults:
        found, fuses = _fuse_faults(job, stock, prepared, combination, worst, row)
        faults += found
        others = () if faults else feeder_faults(job, with_conductors(prepared.cables, combination), fuses)
    all_faults = (*faults, *others)
    return Sized(combination, not all_faults, drop, use, all_faults, costs[combination], bool(others))


def _fuse_faults(
    job: Job, stock: Stock, prepared: Prepared, combination: Combination, worst: Worst, row: int
) -> tuple[list[str], dict[str, Fuse]]:
    """Strings for which stock's fuses are too small for the current or too large for this conductor; and the fuses."""
    choice = family(job, stock)
    fuses: dict[str, Fuse] = {}
    if job.policy.string_fuse == "none" or not choice:
        return [], fuses
    faults: list[str] = []
    for s, string in enumerate(job.strings):
        own = [c for c in prepared.cables if c.string == string.name]
        allowed_a = min(_allowed_a(job, c, combination) for c in own)
        need = Need(*worst.string_need(prepared, s, row))
        fuse = fit_fuse(job, choice, need, allowed_a)
        if fuse is None:
            faults.append(
                f"no fuse in stock carries {need.lasting_a:.0f} A and protects what may carry {allowed_a:.0f} A"
            )
        else:
            fuses[string.name] = fuse
    laid = with_conductors(prepared.cables, combination)
    faults += [f.message for f in withstand_findings(job, laid, fuses) if f.status == "fail"]
    return list(dict.fromkeys(faults)), fuses


def _allowed_a(job: Job, cable: CableSpec, combination: Combination) -> float:
    conductor = combination.conductor(cable.kind)
    rated = ampacity(job.rules, conductor, segments_of(cable, job), system_v=job.voltage_v)
    return rated.current_a * combination.count(cable.kind)


def _findings(chosen: Sized | None, tried: Sequence[Sized]) -> tuple[Finding, ...]:
    if chosen is None:
        nearest = min(tried, key=lambda s: (len(s.faults), s.worst_drop, s.ampacity_use))
        message = f"no conductors in stock meet all limits; the nearest: {'; '.join(nearest.faults)}"
        mend = "stock a larger conductor, shorten the runs, or allow cables in pairs"
        if all(fault.startswith(NO_LUG) for fault in nearest.faults):
            mend = LUG_MEND
        return (Finding("conductor size", "bank", "fail", message, mend=mend, source="job file and stock file"),)
    cheaper = [s for s in tried if s is not chosen and not s.meets]
    why = f" The next cheaper one fails: {cheaper[-1].faults[0]}." if cheaper else ""
    message = f"the cheapest conductors that meet all limits: {describe(chosen.combination)}.{why}"
    found = [Finding("conductor size", "bank", "pass", message, source="job file and stock file")]
    for kind in chosen.combination.kinds:
        conductor = chosen.combination.conductor(kind)
        if chosen.combination.count(kind) > 1 and conductor.area_mm2 < 53.4:
            message = f"{kind}s are laid in pairs of {conductor.name}; the premises rule asks for 1/0 AWG or larger"
            source = "NFPA 70 (NEC) 310.10(H), 2017; written for premises wiring, guidance here"
            found.append(Finding("cables in parallel", kind, "note", message, source=source))
    return tuple(found)


def describe(combination: Combination) -> str:
    """ "leads 50 mm2, jumpers 50 mm2, feeders 2 x 70 mm2" """
    words = []
    for kind in combination.kinds:
        many = "" if combination.count(kind) == 1 else f"{combination.count(kind)} x "
        words.append(f"{kind}s {many}{combination.conductor(kind).name}")
    return ", ".join(words)
