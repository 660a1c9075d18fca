"""How near does a run pass to posts that it does not end on? Asked by a stranger who saw only the centreline.

A post is what stands up out of the structure for a lug to be put on: a round rod with flat ends, and round its seat
the disc of the lug on it. Shares no code with the router or with the solids' own distances.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from geometry.check_distance import Numbers, lowest, own_points, own_whole_m
from geometry.curve import Curve
from geometry.runs import Point

ROUGH_M = 0.04
TOUCH_M = 1e-4  # skins are soft

Measure = Callable[["Post", Numbers], Numbers]


@dataclass(frozen=True)
class Post:
    """From `foot` to `top`; a lug lies on it across `seat`."""

    name: str
    seat: Point
    foot: Point
    top: Point
    radius_m: float
    lug_m: float  # from the post's axis to the edge of the lug on it

    @cached_property
    def reach_m(self) -> float:
        """Nothing of it is further from its seat."""
        return max(self.lug_m, self.radius_m + max(math.dist(self.seat, end) for end in (self.foot, self.top)))


@dataclass(frozen=True)
class Passing:
    """Where a run comes nearest to a post, or to the lug on it."""

    post: Post
    off_m: float  # from the run's centreline to the post's skin, or to the lug's edge
    into_post: bool  # else only into the lug
    place: Point  # on the centreline


def posts_passed(curve: Curve, radius_m: float, posts: Sequence[Post]) -> tuple[Passing, ...]:
    """Every post in which, or else in whose lug, the cable's skin would lie, in their order.

    Left out are those it ends on: whose seats are nearer to an end of the run than they are thick; lugs stack there.
    """
    if not posts:
        return ()
    whole_m = own_whole_m(curve)
    along = np.linspace(0.0, whole_m, max(2, int(np.ceil(whole_m / ROUGH_M)) + 1))
    points = own_points(curve, along)
    seats = np.array([post.seat for post in posts])
    # nothing of a post or its lug is further than this from its seat, no place further than half a step from a point
    reach_m = radius_m + ROUGH_M / 2 + np.array([post.reach_m for post in posts])
    low, high = points.min(axis=0) - reach_m[:, None], points.max(axis=0) + reach_m[:, None]
    found = []
    boxed = np.flatnonzero(((seats > low) & (seats < high)).all(axis=1))
    square = ((points[:, None] - seats[None, boxed]) ** 2).sum(axis=2)
    near = square.min(axis=0) <= reach_m[boxed] ** 2
    ends = np.minimum(square[0], square[-1])
    for i, end in zip(boxed[near].tolist(), ends[near].tolist(), strict=True):
        post = posts[i]
        if end < post.radius_m**2:
            continue
        for into_post, measure in ((True, to_post), (False, to_lug)):

            def off(at: Numbers, post: Post = post, measure: Measure = measure) -> Numbers:
                return measure(post, own_points(curve, at))

            off_m, at_m = lowest(off, 0.0, whole_m, radius_m - TOUCH_M)
            if off_m < radius_m - TOUCH_M:
                x, y, z = own_points(curve, np.array([at_m]))[0].tolist()
                found.append(Passing(post, off_m, into_post, (x, y, z)))
                break
    return tuple(found)


def to_post(post: Post, points: Numbers) -> Numbers:
    """Distance (n,) from points (n, 3) to the skin of a post, 0 inside.

    >>> post = Post("A", (0, 0, 0), (0, 0, -0.01), (0, 0, 0.02), 0.004, 0.008)
    >>> to_post(post, np.array([(0.034, 0.0, 0.0), (0.034, 0.0, 0.06), (0.001, 0.0, 0.0)])).round(6).tolist()
    [0.03, 0.05, 0.0]
    """
    foot, way = np.array(post.foot), np.array(post.top) - np.array(post.foot)
    return _to_rod(points - foot, way, post.radius_m)


def to_lug(post: Post, points: Numbers) -> Numbers:
    """Distance (n,) from points (n, 3) to the disc of the lug round a post, as thin as paper.

    >>> post = Post("A", (0, 0, 0), (0, 0, -0.01), (0, 0, 0.02), 0.004, 0.008)
    >>> to_lug(post, np.array([(0.038, 0.0, 0.0), (0.0, 0.0, 0.06)])).round(6).tolist()
    [0.03, 0.06]
    """
    way = np.array(post.top) - np.array(post.foot)
    return _to_rod(points - np.array(post.seat), way, post.lug_m, high=False)


def _to_rod(out: Numbers, way: Numbers, radius_m: float, *, high: bool = True) -> Numbers:
    high_m = float(np.sqrt(way @ way))
    along = out @ way / high_m
    across = np.sqrt(np.maximum((out**2).sum(axis=1) - along**2, 0.0)) - radius_m
    beyond = np.maximum(-along, along - (high_m if high else 0.0))
    return np.asarray(np.sqrt(np.maximum(across, 0.0) ** 2 + np.maximum(beyond, 0.0) ** 2))
