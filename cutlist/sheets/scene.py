"""What there is to draw: solids as faces, cables as polylines, bus bars, studs and clamps, all in metres.

The plan view, the elevations, the 3D view and the drawing files all show this one scene.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutlist.plan_types import PlacedBar, Plan
from geometry.curve import Arc, Curve
from geometry.meshes import Mesh
from geometry.outlines import Circle, Outline
from geometry.runs import Point
from geometry.solids import Box, Cylinder, Prism, Solid

ARC_STEP_RAD = math.radians(11.25)  # eight chords to a right angle: round to the eye
ROUND_SIDES = 32

Points = NDArray[np.float64]  # (n, 3)
Face = tuple[Points, ...]  # an outer ring and its holes


@dataclass(frozen=True)
class DrawnSolid:
    name: str
    kind: str  # "solid", "battery", "compartment", "zone", "bus bar"
    faces: tuple[Face, ...]
    round: bool = False  # its flat faces stand for a curved one: lines between them are not drawn
    mesh: Mesh | None = None  # its faces are triangles: only some of the lines between them are drawn


@dataclass(frozen=True)
class DrawnCable:
    number: int
    name: str
    kind: str
    pole: str
    points: Points  # along the laid run
    shortest: Points
    radius_m: float
    clamps: tuple[Point, ...]


@dataclass(frozen=True)
class Mark:
    """A stud or a hole, by its centre."""

    name: str
    kind: str  # "stud", "hole"
    point: Point
    of: str = ""  # the bus bar of a stud


@dataclass(frozen=True)
class Scene:
    solids: tuple[DrawnSolid, ...]
    cables: tuple[DrawnCable, ...]
    marks: tuple[Mark, ...]

    def bounds(self) -> Points:
        """Least and greatest corner (2, 3) of all that is drawn."""
        drawn = [ring for s in self.solids for face in s.faces for ring in face]
        points = np.vstack([*drawn, *(c.points for c in self.cables)])
        return np.array([points.min(axis=0), points.max(axis=0)])


def scene_of(plan: Plan) -> Scene:
    """The site, the bank and the runs as laid."""
    space = plan.job.site.space
    cases = [b.case for b in plan.job.batteries if b.case is not None]
    solids = [_drawn(c.name, "compartment", c.solid) for c in space.compartments]
    solids += [_drawn(z.name, "zone", z.solid) for z in plan.job.site.zones]
    solids += [_drawn(o.name, "solid", o.solid) for o in space.obstacles if o.solid not in cases]
    solids += [_drawn(b.name, "battery", b.case) for b in plan.job.batteries if b.case is not None]
    solids += [_drawn(b.bar.name, "bus bar", bar_solid(b)) for b in plan.bars]
    cables = tuple(
        DrawnCable(
            c.number,
            c.name,
            c.kind,
            c.pole,
            polyline(c.laid.curve),
            polyline(c.shortest.curve),
            c.conductor.outside_diameter_m / 2,
            tuple(clamp.point for clamp in c.laid.clamps),
        )
        for c in plan.cables
    )
    marks = [Mark(p.name, "hole", p.centre) for p in space.penetrations]
    for placed in plan.bars:
        bar = placed.bar
        for i, (point, thread) in enumerate(zip(bar.stud_points(placed.place), bar.threads, strict=True), start=1):
            marks.append(Mark(f"{bar.name} stud {i}{f', {thread}' if bar.unlike else ''}", "stud", point, bar.name))
    return Scene(tuple(solids), cables, tuple(marks))


def _drawn(name: str, kind: str, solid: Solid) -> DrawnSolid:
    return DrawnSolid(
        name, kind, faces_of(solid), isinstance(solid, Cylinder), solid if isinstance(solid, Mesh) else None
    )


def polyline(curve: Curve, chord_rad: float = ARC_STEP_RAD) -> Points:
    """Points (n, 3) along a curve: ends of its straights, chords of its arcs that turn no more than `chord_rad`.

    >>> from geometry.curve import filleted
    >>> corner = filleted([np.zeros(3), np.array([1.0, 0, 0]), np.array([1.0, 1.0, 0])], 0.1)
    >>> len(polyline(corner))
    11
    """
    points = [curve.start]
    for piece in curve.pieces:
        if isinstance(piece, Arc):
            chords = max(1, math.ceil(piece.angle_rad / chord_rad - 1e-9))
            points.extend(piece.points_at(np.linspace(0.0, piece.length_m, chords + 1)[1:]))
        else:
            points.append(piece.end)
    return np.array(points)


def faces_of(solid: Solid) -> tuple[Face, ...]:
    """The surface as flat faces, each an outer ring (n, 3) with the rings of its holes.

    >>> len(faces_of(Box((0.0, 0.0, 0.0), (1.0, 1.0, 1.0)))), len(faces_of(Cylinder((0, 0, 0), (0, 0, 1), 1.0, 1.0)))
    (6, 34)
    """
    if isinstance(solid, Box):
        return faces_of(solid.as_prism)
    if isinstance(solid, Cylinder):
        rim = _circle((0.0, 0.0), solid.radius)
        return faces_of(Prism(rim, 0.0, solid.height, frame=solid.frame, origin=solid.base))
    if isinstance(solid, Prism):
        rings = [solid.footprint, *(_circle(h.centre, h.radius) if isinstance(h, Circle) else h for h in solid.holes)]
        low = tuple(_lifted(solid, ring, solid.low) for ring in rings)
        high = tuple(_lifted(solid, ring, solid.high) for ring in rings)
        sides = [
            (np.array([a[i], a[j], b[j], b[i]]),)
            for a, b in zip(low, high, strict=True)
            for i, j in ((i, (i + 1) % len(a)) for i in range(len(a)))
        ]
        return (low, high, *sides)
    if isinstance(solid, Mesh):
        return tuple((corners,) for corners in solid.corners[solid.triangles])
    raise TypeError(f"no faces known for a {type(solid).__name__}")


def bar_solid(placed: PlacedBar) -> Box:
    """The bus bar as a box: long enough to hold its studs, as thick as its section (25 x 6 mm where none is given)."""
    bar, place = placed.bar, placed.place
    along, out = np.array(place.along), np.array(place.out)
    across = np.cross(out, along)
    size = (bar.studs * bar.pitch_m, bar.width_m or 0.025, bar.thickness_m or 0.006)
    frame = tuple(tuple(float(v) for v in axis / np.linalg.norm(axis)) for axis in (along, across, out))
    return Box(place.centre, size, frame)  # type: ignore[arg-type]


def _circle(centre: tuple[float, float], radius: float) -> Outline:
    turns = [2 * math.pi * i / ROUND_SIDES for i in range(ROUND_SIDES)]
    return tuple((centre[0] + radius * math.cos(t), centre[1] + radius * math.sin(t)) for t in turns)


def _lifted(solid: Prism, ring: Outline, height_m: float) -> Points:
    return solid.to_world([(x, y, height_m) for x, y in ring])
