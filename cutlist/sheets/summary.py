"""The plan in a few lines, for the terminal."""

from __future__ import annotations

from cutlist.findings import how_many
from cutlist.plan_types import Plan
from cutlist.sheets.finding_groups import SHOWN, FindingGroup, grouped, items_text, settle_first, to_look_at
from cutlist.sheets.grouping_text import grouping_rows, grouping_saving
from cutlist.sheets.later_text import later_words
from cutlist.sheets.lengths import length_text, metres_text, other_unit
from cutlist.sheets.order_rows import covered_text, total_text
from cutlist.sheets.place_rows import middles_text, saving_text
from cutlist.sheets.rows import (
    all_in_text,
    bar_text,
    conductor_text,
    kinds_text,
    longest_text,
    signed_percent,
    waste_text,
)

LABEL = 14  # columns


def summary_text(plan: Plan) -> str:
    """Where the bus bars go, the conductor, the target, surplus, cost, waste, drop, shares, and what fails."""
    units = plan.job.units
    leads = plan.leads
    lines = [plan.job.name, ""]
    for placed in plan.bars:
        lines.append(_line(f"{placed.bar.pole} bar", bar_text(placed, units)))
    gap = plan.place_proof.gap if plan.place_proof is not None else None
    if gap is not None:
        lines.append(_line("places", f"no other can save more than {100 * gap:.1f} % (run-length bounds)"))
    saving = saving_text(plan)
    if plan.place_saving is not None and saving:
        where = middles_text(plan.place_saving)
        lines.append(_line("against bars", f"{where}: {saving}"))
    if plan.regrouped is not None:
        lines.append(_line("strings", grouping_saving(plan)))
        lines += [_line("", words) for words in grouping_rows(plan)]
    for kind in ("lead", "jumper", "feeder"):
        cables = [c for c in plan.cables if c.kind == kind]
        if cables:
            sizes = ", ".join(dict.fromkeys(conductor_text(c.conductor) for c in cables))
            lines.append(_line(f"{kind}s", f"{len(cables)}, {sizes}"))
    target = length_text(plan.target_um, units, up=True)
    lines.append(
        _line(
            "cut length",
            f"{target} ({length_text(plan.target_um, other_unit(units), up=True)}){longest_text(plan)}, "
            f"{plan.job.policy.match}",
        )
    )
    if leads:
        surplus = sorted(lead.surplus_m for lead in leads)
        lines.append(_line("surplus", f"{metres_text(surplus[0], units)} to {metres_text(surplus[-1], units)}"))
    cuts = plan.cut_plan
    cut, bought = length_text(cuts.cut_um, units), length_text(cuts.bought_um, units)
    lines.append(_line("cable", f"{cut} in {how_many(len(cuts.spools), 'spool')}, {bought} to buy; {kinds_text(plan)}"))
    lines.append(_line("waste", waste_text(cuts, units)))
    lines.append(_line("order", f"{total_text(plan)}: {covered_text(plan)}"))
    later = later_words(plan.later_strings, plan.later_leads, plan.stock.currency, units)
    lines += [_line("" if number else "later strings", words) for number, words in enumerate(later)]
    if plan.loads:
        worst = max(plan.loads, key=lambda load: load.drop)
        limit = plan.job.limits.drop
        lines.append(
            _line("worst drop", f"{100 * worst.drop:.2f} % at {worst.load}, limit {100 * limit:g} %{all_in_text(plan)}")
        )
    for share in plan.shares:
        lines.append(
            _line(
                f"string {share.string}",
                f"{share.current_a:.1f} A, {100 * share.share:.1f} % "
                f"({signed_percent(share.departure, 1)} % from even)",
            )
        )
    if plan.equality is not None:
        off = metres_text(plan.equality.tolerance.length_m, units)
        lines.append(
            _line("equal enough", f"leads may be {off} off and strings stay within {100 * plan.job.limits.share:g} %")
        )
    lines.append("")
    failing = plan.failing
    if failing:
        lines.append(f"{how_many(len(failing), 'limit')} not met:")
        for group in grouped(plan.findings, "fail"):
            lines += _failing_lines(group)
    else:
        lines.append("Every limit that could be checked is met.")
    lines += settle_first(plan)
    unknown = grouped(plan.findings, "unknown")
    if unknown:
        count = sum(len(group.findings) for group in unknown)
        lines.append(f"{count} not known for want of data: " + ", ".join(map(items_text, unknown)))
    lines += [words for words in (to_look_at(plan),) if words]
    return "\n".join(lines) + "\n"


def _failing_lines(group: FindingGroup) -> list[str]:
    """The worst of a kind in full; of what is mended alike the mend once."""
    count, lines = len(group.findings), []
    if count > SHOWN:
        lines.append(f"  {group.rule}: {count} of the kind, worst first")
    shown = group.findings[:SHOWN]
    for number, finding in enumerate(shown):
        lines.append(f"  {'  ' if count > SHOWN else ''}{finding.rule}, {finding.item}: {finding.message}")
        if finding.mend and finding.mend not in [later.mend for later in shown[number + 1 :]]:
            lines.append(f"    mend: {finding.mend}")
    if count > SHOWN:
        lines.append(f"    and {count - SHOWN} more of the kind, all among the findings")
    return lines


def _line(label: str, value: str) -> str:
    return f"  {label:<{LABEL}}{value}" if len(label) < LABEL else f"  {label}  {value}"
