"""Distances to outlines with holes against shapely, a general-purpose library that shares no code with ours."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from geometry.outlines import checked_outline, outline_distance

angles = st.lists(st.floats(0.3, 1.0), min_size=5, max_size=9)
tenths = st.integers(-20, 20).map(lambda n: n / 10)
spot = st.tuples(st.floats(-2.0, 2.0), st.floats(-2.0, 2.0))


def star(radii: list[float], size: float = 1.0) -> tuple[tuple[float, float], ...]:
    """A ring round the origin that never crosses itself."""
    turns = [2 * math.pi * i / len(radii) for i in range(len(radii))]
    return tuple((size * r * math.cos(t), size * r * math.sin(t)) for r, t in zip(radii, turns, strict=True))


@given(angles, st.lists(spot, min_size=1, max_size=20))
def test_distance_to_a_ring_with_a_hole(radii: list[float], spots: list[tuple[float, float]]) -> None:
    outer, hole = star(radii), star(radii, 0.4)
    ours = outline_distance(np.array(spots), outer, (hole,))
    polygon = shapely.Polygon(outer, [hole])
    for (x, y), distance in zip(spots, ours, strict=True):
        point = shapely.Point(x, y)
        edge = polygon.boundary.distance(point)
        assert abs(distance) == pytest.approx(edge, abs=1e-9)
        if edge > 1e-9:
            assert (distance < 0) == polygon.contains(point)


@given(st.lists(st.tuples(tenths, tenths), min_size=4, max_size=6, unique=True))
def test_what_is_no_sound_outline(corners: list[tuple[float, float]]) -> None:
    """Both libraries agree on which rings cross themselves, but for near-touching ones."""
    ring = shapely.Polygon(corners)
    try:
        checked_outline(corners)
    except ValueError:
        assert not ring.is_valid or ring.buffer(-1e-6).geom_type != "Polygon" or ring.area < 1e-6 or near_touch(corners)
    else:
        assert ring.is_valid


def near_touch(corners: list[tuple[float, float]]) -> bool:
    """Two sides that do not share a corner come within a micrometre of each other."""
    sides = [shapely.LineString([a, b]) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)]
    apart = [(i, j) for i in range(len(sides)) for j in range(i + 2, len(sides)) if (i, j) != (0, len(sides) - 1)]
    return any(sides[i].distance(sides[j]) < 1e-6 for i, j in apart) or min(s.length for s in sides) < 1e-6
