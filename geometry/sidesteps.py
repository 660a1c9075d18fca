"""First guesses at how a run may pass another cable: on which sides, and which of its corners move."""

from __future__ import annotations

import numpy as np

from geometry.apart import LaidCable
from geometry.corners import Corners, Numbers
from geometry.curve import Curve
from geometry.taut_past_rods import ROD_SLACK_M, unit

ALIKE = 0.35  # sine of the angle below which two cables run alike


def guesses(
    corners: Corners, curve: Curve, at_m: float, leg: int, met: LaidCable, radius_m: float
) -> list[tuple[Corners, int]]:
    """First guesses past the other cable, and how many corners each has more.

    Square to both cables, or all round if they run alike. A corner is put in beside the other cable, or the leg that
    meets it is moved aside as it is.
    """
    here, way = _place(curve, at_m)
    along, points = met.traced[0], met.traced[1]
    roughly_m = float(along[int(np.linalg.norm(points - here, axis=1).argmin())])
    fine = np.clip(np.linspace(roughly_m - 0.025, roughly_m + 0.025, 101), 0.0, met.curve.length_m)
    there_m = float(fine[int(np.linalg.norm(met.curve.points_at(fine) - here, axis=1).argmin())])
    there, their_way = _place(met.curve, there_m)
    across = np.cross(way, their_way)
    alike = float(np.linalg.norm(across)) <= ALIKE
    if alike:
        one = unit(np.cross(way, np.eye(3)[int(np.argmin(np.abs(way)))]))
        two = np.cross(way, one)
        sides = [one, -one, two, -two]
    else:
        sides = [unit(across), -unit(across)]
    # the side on which the run already lies is the likeliest
    sides.sort(key=lambda side: round(-float((here - there) @ side), 6))
    needed_m = radius_m + met.radius_m + 2 * ROD_SLACK_M
    of_leg = np.zeros(len(corners.points))
    of_leg[leg : leg + 2] = 1.0
    of_leg[[0, -1]] = 0.0
    after = min(max(leg + 1, 2), len(corners.points) - 2)
    tight_m = corners.radii[1:-1].min()
    put_in, moved = [], []
    for side in sides:
        move = (needed_m - float((here - there) @ side)) * side
        more = np.vstack([corners.points[:after], here + move, corners.points[after:]])
        put_in.append((Corners(more, np.insert(corners.radii, after, tight_m)), 1))
        moved.append((Corners(corners.points + of_leg[:, None] * move, corners.radii), 0))
    return [*moved, *put_in] if alike else [*put_in, *moved]


def leg_of(corners: Corners, curve: Curve, at_m: float, radius_m: float) -> tuple[Corners, int]:
    """On which leg (from corner `leg` to the next) a place of the run lies; a run without corners is given two."""
    if len(corners.points) < 4:
        shares = [1 / 3, 2 / 3] if len(corners.points) == 2 else [0.5]
        made = [corners.points[-2] + s * (corners.points[-1] - corners.points[-2]) for s in shares]
        points = np.vstack([corners.points[:-1], *made, corners.points[-1:]])
        corners = Corners(points, np.concatenate([[0.0], np.full(len(points) - 2, radius_m), [0.0]]))
    here = curve.points_at([at_m])[0]
    starts, legs = corners.points[:-1], np.diff(corners.points, axis=0)
    share = np.clip(((here - starts) * legs).sum(axis=1) / np.maximum((legs**2).sum(axis=1), 1e-18), 0.0, 1.0)
    off = np.linalg.norm(here - starts - share[:, None] * legs, axis=1)
    return corners, int(off.argmin())


def _place(curve: Curve, at_m: float) -> tuple[Numbers, Numbers]:
    """The point at this place and the direction of the curve there."""
    back_m = min(max(at_m, 0.0), curve.length_m - 1e-4)
    one, two = curve.points_at([back_m, back_m + 1e-4])
    return one, unit(two - one)
