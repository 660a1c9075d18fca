"""The part of the page that says how good places and cuts are, how good they could be, and who looked after it."""

from __future__ import annotations

from decimal import Decimal

from cutlist.place_types import PlaceProof
from cutlist.plan_types import Plan
from cutlist.sheets.lengths import length_text, metres_text
from cutlist.sheets.markup import Markup, join, table, tag
from cutlist.sheets.place_rows import PLACES_COST
from cutlist.sheets.rows import money_text
from cutlist.stock.cut_plan import GroupResult

PLACE_HEADS = ("Laid", "No other place below", "Between %", "The bound speaks of")
SEARCH_HEADS = ("Cells looked at", "Left open", "Smallest cell", "Looked over by another program")
CUT_HEADS = ("Group", "Pieces", "Cost of this plan", "No plan below", "Between", "Proved by", "To know")


def proof_part(plan: Plan) -> Markup:
    parts = []
    if plan.place_proof is not None and plan.place_proof.gap is not None:
        parts.append(_places(plan, plan.place_proof))
    if plan.cut_plan.groups:
        lines = [_cuts(plan, group) for group in plan.cut_plan.groups]
        parts.append(
            table(
                "Cutting, each group of pieces that share stock; cable alone, from stock at its value",
                CUT_HEADS,
                lines,
                (1, 2, 3, 4),
            )
        )
    if plan.cut_plan.interrupted:
        parts.append(tag("p", "The search for cuts was interrupted: this is the best found so far."))
    return join(*parts)


def _places(plan: Plan, proof: PlaceProof) -> Markup:
    if proof.cost is not None:
        laid, least = (_money(plan, amount) for amount in (proof.cost, proof.least_cost))
    else:
        laid, least = (length_text(um or 0, plan.job.units) for um in (proof.bought_um, proof.least_bought_um))
    looked = "yes" if proof.checked and not proof.faults else "; ".join(proof.faults) or "no"
    line = (
        laid,
        least,
        "" if proof.gap is None else f"{100 * proof.gap:.2f}",
        proof.speaks_of,
        str(proof.cells_examined),
        str(proof.cells_left),
        metres_text(proof.finest_m, plan.job.units),
        looked,
    )
    caption = f"Places of the bus bars: {PLACES_COST}"
    return table(caption, (*PLACE_HEADS, *SEARCH_HEADS), [line], (0, 1, 2, 4, 5, 6))


def _cuts(plan: Plan, group: GroupResult) -> tuple[str, ...]:
    def amount(value: Decimal) -> str:
        return _money(plan, value) if group.by == "money" else length_text(round(value * 1_000_000), plan.job.units)

    between = "nothing: proved least" if group.proved else amount(group.gap)
    notes = "; ".join(group.notes)
    return (
        group.name,
        str(group.pieces),
        amount(group.cost),
        amount(group.least_cost),
        between,
        group.how_proved,
        notes,
    )


def _money(plan: Plan, amount: Decimal | None) -> str:
    return f"{plan.stock.currency} {money_text(amount)}"
