"""What each line of the order list says, in words."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Protocol

from cutlist.bank.cables import Conductor
from cutlist.bank.stock import Stock
from cutlist.findings import how_many
from cutlist.reference.tables import rows
from cutlist.sheets.later_text import later_words
from cutlist.sheets.lengths import length_text, other_unit
from cutlist.sheets.rows import money_text, waste_text
from cutlist.stock.alternates import Alternate
from cutlist.stock.cut_plan import CutPlan, SpoolUse
from cutlist.stock.later_leads import LaterLeads
from cutlist.stock.order import Order, OrderLine


class Ordered(Protocol):
    """What an order list is printed from: a whole plan, or a cut list."""

    @property
    def name(self) -> str: ...
    @property
    def units(self) -> str: ...
    @property
    def stock(self) -> Stock: ...
    @property
    def cut_plan(self) -> CutPlan: ...
    @property
    def order(self) -> Order: ...
    @property
    def alternates(self) -> tuple[Alternate, ...]: ...
    @property
    def round_up_um(self) -> int | None: ...
    @property
    def later_strings(self) -> int: ...
    @property
    def later_leads(self) -> LaterLeads | None: ...


@dataclass(frozen=True)
class OrderRow:
    kind: str
    description: str
    quantity: int  # of `unit`; 0: all of it is on hand
    unit: str
    needed: str
    on_hand: str
    remains: str
    unit_price: str
    price: str
    unit_amount: Decimal | None  # the prices as figures
    amount: Decimal | None
    why: tuple[str, ...]


def order_rows(plan: Ordered) -> tuple[OrderRow, ...]:
    """What is used from the cable on hand, then the order's lines, in its own order."""
    remnants = (spool for spool in plan.cut_plan.spools if spool.kind == "remnant" and spool.cuts)
    used = tuple(_remnant(spool, plan.units) for spool in remnants)
    return used + tuple(_row(line, plan.units) for line in plan.order.lines)


def assumptions(plan: Ordered) -> tuple[str, ...]:
    """What the order list takes for granted: printed on top of it."""
    stock, units = plan.stock, plan.units
    lines = [
        f"Prices are in {stock.currency}, as the stock file has them."
        if stock.currency
        else "The stock file keeps no prices.",
        *([sizes_text(plan)] if stock.conductors else []),
    ]
    if plan.round_up_um is not None:
        lines.append(f"Cut lengths are rounded up to {length_text(plan.round_up_um, units)}.")
    if stock.rules.kerf_um:
        lines.append(f"Each cut loses {length_text(stock.rules.kerf_um, units)}.")
    if stock.rules.keep_above_um is not None:
        lines.append(f"Offcuts of {length_text(stock.rules.keep_above_um, units)} and more go back to stock.")
    lines.append(f"Cable that ends up as scrap: {waste_text(plan.cut_plan, units)}.")
    lines += later_words(plan.later_strings, plan.later_leads, stock.currency, units)
    if plan.order.missing:
        lines.append(f"The total leaves out {missing_text(plan)}.")
    return tuple(lines)


ALTERNATES_BASIS = "what is from stock is counted at its value, so the bill itself may differ more"


def alternate_rows(plan: Ordered) -> tuple[tuple[str, str, str], ...]:
    """(what instead, cost of its cable against the plan's, cable to buy) of each other way of buying."""
    return tuple(
        (a.name, "cannot be had", a.why_not)
        if a.why_not
        else (
            a.name,
            difference_text(a.difference, plan.order.currency),
            f"{_lengths(a.bought_um, plan.units)} to buy",
        )
        for a in plan.alternates
    )


def difference_text(amount: Decimal | None, currency: str) -> str:
    """
    >>> difference_text(Decimal("12.5"), "EUR"), difference_text(Decimal(-3), "EUR"), difference_text(None, "EUR")
    ('EUR 12.50 more', 'EUR 3.00 less', 'not known: a price is missing')
    """
    if amount is None:
        return "not known: a price is missing"
    if amount == 0:
        return "the same"
    return f"{currency} {abs(amount):.2f} {'more' if amount > 0 else 'less'}"


def sizes_text(plan: Ordered) -> str:
    """Every conductor used in both systems, for who buys in the other one."""
    names = dict.fromkeys(spool.conductor for spool in plan.cut_plan.spools if spool.cuts)
    return "Sizes: " + "; ".join(_in_both_systems(plan.stock.conductor(name)) for name in names) + "."


def _in_both_systems(conductor: Conductor) -> str:
    if "mm" not in conductor.size:
        return f"{conductor.size} is {conductor.area_mm2:.3g} mm2"
    gauges = sorted((float(row["area_mm2"]), row["awg"]) for row in rows("conductors_awg"))
    below = [g for g in gauges if g[0] <= conductor.area_mm2]
    above = [g for g in gauges if g[0] > conductor.area_mm2]
    nearest = [("above", *g) for g in below[-1:]] + [("below", *g) for g in above[:1]]
    words = [f"{side} {awg} AWG ({area_mm2:.3g} mm2)" for side, area_mm2, awg in nearest]
    return f"{conductor.size} lies " + " and ".join(words)


def missing_text(plan: Ordered) -> str:
    """What has no price, in words; "" when every price is known."""
    return "missing prices: " + ", ".join(plan.order.missing) if plan.order.missing else ""


def no_prices(plan: Ordered) -> bool:
    """Whether there is much to buy and not one price for it."""
    bought = [line for line in plan.order.lines if line.quantity]
    return bool(bought) and all(line.price is None for line in bought)


def total_text(plan: Ordered) -> str:
    """The total in words, never passing a missing price for nothing."""
    total = f"{plan.order.currency} {plan.order.total:.2f}"
    missing = len(plan.order.missing)
    if no_prices(plan):
        return "no prices kept"
    return f"{total} and {how_many(missing, 'missing price')}" if missing else total


def covered_text(plan: Ordered) -> str:
    """What the total is for: kinds of things bought, in the order's own order; "nothing to buy" if there are none."""
    names = {"lug": "lugs", "fuse": "fuses", "sundry": "sundries"}
    kinds = dict.fromkeys(line.kind for line in plan.order.lines if line.quantity)
    return ", ".join(names.get(kind, kind) for kind in kinds) or "nothing to buy"


def _row(line: OrderLine, units: str) -> OrderRow:
    # cable and heat-shrink are counted in micrometres, but for heat-shrink that the stock file does not hold
    lengths = line.kind in ("cable", "heat-shrink") and line.unit != "each"

    def amount(count: int, down: bool = False) -> str:
        return (_lengths(count, units, down) if lengths else str(count)) if count else ""

    description, unit = line.description, line.unit
    if lengths and units == "in":
        # the order counts in metres; who works in feet is told feet
        pack = length_text(line.pack, units, down=True)
        metres = f"{(Decimal(line.pack) / 1_000_000).normalize():f} m"
        # the length alone: "5 m" also stands inside "35 mm2"
        whole = re.compile(rf"(?<![\d.]){re.escape(metres)}(?!\w)")
        description, unit = whole.sub(pack, description), whole.sub(pack, unit)
    return OrderRow(
        line.kind,
        description,
        line.quantity,
        unit,
        amount(line.needed),
        amount(line.on_hand_used),
        amount(line.remains, down=True),
        money_text(line.unit_price) if line.quantity else "",
        money_text(line.price) if line.quantity else "",
        line.unit_price,
        line.price,
        line.why,
    )


def _remnant(spool: SpoolUse, units: str) -> OrderRow:
    return OrderRow(
        "cable",
        f"{spool.conductor} {spool.colour}, on hand: {spool.label}",
        0,
        "remnant",
        _lengths(spool.cut_um, units),
        _lengths(spool.length_um, units, down=True),
        _lengths(spool.remains_um, units, down=True) if spool.kept else "",
        "",
        "",
        None,
        None,
        tuple(cut.piece for cut in spool.cuts),
    )


def _lengths(length_um: int, units: str, down: bool = False) -> str:
    one, other = (length_text(length_um, unit, down=down) for unit in (units, other_unit(units)))
    return f"{one} ({other})"
