"""Maps over the mounting faces: what it costs to put a bus bar at each place that was tried."""

from __future__ import annotations

from decimal import Decimal
from html import escape

import numpy as np

from cutlist.bank.bus_bars import BarPlace
from cutlist.bank.site import MountingFace
from cutlist.plan_types import PlaceTried, Plan
from cutlist.sheets.lengths import metres_text
from cutlist.sheets.rows import money_text

PAPER_MM = 150.0  # widest map


def face_maps(plan: Plan) -> str:
    """One SVG for each mounting face and pole with places on it; "" where there are none."""
    maps = []
    for face in plan.job.site.faces:
        for index, pole in enumerate(("positive", "negative")):
            cheapest: dict[tuple[float, float], PlaceTried] = {}
            for tried in plan.tried:
                place = (tried.positive, tried.negative)[index]
                if place.face == face.name:
                    at = _on_face(face, place)
                    if at not in cheapest or _rank(tried) < _rank(cheapest[at]):
                        cheapest[at] = tried
            if cheapest:
                chosen = next((b.place for b in plan.bars if b.bar.pole == pole and b.place.face == face.name), None)
                maps.append(_map(plan, face, pole, cheapest, chosen))
    return "".join(maps)


def _on_face(face: MountingFace, place: BarPlace) -> tuple[float, float]:
    """Millimetres along and up the face, from its corner."""
    out = np.array(place.centre) - np.array(face.origin)
    return round(1000 * float(out @ np.array(face.u)), 1), round(1000 * float(out @ np.array(face.v)), 1)


def _rank(tried: PlaceTried) -> tuple[bool, bool, Decimal, float]:
    return bool(tried.why_not), tried.cost is None, tried.cost or Decimal(0), tried.target_m


def _map(
    plan: Plan, face: MountingFace, pole: str, cheapest: dict[tuple[float, float], PlaceTried], chosen: BarPlace | None
) -> str:
    wide, high = 1000 * face.width_m, 1000 * face.height_m
    costs = sorted(t.cost for t in cheapest.values() if t.cost is not None and not t.why_not)
    text = wide / PAPER_MM * 3.2
    side = _cell(list(cheapest), text)
    parts = [f'<rect class="face" width="{wide:.1f}" height="{high:.1f}"/>']
    for a0, b0, a1, b1 in face.forbidden:
        parts.append(
            f'<rect class="forbidden" x="{1000 * a0:.1f}" y="{high - 1000 * b1:.1f}" '
            f'width="{1000 * (a1 - a0):.1f}" height="{1000 * (b1 - b0):.1f}"><title>forbidden</title></rect>'
        )
    for (a, b), tried in sorted(cheapest.items()):
        words = tried.why_not or f"cost {money_text(tried.cost)}, target {metres_text(tried.target_m, plan.job.units)}"
        parts.append(
            f'<g class="{"refused" if tried.why_not else "tried"}"><title>{escape(words)}</title>'
            f'<rect x="{a - side / 2:.1f}" y="{high - b - side / 2:.1f}" width="{side:.1f}" height="{side:.1f}" '
            f'fill-opacity="{_shade(tried, costs):.2f}"/>'
            + (
                f'<path d="M{a - side / 3:.1f} {high - b - side / 3:.1f}l{side / 1.5:.1f} {side / 1.5:.1f}'
                f'm0 {-side / 1.5:.1f}l{-side / 1.5:.1f} {side / 1.5:.1f}"/>'
                if tried.why_not
                else ""
            )
            + "</g>"
        )
    if chosen is not None:
        a, b = _on_face(face, chosen)
        parts.append(
            f'<g class="chosen"><title>chosen</title><circle cx="{a:.1f}" cy="{high - b:.1f}" r="{0.6 * side:.1f}"/>'
            f'<text x="{a:.1f}" y="{high - b - 0.8 * side:.1f}" text-anchor="middle">chosen</text></g>'
        )
    range_words = f"from {money_text(costs[0])} (pale) to {money_text(costs[-1])} (dark)" if costs else "no cost known"
    title = (
        f"{pole.capitalize()} bus bar on {face.name}: cost of each place tried, {range_words}; crossed: cannot be built"
    )
    margin = 1.5 * text
    return (
        f'<figure><div class="wide" tabindex="0" role="region" aria-label="{escape(title)}">'
        f'<svg class="map" xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{escape(title)}" '
        f'width="{PAPER_MM:.0f}mm" '
        f'viewBox="{-margin:.1f} {-margin:.1f} {wide + 2 * margin:.1f} {high + 2 * margin:.1f}" '
        f'font-size="{text:.1f}" stroke-width="{text / 10:.2f}">{"".join(parts)}</svg></div>'
        f"<figcaption>{escape(title)}.</figcaption></figure>"
    )


def _cell(places: list[tuple[float, float]], text: float) -> float:
    """As large as the places allow without overlapping."""
    if len(places) < 2:
        return 2 * text
    points = np.array(places)
    gaps = np.max(np.abs(points[:, None] - points[None]), axis=2) + np.diag([np.inf] * len(points))
    return float(min(2 * text, gaps.min()))


def _shade(tried: PlaceTried, costs: list[Decimal]) -> float:
    if tried.why_not or tried.cost is None or costs[0] == costs[-1]:
        return 0.15
    return 0.15 + 0.75 * float((tried.cost - costs[0]) / (costs[-1] - costs[0]))
