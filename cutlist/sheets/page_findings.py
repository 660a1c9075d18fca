"""The part of the page with every rule the plan was held to: a line a kind, worst first, and all of a kind beneath."""

from __future__ import annotations

from cutlist.findings import Finding, how_many
from cutlist.plan_types import Plan
from cutlist.sheets.finding_groups import FindingGroup, grouped
from cutlist.sheets.markup import Markup, join, table, tag

STATUS_WORDS = {"pass": "met", "fail": "NOT MET", "unknown": "not known", "note": "note"}
HEADS = ("Rule", "Item", "State", "In words", "Value", "Limit", "Margin", "Source", "Mend")


def findings_part(plan: Plan) -> Markup:
    groups = grouped(plan.findings)
    heads = (*HEADS[:2], "How many", *HEADS[2:])
    lines = [(g.rule, _whose(g), str(len(g.findings)), *_cells(g.worst)[2:]) for g in groups]
    whole = table("Every rule the plan was held to, with the worst of each kind", heads, lines, (2, 5, 6, 7))
    return join(whole, *(_all_of(group) for group in groups if len(group.findings) > 1))


def _whose(group: FindingGroup) -> str:
    return f"worst: {group.worst.item}" if len(group.findings) > 1 else group.worst.item


def _all_of(group: FindingGroup) -> Markup:
    many = len(group.findings)
    count = how_many(many, "note") if group.status == "note" else f"{many} {STATUS_WORDS[group.status]}"
    lines = [_cells(finding) for finding in group.findings]
    whole = table(f"Findings on {group.rule}, {count}, worst first", HEADS, lines, (4, 5, 6))
    return tag("details", tag("summary", f"{group.rule}: {count}"), whole, class_="findings")


def _cells(finding: Finding) -> tuple[object, ...]:
    f = finding
    return (
        f.rule,
        f.item,
        tag("span", STATUS_WORDS[f.status], class_=f"status {f.status}"),
        f.message,
        _figure(f.value, f.unit),
        _figure(f.limit, f.unit),
        "" if f.margin is None else f"{100 * f.margin:.0f} %",
        f.source,
        f.mend,
    )


def _figure(value: float | None, unit: str) -> str:
    """Four figures, and never a power of ten: that is misread.

    >>> _figure(11480.2, "A"), _figure(0.012133, ""), _figure(None, "A"), _figure(1.0, "lugs")
    ('11480 A', '0.01213', '', '1 lug')
    """
    if value is None:
        return ""
    if value == 1 and unit in ("lugs", "studs"):
        return f"1 {unit[:-1]}"
    return f"{value:.0f} {unit}".strip() if abs(value) >= 1000 else f"{value:.4g} {unit}".strip()
