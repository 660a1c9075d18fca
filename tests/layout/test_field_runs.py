"""Run lengths read from a table: against straight lines, and against what the table was made from."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cutlist.bank.site import MountingFace
from cutlist.layout.bus_bar_places import find_places
from cutlist.layout.cells import lies_of
from cutlist.layout.field_runs import FieldRuns, Kind
from geometry.lug_fields import LugField, Source
from geometry.runs import CableShape, End
from geometry.solids import Box
from geometry.space import Obstacle, Space
from tests.layout.place_cases import problem_of
from tests.layout.test_reference_places import CEILING

SUPPLE = CableShape(radius_m=0.008, clearance_m=0.005, bend_radius_m=1e-7, straight_m=0.0)
STIFF = CableShape(radius_m=0.008, clearance_m=0.005, bend_radius_m=0.06, straight_m=0.0)
FACE = MountingFace("A", (1.0, -0.3, 0.2), (0, 1, 0), (0, 0, 1), 0.6, 0.4)
ALONG_X = ((1.0, 0.0, 0.0), (-1.0, 0.0, 0.0))
TERMINALS = np.array([[0.0, 0.0, 0.3], [0.1, 0.4, 0.9]])


def _kinds(cable: CableShape, straight_m: float, terminals: np.ndarray = TERMINALS) -> list[Kind]:
    return [Kind(cable, tuple(Source(End(tuple(t), ALONG_X), straight_m) for t in terminals.tolist()))]


def studs(count: int = 200) -> tuple[np.ndarray, np.ndarray]:
    draw = np.random.default_rng(7)
    a, b = draw.uniform(0, 0.6, count), draw.uniform(0, 0.4, count)
    lies = lies_of(np.array(FACE.u, dtype=float), np.array([1.0, 0.0, 0.0]))
    return np.column_stack([np.ones(count), -0.3 + a, 0.2 + b]), np.broadcast_to(lies, (count, 2, 3))


def test_in_free_space_a_supple_run_is_a_straight_line():
    """Law: with nothing in the way, no lug and no bend to speak of, the way is the straight line; it is convex, so that
    interpolating can only add: at most (half the grid's diagonal)^2 / (2 x distance), here 0.035^2 / 1.8 = 0.7 mm."""
    runs = FieldRuns(Space(()), _kinds(SUPPLE, 0.0), [FACE])
    points, lies = studs()
    straight = np.linalg.norm(TERMINALS[:, None] - points[None], axis=2)
    assert runs.lengths(TERMINALS, points, lies) == pytest.approx(straight, abs=0.0008)
    assert (runs.lengths(TERMINALS, points, lies) >= straight - 1e-6).all()
    assert runs.bounds(TERMINALS, points, lies) == pytest.approx(straight, abs=1e-5)


@pytest.mark.parametrize("walled", [False, True])
def test_what_is_read_between_is_what_it_was_made_from(walled):
    """Law: between the points of the grid a bound is not above the least length itself, asked for at that stud alone
    (but where a way is best in between and at no point of the grid: at few studs), and near it."""
    wall = Obstacle("wall", Box((0.5, 0.0, -0.65), (0.02, 4.0, 2.7)))
    space = Space((wall,) if walled else ())
    points, lies = studs(60)
    kinds = _kinds(STIFF, 0.03)
    runs = FieldRuns(space, kinds, [FACE])
    asked = LugField(space, STIFF, kinds[0].sources).lengths(points, lies[:, 0], lies[:, 1]).metres
    bound = runs.bounds(TERMINALS, points, lies)
    assert np.mean(bound <= asked + 5e-4) > 0.97
    assert np.median(asked - bound) < 0.002
    assert runs.lengths(TERMINALS, points, lies) == pytest.approx(asked, abs=0.02)


def test_elsewhere_it_is_asked_for_one_by_one():
    runs = FieldRuns(Space(()), _kinds(STIFF, 0.03), [FACE], turns=(0,))
    points, lies = studs(5)
    off = points + np.array([0.2, 0.0, 0.0])
    asked = LugField(Space(()), STIFF, _kinds(STIFF, 0.03)[0].sources).lengths(off, lies[:, 0], lies[:, 1]).metres
    assert runs.bounds(TERMINALS, off, lies) == pytest.approx(asked)


def test_a_terminal_that_was_not_named_is_refused():
    runs = FieldRuns(Space(()), _kinds(STIFF, 0.03), [FACE])
    points, lies = studs(3)
    with pytest.raises(KeyError):
        runs.bounds(np.array([[9.0, 9.0, 9.0]]), points, lies)


def test_in_free_space_the_places_are_those_of_straight_runs():
    """The smallest circle again (46.08, see there), runs read from the table: a cut of 1275 leaves 2 mm to spare."""
    problem = problem_of(CEILING)
    ends = np.vstack([problem.string_points(pole) for pole in ("positive", "negative")])
    runs = FieldRuns(Space(()), _kinds(SUPPLE, 0.0, ends), problem.faces)
    found = find_places(replace(problem, runs=runs))
    assert found.cost == find_places(problem).cost
    assert found.certificate.gap < 0.01
