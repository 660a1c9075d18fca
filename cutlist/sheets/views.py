"""Plan and two elevations of the scene, to scale, as SVG.

The site's frame is the surveyor's, facing the wall: x to the right, y out from the wall towards the reader, z up. So
the plan, seen from above, has y going down the page, and the front elevation has x to the right and z up.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
from numpy.typing import NDArray

from cutlist.findings import how_many
from cutlist.sheets.lengths import metres_text
from cutlist.sheets.mesh_lines import lines_seen, triangles_seen
from cutlist.sheets.scene import DrawnCable, DrawnSolid, Points, Scene
from cutlist.sheets.stud_numbers import LETTER, ONE_SPOT_MM, Box2, stud_numbers, stud_rows_of
from geometry.meshes import Mesh

Flat = NDArray[np.float64]  # (n, 2): right and down, in mm of the site

SCALES = (1, 2, 5, 10, 15, 20, 25, 30, 40, 50, 75, 100, 200, 500, 1000)
PAPER_MM = 176.0  # widest drawing that prints on both papers
PAPER_HIGH_MM = 165.0
CROWD = 40  # cables, from which numbers are set smaller
LEAST_AREA_MM2 = 20.0  # a face seen on edge is no face


@dataclass(frozen=True)
class View:
    name: str
    across: int  # axis that runs along the page
    across_sign: int
    down: int  # axis that runs down the page
    down_sign: int
    note: str

    @property
    def towards(self) -> Points:
        """From the scene to the eye (3,), unit: what is square to the page."""
        axis = 3 - self.across - self.down
        # plan: from above; front elevation: from where the reader stands; side elevation: from the left
        return np.eye(3)[axis] * (-1.0 if axis == 0 else 1.0)

    def flat(self, points: Points) -> Flat:
        """Points (n, 3) in metres as (n, 2) on the page, in mm of the site."""
        return 1000.0 * np.column_stack(
            [self.across_sign * points[:, self.across], self.down_sign * points[:, self.down]]
        )


VIEWS = (
    View("Plan", 0, 1, 1, 1, "seen from above: x to the right, y (out from the wall) down the page"),
    View("Front elevation", 0, 1, 2, -1, "seen facing the wall: x to the right, z up"),
    View("Side elevation", 1, 1, 2, -1, "seen from the left: y (out from the wall) to the right, z up"),
)


def view_svg(scene: Scene, view: View, units: str) -> str:
    """One view as a complete SVG element. Strokes and text are sized for the paper; 1 user unit is 1 mm of the site."""
    low, high = _extent(scene, view)
    scale = _scale(high - low)
    text = 2.5 * scale  # mm on the site that make 2.5 mm on paper
    # room for figures and names on all sides, and for lines of notes below
    left_top = low - np.array([7.5, 5.0]) * text
    size = high + np.array([7.5, 10.0]) * text - left_top
    parts = [_ruler(low, high, view, units, text)]
    parts += [_solid(s, view) for s in sorted(scene.solids, key=lambda s: _layer(s))]
    parts += [_cable(c, view, scale) for c in scene.cables]
    parts += [_mark(m.kind, view.flat(np.array([m.point]))[0], scale) for m in scene.marks]
    bars = [s for s in scene.solids if s.kind == "bus bar"]
    labels, boxes = _bar_labels(bars, view, text, low, high)
    rows = {name: view.flat(points) for name, points in stud_rows_of(scene).items()}
    studs, stud_boxes = stud_numbers(
        list(rows.values()), [view.flat(cable.points) for cable in scene.cables], text, boxes
    )
    numbers = _numbers(scene.cables, view, text, [*boxes, *stud_boxes])
    parts += studs + labels + numbers
    parts += _notes(bars, rows, view, units, text, low, high, len(scene.cables) - len(numbers))
    width, height = size / scale
    title = f"{view.name}, {view.note}. Scale 1:{scale} when printed at full size."
    return (
        f'<svg class="view" xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{escape(title)}" '
        f'width="{width:.1f}mm" height="{height:.1f}mm" '
        f'viewBox="{left_top[0]:.1f} {left_top[1]:.1f} {size[0]:.1f} {size[1]:.1f}" '
        f'font-size="{text:.1f}" stroke-width="{0.25 * scale:.2f}">'
        f"<title>{escape(title)}</title>{''.join(parts)}</svg>"
    )


def view_scale(scene: Scene, view: View) -> int:
    low, high = _extent(scene, view)
    return _scale(high - low)


def _extent(scene: Scene, view: View) -> tuple[Flat, Flat]:
    corners = view.flat(scene.bounds())
    return corners.min(axis=0), corners.max(axis=0)


def _scale(size: Flat) -> int:
    """The largest usual scale at which the drawing fits the paper."""
    fits = (s for s in SCALES if size[0] / s + 38 <= PAPER_MM and size[1] / s + 38 <= PAPER_HIGH_MM)
    return next(fits, SCALES[-1])


def _layer(solid: DrawnSolid) -> int:
    return ("compartment", "zone", "solid", "battery", "bus bar").index(solid.kind)


def view_outlines(solid: DrawnSolid, view: View) -> tuple[Flat, ...]:
    """The outlines of a solid's faces as seen in the view, holes after their face; each only once."""
    return tuple(ring for face in _seen_faces(solid, view) for ring in face)


def _seen_faces(solid: DrawnSolid, view: View) -> list[list[Flat]]:
    if solid.round:
        return [[_hull(np.vstack([view.flat(ring) for face in solid.faces for ring in face]))]]
    seen: dict[tuple[tuple[float, ...], ...], list[Flat]] = {}
    for face in solid.faces:
        flat = [view.flat(ring) for ring in face]
        if abs(_area(flat[0])) >= LEAST_AREA_MM2:
            # the near and the far face of a box fall on each other: drawn once
            seen.setdefault(tuple(sorted(map(tuple, np.round(flat[0], 1).tolist()))), flat)
    return list(seen.values())


def mesh_outlines(mesh: Mesh, view: View) -> tuple[Flat, ...]:
    """The lines of a mesh that are seen in the view, as open polylines."""
    return tuple(view.flat(line) for line in lines_seen(mesh, view.towards))


def _mesh(solid: DrawnSolid, mesh: Mesh, view: View) -> str:
    """One tint over all that faces the eye, then the lines."""
    facing = triangles_seen(mesh, view.towards)
    flat = view.flat(facing.reshape(-1, 3)).reshape(-1, 3, 2)
    tint = "".join("M" + "L".join(f"{x:.0f} {y:.0f}" for x, y in ring) + "Z" for ring in flat)
    lines = "".join(_path(line) for line in mesh_outlines(mesh, view))
    return (
        f'<g class="{solid.kind}"><title>{escape(solid.name)}</title>'
        f'<path style="fill-rule:nonzero;stroke:none" d="{tint}"/><path style="fill:none" d="{lines}"/></g>'
    )


def _solid(solid: DrawnSolid, view: View) -> str:
    if solid.mesh is not None:
        return _mesh(solid, solid.mesh, view)
    return _group(solid, *("".join(_path(ring) + "Z" for ring in face) for face in _seen_faces(solid, view)))


def _group(solid: DrawnSolid, *paths: str) -> str:
    drawn = "".join(f'<path fill-rule="evenodd" d="{d}"/>' for d in paths)
    return f'<g class="{solid.kind.replace(" ", "-")}"><title>{escape(solid.name)}</title>{drawn}</g>'


def _cable(cable: DrawnCable, view: View, scale: int) -> str:
    wide = max(2000 * cable.radius_m, 0.5 * scale)
    dash = {"positive": "", "negative": f"{3 * wide:.1f} {wide:.1f}", "link": f"{wide:.1f} {0.6 * wide:.1f}"}[
        cable.pole
    ]
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    d = _path(view.flat(cable.points))
    return (
        f'<g class="cable {cable.pole}"><title>{cable.number} {escape(cable.name)}</title>'
        f'<path class="under" d="{d}" stroke-width="{wide + 0.4 * scale:.2f}"/>'
        f'<path d="{d}" stroke-width="{wide:.2f}"{dashes}/></g>'
    )


def _mark(kind: str, at: Flat, scale: int) -> str:
    radius = (0.6 if kind == "stud" else 1.2) * scale
    return f'<circle class="{kind}" cx="{at[0]:.1f}" cy="{at[1]:.1f}" r="{radius:.1f}"/>'


def _numbers(cables: Sequence[DrawnCable], view: View, text: float, boxes: Sequence[Box2]) -> list[str]:
    """Each cable's number on it, clear of the labels and of the numbers already set.

    A number that finds no room on its cable is left out; how many, the view says.
    """
    text *= 1.0 if len(cables) <= CROWD else 0.8
    taken: list[Flat] = []
    found = []
    for cable in cables:
        flat = view.flat(cable.points)
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(flat, axis=0), axis=1))])
        wanted = along[-1] * np.linspace(0.08, 0.92, 43)
        places = np.column_stack([np.interp(wanted, along, flat[:, i]) for i in (0, 1)])
        radius = (0.62 if cable.number < 10 else 0.8) * text
        room = np.full(len(places), 2.5 * text)
        if taken:
            room = np.minimum(room, np.min(np.linalg.norm(places[:, None] - np.array(taken)[None], axis=2), axis=1))
        for low, high in boxes:
            outside = np.linalg.norm(np.maximum(np.maximum(low - places, places - high), 0.0), axis=1)
            room = np.minimum(room, outside + 0.7 * text)
        # of the places with most room the one nearest the middle
        best = np.flatnonzero(room >= room.max() - 1e-6)
        place = places[best[np.argmin(np.abs(best - len(places) // 2))]]
        if room.max() < 1.45 * text:
            continue
        taken.append(place)
        found.append(
            f'<g class="number {cable.pole}"><circle cx="{place[0]:.1f}" cy="{place[1]:.1f}" r="{radius:.1f}"/>'
            f'<text x="{place[0]:.1f}" y="{place[1] + 0.3 * text:.1f}" font-size="{0.85 * text:.1f}" '
            f'text-anchor="middle">{cable.number}</text></g>'
        )
    return found


def _bar_labels(
    bars: Sequence[DrawnSolid], view: View, text: float, low: Flat, high: Flat
) -> tuple[list[str], list[Box2]]:
    """Each bus bar's name under it, further down where another name stands already; and the names' boxes."""
    boxes: list[Box2] = []
    found = []
    for bar in bars:
        flat = view.flat(np.vstack([ring for face in bar.faces for ring in face]))
        half = LETTER / 2 * text * len(bar.name)
        left = low[0] - 5 * text + half
        middle = float(flat[:, 0].min() + flat[:, 0].max()) / 2
        x = float(np.clip(middle, left, max(left, high[0] + 6 * text - half)))
        y = float(flat[:, 1].max()) + 1.2 * text
        while any(x - half < b[0] and a[0] < x + half and y - text < b[1] and a[1] < y for a, b in boxes):
            y += 0.3 * text
        boxes.append((np.array([x - half, y - 0.9 * text]), np.array([x + half, y + 0.2 * text])))
        found.append(
            f'<text class="name" x="{x:.1f}" y="{y:.1f}" text-anchor="middle" stroke-width="{0.35 * text:.1f}">'
            f"{escape(bar.name)}</text>"
        )
    return found, boxes


def _notes(
    bars: Sequence[DrawnSolid],
    rows: Mapping[str, Flat],
    view: View,
    units: str,
    text: float,
    low: Flat,
    high: Flat,
    left_out: int,
) -> list[str]:
    """Under the drawing: where the centres of the bus bars are and where their studs begin, and how many numbers had
    no room."""
    lines = []
    for bar in bars:
        points = np.vstack([ring for face in bar.faces for ring in face])
        centre = (points.min(axis=0) + points.max(axis=0)) / 2
        axes = sorted({view.across, view.down})
        at = ", ".join(f"{'xyz'[i]} {metres_text(float(centre[i]), units).removesuffix(' mm')}" for i in axes)
        lines.append(f"{bar.name}: {at}{_studs_note(rows[bar.name])}")
    if left_out:
        lines.append(f"{how_many(left_out, 'number')} had no room")
    return [
        f'<text class="note" x="{low[0]:.1f}" y="{high[1] + (6.0 + 1.3 * i) * text:.1f}">{escape(line)}</text>'
        for i, line in enumerate(lines)
    ]


def _studs_note(row: Flat) -> str:
    """Which way the studs of a row are numbered on the page.

    >>> _studs_note(np.array([[0.0, 80.0], [0.0, 40.0], [0.0, 0.0]]))
    '; studs 1 to 3 upwards'
    """
    if len(row) < 2:
        return ""
    across, down = row[-1] - row[0]
    if max(abs(across), abs(down)) < ONE_SPOT_MM:
        return f"; studs 1 to {len(row)} one behind another"
    if abs(across) >= abs(down):
        return f"; studs 1 to {len(row)} to the {'right' if across > 0 else 'left'}"
    return f"; studs 1 to {len(row)} {'downwards' if down > 0 else 'upwards'}"


def _ruler(low: Flat, high: Flat, view: View, units: str, text: float) -> str:
    """A grid with figures along the bottom and the left, in the job's own unit, from the site's corner."""
    step = _step(high - low, units, text)
    parts = []
    for side, sign in ((0, view.across_sign), (1, view.down_sign)):
        for k in range(int(np.ceil(low[side] / step)), int(np.floor(high[side] / step)) + 1):
            at = k * step
            figure = _figure(sign * at, units)
            if side == 0:
                parts.append(f'<path d="M{at:.1f} {low[1]:.1f}V{high[1] + 0.6 * text:.1f}"/>')
                parts.append(f'<text x="{at:.1f}" y="{high[1] + 3.2 * text:.1f}" text-anchor="middle">{figure}</text>')
            else:
                parts.append(f'<path d="M{low[0] - 0.6 * text:.1f} {at:.1f}H{high[0]:.1f}"/>')
                parts.append(
                    f'<text x="{low[0] - 1.0 * text:.1f}" y="{at + 0.35 * text:.1f}" text-anchor="end">{figure}</text>'
                )
    unit = "ft" if units == "in" else "mm"
    across, down = "xyz"[view.across], "xyz"[view.down]
    parts.append(
        f'<text x="{high[0]:.1f}" y="{high[1] + 4.5 * text:.1f}" text-anchor="end">{across} across, {unit}</text>'
        f'<text x="{low[0] - 6.5 * text:.1f}" y="{low[1] - 2.2 * text:.1f}">{down}, {unit}</text>'
    )
    parts += _extents(low, high, units, text)
    return f'<g class="ruler">{"".join(parts)}</g>'


def _extents(low: Flat, high: Flat, units: str, text: float) -> list[str]:
    """How wide and how high it all is, as dimension lines above and to the right."""
    width, height = (metres_text(float(v) / 1000, units) for v in high - low)
    tick = 1.2 * text
    above, right = low[1] - tick, high[0] + 1.4 * text
    middle = (low + high) / 2
    return [
        f'<path class="extent" d="M{low[0]:.1f} {above:.1f}H{high[0]:.1f}'
        f"M{low[0]:.1f} {above - tick / 2:.1f}v{tick:.1f}"
        f'M{high[0]:.1f} {above - tick / 2:.1f}v{tick:.1f}"/>',
        f'<text x="{middle[0]:.1f}" y="{above - 0.5 * text:.1f}" text-anchor="middle">{width}</text>',
        f'<path class="extent" d="M{right:.1f} {low[1]:.1f}V{high[1]:.1f}'
        f"M{right - tick / 2:.1f} {low[1]:.1f}h{tick:.1f}"
        f'M{right - tick / 2:.1f} {high[1]:.1f}h{tick:.1f}"/>',
        f'<text transform="translate({right + 1.5 * text:.1f} {middle[1]:.1f}) rotate(90)" '
        f'text-anchor="middle">{height}</text>',
    ]


def _step(size: Flat, units: str, text: float) -> float:
    steps = (304.8, 609.6, 1524.0, 3048.0) if units == "in" else (100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0)
    return next((s for s in steps if s >= 3.2 * text and size.max() / s <= 14), steps[-1])


def _figure(value_mm: float, units: str) -> str:
    return f"{value_mm / 304.8 + 0.0:.0f}" if units == "in" else f"{value_mm + 0.0:.0f}"


def _path(points: Flat) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _hull(points: Flat) -> Flat:
    """The convex outline of points (n, 2). Source: Andrew's monotone chain."""
    ordered = sorted({(float(x), float(y)) for x, y in points})

    def half(line: list[tuple[float, float]]) -> list[tuple[float, float]]:
        kept: list[tuple[float, float]] = []
        for c in line:
            while len(kept) > 1 and _turn(kept[-2], kept[-1], c) <= 0:
                kept.pop()
            kept.append(c)
        return kept[:-1]

    return np.array(half(ordered) + half(ordered[::-1]))


def _turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _area(ring: Flat) -> float:
    corners = ring.tolist()
    return sum(a * d - c * b for (a, b), (c, d) in zip(corners, corners[1:] + corners[:1], strict=True)) / 2
