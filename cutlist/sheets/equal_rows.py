"""How equal is enough, and what if: as tables and sentences, for page and terminal alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutlist.findings import Finding
from cutlist.plan_types import Equality, WhatIf
from cutlist.sheets.lengths import metres_text
from cutlist.sheets.rows import signed_percent


@dataclass(frozen=True)
class Rows:
    caption: str
    heads: tuple[str, ...]
    lines: tuple[tuple[str, ...], ...]
    figures: tuple[int, ...]  # columns of figures, set to the right
    words: tuple[str, ...] = ()  # said below the table


def cause_rows(equality: Equality) -> Rows:
    """What each cause does to the sharing, largest first; causes that do nothing are named in one sentence."""
    lines = tuple(
        (c.cause, _percent(c.alone), _percent(c.without), f"{1000 * c.spread_ohm:.3f}" if c.spread_ohm > 0 else "")
        for c in equality.causes
        if c.alone >= _NOTHING
    )
    alike = [c.cause for c in equality.causes if c.alone < _NOTHING]
    words = [f"Alike in all strings: {', '.join(alike)}."] if alike else []
    words.append(
        f"All together the largest string current is {_percent(equality.largest_over_smallest - 1)} % above the "
        "smallest. Causes can cancel one another, so the parts need not add up."
    )
    heads = ("Cause", "Alone, largest over smallest +%", "Without it +%", "Spread between strings mΩ")
    return Rows("What makes the strings share unevenly", heads, lines, (1, 2, 3), tuple(words))


_NOTHING = 5e-7  # of a share: rounding of the solver, not a cause


def enough_words(equality: Equality, units: str) -> tuple[str, ...]:
    """How far a lead may be off, beside what the cutter holds; and the chance that a bank built so is off."""
    tolerance, chance, spread = equality.tolerance, equality.chance, equality.spread
    band = f"{100 * tolerance.share:g} %"
    if tolerance.length_m > 0:
        first = (
            f"Every lead may be {metres_text(tolerance.length_m, units)} longer or shorter than it should, in the "
            f"worst pattern, before {tolerance.limited_by} is first to leave {band} of an even share. Lengths are "
            f"marked to {metres_text(equality.held_m, units)}."
        )
    else:
        first = f"With no error at all {tolerance.limited_by} is already outside {band} of an even share."
    scatter = [f"every lead within {metres_text(spread.length_m, units)} of its length"]
    if spread.joint_low_ohm is not None and spread.joint_high_ohm is not None:
        scatter.append(f"each joint between {1e6 * spread.joint_low_ohm:.0f} and {1e6 * spread.joint_high_ohm:.0f} µΩ")
    if spread.battery_resistance:
        scatter.append(f"battery resistance scattering by {100 * spread.battery_resistance:g} %")
    else:
        scatter.append("batteries all alike (the job gives no resistance spread)")
    second = (
        f"Of {chance.samples} banks built with {', '.join(scatter)}, {_percent(chance.chance)} % have a string outside "
        f"{band} (95 % sure: {_percent(chance.low)} to {_percent(chance.high)} %). The worst string is off by "
        f"{_percent(chance.median_departure)} % in the middle bank, by {_percent(chance.departure_95)} % in one of "
        f"twenty. (Seed {chance.seed}: the same on every run.)"
    )
    return first, second


def what_if_rows(asked: WhatIf, units: str) -> tuple[Rows, ...]:
    """A table for each kind of question that was asked."""
    found = (_isolated(asked), _rejoined(asked), _joints(asked), _further(asked, units))
    return tuple(rows for rows in found if rows is not None)


def _isolated(asked: WhatIf) -> Rows | None:
    if not asked.isolated:
        return None
    lines = tuple(
        (
            i.string,
            f"{max(i.currents_a.values(), key=abs):.1f}",
            signed_percent(i.rise, 1),
            f"{100 * i.drop:.2f}",
            _failing(i.failing),
        )
        for i in asked.isolated
    )
    heads = ("String out", "Most in another A", "More than before %", "Worst drop %", "Limits that then fail")
    return Rows("A string out of service", heads, lines, (1, 2, 3))


def _rejoined(asked: WhatIf) -> Rows | None:
    if not asked.rejoined:
        return None
    lines = tuple(
        (
            r.string,
            f"{100 * r.soc:g} %",
            f"{100 * r.others_soc:g} %",
            f"{r.current_a:+.0f}",
            f"{r.fuse_a:g}" if r.fuse_a else "none",
            f"{100 * r.safe_difference:.0f} %",
            {"pass": "holds", "fail": "TOO MUCH", "unknown": "estimate only"}[r.finding.status],
        )
        for r in asked.rejoined
    )
    heads = ("String", "Charged", "Others", "At first A", "Fuse A", "May differ by", "Fuse or cable")
    words = [
        "Loads off. Plus flows out of the string, minus into it. A current that a fuse bears may still be more than a "
        "battery's maker allows: bring the string to the others' voltage first."
    ]
    if any(r.finding.status == "unknown" for r in asked.rejoined):
        words.append(
            "Resting voltages of this chemistry are from memory, so these currents are estimates, never a pass."
        )
    return Rows("A string put back at another state of charge", heads, lines, (1, 2, 3, 4, 5), tuple(words))


def _joints(asked: WhatIf) -> Rows | None:
    if not asked.joints:
        return None
    lines = tuple(
        (
            j.cable,
            f"{1000 * j.extra_ohm:g}",
            f"{j.largest_over_smallest:.3f}",
            f"{j.before:.3f}",
            f"{1000 * j.reading_v:.1f}",
            f"{j.heat_w:.2f}",
            f"{100 * j.drop:.2f}",
        )
        for j in asked.joints
    )
    heads = ("Bad crimp in", "Too much mΩ", "Most/least", "Before", "Meter across it mV", "Heat W", "Worst drop %")
    caption = "One bad crimp, at continuous current"
    if all(len(j.string_currents_a) < 2 for j in asked.joints):
        # nobody shares: how evenly is no question
        words = ("The bank has one string: there is none to share with, and with it out of service nothing is fed.",)
        of_one = tuple((*line[:2], *line[4:]) for line in lines)
        return Rows(caption, (*heads[:2], *heads[4:]), of_one, (1, 2, 3, 4), words)
    return Rows(caption, heads, lines, (1, 2, 3, 4, 5, 6))


def _further(asked: WhatIf, units: str) -> Rows | None:
    if not asked.further:
        return None
    lines = tuple(
        (
            "holds" if f.target_holds else f"{metres_text(f.short_by_m, units)} short",
            ", ".join(f"{bar}: {count}" for bar, count in f.free_studs.items()),
            "no stud" if f.largest_over_smallest is None else f"{f.largest_over_smallest:.3f}",
            _failing(f.failing),
        )
        for f in asked.further
    )
    heads = ("Length of the leads", "Studs free before", "Most/least with it", "Limits that then fail")
    words = ("The new string is like the last one; its leads are as long as those that are there, or as its runs.",)
    return Rows("One string more", heads, lines, (2,), words)


def _failing(failing: Sequence[Finding]) -> str:
    return "; ".join(dict.fromkeys(f"{f.rule} ({f.item})" for f in failing)) or "none"


def _percent(share: float) -> str:
    return f"{100 * share:.2f}"
