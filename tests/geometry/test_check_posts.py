"""How near a run passes to posts, against distances worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from geometry.check_posts import Post, posts_passed
from geometry.curve import Curve, Straight
from geometry.runs import Point

STRAIGHT = Curve((Straight(np.array([0.0, 0.0, 0.0]), np.array([1.0, 0.0, 0.0])),))
RADIUS_M = 0.006


def post(x: float, y: float, z: float) -> Post:
    """An M8 stud that points up from its seat, 6.4 mm high, the lug on it 16.4 mm broad."""
    seat: Point = (x, y, z)
    return Post("B", seat, seat, (x, y, z + 0.0064), 0.004, 0.0082)


def test_straight_through_a_stud() -> None:
    (passing,) = posts_passed(STRAIGHT, RADIUS_M, [post(0.313, 0.0, -0.003)])
    assert passing.into_post
    assert passing.off_m == 0.0
    assert passing.place[0] == pytest.approx(0.313, abs=0.004)


def test_beside_a_stud() -> None:
    """7 mm from axis to middle: 3 mm from skin of stud to middle, where the cable needs 6 mm."""
    (passing,) = posts_passed(STRAIGHT, RADIUS_M, [post(0.313, 0.007, 0.0)])
    assert passing.into_post
    assert passing.off_m == pytest.approx(0.003, abs=5e-5)
    # the distance hardly changes there along the cable: 1 mm aside is 0.07 mm
    assert passing.place == pytest.approx((0.313, 0.0, 0.0), abs=1.5e-3)


def test_only_under_the_lug() -> None:
    """13 mm aside: 9 mm from the stud's skin, clear of it by 3 mm; 4.8 mm from the lug's edge, 1.2 mm too near."""
    (passing,) = posts_passed(STRAIGHT, RADIUS_M, [post(0.313, 0.013, 0.0)])
    assert not passing.into_post
    assert passing.off_m == pytest.approx(0.0048, abs=5e-5)


def test_over_the_top_of_a_stud() -> None:
    """Its top is 6.4 mm over its seat: with the seat 11.4 mm below the middle 5 mm are left, with 13.4 mm 7 mm."""
    (passing,) = posts_passed(STRAIGHT, RADIUS_M, [post(0.5, 0.0, -0.0114)])
    assert passing.into_post
    assert passing.off_m == pytest.approx(0.005, abs=5e-5)
    assert posts_passed(STRAIGHT, RADIUS_M, [post(0.5, 0.0, -0.0134)]) == ()


@pytest.mark.parametrize("seat", [(0.0, 0.0, 0.0), (1.0, 0.0, 0.001), (0.5, 0.0143, 0.0), (0.5, 0.2, 0.0), (1.1, 0, 0)])
def test_its_own_studs_and_what_is_further_do_not_count(seat: Point) -> None:
    """8.2 mm of lug and 6 mm of cable: 14.2 mm aside they touch, 14.3 mm aside they do not."""
    assert posts_passed(STRAIGHT, RADIUS_M, [post(*seat)]) == ()
