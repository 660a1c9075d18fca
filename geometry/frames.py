"""How a cable turns about itself: what angle must its second lug have to its first?

A thick cable does not twist. A lug crimped at the wrong angle strains the stud. The angle follows from carrying
the first lug's flat along the centreline without twist and comparing it with the second stud.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from geometry.curve import Arc, Curve, Vector


def turned(vector: Vector, axis: Vector, angle_rad: float) -> Vector:
    """The vector (3,) turned right-handed about a unit axis. Source: Rodrigues' rotation formula.

    >>> turned(np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0]), math.pi / 2).round(9).tolist()
    [0.0, 1.0, 0.0]
    """
    cosine, sine = math.cos(angle_rad), math.sin(angle_rad)
    return cosine * vector + sine * np.cross(axis, vector) + (1 - cosine) * float(axis @ vector) * axis


def carried(curve: Curve, vector: Vector) -> Vector:
    """A direction (3,) carried from the start to the end of the curve without twist.

    A straight leaves it as it is; an arc turns it by the arc's angle about the arc's axis.
    """
    for piece in curve.pieces:
        if isinstance(piece, Arc):
            vector = turned(vector, piece.normal, piece.angle_rad)
    return vector


def lug_angle_deg(curve: Curve, start_face: Sequence[float], finish_face: Sequence[float]) -> float | None:
    """Degrees in (-180, 180] from the first lug's flat to the second's, as seen along the cable from start to finish.

    `start_face` and `finish_face` are the ways the flats look (the studs' axes, (3,)); positive is clockwise.
    None when a face looks along the cable, so that it has no angle: such a lug cannot lie flat.

    >>> from geometry.curve import filleted
    >>> quarter = filleted([np.zeros(3), np.array([1.0, 0, 0]), np.array([1.0, 1.0, 0])], 0.1)
    >>> lug_angle_deg(quarter, (0, 0, 1), (0, 0, 1))
    0.0
    >>> lug_angle_deg(quarter, (0, 0, 1), (1, 0, 0))
    90.0
    """
    there = curve.end_direction
    came = across(carried(curve, across(np.asarray(start_face, dtype=float), curve.start_direction)), there)
    wanted = across(np.asarray(finish_face, dtype=float), there)
    if min(float(np.linalg.norm(came)), float(np.linalg.norm(wanted))) < 1e-6:
        return None
    angle_deg = math.degrees(math.atan2(float(there @ np.cross(came, wanted)), float(came @ wanted)))
    angle_deg = round(angle_deg, 9) + 0.0
    return 180.0 if angle_deg == -180.0 else angle_deg


def across(vector: Vector, direction: Vector) -> Vector:
    """The part of a vector (3,) that lies across a unit direction."""
    return vector - float(vector @ direction) * direction
