"""The site as the router sees it: obstacles, compartments and penetrations."""

from __future__ import annotations

from dataclasses import dataclass

from geometry.runs import Point
from geometry.solids import Solid


@dataclass(frozen=True)
class Obstacle:
    name: str
    solid: Solid
    keep_off_m: float = 0.0  # asked of this solid beyond the cable's own clearance (hot, fuel, moving)
    clampable: bool = True  # a clamp may be fixed to it
    laying: bool = True  # False: surplus must not be laid near it (hot zone, walkway)


@dataclass(frozen=True)
class Penetration:
    """A hole through an obstacle that runs may pass. The obstacle's solid already has the hole cut out."""

    name: str
    obstacle: str
    centre: Point  # mid-thickness
    axis: Point  # unit, through the hole
    diameter_m: float  # of a round hole, or of the largest circle in a square one
    area_m2: float
    depth_m: float
    fill_limit: float = 0.40  # share of the area that cables may fill when more than seven pass


@dataclass(frozen=True)
class Space:
    obstacles: tuple[Obstacle, ...]
    compartments: tuple[Obstacle, ...] = ()  # cables stay inside the union of these; empty: no outer limit
    penetrations: tuple[Penetration, ...] = ()
