"""Clamps in the order: by the bundle's diameter where the stock has such clamps, one for each cable where not."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from cutlist.bank.cables import Sundry
from cutlist.planning.clamps import clamp_findings, shared_clamps
from cutlist.planning.cut_pieces import sundry_uses
from geometry.company import company_of
from tests.geometry.test_company import two
from tests.sheets.sample import workshop_plan


def bought(*sundries: Sundry) -> tuple[dict[str, int], list[str]]:
    """Two 16 mm cables touching for a metre, two clamps each; what is ordered for them, and what is said."""
    plan = workshop_plan()
    requests, runs = two(0.0, (0.75, 1.25), (0.6, 1.2))
    near = company_of(requests, runs, gap_m=0.010, least_m=0.15)
    cables = [
        replace(cable, name=run.name, laid=run, company=company)
        for cable, run, company in zip(plan.cables, runs, near, strict=False)
    ]
    job = replace(plan.job, limits=replace(plan.job.limits, support_m=0.8))
    stock = replace(plan.stock, sundries=sundries)
    clamps = shared_clamps(job, stock, requests, cables)
    findings = clamp_findings(job, stock, requests, cables, clamps)
    uses = [use for use in sundry_uses(job, stock, cables, clamps) if "clamp" in use.why]
    count: Counter[str] = Counter()
    for use in uses:
        count[use.sundry] += use.quantity
    return dict(count), [f"{f.message} | {f.mend}" for f in findings]


NARROW, WIDE = Sundry("narrow", "clamp", 0.014, 0.018), Sundry("wide", "clamp", 0.030, 0.034)


def test_a_clamp_wide_enough_for_both_is_ordered_once() -> None:
    """Two 16 mm cables side by side are 32 mm across: each of a's two places takes one wide clamp, b needs none."""
    uses, words = bought(NARROW, WIDE)
    assert uses == {"wide": 2}
    assert words == ["2 of 2 clamps hold 2 cables, up to 32 mm across together | "]


def test_without_wide_clamps_each_cable_has_its_own_and_the_plan_tells_what_would_save() -> None:
    uses, words = bought(NARROW)
    assert uses == {"narrow": 2 + 2}
    assert len(words) == 1
    assert "4 clamps; wider ones" in words[0]
    assert "2 would do" in words[0]
    assert "clamps that fit 32 mm in the stock file" in words[0]
