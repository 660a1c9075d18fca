"""The cuts of a cut list, for who has lengths already: one cut a line, for the terminal, as a table and on paper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from cutlist.findings import how_many
from cutlist.sheets.cautions import cautions_at
from cutlist.sheets.cut_sheet import paper_of
from cutlist.sheets.lengths import ft_in_text, length_text, other_unit
from cutlist.sheets.order_rows import order_rows, total_text
from cutlist.sheets.plain_table import plain_table
from cutlist.sheets.tables_csv import mm_exact, table_csv
from cutlist.sheets.typeset import typeset
from cutlist.stock.cut_list import CutList, gap_share
from cutlist.stock.cut_plan import GroupResult
from cutlist.stock.proof import check_proof
from cutlist.stock.recut import spool_name
from cutlist.stock.stock_after import rest_labels, spool_key

HEADS = (
    "cut",
    "spool",
    "conductor",
    "colour",
    "tag",
    "job",
    "cut length mm",
    "cut length ft in",
    "instead of",
    "remains mm",
    "done",
)

INTERRUPTED = (
    "Interrupted: the best way of cutting found so far, not proved best; a longer look may find a cheaper one."
)


@dataclass(frozen=True)
class CutLine:
    order: int
    tag: str
    job: str
    length_um: int
    remaining_um: int
    instead_of: str
    done: bool


@dataclass(frozen=True)
class SpoolLines:
    title: str  # "Spool 2 of 3: 25 m spool"
    name: str
    conductor: str
    colour: str
    length_um: int
    end_trim_um: int
    cuts: tuple[CutLine, ...]
    remains_um: int
    fate: str  # of the rest: "label it R1 and keep it", "scrap"


def spool_lines(cuts: CutList) -> tuple[SpoolLines, ...]:
    """Every spool with its cuts, in cutting order."""
    jobs = {p.name: job.name for job in cuts.jobs for p in job.pieces}
    labels = rest_labels(cuts.cut_plan, cuts.stock)
    found = []
    order = 0
    for number, spool in enumerate(cuts.cut_plan.spools, start=1):
        lines = []
        for cut in spool.cuts:
            order += 1
            done = cut.piece in cuts.done
            job = jobs.get(cut.piece, "")
            lines.append(CutLine(order, cut.piece, job, cut.length_um, cut.remaining_um, cut.instead_of, done))
        name = spool_name(spool, cuts)
        found.append(
            SpoolLines(
                f"{spool.kind.capitalize()} {number} of {len(cuts.cut_plan.spools)}: {name}",
                name,
                spool.conductor,
                spool.colour,
                spool.length_um,
                spool.end_trim_um,
                tuple(lines),
                spool.remains_um,
                f"label it {labels[spool_key(spool)]} and keep it" if spool.kept else "scrap",
            )
        )
    return tuple(found)


def cut_list_text(cuts: CutList) -> str:
    """Cutting order, order list and proof, for the terminal."""
    units = cuts.units
    parts = [INTERRUPTED] if cuts.cut_plan.interrupted else []
    pieces = how_many(len(cuts.pieces), "piece")
    parts += [f"{cuts.name}: {pieces}, {length_text(sum(p.length_um for p in cuts.pieces), units)}"]
    parts += [_spool_text(spool, units) for spool in spool_lines(cuts)]
    rows = [(r.description, str(r.quantity or "none"), r.unit, r.price) for r in order_rows(cuts)]
    parts.append("Order\n" + plain_table(("what", "order", "unit", f"price {cuts.order.currency}"), rows, (1, 3)))
    parts.append(f"  total {total_text(cuts)}")
    # of a plan for the rest, the groups tell of the rest alone
    if cuts.cut_plan.groups and not cuts.done:
        parts.append("How good it is\n" + "\n".join(f"  {line}" for line in proof_lines(cuts)))
    return "\n\n".join(parts)


def proof_lines(cuts: CutList) -> list[str]:
    """For each group its cost, what no plan comes below, and who says so."""
    proofs = {p.name: p for p in check_proof(cuts.cut_plan, cuts.pieces, cuts.stock)}
    return [_proof_line(g, g.name in proofs and proofs[g.name].checked, cuts) for g in cuts.cut_plan.groups]


def _proof_line(group: GroupResult, checked: bool, cuts: CutList) -> str:
    unit = cuts.order.currency if group.by == "money" else "m"
    notes = f" ({'; '.join(group.notes)})" if group.notes else ""
    if group.proved:
        who = "proof checked independently" if checked else "on the word of the search"
        return f"{group.name}: {group.cost} {unit}, and no other way of cutting comes to less: {who}{notes}"
    share = gap_share(group.cost, group.least_cost)
    percent = "" if share is None else f", a gap of {100 * share:.2f} %"
    return f"{group.name}: {group.cost} {unit}, best found; none comes to less than {group.least_cost}{percent}{notes}"


def _spool_text(spool: SpoolLines, units: str) -> str:
    head = f"{spool.title}   {spool.conductor} {spool.colour}   {length_text(spool.length_um, units, down=True)}"
    if spool.end_trim_um and spool.cuts:
        head += f", trim {length_text(spool.end_trim_um, units)} off its end first"
    rows = [
        (str(c.order), _tag(c), _bare(c.length_um, units, up=True), _bare(c.remaining_um, units, down=True))
        for c in spool.cuts
    ]
    rows.append(("", f"offcut: {spool.fate}" if spool.remains_um else "nothing remains", "", ""))
    name = "mm" if units == "mm" else "ft in"
    return head + "\n" + plain_table(("cut", "tag", f"length {name}", f"remains {name}"), rows, (0, 2, 3))


def _tag(cut: CutLine) -> str:
    extra = f" (instead of {cut.instead_of}: tape it)" if cut.instead_of else ""
    return f"{cut.tag}{extra}{' (done)' if cut.done else ''}"


def _bare(length_um: int, units: str, up: bool = False, down: bool = False) -> str:
    return length_text(length_um, units, up, down).removesuffix(" mm")


def cut_list_csv(cuts: CutList) -> str:
    """One cut a line, in cutting order. The column `done` holds x where it is cut; the rigger fills it in."""
    lines = [
        (
            c.order,
            spool.title,
            spool.conductor,
            spool.colour,
            c.tag,
            c.job,
            mm_exact(c.length_um),
            ft_in_text(c.length_um, up=True),
            c.instead_of,
            mm_exact(c.remaining_um),
            "x" if c.done else "",
        )
        for spool in spool_lines(cuts)
        for c in spool.cuts
    ]
    return table_csv(HEADS, lines)


def cut_list_pdf(cuts: CutList, mark: str) -> bytes:
    """The cut sheet of pieces without a plan around them. The same list gives the same bytes."""
    units = cuts.units
    spools = spool_lines(cuts)
    longest_um = max((s.length_um for s in spools), default=1)
    data: dict[str, Any] = {
        "title": "Cut sheet",
        "job": cuts.name,
        "mark": mark,
        "paper": paper_of(units),
        "cautions": [*([INTERRUPTED] if cuts.cut_plan.interrupted else []), *cautions_at("cut sheet")],
        "own_head": "cut length " + ("mm" if units == "mm" else "ft in"),
        "other_head": "ft in" if units == "mm" else "mm",
        "spools": [
            {
                "title": s.title,
                "what": f"{s.conductor} {s.colour}",
                "length": length_text(s.length_um, units, down=True),
                "scale": s.length_um / longest_um,
                "trim": f"Trim {length_text(s.end_trim_um, units)} off its end first." if s.end_trim_um else "",
                "parts": [c.length_um / s.length_um for c in s.cuts],
                "rest": f"Offcut {length_text(s.remains_um, units, down=True)}: {s.fate}."
                if s.remains_um
                else "Nothing remains.",
                "cuts": [
                    {
                        "order": str(c.order),
                        "done": c.done,
                        "tag": _tag(c),
                        "job": c.job if len(cuts.jobs) > 1 else "",
                        "own": _bare(c.length_um, units, up=True),
                        "other": length_text(c.length_um, other_unit(units), up=True),
                        "remains": _bare(c.remaining_um, units, down=True),
                    }
                    for c in s.cuts
                ],
            }
            for s in spools
        ],
    }
    return typeset("cut_list.typ", data)
