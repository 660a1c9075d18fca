"""The rigger's paper as PDF: cuts by spool, laying in installing order, terminations, cautions."""

from __future__ import annotations

from typing import Any

from cutlist.plan_types import Plan
from cutlist.sheets.bar_strips import bar_strips
from cutlist.sheets.cautions import cautions_at
from cutlist.sheets.finding_groups import grouped, settle_first, told
from cutlist.sheets.grouping_text import grouping_notes, grouping_rows
from cutlist.sheets.lengths import length_text, metres_text, other_unit
from cutlist.sheets.plan_json import plan_mark
from cutlist.sheets.rows import (
    NOT_KNOWN,
    CutRow,
    EndRow,
    SpoolRows,
    bar_text,
    cut_rows,
    laying_rows,
    longest_text,
)
from cutlist.sheets.termination_rows import UNKNOWN_TORQUE, termination_rows
from cutlist.sheets.typeset import typeset
from cutlist.sheets.view_files import with_style


def cut_sheet_pdf(plan: Plan, mark: str = "") -> bytes:
    """The cut sheet: A4, or US Letter where the job is in inches. The same plan gives the same bytes.

    `mark` is the plan's, if it is known already: see plan_mark.
    """
    return typeset("cut_sheet.typ", cut_sheet_data(plan, mark or plan_mark(plan)))


def paper_of(units: str) -> str:
    return "us-letter" if units == "in" else "a4"


def cut_sheet_data(plan: Plan, mark: str) -> dict[str, Any]:
    """Everything the template prints."""
    units = plan.job.units
    spools = cut_rows(plan)
    longest_um = max((s.length_um for s in spools), default=1)
    laying, terminations = laying_rows(plan), termination_rows(plan)
    stop = metres_text(plan.job.policy.dry_fit_stop_m, units)
    return {
        "title": "Cut sheet",
        "job": plan.job.name,
        "mark": mark,
        "paper": paper_of(plan.units),
        "footer": "Local codes, the battery maker's manual and licensed practice come before this sheet.",
        "own_head": _column_head(units, own=True),
        "other_head": _column_head(other_unit(units), own=False),
        "facts": _facts(plan),
        "stop": f"Stop mark: if a dry-fit differs from this sheet by more than {stop}, stop cutting and plan again.",
        "failing": [*told(grouped(plan.findings, "fail"))],
        "cautions": {
            "cover": [*cautions_at("cover")],
            "cuts": [*cautions_at("cut sheet")],
            "laying": [*grouping_notes(plan)[:1], *cautions_at("laying")],
            "terminations": [*cautions_at("terminations")],
        },
        "spools": [_spool(s, s.length_um / longest_um, units) for s in spools],
        "frame": "Right is along x, out is along y, up is along z, all from the site's corner.",
        "laying": [
            {
                "number": str(r.number),
                "name": r.name,
                "sign": r.sign,
                "start": r.start,
                "finish": r.finish,
                "path": r.path,
                "length": r.length,
                "surplus": r.surplus,
                "bends": r.bends,
                "clamps": [*r.clamps],
            }
            for r in laying
        ],
        "strips": [{"words": words, "picture": with_style(svg)} for words, svg in bar_strips(plan)],
        "clamped": any(r.clamps for r in laying),
        "terminations": [{"at": r.at, "stud": r.stud, "torque": r.torque, "stack": [*r.stack]} for r in terminations],
        "torque_unknown": UNKNOWN_TORQUE if any(r.torque == NOT_KNOWN for r in terminations) else "",
        "settle": [*settle_first(plan)],
        "left_out": [words for words in plan.left_out if words not in settle_first(plan)],
    }


def _facts(plan: Plan) -> list[list[str]]:
    units = plan.job.units
    target = (
        f"{length_text(plan.target_um, units, up=True)} = {length_text(plan.target_um, other_unit(units), up=True)}"
        + longest_text(plan)
    )
    pieces = sum(len(c.cuts) for c in plan.cables)
    return [
        ["Cut length of the leads", target],
        ["Leads matched", plan.job.policy.match],
        ["Pieces, spools", f"{pieces} from {len(plan.cut_plan.spools)}"],
        ["Rounded up to", length_text(plan.job.policy.round_up_um, units)],
        *([f"{b.bar.pole.capitalize()} bus bar", bar_text(b, units)] for b in plan.bars),
        *(["String, made up anew", words] for words in grouping_rows(plan)),
    ]


def _column_head(units: str, own: bool) -> str:
    name = "mm" if units == "mm" else "ft in"
    return f"cut length {name}" if own else name


def _spool(spool: SpoolRows, scale: float, units: str) -> dict[str, Any]:
    parts: list[dict[str, Any]] = [
        {"share": c.length_um / spool.length_um, "text": str(c.order), "rest": False} for c in spool.cuts
    ]
    rest_um = spool.length_um - sum(c.length_um for c in spool.cuts)
    if rest_um:
        parts.append({"share": rest_um / spool.length_um, "text": spool.remains, "rest": True})
    fate = f"label it {spool.rest_label} and keep it" if spool.kept else "scrap"
    rest = f"Offcut {spool.remains}: {fate}." if spool.remains_um else "Nothing remains."
    if spool.end_trim_um:
        rest = f"Trim {length_text(spool.end_trim_um, units)} off its end first. {rest}"
    return {
        "title": spool.title,
        "what": spool.what,
        "length": spool.length,
        "scale": scale,
        "parts": parts,
        "rest": rest,
        "cuts": [_cut(c, units) for c in spool.cuts],
    }


def _cut(row: CutRow, units: str) -> dict[str, Any]:
    own, other = _bare(row.length, units), _bare(row.other_length, other_unit(units))
    return {
        "order": str(row.order),
        "tag": row.tag,
        "name": row.name,
        "extra": f"instead of {row.instead_of}: tape it" if row.instead_of else "",
        "sign": row.sign,
        "colour": row.colour,
        "own": own,
        "own_size": 17 if units == "mm" else 14,
        "other": other,
        "other_size": 10,
        "leaves": length_text(row.remaining_um, units, down=True),
        "a": _end(row.start),
        "b": _end(row.finish),
        "angle": row.angle,
        "shrink": row.heat_shrink,
        "fuse": row.fuse,
    }


def _end(row: EndRow) -> dict[str, str]:
    return {"at": row.at, "lug": row.lug, "strip": row.strip}


def _bare(text: str, units: str) -> str:
    """Millimetres without their unit, which the column's head carries; feet and inches stay as they are read."""
    return text.removesuffix(" mm") if units == "mm" else text
