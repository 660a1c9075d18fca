"""Signed distances of solids: against hand-worked points and against laws that must always hold."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.solids import Box, Circle, Cylinder, Prism, turned

SQUARE = ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))
ELL = ((0.0, 0.0), (2.0, 0.0), (2.0, 1.0), (1.0, 1.0), (1.0, 2.0), (0.0, 2.0))
SOLIDS = [
    Box((0.1, 0.2, 0.3), (1.0, 0.6, 0.4), turned(0.4)),
    Prism.along("x", SQUARE, -0.1, 0.1, holes=(Circle((0.2, 0.1), 0.3), ((-0.8, -0.8), (-0.4, -0.8), (-0.4, -0.4)))),
    Prism(ELL, 0.0, 0.5, frame=turned(0.7, "y"), origin=(0.3, 0.0, -0.2)),
    Cylinder((0.0, 0.1, -0.5), (1.0, 2.0, 2.0), 0.2, 0.9),
]
# Two surfaces may be almost equally near: so many directions that setting out in the wrong one costs little.
EVERY_WAY = np.random.default_rng(4).normal(size=(10_000, 3))
EVERY_WAY /= np.linalg.norm(EVERY_WAY, axis=1)[:, None]
NAMES = ["box", "pierced wall", "ell", "cylinder"]


def test_box_by_hand():
    """1 x 2 x 3 m box at the origin, turned a quarter about z: x reaches 1 m, y 0.5 m.

    (1.3, 0.9, 0): 0.3 beyond in x and 0.4 beyond in y: 0.5. Centre: the nearest face is 0.5 away.
    """
    box = Box((0, 0, 0), (1, 2, 3), turned(math.pi / 2))
    got = box.signed_distance([(1.3, 0.9, 0.0), (0.0, 0.0, 0.0), (1.25, 0.0, 0.0)])
    assert got == pytest.approx([0.5, -0.5, 0.25])


def test_hole_is_a_true_circle():
    """At the hole's centre the distance is its radius; 10 mm from the rim at 1 radian it is 10 mm, not a chord's."""
    wall = Prism.along("z", SQUARE, 0.0, 0.5, holes=(Circle((0.0, 0.0), 0.1),))
    at = 0.09 * np.array([math.cos(1.0), math.sin(1.0)])
    got = wall.signed_distance([(0.0, 0.0, 0.25), (at[0], at[1], 0.25), (0.0, 0.0, 0.8)])
    assert got == pytest.approx([0.1, 0.01, math.hypot(0.1, 0.3)])


def test_inner_corner_of_a_notched_outline():
    """ELL's notch: (1.3, 1.4) is 0.3 from the side x = 1 and 0.4 from y = 1; (0.9, 0.9) in the material is
    sqrt(2) x 0.1 from the inner corner."""
    ell = Prism(ELL, -5.0, 5.0)
    got = ell.signed_distance([(1.3, 1.4, 0.0), (0.9, 0.9, 0.0)])
    assert got == pytest.approx([0.3, -math.sqrt(0.02)])


def test_axes_of_prisms():
    """Along x the outline's coordinates are (y, z); along y they are (z, x)."""
    along_x = Prism.along("x", ((0, 0), (2, 0), (2, 1), (0, 1)), 5.0, 6.0)
    along_y = Prism.along("y", ((0, 0), (2, 0), (2, 1), (0, 1)), 5.0, 6.0)
    assert along_x.bounds() == pytest.approx(np.array([(5, 0, 0), (6, 2, 1)]))
    assert along_y.bounds() == pytest.approx(np.array([(0, 5, 0), (1, 6, 2)]))


def test_cylinder_bounds_at_an_angle():
    """Axis (3, 0, 4)/5, radius 1, height 5: discs reach 4/5 in x, 1 in y and 3/5 in z."""
    bar = Cylinder((0, 0, 0), (3, 0, 4), 1.0, 5.0)
    assert bar.bounds() == pytest.approx(np.array([(-0.8, -1.0, -0.6), (3.8, 1.0, 4.6)]))


@pytest.mark.parametrize("solid", SOLIDS, ids=NAMES)
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_distance_is_that_of_the_nearest_surface(solid, data):
    """A ball of that radius holds no surface, and the surface is reached by walking down the slope: both laws of
    an exact signed distance."""
    near = st.floats(-1.5, 1.5)
    point = np.array([data.draw(near), data.draw(near), data.draw(near)])
    distance = float(solid.signed_distance(point[None])[0])
    way = np.random.default_rng(3).normal(size=(200, 3))
    way /= np.linalg.norm(way, axis=1)[:, None]
    on_ball = solid.signed_distance(point + 0.999 * abs(distance) * way)
    assert (on_ball > -1e-12).all() if distance > 0 else (on_ball < 1e-12).all()
    # the ball a little larger does reach the surface: coarse search, then ever finer round the best direction
    sign = 1.0 if distance >= 0 else -1.0
    reach, best = (
        abs(distance),
        EVERY_WAY[int(np.argmin(sign * solid.signed_distance(point + abs(distance) * EVERY_WAY)))],
    )
    for width in 0.8 ** np.arange(1, 60):
        tried = best + width * np.vstack([np.zeros(3), way])
        tried /= np.linalg.norm(tried, axis=1)[:, None]
        best = tried[int(np.argmin(sign * solid.signed_distance(point + reach * tried)))]
    assert abs(float(solid.signed_distance((point + reach * best)[None])[0])) < 1e-3


@pytest.mark.parametrize("solid", SOLIDS, ids=NAMES)
def test_distances_change_no_faster_than_one_moves(solid):
    rng = np.random.default_rng(1)
    one, two = rng.uniform(-2, 2, (5000, 3)), rng.uniform(-2, 2, (5000, 3))
    two[2500:] = one[2500:] + 0.01 * two[2500:]
    change = np.abs(solid.signed_distance(one) - solid.signed_distance(two))
    assert (change <= np.linalg.norm(one - two, axis=1) + 1e-12).all()


@pytest.mark.parametrize("solid", SOLIDS, ids=NAMES)
def test_edges_lie_on_or_just_outside_the_solid(solid):
    """Their middles are on the surface (round rims: touching); offset by a mitre they are that far from both faces."""
    edges = solid.edges()
    assert np.linalg.norm(edges.first_normals, axis=1) == pytest.approx(1.0)
    assert np.linalg.norm(edges.second_normals, axis=1) == pytest.approx(1.0)
    across = edges.ends - edges.starts
    assert np.abs(np.einsum("ij,ij->i", across, edges.first_normals)).max() < 1e-9
    assert np.abs(np.einsum("ij,ij->i", across, edges.second_normals)).max() < 1e-9
    middle = (edges.starts + edges.ends) / 2
    assert (solid.signed_distance(middle) > -1e-9).all()
    both = edges.first_normals + edges.second_normals
    mitre = both / (1 + np.einsum("ij,ij->i", edges.first_normals, edges.second_normals))[:, None]
    assert (solid.signed_distance(middle + 0.01 * mitre) > 0.01 - 1e-9).all()


def test_edge_counts():
    """A box has 12 edges. ELL has 6 sides on two rims and 5 convex corners: 17. A round bar shown with 12 sides: 36."""
    assert len(SOLIDS[0].edges().starts) == 12
    assert len(SOLIDS[2].edges().starts) == 17
    assert len(SOLIDS[3].edges().starts) == 36


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Box((0, 0, 0), (1, 0, 1)), "1000 x 0 x 1000 mm"),
        (lambda: Box((0, 0, math.nan), (1, 1, 1)), "finite"),
        (lambda: Box((0, 0, 0), (1, 1, 1), ((1, 0, 0), (1, 0, 0), (0, 0, 1))), "right angles"),
        (lambda: Prism(((0, 0), (1, 1), (1, 0), (0, 1)), 0, 1), "crosses itself"),
        (lambda: Prism(((0, 0), (1, 0)), 0, 1), "three corners"),
        (lambda: Prism(((0, 0), (1, 0), (2, 0)), 0, 1), "crosses itself"),
        (lambda: Prism(SQUARE, 0.2, 0.2), "no height"),
        (lambda: Prism(SQUARE, 0, 1, holes=(Circle((0.95, 0.0), 0.1),)), "leaves the outline"),
        (lambda: Prism(SQUARE, 0, 1, holes=(Circle((0, 0), 0.2), Circle((0.3, 0), 0.2))), "meets another hole"),
        (lambda: Prism(SQUARE, 0, 1, holes=(((0, 0), (3, 0), (0, 0.5)),)), "leaves the outline"),
        (lambda: Prism.along("w", SQUARE, 0, 1), "x, y or z"),
        (lambda: Cylinder((0, 0, 0), (0, 0, 0), 1, 1), "no direction"),
        (lambda: Cylinder((0, 0, 0), (0, 0, 1), 0, 1), "radius 0 mm"),
        (lambda: Cylinder((0, 0, 0), (0, 0, 1), 1, -1), "height -1000 mm"),
    ],
)
def test_wrong_geometry_is_refused_with_the_facts(make, words):
    with pytest.raises(ValueError, match=words):
        make()
