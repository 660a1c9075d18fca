"""What a run is asked to do, and what was found: the types shared by all of `geometry`."""

from __future__ import annotations

from dataclasses import dataclass

from geometry.curve import Curve

Point = tuple[float, float, float]


@dataclass(frozen=True)
class CableShape:
    radius_m: float  # half the outside diameter
    clearance_m: float  # between the cable's skin and any solid
    bend_radius_m: float  # least radius of the centreline
    straight_m: float  # lug and strain relief: straight at each end

    @property
    def standoff_m(self) -> float:
        """What the centreline keeps from every solid."""
        return self.radius_m + self.clearance_m

    @property
    def lift_off_m(self) -> float:
        """From the stud, along the cable: by here it is clear of what the stud stands on.

        Two bends of 60 degrees lift the centreline by a bend radius, more than any cable's standoff.
        """
        return self.straight_m + 2 * self.bend_radius_m


@dataclass(frozen=True)
class End:
    """A stud. `directions` are the ways the lug may point (unit, away from the stud); the run takes one of them.

    `within` names the solids (or compartments) that this end may touch: the battery or bus bar the stud stands on.
    They count as obstacles except near the stud, where the lug lies on them: not along the cable's straight. If the
    straight ends nearer to them than the cable's standoff (a lug flat on a bus bar), the cable lifts off: up to
    `lift_off_m` from the stud its centreline comes no nearer to them than along the straight.
    """

    point: Point
    directions: tuple[Point, ...]
    within: tuple[str, ...] = ()


@dataclass(frozen=True)
class Request:
    name: str
    start: End
    finish: End
    cable: CableShape


@dataclass(frozen=True)
class Clamp:
    along_m: float  # from the start of the run
    point: Point  # on the centreline
    structure: str  # the solid it is fixed to
    gap_m: float  # from the centreline to that solid's surface


@dataclass(frozen=True)
class Run:
    name: str
    curve: Curve
    lower_bound_m: float  # no run that obeys the rules is shorter
    least_clearance_m: float  # skin to solid, over the whole curve
    least_clearance_at: Point
    least_clearance_to: str  # the solid, or "" in free space
    penetrations: tuple[str, ...] = ()  # in the order passed
    clamps: tuple[Clamp, ...] = ()
    surplus_shape: str = ""  # "", "bow", "S", "lobes", "hairpin", "folds", "way round": how a surplus was laid

    @property
    def length_m(self) -> float:
        return self.curve.length_m

    @property
    def gap(self) -> float:
        """How far above the proven lower bound, as a share of it. 0: proved shortest."""
        return self.length_m / self.lower_bound_m - 1 if self.lower_bound_m > 0 else 0.0


@dataclass(frozen=True)
class NoRun:
    """No run was found. `proved` tells a proof from a search that gave up."""

    name: str
    reason: str  # in words, for a person
    obstacle: str  # the solid or penetration that stops it
    missing_m: float  # how much wider the narrowest place on the best way would have to be; 0 if not known
    at: Point | None
    proved: bool
