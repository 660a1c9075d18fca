"""Maps over the mounting faces: what it costs to put a bus bar at each place that was tried."""

from __future__ import annotations

import math
from collections import Counter
from decimal import Decimal
from html import escape

import numpy as np

from cutlist.bank.bus_bars import BarPlace
from cutlist.bank.site import MountingFace
from cutlist.plan_types import FaceCost, Plan
from cutlist.sheets.lengths import metres_text
from cutlist.sheets.rows import money_text
from geometry.outlines import Outline

PAPER_MM = 150.0  # widest map
LONE_CELL_MM = 50.0


def face_maps(plan: Plan) -> str:
    """One SVG for each mounting face and pole with places on it; "" where there are none."""
    costs = plan.face_costs or _from_tried(plan)
    maps = []
    for face in plan.job.site.faces:
        for pole in ("positive", "negative"):
            cheapest: dict[tuple[float, float], FaceCost] = {}
            for cost in costs:
                if (cost.face, cost.pole) == (face.name, pole):
                    at = (round(1000 * cost.along_m, 1), round(1000 * cost.up_m, 1))
                    if at not in cheapest or _rank(cost) < _rank(cheapest[at]):
                        cheapest[at] = cost
            if cheapest:
                chosen = next((b.place for b in plan.bars if b.bar.pole == pole and b.place.face == face.name), None)
                maps.append(_map(plan, face, pole, cheapest, chosen))
    return "".join(maps)


def _from_tried(plan: Plan) -> tuple[FaceCost, ...]:
    """The pairs of places that were tried, each seen from either pole."""
    faces = {face.name: face for face in plan.job.site.faces}
    return tuple(
        FaceCost(pole, place.face, *_on_face(faces[place.face], place), tried.cost, tried.target_m, tried.why_not)
        for tried in plan.tried
        for pole, place in (("positive", tried.positive), ("negative", tried.negative))
        if place.face in faces
    )


def _on_face(face: MountingFace, place: BarPlace) -> tuple[float, float]:
    """Metres along and up the face, from its corner."""
    out = np.array(place.centre) - np.array(face.origin)
    return float(out @ np.array(face.u)), float(out @ np.array(face.v))


def _rank(cost: FaceCost) -> tuple[bool, bool, Decimal, float]:
    return bool(cost.limit), cost.cost is None, cost.cost or Decimal(0), cost.target_m


def _map(
    plan: Plan, face: MountingFace, pole: str, cheapest: dict[tuple[float, float], FaceCost], chosen: BarPlace | None
) -> str:
    wide, high = 1000 * face.width_m, 1000 * face.height_m
    costs = sorted(t.cost for t in cheapest.values() if t.cost is not None and not t.limit)
    text = wide / PAPER_MM * 3.2
    side = _cell(list(cheapest), math.inf if plan.face_costs else 2 * text)
    parts = [f'<rect class="face" width="{wide:.1f}" height="{high:.1f}"/>']
    if face.outline:
        parts = [f'<path class="face" d="{_ring(face.outline, high)}"/>']
    for zone in face.forbidden_outlines:
        parts.append(f'<path class="forbidden" d="{_ring(zone, high)}"><title>forbidden</title></path>')
    for a0, b0, a1, b1 in face.forbidden:
        parts.append(
            f'<rect class="forbidden" x="{1000 * a0:.1f}" y="{high - 1000 * b1:.1f}" '
            f'width="{1000 * (a1 - a0):.1f}" height="{1000 * (b1 - b0):.1f}"><title>forbidden</title></rect>'
        )
    for (a, b), tried in sorted(cheapest.items()):
        words = tried.limit or f"cost {money_text(tried.cost)}, target {metres_text(tried.target_m, plan.job.units)}"
        if tried.longest_lead:
            words += f" (longest: {tried.longest_lead})"
        parts.append(
            f'<g class="{"refused" if tried.limit else "tried"}"><title>{escape(words)}</title>'
            f'<rect x="{a - side / 2:.1f}" y="{high - b - side / 2:.1f}" width="{side:.1f}" height="{side:.1f}" '
            f'fill-opacity="{_shade(tried, costs):.2f}"/>'
            + (
                f'<path d="M{a - side / 3:.1f} {high - b - side / 3:.1f}l{side / 1.5:.1f} {side / 1.5:.1f}'
                f'm0 {-side / 1.5:.1f}l{-side / 1.5:.1f} {side / 1.5:.1f}"/>'
                if tried.limit
                else ""
            )
            + "</g>"
        )
    if chosen is not None:
        a, b = (1000 * v for v in _on_face(face, chosen))
        parts.append(
            f'<g class="chosen"><title>chosen</title><circle cx="{a:.1f}" cy="{high - b:.1f}" r="{0.6 * side:.1f}"/>'
            f'<text x="{a:.1f}" y="{high - b - 0.8 * side:.1f}" text-anchor="middle">chosen</text></g>'
        )
    range_words = f"from {money_text(costs[0])} (pale) to {money_text(costs[-1])} (dark)" if costs else "no cost known"
    crossed = "; crossed: cannot be built" if any(t.limit for t in cheapest.values()) else ""
    title = f"{pole.capitalize()} bus bar on {face.name}: cost of each place{_basis(plan)}, {range_words}{crossed}"
    margin = 1.5 * text
    return (
        f'<figure><div class="wide" tabindex="0" role="region" aria-label="{escape(title)}">'
        f'<svg class="map" xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{escape(title)}" '
        f'width="{PAPER_MM:.0f}mm" '
        f'viewBox="{-margin:.1f} {-margin:.1f} {wide + 2 * margin:.1f} {high + 2 * margin:.1f}" '
        f'font-size="{text:.1f}" stroke-width="{text / 10:.2f}">{"".join(parts)}</svg></div>'
        f"<figcaption>{escape(title + _longest_words(cheapest))}.</figcaption></figure>"
    )


def _ring(outline: Outline, high: float) -> str:
    """An outline in metres as a closed path in millimetres, up being up."""
    return "M" + "L".join(f"{1000 * a:.1f} {high - 1000 * b:.1f}" for a, b in outline) + "Z"


def _basis(plan: Plan) -> str:
    return ", the other bar where that suits it best (runs taut, rounded up to 20 mm)" if plan.face_costs else " tried"


def _longest_words(places: dict[tuple[float, float], FaceCost]) -> str:
    """Which leads set the length, and over how much of the face."""
    counts = Counter(t.longest_lead for t in places.values() if t.longest_lead)
    shares = [f"{lead} on {100 * n / counts.total():.0f} %" for lead, n in sorted(counts.items())]
    return f"; of this bar's leads the longest is {', '.join(shares)}" if shares else ""


def _cell(places: list[tuple[float, float]], most: float) -> float:
    """As large as the places allow without overlapping."""
    if len(places) < 2:
        return min(most, LONE_CELL_MM)
    points = np.array(places)
    gaps = np.max(np.abs(points[:, None] - points[None]), axis=2) + np.diag([np.inf] * len(points))
    return float(min(most, gaps.min()))


def _shade(tried: FaceCost, costs: list[Decimal]) -> float:
    if tried.limit or tried.cost is None or costs[0] == costs[-1]:
        return 0.15
    return 0.15 + 0.75 * float((tried.cost - costs[0]) / (costs[-1] - costs[0]))
