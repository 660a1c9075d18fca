"""Cuts and order as CSV, for spreadsheets and for other programs.

A cell of text that starts with = + - or @ (or a tab or line break before one) would be run as a formula by a
spreadsheet. Such a cell gets an apostrophe in front: the spreadsheet then shows it as the text it is. Cells that hold
figures are left alone.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from decimal import Decimal

from cutlist.plan_types import Plan
from cutlist.sheets.lengths import ft_in_text
from cutlist.sheets.order_rows import Ordered, missing_text, order_rows
from cutlist.sheets.rows import cut_rows, money_text

CUT_HEADS = (
    "cut",
    "spool",
    "conductor",
    "colour",
    "tag",
    "cable number",
    "cable",
    "string",
    "pole",
    "cut length mm",
    "cut length ft in",
    "A at",
    "A lug",
    "A strip",
    "B at",
    "B lug",
    "B strip",
    "B against A",
    "heat-shrink",
    "fuse",
    "instead of",
    "remains mm",
    "done",
)
ORDER_HEADS = (
    "kind",
    "description",
    "order",
    "unit",
    "needed",
    "from stock",
    "left over",
    "unit price",
    "price",
    "currency",
    "why",
)


def cuts_csv(plan: Plan) -> str:
    """One cut a line, in cutting order. Millimetres are exact; feet and inches are the next 1/8 in up.

    The column `done` is for the rigger: an x where it is cut, or the length it came out at.
    """
    lines = [
        (
            row.order,
            spool.title,
            row.conductor,
            row.colour,
            row.tag,
            row.number,
            row.name,
            row.string,
            row.pole,
            mm_exact(row.length_um),
            ft_in_text(row.length_um, up=True),
            row.start.at,
            row.start.lug,
            row.start.strip,
            row.finish.at,
            row.finish.lug,
            row.finish.strip,
            row.angle,
            row.heat_shrink,
            row.fuse,
            row.instead_of,
            mm_exact(row.remaining_um),
            "",
        )
        for spool in cut_rows(plan)
        for row in spool.cuts
    ]
    return table_csv(CUT_HEADS, lines)


def order_csv(plan: Ordered) -> str:
    """One thing to order a line; last the total of the known prices, with what is missing."""
    order = plan.order
    lines: list[tuple[object, ...]] = [
        (
            row.kind,
            row.description,
            row.quantity,
            row.unit,
            row.needed,
            row.on_hand,
            row.remains,
            row.unit_price,
            row.price,
            order.currency,
            "; ".join(row.why),
        )
        for row in order_rows(plan)
    ]
    total = money_text(order.total)
    lines.append(("total", "known prices", "", "", "", "", "", "", total, order.currency, missing_text(plan)))
    return table_csv(ORDER_HEADS, lines)


def mm_exact(length_um: int) -> str:
    """Millimetres with as many decimals as the length has.

    >>> mm_exact(2_350_000), mm_exact(3_175)
    ('2350', '3.175')
    """
    return f"{(Decimal(length_um) / 1000).normalize():f}"


def harmless(cell: object) -> object:
    """The cell, made text for a spreadsheet where it would be run as a formula.

    >>> harmless("=cmd()"), harmless("S1 positive"), harmless(-5)
    ("'=cmd()", 'S1 positive', -5)
    """
    if isinstance(cell, str) and cell.lstrip().startswith(("=", "+", "-", "@")) and not _is_figure(cell):
        return "'" + cell
    return cell


def _is_figure(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def table_csv(heads: Sequence[str], lines: Sequence[Sequence[object]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(heads)
    writer.writerows([harmless(cell) for cell in line] for line in lines)
    return text.getvalue()
