"""Labels for both ends of every piece: a short unique text, and a 2D code that holds the same text."""

from __future__ import annotations

import io
from dataclasses import dataclass

from cutlist.plan_types import Plan
from cutlist.sheets.cut_sheet import paper_of
from cutlist.sheets.plan_json import plan_mark
from cutlist.sheets.rows import cut_rows
from cutlist.sheets.typeset import typeset


@dataclass(frozen=True)
class Label:
    text: str  # "07 S1+ A": the tag and the end
    at: str  # where this end goes
    sign: str
    length: str


def label_rows(plan: Plan) -> tuple[Label, ...]:
    """Two labels a piece, in cutting order, so that they come off the sheet as the pieces come off the spool."""
    return tuple(
        Label(f"{row.tag} {end}", place.at, row.sign, row.length)
        for spool in cut_rows(plan)
        for row in spool.cuts
        for end, place in (("A", row.start), ("B", row.finish))
    )


def labels_pdf(plan: Plan, mark: str = "") -> bytes:
    """All labels, three abreast, on A4 or US Letter. The same plan gives the same bytes."""
    return typeset(
        "labels.typ",
        {
            "title": "Cable labels",
            "job": plan.job.name,
            "mark": mark or plan_mark(plan),
            "paper": paper_of(plan.units),
            "labels": [
                {
                    "text": label.text,
                    "at": label.at,
                    "sign": label.sign,
                    "length": label.length,
                    "code": code_svg(label.text),
                }
                for label in label_rows(plan)
            ],
        },
    )


def code_svg(text: str) -> str:
    """A QR code as SVG, with the quiet zone its readers need; error correction M, 15 % of it may be smudged.

    One mask pattern is used throughout: any can be read, and trying all eight takes five times as long.
    """
    import segno

    drawn = io.BytesIO()
    segno.make(text, error="m", micro=False, boost_error=False, mask=4).save(drawn, kind="svg", border=4, xmldecl=False)
    return drawn.getvalue().decode()
