"""How a run may begin and end: which way the lug points, and what may be near it there."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geometry.clearances import Clearances, Indices, Numbers
from geometry.runs import CableShape, End

MARGIN_M = 1.5e-4  # runs are laid this much clearer than asked, so that the clearance can be certified
MARGIN_GROWS_OVER_M = 0.02  # from the end of the lug's straight on


@dataclass(frozen=True, eq=False)
class Footing:
    """One end with one of its directions chosen."""

    point: Numbers  # (3,)
    way: Numbers  # (3,) unit, away from the stud
    straight_m: float
    lift_off_m: float
    own: Indices  # solids the stud stands on
    lies: Numbers  # for each of those: how near the lug lies to it; infinite if the cable is clear at once
    launch: Numbers  # (3,) where the straight ends
    lifted: tuple[Numbers, ...]  # corners of the bend that lifts the cable off, then the place where it is clear
    lift_m: float  # length from launch to there

    @property
    def clear(self) -> Numbers:
        """From here on the cable keeps its standoff from everything."""
        return self.lifted[-1] if self.lifted else self.launch


@dataclass(frozen=True, eq=False)
class Obstructed:
    """Why a stud cannot be left in this direction."""

    solid: int
    missing_m: float
    at: Numbers


def footings(around: Clearances, end: End, cable: CableShape) -> tuple[list[Footing], list[Obstructed]]:
    """Every direction of the end that can be used, and what stops the others."""
    usable: list[Footing] = []
    stopped: list[Obstructed] = []
    for direction in end.directions:
        way = np.array(direction, dtype=float)
        way /= np.linalg.norm(way)
        found = _footing(around, np.array(end.point, dtype=float), way, end.within, cable)
        if isinstance(found, Footing):
            usable.append(found)
        else:
            stopped.append(found)
    return usable, stopped


def _footing(
    around: Clearances, point: Numbers, way: Numbers, within: tuple[str, ...], cable: CableShape
) -> Footing | Obstructed:
    launch = point + cable.straight_m * way
    own = np.array([i for i, name in enumerate(around.names) if name in within], dtype=np.intp)
    if around.walls >= 0 and any(c.name in within for c in around.space.compartments):
        own = np.append(own, around.walls)
    straight = point + np.linspace(0, 1, 2 + math.ceil(cable.straight_m / 0.001))[:, None] * (launch - point)
    others = np.setdiff1d(around.near(straight, cable.standoff_m), own)
    if len(others):
        gaps = around.distances(straight, others)
        at, worst = np.unravel_index(int(gaps.argmin()), gaps.shape)
        missing_m = cable.standoff_m - float(gaps[at, worst])
        if missing_m > 1e-9:
            return Obstructed(int(others[worst]), missing_m, straight[at])
    gaps = around.distances(straight, own)
    lies = np.where(gaps[-1] >= cable.standoff_m + MARGIN_M, math.inf, gaps.min(axis=0))
    lifted, lift_m = _lift(around, launch, way, own[np.isfinite(lies)], cable)
    return Footing(point, way, cable.straight_m, cable.lift_off_m, own, lies, launch, lifted, lift_m)


def _lift(
    around: Clearances, launch: Numbers, way: Numbers, flat: Indices, cable: CableShape
) -> tuple[tuple[Numbers, ...], float]:
    """An S of two bends from the launch that ends clear of the solids the lug lies flat on."""
    if not len(flat):
        return (), 0.0
    wanted_m = cable.standoff_m + 2 * MARGIN_M
    clear, ahead_m = launch, 0.0
    for _ in range(8):
        gaps = around.distances(clear[None], flat)[0]
        worst = int(gaps.argmin())
        if gaps[worst] >= wanted_m - 1e-6:
            break
        slope = around.slopes(clear[None], flat[worst : worst + 1])[0]
        aside = slope - float(slope @ way) * way
        aside_m = float(np.linalg.norm(aside))
        if aside_m < 0.2:  # the way out is straight on
            ahead_m += wanted_m - float(gaps[worst])
        else:
            offset = clear - launch
            offset = offset - float(offset @ way) * way + aside / aside_m * (wanted_m - gaps[worst]) / aside_m
            height = float(np.linalg.norm(offset))
            turn = math.acos(max(-0.9, 1 - height / (2 * cable.bend_radius_m)))
            forward_m = 2 * cable.bend_radius_m * math.sin(turn)
            clear = launch + forward_m * way + offset
            continue
        clear = clear + (wanted_m - float(gaps[worst])) * way
    offset = clear - launch
    forward_m = float(offset @ way)
    offset = offset - forward_m * way
    height = float(np.linalg.norm(offset))
    if height < 1e-9:
        return (clear,), forward_m
    turn = math.acos(max(-0.9, 1 - height / (2 * cable.bend_radius_m)))
    reach = cable.bend_radius_m * math.tan(turn / 2)
    return (launch + reach * way, clear - reach * way, clear), 2 * cable.bend_radius_m * turn


@dataclass(frozen=True, eq=False)
class Track:
    """From one footing to another: what has to be kept where along the run."""

    start: Footing
    finish: Footing
    standoff_m: float
    bend_radius_m: float

    def needed(self, along_m: Numbers, length_m: float, solids: Indices, margin_m: float = 0.0) -> Numbers:
        """Clearance (n,) asked of the centreline at these distances from the start, to these solids.

        Minus infinity where the lug may touch. The margin starts at nothing where the lug's straight ends.
        """
        back_m = length_m - along_m
        beyond_m = np.minimum(along_m - self.start.straight_m, back_m - self.finish.straight_m)
        needed = self.standoff_m + margin_m * np.clip(beyond_m / MARGIN_GROWS_OVER_M, 0.0, 1.0)
        for foot, from_m in ((self.start, along_m), (self.finish, back_m)):
            for solid, lies_m in zip(foot.own, foot.lies, strict=True):
                mine = solids == solid
                if math.isfinite(lies_m):
                    lifting = mine & (from_m <= foot.lift_off_m)
                    needed[lifting] = np.minimum(needed[lifting], lies_m)
                needed[mine & (from_m <= foot.straight_m + 1e-9)] = -math.inf
        return needed
