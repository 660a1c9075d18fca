"""Other places of the bus bars as rows of tables: for the terminal, the page and spreadsheets."""

from __future__ import annotations

from collections.abc import Sequence

from cutlist.place_types import PlaceLandscape, PlaceMove, PlaceOption
from cutlist.sheets.lengths import length_text, metres_text
from cutlist.sheets.place_rows import PLACES_COST
from cutlist.sheets.rows import money_text, place_text

Heads = tuple[str, ...]
Lines = list[tuple[str, ...]]

SPEAKS_OF = "by run lengths with lugs and bends, not yet laid"
LAID = "leads and the feeders at the bus bars"
COVERS = f"Cable: {LAID} as they are cut. Bought, scrap: all cables of the colours of both poles."


def covers_text(options: Sequence[PlaceOption]) -> str:
    """What the figures of the table speak of; of money only where there is some."""
    return f"Cost: {PLACES_COST}. {COVERS}" if in_money(options) else COVERS


def moved_text(moves: Sequence[PlaceMove]) -> str:
    money = any(move.more is not None for move in moves)
    what = "what that costs in the same money" if money else "how much cable that adds to what is bought"
    return f"One bus bar moved as one stands before the face, the other one staying; {what}"


def in_money(options: Sequence[PlaceOption]) -> bool:
    return any(option.cost is not None for option in options)


def option_rows(options: Sequence[PlaceOption], units: str) -> tuple[Heads, Lines, tuple[int, ...]]:
    """What the pairs of places trade against each other, a line each; what nobody worked out has no column."""
    scrap = any(o.scrap_um is not None for o in options)
    uneven = any(o.uneven is not None for o in options)
    cost = in_money(options)
    heads = [
        "No.",
        *(["Cost"] if cost else []),
        "Drop V",
        "Longest run",
        "Cable",
        "Bought",
        *(["Scrap"] if scrap else []),
        "Surplus",
    ]
    heads += [*(["Worst share %"] if uneven else []), "Height", "Free in front", "Limit used most"]
    lines = []
    for number, o in enumerate(options, 1):
        line = [
            str(number),
            *([money_text(o.cost)] if cost else []),
            f"{o.drop_v:.3f}",
            metres_text(o.longest_run_m, units),
        ]
        line += [length_text(o.laid_um, units), length_text(o.bought_um, units)]
        line += [length_text(o.scrap_um, units) if o.scrap_um is not None else ""] if scrap else []
        line.append(metres_text(o.surplus_m, units))
        line += [f"{100 * o.uneven:.2f}" if o.uneven is not None else ""] if uneven else []
        lines.append((*line, metres_text(o.height_m, units), metres_text(o.free_m, units), o.binds))
    return tuple(heads), lines, tuple(range(len(heads) - 1))


def where_rows(options: Sequence[PlaceOption], units: str) -> tuple[Heads, Lines, tuple[int, ...]]:
    lines: Lines = [
        (
            str(number),
            f"{place_text(o.positive, units)}, {o.positive_turn} deg",
            f"{place_text(o.negative, units)}, {o.negative_turn} deg",
        )
        for number, o in enumerate(options, 1)
    ]
    return ("No.", "Positive bus bar", "Negative bus bar"), lines, (0,)


def move_rows(moves: Sequence[PlaceMove], units: str) -> tuple[Heads, Lines, tuple[int, ...]]:
    lines: Lines = [(m.pole, f"{metres_text(m.by_m, units)} {m.way}", _more(m, units)) for m in moves]
    return ("Bus bar", "Moved", "Costs" if any(m.more is not None for m in moves) else "Buys"), lines, ()


def _more(move: PlaceMove, units: str) -> str:
    if move.why_not:
        return move.why_not
    if move.more is None:
        more_um = move.more_um or 0
        return f"{length_text(abs(more_um), units)} {'less' if more_um < 0 else 'more'} to buy"
    return f"{money_text(abs(move.more))} {'less' if move.more < 0 else 'more'}"


def step_sentence(found: PlaceLandscape, units: str) -> str:
    step = "2 m or more" if found.to_next_step_m is None else metres_text(found.to_next_step_m, units)
    rises = "the cost rises" if in_money(found.options) else "more must be bought"
    return f"All {LAID} may turn out {step} longer, jumpers and other cables staying as they are, before {rises}."
