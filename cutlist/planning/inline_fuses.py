"""A fuse in the lead makes two pieces of it: are they there, long enough to hold, and is there what joins them?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.findings import Finding
from cutlist.plan_types import PlannedCable
from cutlist.planning.cut_pieces import fitting

BETWEEN_LUGS_M = 0.03  # insulated cable left between two lugs, to hold while crimping


def inline_fuse_findings(
    job: Job, stock: Stock, cables: Sequence[PlannedCable], fuses: Mapping[str, Fuse]
) -> tuple[Finding, ...]:
    """Nothing unless the job puts the strings' fuses in their leads."""
    if job.policy.string_fuse != "in line":
        return ()
    findings = []
    for c in cables:
        if c.kind != "lead" or c.pole != "positive":
            continue
        if len(c.cuts) == 1:
            at_mm = job.policy.string_fuse_distance_m * 1000
            text = f"{c.name}: a fuse {at_mm:g} mm along it lies beyond the lead, which is cut in one piece"
            findings.append(_fail(c.name, text, None, None))
            continue
        fuse = fuses.get(c.string)
        inner = stock.lug(c.conductor.name, fuse.stud) if fuse is not None else None
        if fuse is not None and inner is None:
            text = f"{c.name}: the stock file lists no lug for {c.conductor.name} on the fuse's stud {fuse.stud}"
            findings.append(Finding("lug fits conductor and stud", c.name, "fail", text, source="stock file"))
        for cut, end in zip(c.cuts, (c.start, c.finish), strict=True):
            strips_m = sum(lug.strip_m for lug in (end.lug, inner) if lug is not None)
            least_m = strips_m + BETWEEN_LUGS_M
            if cut.length_um < least_m * 1e6:
                text = f"{c.name}: piece {cut.name} is {cut.length_um / 1000:g} mm; two lugs need {least_m * 1000:g} mm"
                findings.append(_fail(c.name, text, cut.length_um / 1e6, least_m))
    if fitting(stock, "fuse holder", None) is None:
        text = "the stock file lists no fuse holder: none is on the order list"
        findings.append(Finding("fuse holder", "strings", "unknown", text, source="stock file", mend="add it"))
    return tuple(findings)


def _fail(item: str, text: str, value: float | None, limit: float | None) -> Finding:
    source = "common practice, no published source"
    return Finding("in-line fuse", item, "fail", text, value, limit, "m", source, "put the fuse elsewhere on the lead")
