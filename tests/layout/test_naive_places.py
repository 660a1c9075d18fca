"""The naive way worked by hand, and a law that every map of a face keeps."""

from __future__ import annotations

from decimal import Decimal

import numpy as np

from cutlist.layout.bus_bar_places import find_places
from cutlist.layout.face_maps import face_map
from cutlist.layout.naive_places import naive_answer, pieces_built
from cutlist.layout.place_costs import PlaceCosts
from tests.layout.place_cases import problem_of
from tests.layout.test_reference_places import CEILING


def test_the_naive_way_by_hand():
    """Both bars want the middle of the ceiling, (1000, 600); 80 mm apart at least they stand at y 560 and 640, or at
    x 960 and 1040, as near as that. Cable is sold by 10 mm: each lead bought in a length of its own needs no kerf."""
    problem = problem_of(CEILING)
    naive = naive_answer(problem, PlaceCosts(problem))
    assert naive is not None
    centres = [np.array(p.place.centre) for p in (naive.placing.positive, naive.placing.negative)]
    assert np.linalg.norm(centres[0] - centres[1]) >= 0.08 - 1e-9
    assert all(np.linalg.norm(c - (1.0, 0.6, 1.2)) <= 0.08 for c in centres)
    ends = [problem.string_points(pole) for pole in ("positive", "negative")]
    longest = max(np.linalg.norm(e - c, axis=1).max() for e, c in zip(ends, centres, strict=True))
    cut_mm = 5 * np.ceil((longest * 1000 - 27) / 5)
    assert naive.laid_um == 6 * cut_mm * 1000
    assert naive.money == 6 * Decimal(int(np.ceil(cut_mm / 10))) * Decimal("0.06")
    joint = find_places(problem)
    assert joint.cost < naive.money
    assert sum(p.length_um for p in pieces_built(problem, joint.best)) < naive.laid_um


def test_a_map_never_tells_less_than_the_best():
    """Law: no place of the map is cheaper than the proved least; rounding runs up only makes places dearer."""
    problem = problem_of(CEILING)
    found = find_places(problem)
    exact = face_map(problem, step_m=0.2)
    rounded = face_map(problem, step_m=0.2, coarse_um=20_000)
    assert len(exact) == len(rounded) == 2 * 10 * 6
    for one, other in zip(exact, rounded, strict=True):
        assert (one.a_m, one.b_m) == (other.a_m, other.b_m)
        assert found.least_cost <= one.cost <= other.cost
