"""Every stud of the bank with its torque and what is stacked on it, in words."""

from __future__ import annotations

from dataclasses import dataclass

from cutlist.plan_types import CableEnd, Plan
from cutlist.sheets.grouping_text import swapped_ends
from cutlist.sheets.rows import NOT_KNOWN

UNKNOWN_TORQUE = "?: the job file gives no torque for this stud; take the figure of its maker."


@dataclass(frozen=True)
class TerminationRow:
    at: str
    stud: str
    torque: str
    stack: tuple[str, ...]  # from the seat up


def termination_rows(plan: Plan) -> tuple[TerminationRow, ...]:
    """Every stud with its torque and the lugs on it from the seat up: bus bars, fuse holders, then as installed."""
    found = []
    on_bar = set()  # (cable, bus bar)
    for placed in plan.bars:
        bar = placed.bar
        for index, (names, thread, torque_nm) in enumerate(
            zip(placed.stud_use, bar.threads, bar.torques_nm, strict=True), start=1
        ):
            on_bar |= {(name, bar.name) for name in names}
            stack = names or ("free",)
            found.append(TerminationRow(f"{bar.name}, stud {index}", thread, torque_text(torque_nm), stack))
    found.extend(_fuse_holders(plan))
    others: dict[str, tuple[CableEnd, list[str]]] = {}
    for cable in plan.cables:
        bars = tuple(bar for name, bar in on_bar if name == cable.name)
        for end in (cable.start, cable.finish):
            if not end.at.startswith(bars):
                others.setdefault(end.at, (end, []))[1].append(cable.name)
    swapped = swapped_ends(plan)
    for at, (end, here) in others.items():
        words = at + swapped.get(at, "")
        found.append(TerminationRow(words, end.stud, torque_text(end.torque_nm), tuple(here)))
    return tuple(found)


def _fuse_holders(plan: Plan) -> list[TerminationRow]:
    """The two studs of every fuse that sits in a lead; of two leads side by side both lie on them."""
    found = []
    for share in plan.shares:
        cut = [c.cuts for c in plan.cables if c.string == share.string and len(c.cuts) > 1]
        if cut and share.fuse is not None:
            for side, index in (("battery", 0), ("bus bar", -1)):
                at = f"fuse holder of {share.string}, {side} side"
                found.append(TerminationRow(at, share.fuse.stud, NOT_KNOWN, tuple(c[index].name for c in cut)))
    return found


def torque_text(torque_nm: float | None) -> str:
    """Newton metres and inch-pounds; "?" where the plan does not know.

    >>> torque_text(9.0), torque_text(None)
    ('9 N m (80 in lb)', '?')
    """
    # 1 N m is 8.8507 in lb (0.0254 m x 4.4482216 N, by definition)
    return NOT_KNOWN if torque_nm is None else f"{torque_nm:g} N m ({torque_nm / 0.1129848:.0f} in lb)"
