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
from cutlist.sheets.landscape_rows import LAID
from cutlist.sheets.lengths import length_text, metres_text
from cutlist.sheets.map_frame import bilge_lines, bilge_words, scale_bar, shade_bar, title_lines
from cutlist.sheets.place_rows import PLACES_COST
from cutlist.sheets.rows import money_text
from cutlist.sheets.view_files import with_style
from geometry.outlines import Outline

PAPER_MM = 150.0  # widest map
HIGHEST = 1.2  # of a map, as a share of its width
TEXT_MM = 4.8  # still read where the map is as wide as a telephone
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
        for drawn in drawn_maps(
            plan.job, costs, chosen, marks, searched=bool(plan.face_costs), currency=plan.stock.currency
        )
    )


def face_map_files(
    job: Job,
    costs: Sequence[FaceCost],
    chosen: Mapping[str, BarPlace],
    options: Sequence[PlaceOption],
    currency: str = "",
) -> dict[str, str]:
    """The same as SVG files: text by file name."""
    return {
        f"{drawn.name}.svg": with_style(drawn.svg)
        for drawn in drawn_maps(job, costs, chosen, options, searched=True, currency=currency)
    }


def drawn_maps(
    job: Job,
    costs: Sequence[FaceCost],
    chosen: Mapping[str, BarPlace],
    options: Sequence[PlaceOption],
    *,
    searched: bool,
    currency: str = "",
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
                known = any((c.cost if what == "cost" else c.laid_um) is not None for c in cheapest.values())
                # where neither is known the first still tells which places were refused
                unknown = all(c.cost is None and c.laid_um is None for c in cheapest.values())
                if known or (cheapest and what == "cost" and unknown):
                    maps.append(_map(job, face, pole, what, cheapest, here.get(pole), marks, searched, currency))
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
    currency: str,
) -> Drawn:
    wide, high = 1000 * face.width_m, 1000 * face.height_m
    values = {at: _value(tried, what) for at, tried in cheapest.items()}
    known = sorted(v for v in values.values() if v is not None)
    # the map is as wide as its paper, however narrow the face: text keeps its size
    across = max(wide, high / HIGHEST)
    text = across / PAPER_MM * TEXT_MM
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
    parts.append(bilge_lines(job, face, text))
    spots = []
    for numbers, place, (x, y) in _marked(face, marks, side, text):
        spots.append((x, y))
        parts.append(_mark(numbers, x, y, text, _way(face, place)))
    if chosen is not None:
        parts.append(_chosen(job, face, pole, chosen, text, spots))
    of = "cost" if what == "cost" else f"cable of {LAID}"
    ends = [_value_text(v, what, job.units) for v in (known[0], known[-1])] if known else []
    range_words = f"from {ends[0]} (pale) to {ends[1]} (dark)" if ends else f"no {what} known"
    if ends and ends[0] == ends[1]:
        range_words = f"all {ends[0]}"
    crossed = "; crossed: cannot be built" if any(t.limit for t in cheapest.values()) else ""
    numbered = (
        "; numbers: the next best pairs of places, as in the table, the stroke as their studs lie" if marks else ""
    )
    basis = ", the other bar where that suits it best (runs rounded up to 20 mm)" if searched else " tried"
    covers = f"; cost: {PLACES_COST}" if what == "cost" and searched else ""
    bar = f"{pole.capitalize()} bus bar on {face.name}"
    title = f"{bar}: {of} of each place{basis}, {range_words}{crossed}"
    beside = bilge_words(job, face)
    unit = f" ({currency})" if what == "cost" and currency else ""
    shown = [bar, f"{of}{unit} of each place, seen from the front"]
    shown += [f"bar {_turn_words(face, chosen)}"] if chosen is not None else []
    shown += [beside] if beside else []
    left, margin = (wide - across) / 2, 1.5 * text
    heading, above = title_lines(shown, left, across, text)
    foot = high + 1.6 * text
    parts += [heading, scale_bar(left, foot, across, text, job.units)]
    parts.append(shade_bar(left + across, foot, text, ends))
    size = (across + 2 * margin, high + above + margin / 2 + 4.0 * text)
    svg = (
        f'<svg class="map" xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{escape(title)}" '
        f'width="{PAPER_MM:.0f}mm" height="{PAPER_MM * size[1] / size[0]:.1f}mm" '
        f'viewBox="{left - margin:.1f} {-above - margin / 2:.1f} {size[0]:.1f} {size[1]:.1f}" '
        f'font-size="{text:.1f}" stroke-width="{text / 10:.2f}">{"".join(parts)}</svg>'
    )
    caption = f"{title}{numbered}; seen as one stands before it{_longest_words(cheapest)}{covers}"
    name = "-".join([*face.name.split(), pole, what])
    return Drawn(re.sub(r"[^A-Za-z0-9-]", "_", name), title, caption, svg)


def _marked(
    face: MountingFace, marks: Sequence[tuple[int, BarPlace]], side: float, text: float
) -> list[tuple[str, BarPlace, tuple[float, float]]]:
    """What is written where: where numbers would lie on each other they stand together at the first of them."""
    found: list[tuple[list[int], BarPlace, tuple[float, float]]] = []
    taken: set[tuple[int, int]] = set()
    for number, place in marks:
        along, b = (1000 * v for v in _on_face(face, place))
        spot = (round(along / side), round(b / side))
        if spot in taken:  # another of the ten stands there: its number is enough
            continue
        taken.add(spot)
        x, y = 1000 * face.width_m - along, 1000 * face.height_m - b
        for numbers, _, (first_x, first_y) in found:
            if abs(first_x - x) < _half_wide(numbers, number) * text and abs(first_y - y) < text:
                numbers.append(number)
                break
        else:
            found.append(([number], place, (x, y)))
    return [(", ".join(map(str, numbers)), place, at) for numbers, place, at in found]


def _half_wide(numbers: Sequence[int], beside: int) -> float:
    """How near two middles may be for their texts not to touch, in heights of the text."""
    return 0.3 * (len(", ".join(map(str, numbers))) + len(str(beside))) + 0.2


def _way(face: MountingFace, place: BarPlace) -> tuple[float, float]:
    """The way a bar's studs run, on the map: to the right, down; unit."""
    along = np.array(place.along)
    return -float(along @ np.array(face.u)), -float(along @ np.array(face.v))


def _turn_words(face: MountingFace, place: BarPlace) -> str:
    """How a bar lies, from a level row, and where its first stud is.

    >>> face = MountingFace("f", (0, 0, 0), (1.0, 0, 0), (0, 0, 1.0), 1.0, 1.0)
    >>> _turn_words(face, BarPlace((0, 0, 0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0), "f"))
    'turned 90 deg, stud 1 lowest'
    """
    right, down = _way(face, place)
    turn = round(math.degrees(math.atan2(abs(down), abs(right))))
    if abs(right) >= abs(down):
        return f"turned {turn} deg, stud 1 at the {'left' if right > 0 else 'right'}"
    return f"turned {turn} deg, stud 1 {'uppermost' if down > 0 else 'lowest'}"


def _mark(numbers: str, x: float, y: float, text: float, way: tuple[float, float]) -> str:
    """The number of a place, or of some side by side, with a stroke under or beside it, as the row of studs lies."""
    right, down = (0.9 * text * w for w in way)
    aside = 0.65 * text
    # the stroke stands below a level row's number, to the right of an upright one's
    dx, dy = (0.0, aside) if abs(way[0]) >= abs(way[1]) else (aside + 0.3 * text * (len(numbers) - 1), 0.0)
    return (
        f'<path class="lies" d="M{x + dx - right / 2:.1f} {y + dy - down / 2:.1f}l{right:.1f} {down:.1f}"/>'
        f'<text class="mark" x="{x:.1f}" y="{y + text / 3:.1f}" text-anchor="middle">{numbers}</text>'
    )


def _chosen(
    job: Job,
    face: MountingFace,
    pole: str,
    place: BarPlace,
    text: float,
    spots: Sequence[tuple[float, float]],
) -> str:
    """The bar that is chosen, as long and as turned as it is, its studs as dots; its name where no number stands."""
    bar = job.positive_bar if pole == "positive" else job.negative_bar
    along, b = (1000 * v for v in _on_face(face, place))
    x, y = 1000 * face.width_m - along, 1000 * face.height_m - b
    right, down = _way(face, place)
    half = 500 * bar.studs * bar.pitch_m
    wide = max(1000 * bar.width_m, 0.8 * text) / 2
    corners = [(f * half, s * wide) for f, s in ((1, 1), (1, -1), (-1, -1), (-1, 1))]
    ring = "L".join(f"{x + p * right - q * down:.1f} {y + p * down + q * right:.1f}" for p, q in corners)
    steps = [1000 * bar.pitch_m * (i - (bar.studs - 1) / 2) for i in range(bar.studs)]
    dots = "".join(
        f'<circle class="stud" cx="{x + s * right:.1f}" cy="{y + s * down:.1f}" r="{0.16 * text:.1f}"/>' for s in steps
    )
    reach = abs(down) * half + abs(right) * wide
    label_wide = 3 * text * 0.6
    sides = (y - reach - 0.5 * text, y + reach + 1.2 * text)
    at = max(
        sides,
        key=lambda v: min((abs(v - 0.3 * text - sy) for sx, sy in spots if abs(sx - x) < label_wide), default=9e9),
    )
    return (
        f'<g class="chosen"><title>chosen</title><circle cx="{x:.1f}" cy="{y:.1f}" r="{0.45 * text:.1f}"/>'
        f'<path d="M{ring}Z"/>{dots}<text x="{x:.1f}" y="{at:.1f}" text-anchor="middle">chosen</text></g>'
    )


def _value(tried: FaceCost, what: str) -> float | None:
    if tried.limit:
        return None
    if what == "cost":
        return None if tried.cost is None else float(tried.cost)
    return None if tried.laid_um is None else float(tried.laid_um)


def _value_text(value: float, what: str, units: str) -> str:
    return money_text(Decimal(str(round(value, 2)))) if what == "cost" else length_text(round(value), units)


def _words(tried: FaceCost, units: str) -> str:
    cost = "" if tried.cost is None else f"cost {money_text(tried.cost)}, "
    words = tried.limit or f"{cost}target {metres_text(tried.target_m, units)}"
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
