"""The landscape round the best places, against figures worked by hand for the job of two faces."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest

from cutlist.layout.bus_bar_places import find_places
from cutlist.layout.landscape import best_on_grid, landscape
from tests.layout.exhaustive import costs_of, poles_places
from tests.layout.place_cases import problem_of
from tests.layout.random_places import random_case
from tests.layout.test_reference_places import CEILING, TWO_FACES


@pytest.fixture(scope="module")
def two_faces():
    problem = problem_of(TWO_FACES)
    return landscape(problem, find_places(problem))


def test_how_much_longer_the_runs_may_turn_out(two_faces):
    """Two reels of 2000 a pole hold {c, c} and {c, f} while 2 c + 3 <= 2000, so c = 995, which runs up to
    995 + 27 = 1022 give; the target is sqrt(950^2 + 300^2) = 996.243: 25.757 mm to the next step."""
    assert two_faces.to_next_step_m == pytest.approx(1.022 - 0.996243, abs=2e-5)


def test_the_best_of_each_pair_of_faces_is_among_the_ten(two_faces):
    """Both on B 120, one on each 150, both on A 180 (working beside the case)."""
    by_faces: dict[tuple[str, str], Decimal] = {}
    for placed in two_faces.best:
        faces = (placed.positive.place.face, placed.negative.place.face)
        by_faces.setdefault(faces, placed.build.money)
    assert by_faces == {("B", "B"): 120, ("A", "B"): 150, ("B", "A"): 150, ("A", "A"): 180}
    costs = [placed.build.money for placed in two_faces.best]
    assert costs == sorted(costs)


def test_the_map_tells_each_face(two_faces):
    """Beside a bar on B, a bar on A needs three reels and the other two: 150; on B both need two: 120 where T <= 1022
    and F <= 1029, else a reel more."""
    assert {p.cost for p in two_faces.points if p.place.face == "A"} == {Decimal(150)}
    assert min(p.cost for p in two_faces.points if p.place.face == "B") == 120


def test_moves_that_the_face_does_not_allow_are_named(two_faces):
    """Face B is 200 wide, studs keep 40 from its edges and 80 from each other: along u no bar has 50 mm to go."""
    along = {(m.pole, m.along): m for m in two_faces.moves}
    for pole in ("positive", "negative"):
        assert {along[pole, "+u"].why_not, along[pole, "-u"].why_not} == {"off the face", "too near the other bus bar"}
        assert all(m.more is None or m.more >= 0 for m in two_faces.moves)


def test_a_grid_is_never_better():
    """Law: fewer places to choose from never cost less."""
    for case in (CEILING, TWO_FACES):
        problem = problem_of(case)
        assert best_on_grid(problem, 0.050) >= find_places(problem).cost


def test_a_smaller_drop_costs_more():
    """One conductor by the metre: only shorter leads lower the drop, and at the least target nothing more is gained;
    along the front cost never falls and drop never grows."""
    problem = problem_of(CEILING)
    front = landscape(problem, find_places(problem)).front
    assert [p.cost for p in front] == sorted(p.cost for p in front)
    assert [p.worst_drop_v for p in front] == sorted((p.worst_drop_v for p in front), reverse=True)


@pytest.mark.parametrize("seed", [12, 16, 19, 22, 23])
def test_no_place_of_a_grid_lies_below_the_front(seed):
    """Every pair of places of a 5 mm grid and every conductor: none has as small a drop as a point of the front for a
    hundredth less money, and none has less drop than the last point by more than a hundredth of the limit."""
    case = random_case(seed)
    case["bus_bars"]["separation_mm"] = 0
    case["drop_limit_v"] = 2.0
    problem = problem_of(case)
    front = landscape(problem, find_places(problem)).front
    plus, minus = (poles_places(case, sign) for sign in ("plus", "minus"))
    keys = np.array(sorted({(max(one[0], two[0]), one[1], two[1]) for one in plus for two in minus}))
    for point in front:
        cost, _ = costs_of({**case, "drop_limit_v": point.worst_drop_v}, keys)
        assert float(point.cost) <= cost.min() * 1.011 + 0.005
    _, over_v = costs_of(case, keys)
    assert front[-1].worst_drop_v <= over_v.min() + case["drop_limit_v"] * 1.011
    assert [p.cost for p in front] == sorted({p.cost for p in front})
    assert [p.worst_drop_v for p in front] == sorted({p.worst_drop_v for p in front}, reverse=True)
