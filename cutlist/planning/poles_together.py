"""How much of each string's positive lies beside its negative, where the job asks for poles to keep together."""

from __future__ import annotations

from collections.abc import Sequence

from cutlist.bank.job import Job
from cutlist.findings import Finding
from cutlist.plan_types import PlannedCable
from geometry.company import near_m

TOGETHER_M = 0.05  # skins no further apart than this: two cables that one hand can hold (common practice)


def pole_findings(job: Job, cables: Sequence[PlannedCable]) -> tuple[Finding, ...]:
    """For each string the share of both its leads' length that lies together; nothing unless the job asks.

    A note, never a pass: surplus is laid for each lead by itself, and no run is moved to keep poles together.
    """
    if not job.policy.surplus_together:
        return ()
    findings = []
    for string in job.strings:
        leads = [c for c in cables if c.kind == "lead" and c.string == string.name]
        length_m = together_m = 0.0
        for lead in leads:
            others = [c for c in leads if c.pole != lead.pole]
            curves = [c.laid.curve for c in others]
            apart_m = lead.conductor.outside_diameter_m + TOGETHER_M
            length_m += lead.laid.length_m
            together_m += near_m(lead.laid.curve, curves, apart_m)
        if not length_m:
            continue
        share = together_m / length_m
        text = (
            f"{100 * share:.0f} % of the leads of {string.name} lie within {TOGETHER_M * 1000:g} mm of the other pole; "
            "surplus was laid for each lead by itself"
        )
        mend = "dress the surplus of both poles side by side by hand, lengths unchanged" if share < 1 else ""
        findings.append(
            Finding("poles lie together", string.name, "note", text, share, None, "share", "job file", mend)
        )
    return tuple(findings)
