"""Solids of a job file: boxes, prisms, cylinders, and walls with holes."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import numpy as np

from cutlist.job.faults import Page, shown
from cutlist.job.records import Record
from geometry.outlines import outline_distance
from geometry.runs import Point
from geometry.solids import Box, Circle, Cylinder, Prism, Solid
from geometry.space import Penetration

Frame = tuple[Point, Point, Point]
AXES: dict[str, Point] = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}
WORLD: Frame = (AXES["x"], AXES["y"], AXES["z"])
DEFAULT_FILL = 0.40
Cut = Circle | tuple[tuple[float, float], ...]


def turned(angle_deg: float) -> Frame:
    """Axes of a thing turned about the vertical; exact for quarter turns, so that squares stay square.

    >>> turned(90.0)
    ((0.0, 1.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    """
    quarter = {0: (1.0, 0.0), 90: (0.0, 1.0), 180: (-1.0, 0.0), 270: (0.0, -1.0)}
    angle = angle_deg % 360
    cosine, sine = quarter.get(angle, (math.cos(math.radians(angle)), math.sin(math.radians(angle))))  # type: ignore[call-overload]
    return ((cosine, sine, 0.0), (-sine + 0.0, cosine, 0.0), (0.0, 0.0, 1.0))


def moved(frame: Frame, local: Point, origin: Point = (0.0, 0.0, 0.0)) -> Point:
    """A point given along the axes of the frame, in the site's coordinates."""
    # to the nanometre, so that what is written as 1.9 m stays 1.9 m
    x, y, z = (round(origin[k] + sum(local[i] * frame[i][k] for i in range(3)), 9) for k in range(3))
    return (x, y, z)


def shape(record: Record, page: Page, name: str) -> tuple[Solid | None, tuple[Penetration, ...]]:
    """The solid that a record with one of the shapes describes, and the holes in it that cables may pass."""
    if record["box"] is not None:
        return box(record["box"], page), ()
    if record["cylinder"] is not None:
        return _cylinder(record["cylinder"], page), ()
    if record["prism"] is not None:
        return _prism(record["prism"], page, name)
    return None, ()


def box(record: Record, page: Page) -> Box | None:
    if not record.sound:
        return None
    one = record["from"]
    if record["size"] is not None:
        other = tuple(a + b for a, b in zip(one, record["size"], strict=True))
    else:
        other = record["to"]
    size = tuple(abs(b - a) for a, b in zip(one, other, strict=True))
    if min(size) < 1e-6:
        page.fault(
            record.at("to"), "the box has no thickness: both corners agree in x, y or z", "give two opposite corners"
        )
        return None
    centre = tuple((a + b) / 2 for a, b in zip(one, other, strict=True))
    return Box(_point(centre), _point(size), turned(float(record.get("turn", 0))))


def _cylinder(record: Record, page: Page) -> Cylinder | None:
    if not record.sound:
        return None
    radius = float(record["radius"]) if record["radius"] is not None else float(record["diameter"]) / 2
    try:
        return Cylinder(record["base"], record.get("axis", (0.0, 0.0, 1.0)), radius, float(record["height"]))
    except ValueError as fault:
        page.fault(record.at("axis"), str(fault), "give a direction such as [0, 0, 1]")
        return None


def _prism(record: Record, page: Page, name: str) -> tuple[Prism | None, tuple[Penetration, ...]]:
    if not record.sound:
        return None, ()
    axis: str = record["axis"]
    low, high = sorted((float(record["from"]), float(record["to"])))
    if high - low < 1e-6:
        page.fault(
            record.at("to"), "the prism has no height: it begins and ends at one place", "give from and to that differ"
        )
        return None, ()

    def plane(pair: tuple[float, float]) -> tuple[float, float]:
        # people write [x, z] for what is drawn out along y; the frame's order is z, x
        return (pair[1], pair[0]) if axis == "y" else pair

    try:
        prism = Prism.along(axis, tuple(plane(p) for p in record["outline"]), low, high)
    except ValueError as fault:
        page.fault(record.at("outline"), str(fault), "give the corners in order, going round once")
        return None, ()
    penetrations = []
    cuts: list[Record] = []
    for hole in record.get("holes", ()):
        if not hole.sound or (hole["diameter"] is not None and hole["centre"] is None):
            if hole.sound:
                page.fault(hole.mark, "a round hole needs its centre", "add centre: [a, b]")
            continue
        if hole["diameter"] is not None:
            cut: Cut = Circle(plane(hole["centre"]), float(hole["diameter"]) / 2)
        else:
            cut = tuple(plane(p) for p in hole["outline"])
        pierced = _pierced(prism, cut, hole, cuts, name, page)
        if pierced is None:
            continue
        prism = pierced
        cuts.append(hole)
        if hole["name"] is not None:
            penetrations.append(_penetration(prism, cut, hole["name"], name, DEFAULT_FILL))
    return prism, tuple(penetrations)


def bulkhead(record: Record, page: Page, name: str) -> tuple[Prism | None, tuple[Penetration, ...]]:
    """A wall whose holes go straight through its thin side."""
    wall = box(record["box"], page) if record["box"] is not None else None
    if wall is None:
        return None, ()
    thin = min(range(3), key=lambda i: wall.size[i])
    up = 1 if thin == 2 else 2
    across = 3 - thin - up
    frame = (wall.rotation[across], wall.rotation[up], _cross(wall.rotation[across], wall.rotation[up]))
    a, b, t = wall.size[across] / 2, wall.size[up] / 2, wall.size[thin] / 2
    prism = Prism(((-a, -b), (a, -b), (a, b), (-a, b)), -t, t, frame=frame, origin=wall.centre)
    penetrations = []
    cuts: list[Record] = []
    for hole in record.get("holes", ()):
        if not hole.sound:
            continue
        u, v, _ = (float(x) for x in prism.to_local([hole["centre"]])[0])
        if hole["diameter"] is not None:
            cut: Cut = Circle((u, v), float(hole["diameter"]) / 2)
        else:
            w, h = (side / 2 for side in hole["size"])
            cut = ((u - w, v - h), (u + w, v - h), (u + w, v + h), (u - w, v + h))
        pierced = _pierced(prism, cut, hole, cuts, name, page)
        if pierced is None:
            continue
        prism = pierced
        cuts.append(hole)
        penetrations.append(_penetration(prism, cut, hole["name"], name, float(hole.get("fill", DEFAULT_FILL))))
    return prism, tuple(penetrations)


def _pierced(prism: Prism, cut: Cut, hole: Record, before: Sequence[Record], wall: str, page: Page) -> Prism | None:
    """The prism with one more hole; `before` are the records of those it has."""
    try:
        return Prism(prism.footprint, prism.low, prism.high, (*prism.holes, cut), prism.frame, prism.origin)
    except ValueError as fault:
        message, mend = _hole_fault(prism, cut, hole, before, wall, str(fault))
        page.fault(hole.mark, message, mend)
        return None


def _hole_fault(
    prism: Prism, cut: Cut, hole: Record, before: Sequence[Record], wall: str, reason: str
) -> tuple[str, str]:
    what = f"hole {shown(hole['name'])}" if hole["name"] is not None else "this hole"
    for other, cut_before in zip(before, prism.holes, strict=True):
        if not _fits(prism, (cut_before, cut)) and _fits(prism, (cut,)):
            named = f"hole {shown(other['name'])}" if other["name"] is not None else "another hole"
            message = f"{what} meets {named}, in line {other.mark.line}"
            return message, "move one of them, make it smaller, or write both as one hole"
    if "leaves" in reason:
        edge = np.array(cut.centre if isinstance(cut, Circle) else cut).reshape(-1, 2)
        inset_m = cut.radius if isinstance(cut, Circle) else 0.0
        over_m = float(outline_distance(edge, prism.footprint).max()) + inset_m
        width = prism.bounds()
        smallest_m = float(np.sort(width[1] - width[0])[1])
        if over_m > 2 * inset_m and isinstance(cut, Circle):
            return f"{what} lies {(over_m - 2 * inset_m) * 1000:.0f} mm outside {shown(wall)}", "look at its centre"
        wide = f": {shown(wall)} is {smallest_m * 1000:.0f} mm wide"
        smaller = "" if 2 * inset_m < smallest_m else f", or make it smaller{wide}"
        reach = f"{over_m * 1000:.0f} mm" if over_m > 0 else "out"
        return f"{what} reaches {reach} over the edge of {shown(wall)}", f"move it inwards by more than that{smaller}"
    return re.sub(r"^the hole \d+", what, reason), "give the corners in order, going round once"


def _fits(prism: Prism, holes: tuple[Cut, ...]) -> bool:
    try:
        Prism(prism.footprint, prism.low, prism.high, holes)
    except ValueError:
        return False
    return True


def _penetration(prism: Prism, cut: Cut, name: str, wall: str, fill: float) -> Penetration:
    middle = (prism.low + prism.high) / 2
    if isinstance(cut, Circle):
        (u, v), diameter, area = cut.centre, 2 * cut.radius, math.pi * cut.radius**2
    else:
        (u, v), diameter = largest_circle(cut)
        area = abs(sum(p[0] * q[1] - q[0] * p[1] for p, q in zip(cut, (*cut[1:], cut[0]), strict=True))) / 2
    centre = prism.to_world([(u, v, middle)])[0]
    return Penetration(name, wall, _point(centre), prism.frame[2], diameter, area, prism.high - prism.low, fill)


def largest_circle(outline: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], float]:
    """Centre and diameter of the largest circle within an outline, to a thousandth of its size; never too large.

    >>> centre, diameter = largest_circle(((0.0, 0.0), (0.3, 0.0), (0.3, 0.1), (0.0, 0.1)))
    >>> round(diameter, 4)
    0.1
    """
    corners = np.array(outline)
    low, high = corners.min(axis=0), corners.max(axis=0)
    # the middle, unless somewhere else is deeper: in a long hole the deepest is a line
    best, reach = (low + high) / 2, (high - low) / 2
    best_depth = max(0.0, -float(outline_distance(best[None], outline)[0]))
    for _ in range(12):
        steps = np.linspace(-1.0, 1.0, 17)
        grid = best + np.stack(np.meshgrid(steps * reach[0], steps * reach[1], indexing="ij"), axis=-1).reshape(-1, 2)
        depth = -outline_distance(grid, outline)
        deepest = int(np.argmax(np.round(depth, 12)))
        if depth[deepest] > best_depth + 1e-9:
            best, best_depth = grid[deepest], float(depth[deepest])
        reach = reach / 2
    return (float(best[0]), float(best[1])), 2 * best_depth


def unit(vector: Point) -> Point | None:
    length = math.sqrt(sum(v * v for v in vector))
    return None if length < 1e-9 else (vector[0] / length, vector[1] / length, vector[2] / length)


def _cross(a: Point, b: Point) -> Point:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def _point(values: object) -> Point:
    x, y, z = (float(v) for v in values)  # type: ignore[attr-defined]
    return (x, y, z)
