"""What can be said of the runs and studs: laid at length, supported, passing holes, lugs to be had."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.sizing import LUG_MEND
from cutlist.findings import Finding, how_many
from cutlist.layout.run_lengths import UNKNOWN_LUG_M, Laid
from cutlist.layout.stud_fits import studs_for
from cutlist.plan_types import PlacedBar, PlannedCable
from geometry.check import faults_in_run
from geometry.check_cables import faults_between, faults_in_fill
from geometry.space import Space
from geometry.supports import clamps_on, unsupported_in_words
from geometry.surroundings import Surroundings

PRACTICE = "common practice, no published source"


def layout_findings(
    job: Job, stock: Stock, space: Space, laid: Laid, cables: Sequence[PlannedCable], bars: Sequence[PlacedBar]
) -> tuple[Finding, ...]:
    return (
        *_checked_runs(space, laid, {c.name for c in cables if c.kind == "lead"}),
        *_surplus(job, laid),
        *_support(job, space, laid),
        *_beside(laid),
        *_fill(space, laid),
        *_lugs(stock, cables),
        *_stacks(bars),
        *_faces(stock, bars, cables),
    )


def _checked_runs(space: Space, laid: Laid, leads: Collection[str]) -> list[Finding]:
    """Every run is looked at again by a checker that shares nothing with the router; of a lead also its length.

    A lead whose surplus found no place has a finding of its own, and is held here to its rules but not to its length.
    """
    findings = []
    unlaid = {failed.name for failed in laid.not_laid}
    for request, run in zip(laid.requests, laid.laid, strict=True):
        exact = run.name in leads and run.name not in unlaid
        target_m = laid.lengths[run.name].developed_m if exact else None
        faults = faults_in_run(space, request, run, target_m=target_m)
        for fault in faults:
            findings.append(Finding("run can be laid", run.name, "fail", fault, source="checked independently"))
    if not findings:
        text = (
            "clearance, bend radius and end directions are kept over the whole length of "
            f"{how_many(len(laid.laid), 'run')}; leads are as long as they are cut for, to 0.5 mm"
        )
        findings.append(Finding("run can be laid", "all cables", "pass", text, source="checked independently"))
    return findings


def _surplus(job: Job, laid: Laid) -> list[Finding]:
    findings = [
        Finding(
            "surplus is laid",
            failed.name,
            "fail",
            f"{failed.name} cannot be laid at its target length: {failed.reason}",
            source="policy of the job file",
            mend="free more room along its way, or allow another match",
        )
        for failed in laid.not_laid
    ]
    if not findings:
        text = "every lead is laid out at exactly its target length"
        if laid.longer_steps:
            more_mm = laid.longer_steps * job.policy.round_up_um / 1000
            text += f"; all were made {more_mm:g} mm longer so that each surplus finds a place"
        findings.append(Finding("surplus is laid", "all leads", "pass", text, source="policy of the job file"))
    return findings


def _beside(laid: Laid) -> list[Finding]:
    """Every pair of cables is looked at by a checker that shares nothing with what laid them.

    Cables that lie in each other are told, not failed: one hand's breadth of dressing lays one over the other. A hole
    that cannot take all its cables has a finding of its own, and that fails.
    """
    faults = faults_between(laid.laid, [request.cable for request in laid.requests])
    if not faults:
        pairs = len(laid.laid) * (len(laid.laid) - 1) // 2
        text = f"no cable lies in another: all {pairs} pairs were looked at along their whole length"
        return [Finding("cables lie beside each other", "all cables", "pass", text, source="checked independently")]
    why = {words.split(":", 1)[0]: words.split(": ", 1)[1] for words in laid.crossing}
    findings = []
    for fault in faults:
        names = fault.split(":", 1)[0].split(" and ")
        reasons = "".join(f" ({why[name]})" for name in names if name in why)
        mend = "dress one over the other by hand, its length unchanged"
        findings.append(
            Finding(
                "cables lie beside each other", " and ".join(names), "note", fault + reasons,
                source="checked independently", mend=mend,
            )
        )  # fmt: skip
    return findings


def _support(job: Job, space: Space, laid: Laid) -> list[Finding]:
    """Where a clamp is missing, if the job asks for clamps."""
    span_m, reach_m = job.limits.support_m, job.limits.clamp_reach_m
    if span_m is None:
        return []
    surroundings = Surroundings(space)
    findings = []
    for request, run in zip(laid.requests, laid.laid, strict=True):
        _, missing = clamps_on(
            surroundings, run.curve, span_m=span_m, reach_m=reach_m, straight_m=request.cable.straight_m
        )
        if missing:
            worst = max(missing, key=lambda m: m.to_m - m.from_m)
            text = f"{run.name}: {unsupported_in_words(worst, span_m, reach_m)}"
            mend = "add structure along its way, longer stand-offs, or allow a wider spacing"
            longest_m = worst.to_m - worst.from_m
            findings.append(Finding("support", run.name, "fail", text, longest_m, span_m, "m", "job file", mend))
    if not findings:
        text = f"every cable can be clamped at least every {span_m * 1000:g} mm"
        findings.append(Finding("support", "all cables", "pass", text, limit=span_m, unit="m", source="job file"))
    return findings


def _fill(space: Space, laid: Laid) -> list[Finding]:
    """Whether the cables that share a hole fit through it."""
    passing = {name for run in laid.laid for name in run.penetrations}
    if not passing:
        return []
    faults = faults_in_fill(space.penetrations, laid.laid, [request.cable for request in laid.requests])
    source = "up to seven: circles in a circle (geometry); beyond: fill of the job file"
    if faults:
        return [Finding("cables fit the hole", "holes", "fail", fault, source=source) for fault in faults]
    text = f"the cables through {', '.join(sorted(passing))} fit beside each other"
    return [Finding("cables fit the hole", "all holes", "pass", text, source=source)]


def _lugs(stock: Stock, cables: Sequence[PlannedCable]) -> list[Finding]:
    missing = sorted(
        {
            (c.conductor.name, e.stud)
            for c in cables
            for e in (c.start, c.finish)
            if stock.lug(c.conductor.name, e.stud) is None
        }
    )
    return [
        Finding(
            "lug fits conductor and stud",
            f"{conductor} x {stud}",
            "fail",
            f"the stock file lists no lug for {conductor} on stud {stud}: its length inside the barrel is counted as 0 "
            f"and the cable goes straight on for {1000 * UNKNOWN_LUG_M:.0f} mm there",
            source="stock file",
            mend=LUG_MEND,
        )
        for conductor, stud in missing
    ]


def _stacks(bars: Sequence[PlacedBar]) -> list[Finding]:
    findings = []
    for placed in bars:
        most = max((len(use) for use in placed.stud_use), default=0)
        limit = placed.bar.stack_limit
        findings.append(
            Finding(
                "lugs on one stud",
                placed.bar.name,
                "pass" if most <= limit else "fail",
                f"{placed.bar.name}: at most {how_many(most, 'lug')} on a stud, limit {limit}",
                most,
                limit,
                "lugs",
                "job file; no more than four on a stud is common practice, no published source",
            )
        )
    return findings


def _faces(stock: Stock, bars: Sequence[PlacedBar], cables: Sequence[PlannedCable]) -> list[Finding]:
    findings = []
    leads = {c.conductor.name for c in cables if c.kind == "lead"}
    for placed in bars:
        # of unlike studs only those that take a lug of the leads serve a later string
        taking = [studs_for(stock, placed.bar, name) for name in sorted(leads)]
        open_ = [i for i in range(placed.bar.studs) if all(some is None or i in some for some in taking)]
        free = sum(1 for i in open_ if not placed.stud_use[i])
        if free < placed.bar.reserved_studs:
            findings.append(
                Finding(
                    "studs kept for later strings",
                    placed.bar.name,
                    "fail",
                    f"{placed.bar.name}: {how_many(free, 'stud')} free, to be kept: {placed.bar.reserved_studs}",
                    free,
                    placed.bar.reserved_studs,
                    "studs",
                    "job file",
                )
            )
    return findings
