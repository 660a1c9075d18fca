"""What if, for the terminal."""

from __future__ import annotations

import textwrap

from cutlist.plan_types import WhatIf
from cutlist.sheets.equal_rows import what_if_rows
from cutlist.sheets.plain_table import plain_table

WIDE = 100


def what_if_text(asked: WhatIf, units: str) -> str:
    """A table for each kind of question, then in words every limit that would fail."""
    tables = what_if_rows(asked, units)
    if not tables:
        return "No load draws from this bank: there is nothing to ask."
    blocks = []
    for rows in tables:
        words = [textwrap.fill(w, WIDE, initial_indent="  ", subsequent_indent="  ") for w in rows.words]
        blocks.append("\n".join([rows.caption, plain_table(rows.heads, rows.lines, rows.figures), *words]))
    said = [f"{f.rule}, {f.item}: {f.message}" for i in asked.isolated for f in i.failing]
    said += [f"{r.finding.message}; {r.finding.mend}" for r in asked.rejoined if r.finding.status == "fail"]
    said += [f"{f.rule}, {f.item}: {f.message}" for x in asked.further for f in x.failing]
    if said:
        blocks.append("\n".join(textwrap.fill(s, WIDE, subsequent_indent="  ") for s in dict.fromkeys(said)))
    return "\n\n".join(blocks)
