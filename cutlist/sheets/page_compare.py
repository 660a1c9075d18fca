"""The part of the page that sets ways of matching and of connecting side by side, with bars to scale."""

from __future__ import annotations

from collections.abc import Sequence

from cutlist.plan_types import Compared, Plan
from cutlist.sheets.lengths import metres_text
from cutlist.sheets.markup import Markup, join, table, tag
from cutlist.sheets.rows import money_text, signed_percent

CAPTIONS = {"policy": "Ways of matching the leads", "connection": "Ways of connecting the strings"}
BAR_WIDE = 90  # CSS pixels of the longest bar of a column


def compare_part(plan: Plan) -> Markup:
    """One table a kind; nothing where the plan compares nothing."""
    tables = []
    for kind, caption in CAPTIONS.items():
        ways = [c for c in plan.compared if c.kind == kind]
        if ways:
            tables.append(_side_by_side(caption, ways, plan))
    return join(*tables)


def _side_by_side(caption: str, ways: Sequence[Compared], plan: Plan) -> Markup:
    units, currency = plan.job.units, plan.stock.currency
    departure = max(abs(w.worst_departure) for w in ways)
    drop = max(w.drop for w in ways)
    cable_m = max(w.cable_m for w in ways)
    cost = max((w.cost for w in ways if w.cost is not None), default=None)
    lines: list[tuple[object, ...]] = [
        (
            tag("strong", f"{w.name} (this plan)") if w.chosen else w.name,
            join(
                f"{signed_percent(w.worst_departure, 2)} %, {w.worst_string}", _bar(abs(w.worst_departure), departure)
            ),
            f"{w.largest_over_smallest:.3f}",
            join(f"{100 * w.drop:.2f} %", _bar(w.drop, drop)),
            metres_text(w.lead_m, units),
            join(metres_text(w.cable_m, units), _bar(w.cable_m, cable_m)),
            join(money_text(w.cost), _bar(float(w.cost), float(cost)) if w.cost is not None and cost else ""),
        )
        for w in ways
    ]
    heads: tuple[str, ...] = (
        "Way",
        "Furthest from even",
        "Largest over smallest",
        "Worst drop",
        "Leads",
        "Leads, jumpers, feeders",
        f"Cable and lugs to buy {currency}, estimated",
    )
    drifts = any(w.drift for w in ways)
    if drifts:
        heads += ("Charge apart after a discharge %", "And after the charge %")
        lines = [(*line, *_drift(w)) for line, w in zip(lines, ways, strict=True)]
    return table(
        f"{caption}, side by side; lengths from stud to stud", heads, lines, (2, 4, *((7, 8) if drifts else ()))
    )


def _drift(way: Compared) -> tuple[str, str]:
    """Charge of the fullest string less that of the emptiest, when half the charge was taken out, and put back."""
    if way.drift is None:
        return "not known", "not known"
    return f"{100 * way.drift.after_discharge:.2f}", f"{100 * way.drift.after_charge:.2f}"


def _bar(value: float, longest: float) -> Markup:
    """A bar whose figure stands beside it, so it says nothing more to a screen reader."""
    wide = BAR_WIDE * value / longest if longest > 0 else 0.0
    return Markup(
        f'<svg class="bar" width="{BAR_WIDE}" height="10" aria-hidden="true">'
        f'<rect width="{wide:.1f}" height="10"/></svg>'
    )
