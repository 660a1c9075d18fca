"""What cutting several jobs together saves, in words."""

from __future__ import annotations

from decimal import Decimal

from cutlist.sheets.lengths import length_text
from cutlist.stock.pooling import Pooled


def pooled_text(pooled: Pooled) -> str:
    units, currency = pooled.together.units, pooled.together.order.currency
    lines = ["Together, against one job after the other"]
    for cuts in (*pooled.alone, pooled.together):
        plan = cuts.cut_plan
        priceless = ", and what has no price" if plan.missing_prices else ""
        name = "together" if cuts is pooled.together else f"{cuts.name} alone"
        bought = length_text(plan.bought_um, units)
        lines.append(f"  {name}: {currency} {plan.spent:.2f} for cable{priceless}, {bought} to buy")
    if pooled.interrupted:
        lines.append("  interrupted: what cutting together saves was not looked at to the end")
        return "\n".join(lines)
    if pooled.why_not:
        lines.append(f"  one after the other they cannot be cut: {pooled.why_not}")
        return "\n".join(lines)
    if pooled.saved is None:
        lines.append("  a price is missing: what it saves in money is not known")
    else:
        word = "saves" if pooled.saved >= 0 else "costs more, by"
        lines.append(f"  cutting together {word} {currency} {abs(pooled.saved):.2f}, what is left over counted")
    if pooled.saved_um is not None:
        less = "less" if pooled.saved_um >= 0 else "more"
        lines.append(f"  {length_text(abs(pooled.saved_um), units)} {less} cable is bought")
    if pooled.saved is not None and pooled.saved < Decimal(0):
        lines.append("  the search was cut short: cut the jobs one after the other, or give it more time: --time-limit")
    return "\n".join(lines)
