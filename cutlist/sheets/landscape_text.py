"""Other places of the bus bars, for the terminal and for a spreadsheet."""

from __future__ import annotations

import csv
import io

from cutlist.layout.bus_bar_places import Placing
from cutlist.layout.landscape import Landscape
from cutlist.sheets.lengths import length_text, metres_text
from cutlist.sheets.rows import money_text, place_text


def landscape_text(found: Landscape, units: str, currency: str) -> str:
    """The ten best different places, what 50 mm cost, what is left to the next step of cost, cost against drop."""
    lines = [
        f"Best different places ({currency}; taut runs, without bends; cable and lugs of both poles;",
        "drop: the most, surges counted)",
        "",
    ]
    for number, placed in enumerate(found.best, 1):
        lines += _placing(number, placed, units)
    lines.append("Moved by 50 mm, the other bar staying:")
    for move in found.moves:
        what = move.why_not or ("" if move.more is None else f"{money_text(move.more)} more")
        lines.append(f"  {move.pole:<9}{move.along}  {what}")
    step = "2 m or more" if found.to_next_step_m is None else metres_text(found.to_next_step_m, units)
    lines += [f"All runs may turn out {step} longer before the cost rises.", "Cost against drop:"]
    lines += [f"  {money_text(point.cost):>10}  {point.worst_drop_v:.3f} V" for point in found.front]
    return "\n".join(lines)


def _placing(number: int, placed: Placing, units: str) -> list[str]:
    cost = money_text(placed.build.money)
    longest, cable = metres_text(placed.target_m, units), length_text(placed.total_um, units)
    return [
        f"{number:>3}  {cost:>10}  drop {placed.worst_drop_v:.3f} V, longest lead {longest}, cable {cable}",
        f"     positive {place_text(placed.positive.place, units)}",
        f"     negative {place_text(placed.negative.place, units)}",
    ]


def landscape_csv(found: Landscape) -> str:
    """Every place of the map, a line each."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["pole", "face", "turn deg", "along mm", "up mm", "cost", "longest lead mm", "set by", "limit"])
    for p in found.points:
        cost = "" if p.cost is None else str(p.cost)
        at = (round(p.a_m * 1000, 1), round(p.b_m * 1000, 1))
        writer.writerow(
            [p.pole, p.place.face, p.turn, *at, cost, round(p.longest_m * 1000, 1), p.longest_lead, p.limit]
        )
    return out.getvalue()
