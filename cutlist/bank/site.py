"""Where the bank is built: the space cables run in, faces for bus bars, hot zones."""

from __future__ import annotations

from dataclasses import dataclass

from geometry.outlines import Vertex
from geometry.runs import Point
from geometry.solids import Solid
from geometry.space import Space


@dataclass(frozen=True)
class MountingFace:
    """A flat piece of structure on which a bus bar may be fixed: origin + a * u + b * v, 0 <= a <= width, ...

    With an outline the face is what lies within it; width and height are then those of the rectangle from the origin
    that holds it.
    """

    name: str
    origin: Point  # a corner, m
    u: Point  # unit
    v: Point  # unit
    width_m: float
    height_m: float
    edge_m: float = 0.0  # stud centres keep this from the edges
    forbidden: tuple[tuple[float, float, float, float], ...] = ()  # (a0, b0, a1, b1) rectangles, m
    outline: tuple[Vertex, ...] = ()  # corners (a, b), m; empty: the whole rectangle
    forbidden_outlines: tuple[tuple[Vertex, ...], ...] = ()  # parts that are taken, of any shape


@dataclass(frozen=True)
class Zone:
    """A part of the site whose air is warmer than the rest (`engine_space` for the rule sets that ask)."""

    name: str
    solid: Solid
    temperature_c: float
    engine_space: bool = False


@dataclass(frozen=True)
class Site:
    space: Space
    faces: tuple[MountingFace, ...] = ()
    zones: tuple[Zone, ...] = ()
    bilge_z_m: float | None = None  # where bilge water may stand

    def face(self, name: str) -> MountingFace:
        return next(f for f in self.faces if f.name == name)
