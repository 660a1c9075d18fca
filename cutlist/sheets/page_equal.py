"""The parts of the page on how equal is enough, and on what would happen if."""

from __future__ import annotations

from cutlist.plan_types import Plan
from cutlist.sheets.equal_rows import Rows, cause_rows, enough_words, what_if_rows
from cutlist.sheets.markup import Markup, join, table, tag


def equal_part(plan: Plan) -> Markup:
    if plan.equality is None:
        return Markup("")
    words = enough_words(plan.equality, plan.job.units)
    return join(_table(cause_rows(plan.equality)), *(tag("p", w) for w in words))


def what_if_part(plan: Plan) -> Markup:
    return join(*(_table(rows) for rows in what_if_rows(plan.what_if, plan.job.units)))


def _table(rows: Rows) -> Markup:
    # a table without lines has nothing to say but its words
    shown = table(rows.caption, rows.heads, rows.lines, rows.figures) if rows.lines else Markup("")
    return join(shown, *(tag("p", w) for w in rows.words))
