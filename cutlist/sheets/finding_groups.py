"""Findings of one kind under one heading with a count, worst first: 44 of a kind must not hide the one of another."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from cutlist.findings import Finding
from cutlist.plan_types import Plan

SHOWN = 3  # of a kind told in full where there is little room
NAMED = 4  # items named where there is less
ORDER = {"fail": 0, "unknown": 1, "note": 2, "pass": 3}


@dataclass(frozen=True)
class FindingGroup:
    rule: str
    status: str
    findings: tuple[Finding, ...]  # the one with least margin first

    @property
    def worst(self) -> Finding:
        return self.findings[0]


def grouped(findings: Sequence[Finding], *statuses: str) -> tuple[FindingGroup, ...]:
    """By rule and status: what fails, what is not known, notes, what holds; in each the group with least margin first.

    `statuses`: only these. What has no margin stays in the order of the plan, after what has one.
    """
    groups: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        if not statuses or finding.status in statuses:
            groups.setdefault((finding.rule, finding.status), []).append(finding)
    found = [FindingGroup(rule, status, tuple(sorted(g, key=_margin))) for (rule, status), g in groups.items()]
    return tuple(sorted(found, key=lambda g: (ORDER[g.status], _margin(g.worst))))


def _margin(finding: Finding) -> float:
    return math.inf if finding.margin is None or math.isnan(finding.margin) else finding.margin


def told(groups: Sequence[FindingGroup]) -> tuple[str, ...]:
    """A sentence for each finding of small groups; of a large one its heading, the worst, and how many more there are.

    >>> two = [Finding("ampacity", n, "fail", f"{n}: too warm", mend="a thicker one") for n in "AB"]
    >>> told(grouped(two))
    ('ampacity, A: A: too warm. Mend: a thicker one.', 'ampacity, B: B: too warm. Mend: a thicker one.')
    >>> told(grouped(two * 3))[0]
    'ampacity, 6 of the kind, worst first:'
    >>> told(grouped(two * 3))[-1]
    'and 3 more of the kind: see plan.html.'
    """
    lines = []
    for group in groups:
        count = len(group.findings)
        if count > SHOWN:
            lines.append(f"{group.rule}, {count} of the kind, worst first:")
        lines += [_sentence(finding) for finding in group.findings[:SHOWN]]
        if count > SHOWN:
            lines.append(f"and {count - SHOWN} more of the kind: see plan.html.")
    return tuple(lines)


def _sentence(finding: Finding) -> str:
    words = f"{finding.rule}, {finding.item}: {finding.message.rstrip('.')}."
    return f"{words} Mend: {finding.mend.rstrip('.')}." if finding.mend else words


def settle_first(plan: Plan) -> tuple[str, ...]:
    """What the plan leaves to be settled before anything is cut: drawn runs that are not yet what can be built."""
    return tuple(words for words in plan.left_out if words.startswith("Cables that meet"))


def to_look_at(plan: Plan) -> str:
    """Notes that ask for something, kind by kind; "" where none does. Cables that meet are told by `settle_first`."""
    asking = [g for g in grouped(plan.findings, "note") if g.worst.mend and g.rule != "cables lie beside each other"]
    return "To be looked at: " + ", ".join(map(items_text, asking)) if asking else ""


def items_text(group: FindingGroup) -> str:
    """How many of a kind, and the worst by name: S2 before S10.

    >>> items_text(FindingGroup("fault withstand", "unknown", tuple(
    ...     Finding("fault withstand", f"S{i}", "unknown", "") for i in range(6))))
    'fault withstand (6: S0, S1, S2, S3 and 2 more)'
    """
    names = [finding.item for finding in group.findings]
    shown = sorted(names[:NAMED], key=_natural)
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    count = f"{len(names)}: " if len(names) > 1 else ""
    return f"{group.rule} ({count}{', '.join(shown)}{more})"


def _natural(name: str) -> list[tuple[int, str]]:
    return [(int(part), "") if part.isdigit() else (-1, part) for part in re.split(r"(\d+)", name)]
