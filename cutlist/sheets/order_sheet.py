"""The purchaser's order list as PDF."""

from __future__ import annotations

from cutlist.plan_types import Plan
from cutlist.sheets.cautions import cautions_at
from cutlist.sheets.cut_sheet import paper_of
from cutlist.sheets.order_rows import (
    ALTERNATES_BASIS,
    Ordered,
    alternate_rows,
    assumptions,
    missing_text,
    no_prices,
    order_rows,
)
from cutlist.sheets.plan_json import plan_mark
from cutlist.sheets.rows import money_text
from cutlist.sheets.typeset import typeset

WHY_SHOWN = 4  # uses named on paper; the tables hold them all


def order_pdf(plan: Ordered, mark: str = "") -> bytes:
    """The order list: A4, or US Letter where the job is in inches. The same plan gives the same bytes."""
    return typeset(
        "order_sheet.typ",
        {
            "title": "Order list",
            "job": plan.name,
            "mark": mark or (plan_mark(plan) if isinstance(plan, Plan) else ""),
            "paper": paper_of(plan.units),
            "currency": plan.order.currency,
            "assumptions": [*assumptions(plan), *cautions_at("order")],
            "lines": [
                {
                    "buy": row.quantity > 0,
                    "what": row.description,
                    "quantity": str(row.quantity) if row.quantity else "none",
                    "unit": row.unit,
                    "needed": row.needed,
                    "stock": row.on_hand,
                    "left": row.remains,
                    "unit_price": row.unit_price,
                    "price": row.price,
                    "why": shortened(row.why),
                }
                for row in order_rows(plan)
            ],
            "alternates": [list(row) for row in alternate_rows(plan)],
            "total": "none kept" if no_prices(plan) else money_text(plan.order.total),
            "missing": missing_text(plan),
            "alternates_basis": ALTERNATES_BASIS,
        },
    )


def shortened(why: tuple[str, ...]) -> str:
    """The first few uses, and how many more there are.

    >>> shortened(("a", "b")), shortened(tuple("abcdefgh"))
    ('a; b', 'a; b; c; d and 4 more')
    """
    named = "; ".join(why[:WHY_SHOWN])
    return f"{named} and {len(why) - WHY_SHOWN} more" if len(why) > WHY_SHOWN else named
