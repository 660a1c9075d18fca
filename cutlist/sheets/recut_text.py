"""What a miscut or a short spool costs, in words."""

from __future__ import annotations

from cutlist.sheets.lengths import length_text
from cutlist.stock.recut import Recut


def recut_text(found: Recut) -> str:
    currency, units = found.cuts.order.currency, found.cuts.units
    lines = ["On top of what is bought already"]
    for line in found.to_buy.lines:
        price = "price missing" if line.price is None else f"{currency} {line.price:.2f}"
        lines.append(f"  buy {line.quantity} {line.unit}: {line.description}, {price}")
    if not found.to_buy.lines:
        lines.append("  nothing to buy")
    else:
        lines.append(f"  {length_text(found.extra_um, units)} of cable in all")
    if found.extra is None:
        lines.append("  a price is missing: the extra cost is not known")
    else:
        lines.append(f"  extra cost {currency} {found.extra:.2f}, with what the stock is worth less")
        if found.least_extra is not None and found.least_extra < found.extra:
            lines.append(f"  best found; no way of cutting the rest comes to less than {found.least_extra:.2f}")
        elif found.least_extra is not None:
            who = "proof checked independently" if found.checked else "on the word of the search"
            lines.append(f"  no other way of cutting the rest comes to less: {who}")
    return "\n".join(lines)
