"""What a run lies along: the structure a person would name when told where to lay the cable."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometry.curve import Curve
from geometry.surroundings import Surroundings

STEP_M = 0.02


@dataclass(frozen=True)
class Beside:
    """A stretch of a run whose nearest structure is one and the same, and near."""

    structure: str  # obstacle or compartment that takes a clamp
    from_m: float  # along the run
    to_m: float


def lies_along(surroundings: Surroundings, curve: Curve, near_m: float) -> tuple[Beside, ...]:
    """The stretches, in order, in which the centreline is at most `near_m` from structure that takes a clamp."""
    along = np.linspace(0.0, curve.length_m, max(2, int(np.ceil(curve.length_m / STEP_M)) + 1))
    gaps, which = surroundings.structure_gap(curve.points_at(along), near_m)
    which = np.where(gaps <= near_m, which, -1)
    changes = np.flatnonzero(np.diff(which)) + 1
    firsts, lasts = [0, *changes], [*(changes - 1), len(which) - 1]
    found = []
    for first, last in zip(firsts, lasts, strict=True):
        structure = surroundings.named(int(which[first]))
        if structure is not None:
            found.append(Beside(structure.name, float(along[first]), float(along[last])))
    return tuple(found)
