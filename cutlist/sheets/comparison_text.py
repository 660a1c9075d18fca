"""Ways of matching and of connecting, side by side, for the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from cutlist.plan_types import Compared
from cutlist.sheets.lengths import metres_text
from cutlist.sheets.plain_table import plain_table
from cutlist.sheets.rows import money_text, signed_percent

HEADS = {"policy": "leads matched", "connection": "strings connected"}
BAR = 10  # characters of the longest bar


def comparison_text(compared: Sequence[Compared], currency: str, units: str) -> str:
    """Two tables, each with bars of how far the worst string is from even; the job's own way is marked.

    Money is an estimate: metres at the best price in stock, and lugs, less what is on hand.
    """
    blocks = []
    for kind, what in HEADS.items():
        ways = [c for c in compared if c.kind == kind]
        if not ways:
            continue
        most = max(abs(c.worst_departure) for c in ways)
        drifts = any(c.drift for c in ways)
        drift = ("drift % empty", "full") if drifts else ()
        heads = (what, "leads", "all cable", f"about {currency}", "most/ least", "worst %", "drop %", *drift)
        lines = [
            (
                ("* " if c.chosen else "  ") + c.name,
                metres_text(c.lead_m, units),
                metres_text(c.cable_m, units),
                money_text(c.cost),
                f"{c.largest_over_smallest:.3f}",
                f"{c.worst_string} {signed_percent(c.worst_departure, 1)}",
                f"{100 * c.drop:.2f}",
                *(_drift(c) if drifts else ()),
                _bar(abs(c.worst_departure), most),
            )
            for c in ways
        ]
        blocks.append(plain_table((*heads, ""), lines, range(1, len(heads)), indent=""))
    if not blocks:
        return "One string shares with none: there is nothing to compare."
    return "\n\n".join(
        [
            *blocks,
            "* as the job has it, as laid. Currents at the first moment, all strings equally charged, conductors as\n"
            "warm as they get. Bars: the worst string from an even share. Drift: charge of the fullest string less\n"
            "that of the emptiest, after half the bank's charge was taken out and after it was put back.\n"
            "All cable: leads, jumpers and feeders, stud to stud; "
            f"about {currency}: what is to buy of it and of its lugs.",
        ]
    )


def _drift(compared: Compared) -> tuple[str, str]:
    if compared.drift is None:
        return "not known", "not known"
    return f"{100 * compared.drift.after_discharge:.2f}", f"{100 * compared.drift.after_charge:.2f}"


def _bar(value: float, longest: float) -> str:
    return "#" * max(1, round(BAR * value / longest)) if longest > 0 and value > 5e-5 else ""
