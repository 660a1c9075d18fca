"""The parts of the page for those who cut, lay and order: with ticks that the page remembers."""

from __future__ import annotations

from cutlist.plan_types import Plan
from cutlist.sheets.cautions import cautions_at
from cutlist.sheets.grouping_text import grouping_notes
from cutlist.sheets.lengths import metres_text
from cutlist.sheets.markup import Markup, bullets, join, pole_sign, table, tag
from cutlist.sheets.order_rows import ALTERNATES_BASIS, alternate_rows, assumptions, order_rows, total_text
from cutlist.sheets.rows import NOT_KNOWN, cut_rows, laying_rows
from cutlist.sheets.termination_rows import UNKNOWN_TORQUE, termination_rows


def cuts_part(plan: Plan) -> Markup:
    units = plan.job.units
    parts = []
    for spool in cut_rows(plan):
        lines = [
            (
                tag("label", tag("input", type="checkbox", class_="tick", data_piece=c.tag), f" {c.order}"),
                join(pole_sign(c.pole), " ", tag("strong", c.tag), f" {c.name}" if c.name != c.tag else ""),
                tag("strong", c.length, class_="big"),
                c.other_length,
                f"{c.start.lug}, strip {c.start.strip}, {c.start.at}",
                f"{c.finish.lug}, strip {c.finish.strip}, {c.finish.at}",
                c.angle,
                c.heat_shrink,
                c.fuse + (f" instead of {c.instead_of}: tape it" if c.instead_of else ""),
            )
            for c in spool.cuts
        ]
        fate = f"label it {spool.rest_label} and keep it" if spool.kept else "scrap"
        parts.append(tag("h3", f"{spool.what}: {spool.title}, {spool.length}"))
        parts.append(
            table(
                f"Cuts from {spool.title}, longest first; offcut {spool.remains}: {fate}",
                (
                    "Done, cut",
                    "Tag",
                    "Cut length",
                    "in " + ("mm" if units == "in" else "ft in"),
                    "End A",
                    "End B",
                    "B against A",
                    "Heat-shrink",
                    "Fuse",
                ),
                lines,
                (2, 3),
            )
        )
    kept = [(s.rest_label, s.what, s.remains, s.title) for s in cut_rows(plan) if s.kept and s.remains_um]
    if kept:
        heads = ("Write on it", "Cable", "Length", "What is left of")
        parts.append(table("What is kept for another job", heads, kept, (2,)))
    stop = metres_text(plan.job.policy.dry_fit_stop_m, units)
    warning = f"If a dry-fit differs by more than {stop}, stop cutting and plan again."
    return join(bullets(cautions_at("cut sheet")), tag("p", tag("strong", warning)), *parts)


def laying_part(plan: Plan) -> Markup:
    laying = laying_rows(plan)
    clamped = any(r.clamps for r in laying)
    lines = [
        (
            tag("label", tag("input", type="checkbox", class_="tick", data_piece=f"laid {r.name}"), f" {r.number}"),
            f"{r.sign} {r.name}",
            f"{r.start} to {r.finish}",
            r.path,
            r.length,
            r.surplus,
            *([tag("ol", *(tag("li", c) for c in r.clamps)) if r.clamps else "none"] if clamped else []),
        )
        for r in laying
    ]
    heads = (
        "Done, no.",
        "Cable",
        "From A to B",
        "The way, corner to corner",
        "Stud to stud",
        "Surplus",
        *(["Clamps, from A"] if clamped else []),
    )
    return join(
        bullets((*grouping_notes(plan), *cautions_at("laying"))),
        table("Laying, in installing order", heads, lines, (4,)),
    )


def terminations_part(plan: Plan) -> Markup:
    lines = [(r.at, r.stud, r.torque, ", then ".join(r.stack)) for r in termination_rows(plan)]
    heads = ("At", "Stud", "Torque", "Lugs, from the seat up")
    unknown = tag("p", UNKNOWN_TORQUE) if any(line[2] == NOT_KNOWN for line in lines) else ""
    return join(bullets(cautions_at("terminations")), table("Every stud", heads, lines), unknown)


def order_part(plan: Plan) -> Markup:
    lines = [
        (
            r.description,
            r.quantity if r.quantity else "none",
            r.unit,
            r.needed,
            r.on_hand,
            r.remains,
            r.unit_price,
            r.price,
            tag("details", tag("summary", f"{len(r.why)} uses"), "; ".join(r.why))
            if len(r.why) > 2
            else "; ".join(r.why),
        )
        for r in order_rows(plan)
    ]
    heads = ("What", "Order", "Unit", "Needed", "From stock", "Left over", "Unit price", "Price", "Why")
    total = tag("p", tag("strong", f"Total: {total_text(plan)}"))
    others: list[Markup] = []
    if plan.alternates:
        other_heads = ("Instead", "Cable cost against this order", "What that means")
        others.append(table(f"Other ways of buying the cable ({ALTERNATES_BASIS})", other_heads, alternate_rows(plan)))
    return join(
        bullets((*assumptions(plan), *cautions_at("order"))),
        table("Order list", heads, lines, (1, 6, 7)),
        total,
        *others,
    )
