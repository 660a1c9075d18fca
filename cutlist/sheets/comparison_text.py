"""Ways of matching and of connecting, side by side, for the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from cutlist.plan_types import Compared

HEADS = {
    "policy": ("leads matched", "leads, m"),
    "connection": ("strings connected", "cable, m"),
}


def comparison_text(compared: Sequence[Compared], currency: str) -> str:
    """Two tables; the job's own way is marked. Money is an estimate: metres at the best price in stock."""
    blocks = []
    for kind, (what, metres) in HEADS.items():
        rows = [c for c in compared if c.kind == kind]
        if not rows:
            continue
        wide = max(len(what), *(len(c.name) for c in rows))
        lines = [
            f"  {what:<{wide}}  {metres:>9}  {f'about {currency}':>14}  {'most/least':>10}  {'worst string':>20}  drop"
        ]
        for c in rows:
            money = "price missing" if c.cost is None else f"{c.cost:.2f}"
            worst = f"{c.worst_string} {c.worst_departure:+.1%}"
            mark = "*" if c.chosen else " "
            lines.append(
                f"{mark} {c.name:<{wide}}  {c.cable_m:>9.1f}  {money:>14}  {c.largest_over_smallest:>10.3f}  "
                f"{worst:>20}  {c.drop:.2%}"
            )
        blocks.append("\n".join(lines))
    if not blocks:
        return "One string shares with none: there is nothing to compare."
    return "\n\n".join([*blocks, "* as the job has it. Currents at the first moment, all strings equally charged."])
