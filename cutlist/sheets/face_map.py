"""Maps over the mounting faces: what it costs to put a bus bar at each place that was tried."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from html import escape

import numpy as np

from cutlist.bank.bus_bars import BarPlace
from cutlist.bank.job import Job
from cutlist.bank.site import MountingFace
from cutlist.place_types import FaceCost, PlaceOption
from cutlist.plan_types import Plan
from cutlist.sheets.lengths import length_text, metres_text
from cutlist.sheets.rows import money_text
from cutlist.sheets.view_files import with_style
from geometry.outlines import Outline

PAPER_MM = 150.0  # widest map
LONE_CELL_MM = 50.0


@dataclass(frozen=True)
class Drawn:
    """One map: of a face and a pole, by money or by metres of cable."""

    name: str  # of a file
    title: str
    caption: str
    svg: str


def face_maps(plan: Plan) -> str:
    """The maps of a plan as figures of the page; "" where there are none."""
    costs = plan.face_costs or _from_tried(plan)
    chosen = {bar.bar.pole: bar.place for bar in plan.bars}
    marks = plan.landscape.options[1:] if plan.landscape is not None else ()
    return "".join(
        f'<figure><div class="wide" tabindex="0" role="region" aria-label="{escape(drawn.title)}">{drawn.svg}</div>'
        f"<figcaption>{escape(drawn.caption)}.</figcaption></figure>"
        for drawn in drawn_maps(plan.job, costs, chosen, marks, searched=bool(plan.face_costs))
    )


def face_map_files(
    job: Job, costs: Sequence[FaceCost], chosen: Mapping[str, BarPlace], options: Sequence[PlaceOption]
) -> dict[str, str]:
    """The same as SVG files: text by file name."""
    return {
        f"{drawn.name}.svg": with_style(drawn.svg) for drawn in drawn_maps(job, costs, chosen, options, searched=True)
    }


def drawn_maps(
    job: Job,
    costs: Sequence[FaceCost],
    chosen: Mapping[str, BarPlace],
    options: Sequence[PlaceOption],
    *,
    searched: bool,
) -> list[Drawn]:
    """Of every face with places on it, for each pole by money and by metres of cable, as far as both are known."""
    maps = []
    for face in job.site.faces:
        for pole in ("positive", "negative"):
            cheapest: dict[tuple[float, float], FaceCost] = {}
            for cost in costs:
                if (cost.face, cost.pole) == (face.name, pole):
                    at = (round(1000 * cost.along_m, 1), round(1000 * cost.up_m, 1))
                    if at not in cheapest or _rank(cost) < _rank(cheapest[at]):
                        cheapest[at] = cost
            here = {p: place for p, place in chosen.items() if p == pole and place.face == face.name}
            others = [o.positive if pole == "positive" else o.negative for o in options]
            marks = [(n, place) for n, place in enumerate(others, 2) if place.face == face.name]
            for what in ("cost", "cable"):
                if any((c.cost if what == "cost" else c.laid_um) is not None for c in cheapest.values()) or (
                    cheapest and what == "cost"
                ):
                    maps.append(_map(job, face, pole, what, cheapest, here.get(pole), marks, searched))
    return maps


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
    job: Job,
    face: MountingFace,
    pole: str,
    what: str,
    cheapest: Mapping[tuple[float, float], FaceCost],
    chosen: BarPlace | None,
    marks: Sequence[tuple[int, BarPlace]],
    searched: bool,
) -> Drawn:
    wide, high = 1000 * face.width_m, 1000 * face.height_m
    values = {at: _value(tried, what) for at, tried in cheapest.items()}
    known = sorted(v for v in values.values() if v is not None)
    text = wide / PAPER_MM * 3.2
    side = _cell(list(cheapest), math.inf if searched else 2 * text)
    parts = [f'<rect class="face" width="{wide:.1f}" height="{high:.1f}"/>']
    if face.outline:
        parts = [f'<path class="face" d="{_ring(face.outline, wide, high)}"/>']
    for zone in face.forbidden_outlines:
        parts.append(f'<path class="forbidden" d="{_ring(zone, wide, high)}"><title>forbidden</title></path>')
    for a0, b0, a1, b1 in face.forbidden:
        parts.append(
            f'<rect class="forbidden" x="{wide - 1000 * a1:.1f}" y="{high - 1000 * b1:.1f}" '
            f'width="{1000 * (a1 - a0):.1f}" height="{1000 * (b1 - b0):.1f}"><title>forbidden</title></rect>'
        )
    for (along, b), tried in sorted(cheapest.items()):
        a = wide - along  # who stands before the face has what is further along to his left
        parts.append(
            f'<g class="{"refused" if tried.limit else "tried"}"><title>{escape(_words(tried, job.units))}</title>'
            f'<rect x="{a - side / 2:.1f}" y="{high - b - side / 2:.1f}" width="{side:.1f}" height="{side:.1f}" '
            f'fill-opacity="{_shade(values[along, b], known):.2f}"/>'
            + (
                f'<path d="M{a - side / 3:.1f} {high - b - side / 3:.1f}l{side / 1.5:.1f} {side / 1.5:.1f}'
                f'm0 {-side / 1.5:.1f}l{-side / 1.5:.1f} {side / 1.5:.1f}"/>'
                if tried.limit
                else ""
            )
            + "</g>"
        )
    taken: set[tuple[int, int]] = set()
    for number, place in marks:
        along, b = (1000 * v for v in _on_face(face, place))
        spot = (round(along / side), round(b / side))
        if spot in taken:  # another of the ten stands there: its number is enough
            continue
        taken.add(spot)
        at = f'x="{wide - along:.1f}" y="{high - b + text / 3:.1f}"'
        parts.append(f'<text class="mark" {at} text-anchor="middle">{number}</text>')
    if chosen is not None:
        along, b = (1000 * v for v in _on_face(face, chosen))
        a = wide - along
        parts.append(
            f'<g class="chosen"><title>chosen</title><circle cx="{a:.1f}" cy="{high - b:.1f}" r="{0.6 * side:.1f}"/>'
            f'<text x="{a:.1f}" y="{high - b - 0.8 * side:.1f}" text-anchor="middle">chosen</text></g>'
        )
    of = "cost" if what == "cost" else "cable of leads and feeders"
    ends = [_value_text(v, what, job.units) for v in (known[0], known[-1])] if known else []
    range_words = f"from {ends[0]} (pale) to {ends[1]} (dark)" if ends else f"no {what} known"
    crossed = "; crossed: cannot be built" if any(t.limit for t in cheapest.values()) else ""
    numbered = "; numbers: the next best pairs of places, as in the table" if marks else ""
    basis = ", the other bar where that suits it best (runs rounded up to 20 mm)" if searched else " tried"
    title = f"{pole.capitalize()} bus bar on {face.name}: {of} of each place{basis}, {range_words}{crossed}"
    margin = 1.5 * text
    svg = (
        f'<svg class="map" xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{escape(title)}" '
        f'width="{PAPER_MM:.0f}mm" '
        f'viewBox="{-margin:.1f} {-margin:.1f} {wide + 2 * margin:.1f} {high + 2 * margin:.1f}" '
        f'font-size="{text:.1f}" stroke-width="{text / 10:.2f}">{"".join(parts)}</svg>'
    )
    caption = f"{title}{numbered}; seen as one stands before it{_longest_words(cheapest)}"
    name = "-".join([*face.name.split(), pole, what])
    return Drawn(re.sub(r"[^A-Za-z0-9-]", "_", name), title, caption, svg)


def _value(tried: FaceCost, what: str) -> float | None:
    if tried.limit:
        return None
    if what == "cost":
        return None if tried.cost is None else float(tried.cost)
    return None if tried.laid_um is None else float(tried.laid_um)


def _value_text(value: float, what: str, units: str) -> str:
    return money_text(Decimal(str(round(value, 2)))) if what == "cost" else length_text(round(value), units)


def _words(tried: FaceCost, units: str) -> str:
    words = tried.limit or f"cost {money_text(tried.cost)}, target {metres_text(tried.target_m, units)}"
    if tried.laid_um is not None:
        words += f", cable {length_text(tried.laid_um, units)}"
    return f"{words} (longest: {tried.longest_lead})" if tried.longest_lead else words


def _ring(outline: Outline, wide: float, high: float) -> str:
    """An outline in metres as a closed path in millimetres, up being up."""
    return "M" + "L".join(f"{wide - 1000 * a:.1f} {high - 1000 * b:.1f}" for a, b in outline) + "Z"


def _longest_words(places: Mapping[tuple[float, float], FaceCost]) -> str:
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


def _shade(value: float | None, known: Sequence[float]) -> float:
    if value is None or known[0] == known[-1]:
        return 0.15
    return 0.15 + 0.75 * (value - known[0]) / (known[-1] - known[0])
