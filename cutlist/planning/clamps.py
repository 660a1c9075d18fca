"""Which clamps hold which cables: a clamp around a bundle if the stock file has one so wide, else one each."""

from __future__ import annotations

import math
from collections.abc import Sequence

from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.findings import Finding, how_many
from cutlist.plan_types import PlannedCable
from cutlist.planning.cut_pieces import fitting
from geometry.company import BundleClamp, bundle_clamps
from geometry.runs import Request

SOURCE = "common practice, no published source"


def shared_clamps(
    job: Job, stock: Stock, requests: Sequence[Request], cables: Sequence[PlannedCable]
) -> tuple[BundleClamp, ...]:
    """Every clamp once; none if the job does not ask for clamps. Without clamps in the stock file any width will do."""
    return _clamps(job, requests, cables, None if not _listed(stock) else stock)


def clamp_findings(
    job: Job,
    stock: Stock,
    requests: Sequence[Request],
    cables: Sequence[PlannedCable],
    clamps: Sequence[BundleClamp],
) -> tuple[Finding, ...]:
    """How many clamps hold several cables; and what wider clamps would save."""
    findings = []
    shared = [clamp for clamp in clamps if len(clamp.holds) > 1]
    if shared:
        most = max(len(clamp.holds) for clamp in shared)
        widest_mm = 1000 * max(clamp.diameter_m for clamp in shared)
        held = "2 cables" if most == 2 else f"2 to {most} cables"
        hold = f"{len(shared)} of {how_many(len(clamps), 'clamp')} {'holds' if len(shared) == 1 else 'hold'}"
        text = f"{hold} {held}, up to {widest_mm:.0f} mm across together"
        findings.append(Finding("cables are clamped in bundles", "all cables", "note", text, source=SOURCE))
    if clamps and _listed(stock):
        freely = _clamps(job, requests, cables, None)
        fewer = len(clamps) - len(freely)
        if fewer > 0:
            wide = [clamp.diameter_m * 1000 for clamp in freely if len(clamp.holds) > 1]
            now = how_many(len(clamps), "clamp")
            text = f"{now}; wider ones would hold cables that lie together, and {len(freely)} would do"
            least_mm, most_mm = math.floor(min(wide) + 1e-6), math.ceil(max(wide) - 1e-6)
            sizes = f"{least_mm} mm" if least_mm == most_mm else f"{least_mm} to {most_mm} mm"
            mend = f"list clamps that fit {sizes} in the stock file"
            findings.append(
                Finding("cables are clamped in bundles", "clamps", "note", text, source="stock file", mend=mend)
            )
    return tuple(findings)


def _listed(stock: Stock) -> bool:
    return any(sundry.kind == "clamp" for sundry in stock.sundries)


def _clamps(
    job: Job, requests: Sequence[Request], cables: Sequence[PlannedCable], stock: Stock | None
) -> tuple[BundleClamp, ...]:
    """With a stock the bundles are no thicker than its clamps."""
    span_m = job.limits.support_m
    if span_m is None:
        return ()

    def fits(diameter_m: float) -> bool:
        return stock is None or fitting(stock, "clamp", diameter_m) is not None

    return bundle_clamps(
        requests, [cable.laid for cable in cables], [cable.company for cable in cables], span_m=span_m, fits=fits
    )
