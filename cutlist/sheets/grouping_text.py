"""Which batteries make up which string, in words, where they are others than the job lists."""

from __future__ import annotations

from cutlist.plan_types import Plan
from cutlist.sheets.lengths import metres_text


def grouping_rows(plan: Plan) -> tuple[str, ...]:
    """Each string that differs: what it is made of, from its positive end; () where none does."""
    if plan.regrouped is None:
        return ()
    return tuple(
        f"{s.string} is {', '.join(s.laid)} (the job lists {', '.join(s.stated)})"
        for s in plan.regrouped.strings
        if s.changed
    )


def swapped_ends(plan: Plan) -> dict[str, str]:
    """Of terminals of batteries that the job lists in another string what a rigger reads beside them, by their name."""
    if plan.regrouped is None:
        return {}
    listed = {battery: s.string for s in plan.regrouped.strings for battery in s.stated}
    return {
        terminal.name: f", swapped: listed in {listed[battery.name]}"
        for string in plan.job.strings
        for battery in string.batteries
        if listed[battery.name] != string.name
        for terminal in (battery.positive, battery.negative)
    }


def grouping_saving(plan: Plan) -> str:
    """What other strings save and how good they are; "" where the job does not let batteries change places."""
    grouped = plan.regrouped
    if grouped is None:
        return ""
    units = plan.job.units
    if not grouped.changed:
        return f"as the job lists them: no other grouping saves cable ({grouped.how})"
    return f"made up anew: {metres_text(grouped.saved_m, units)} of cable less than as listed ({grouped.how})"


def grouping_notes(plan: Plan) -> tuple[str, ...]:
    """For who lays the cables: the strings that differ, and by what they were chosen."""
    rows = grouping_rows(plan)
    if not rows:
        return ()
    return (
        f"Strings are not as the job lists them, from the positive end: {'; '.join(rows)}. Mark the batteries so "
        "before the first jumper is laid.",
        f"Strings {grouping_saving(plan)}. Lengths before anything is routed: taut ways past the obstacles.",
    )
