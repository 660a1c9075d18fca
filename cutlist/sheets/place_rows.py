"""How good the places of the bus bars are, in words."""

from __future__ import annotations

from cutlist.place_types import PlaceSaving
from cutlist.plan_types import Plan
from cutlist.sheets.lengths import length_text
from cutlist.sheets.rows import conductor_text, money_text, place_text

# what the money of places speaks of; the order speaks of more, and the cost of cutting of less
PLACES_COST = (
    "cable of both poles (from stock at its value), with the jumpers cut from it, and the lugs of leads and feeders"
)


def saving_text(plan: Plan) -> str:
    """What deciding all together saves against bars at the middles of their first faces, cut first-fit; "" where not
    known."""
    saving = plan.place_saving
    if saving is None or not any(bar.faces or len(bar.places) > 1 for bar in plan.job.bus_bars):
        return ""  # where no bar was free there was nothing to decide
    units = plan.job.units
    words = [_less(saving.naive_laid_um - saving.laid_um, units, "of cable laid")]
    if saving.cost is not None and saving.naive_cost is not None:
        less = saving.naive_cost - saving.cost
        money = f"{plan.stock.currency} {money_text(abs(less))} {'less' if less >= 0 else 'more'}"
        share = f" ({100 * less / saving.naive_cost:.1f} %)" if saving.naive_cost > 0 else ""
        words.insert(0, money + share)
    else:
        words.append(_less(saving.naive_bought_um - saving.bought_um, units, "bought"))
    text = ", ".join(words)
    return text if saving.naive_holds_drop else f"{text}; there the drop limit does not hold"


def middles_text(saving: PlaceSaving) -> str:
    """Where the bars stand that the saving is held against: of several faces only the first of each is asked.

    >>> from dataclasses import replace
    >>> from cutlist.bank.bus_bars import BarPlace
    >>> place = BarPlace((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), "left wall")
    >>> saving = PlaceSaving(None, None, 0, 0, 0, 0, place, place, "35 mm2", "35 mm2", True)
    >>> middles_text(saving)
    'at the middle of left wall, first face of both'
    >>> middles_text(replace(saving, naive_negative=replace(place, face="back wall")))
    'at the middles of left wall (positive) and back wall (negative), first face of each'
    """
    positive, negative = (place.face for place in (saving.naive_positive, saving.naive_negative))
    if not positive or not negative:
        return "at the first place stated of each"
    if positive == negative:
        return f"at the middle of {positive}, first face of both"
    return f"at the middles of {positive} (positive) and {negative} (negative), first face of each"


def _less(um: int, units: str, what: str) -> str:
    return f"{length_text(abs(um), units)} {what} {'less' if um >= 0 else 'more'}"


def saving_sentence(plan: Plan) -> str:
    """The same with what it is held against."""
    saving = plan.place_saving
    if saving is None or not saving_text(plan):
        return ""
    units = plan.job.units
    conductors = f"leads of {conductor_text(plan.stock.conductor(saving.naive_lead))}"
    if saving.naive_feeder:
        conductors += f", feeders of {conductor_text(plan.stock.conductor(saving.naive_feeder))}"
    return (
        f"Against bus bars {middles_text(saving)} (as near as they may stand: "
        f"{place_text(saving.naive_positive, units)}; {place_text(saving.naive_negative, units)}), the smallest "
        f"conductors that serve there ({conductors}) and cuts by first fit: {saving_text(plan)}. That is "
        f"{PLACES_COST}; both by run lengths with lugs and bends, not yet laid."
    )


def proof_text(plan: Plan) -> str:
    """How good the places of the bus bars are, and how good they could be."""
    proof = plan.place_proof
    if proof is None or not proof.searched or proof.gap is None:
        return "" if proof is None else f"Bus-bar places: {proof.words}."
    units = plan.job.units
    if proof.cost is not None:
        laid, least = money_text(proof.cost), money_text(proof.least_cost)
        what = f"{plan.stock.currency} {laid} ({PLACES_COST}); no other place costs less than {least}"
    else:
        bought, least_um = proof.bought_um or 0, proof.least_bought_um or 0
        what = (
            f"{length_text(bought, units)} of cable bought for both poles; "
            f"no other place needs less than {length_text(least_um, units)}"
        )
    return f"Bus-bar places: {what} ({100 * proof.gap:.1f} % between them): {proof.words}."
