"""The search against trying every place of a 5 mm grid: never worse, and the bound never above what the grid holds."""

from __future__ import annotations

import pytest

from cutlist.layout.bus_bar_places import find_places
from cutlist.layout.place_check import faults_in_places
from tests.layout.exhaustive import least_on_grid
from tests.layout.place_cases import problem_of
from tests.layout.random_places import random_case


@pytest.mark.parametrize("seed", [*range(1, 7), *range(9, 15), 95])
def test_never_worse_than_every_place_on_a_grid(seed):
    """Law: the best of all places is at least as good as the best on any grid.

    Seeds 4 and 6 hold no drop limit anywhere; in 95 the two bars just fit on the face.
    """
    case = random_case(seed)
    found = find_places(problem_of(case))
    on_grid, over_v = least_on_grid(case)
    if found.best is None:
        assert on_grid is None
        assert found.nearest is not None
        assert found.over_v <= over_v + 1e-6
    else:
        assert found.certificate is not None
        assert found.certificate.gap == 0
        if on_grid is not None:
            assert float(found.cost) <= on_grid + 0.005
            assert float(found.least_cost) <= on_grid + 0.005


@pytest.mark.parametrize("seed", [1, 2, 9, 11])
def test_never_worse_on_faces_of_odd_shape(seed):
    """The same law where every face is a slanting L of five corners with a wedge taken out of it; shapely says which
    places of the grid are allowed. The bound is replayed by the check, which has outlines of its own."""
    case = random_case(seed)
    for face in case["faces"]:
        w, h = face["width"], face["height"]
        face["outline"] = [[0, 0], [w, 0.1 * h], [0.9 * w, h], [0.5 * w, 0.6 * h], [0.1 * w, h]]
        face["forbidden_outlines"] = [[[0.4 * w, 0.1 * h], [0.5 * w, 0.3 * h], [0.6 * w, 0.1 * h]]]
    problem = problem_of(case)
    found = find_places(problem)
    on_grid, over_v = least_on_grid(case)
    if found.best is None:
        assert on_grid is None
        assert found.nearest is None or found.over_v <= over_v + 1e-6
        return
    assert faults_in_places(problem, found) == []
    if on_grid is not None:
        assert float(found.cost) <= on_grid + 0.005
        assert float(found.least_cost) <= on_grid + 0.005
