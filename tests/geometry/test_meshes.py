"""Meshes against solids whose distance has a formula, against the checker's own measure, and as obstacles to runs."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.check import faults_in_run
from geometry.check_distance import own_distance
from geometry.clearances import Clearances
from geometry.find_runs import find_runs
from geometry.kernel import COMPILED, Packed
from geometry.mesh_surface import NotAMesh
from geometry.meshes import MOST_EDGES, Mesh
from geometry.runs import CableShape, End, NoRun, Request, Run
from geometry.solids import Box, Prism, turned
from geometry.space import Obstacle, Space
from tests.geometry.solids_as_meshes import ball, box_triangles, loose, prism_triangles

SEEDS = st.integers(0, 2**32 - 1)
CABLE = CableShape(radius_m=0.009, clearance_m=0.005, bend_radius_m=0.06, straight_m=0.05)
TETRAHEDRON = [(0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1)], [(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)]


def star(rng):
    count = int(rng.integers(5, 10))
    angles = 2 * math.pi * (np.arange(count) + rng.uniform(-0.08, 0.08, count)) / count
    reach = rng.uniform(0.2, 1.0, count)
    return tuple(zip((reach * np.cos(angles)).tolist(), (reach * np.sin(angles)).tolist(), strict=True))


@settings(max_examples=40, deadline=None)
@given(seed=SEEDS)
def test_a_prism_of_triangles_is_the_prism(seed):
    """Law: the same solid has the same distance, however it is told; triangles come loose, shuffled, turned round."""
    rng = np.random.default_rng(seed)
    outline, frame, at = star(rng), np.array(turned(float(rng.uniform(0, 6)), "xyz"[seed % 3])), rng.uniform(-1, 1, 3)
    prism = Prism(outline, -0.3, 0.4, frame=tuple(map(tuple, frame)), origin=tuple(at))
    corners, triangles = loose(*prism_triangles(outline, -0.3, 0.4))
    triangles = rng.permutation(triangles)
    back = rng.random(len(triangles)) < 0.3
    triangles[back] = triangles[back][:, ::-1]
    mesh = Mesh(corners @ frame + at, triangles)
    points = at + rng.uniform(-1.3, 1.3, (80, 3))
    wanted = prism.signed_distance(points)
    assert (wanted < 0).any() or (wanted > 0).all()
    assert mesh.signed_distance(points) == pytest.approx(wanted, abs=1e-9)
    assert mesh.tree.signed_distance(points) == pytest.approx(wanted, abs=1e-9)
    assert own_distance(mesh, points) == pytest.approx(wanted, abs=1e-9)


def test_the_ball_inside_and_outside():
    """Corners on the sphere: the mesh lies within it, by no more than what a facet's middle lies under the sphere."""
    mesh = ball(0.5, across=60, up=40)
    points = np.random.default_rng(1).normal(size=(300, 3))
    points *= np.random.default_rng(2).uniform(0.05, 3.0, (300, 1)) * 0.5 / np.linalg.norm(points, axis=1)[:, None]
    true = np.linalg.norm(points, axis=1) - 0.5
    # a facet subtends no more than 2 pi / 60 and pi / 40 across: half diagonal h, so 0.5 (1 - cos h) under the sphere
    under_m = 0.5 * (1 - math.cos(math.hypot(math.pi / 60, math.pi / 80)))
    for found in (mesh.signed_distance(points), mesh.tree.signed_distance(points), own_distance(mesh, points)):
        assert (found >= true - 1e-9).all()
        assert (found <= true + under_m + 1e-9).all()


def test_bodies_count_together_and_hollows_are_filled():
    """A point in either of two overlapping cubes is inside; so is one in a closed hollow, since no cable gets there."""
    one, two = box_triangles((1, 1, 1)), box_triangles((1, 1, 1), (0.7, 0, 0))
    hollow = box_triangles((0.4, 0.4, 0.4), (0, 0.1, 0.1))
    parts = [one, two, (hollow[0], hollow[1][:, ::-1])]
    corners = np.vstack([part[0] for part in parts])
    triangles = np.vstack([part[1] + 10 * i for i, part in enumerate(parts)])
    mesh = Mesh(corners, triangles)
    # from the middle of the first cube 0.5 to its faces; from (0.7, 0, 0) to the second's; outside by the nearer
    points = np.array([(0, 0, 0), (0.7, 0, 0), (0.45, 0, 0), (1.5, 0, 0), (-0.8, 0, 0)], dtype=float)
    wanted = [-0.5, -0.5, -0.25, 0.3, 0.3]
    assert mesh.signed_distance(points) == pytest.approx(wanted)
    assert mesh.tree.signed_distance(points) == pytest.approx(wanted)
    assert own_distance(mesh, points) == pytest.approx(wanted)


def test_bodies_that_stand_face_to_face_are_one():
    """Two cubes with a whole face in common: the face between them is no surface."""
    lower, upper = box_triangles((1, 1, 1)), box_triangles((1, 1, 1), (0, 0, 1))
    mesh = Mesh(np.vstack([lower[0], upper[0]]), np.vstack([lower[1], upper[1] + 10]))
    assert mesh.signed_distance([(0.0, 0.0, 0.5)]) == pytest.approx([-0.5])


def test_a_skin_has_no_inside():
    """Four sides of a box without its ends: half a metre from the axis to each, from within and from without."""
    corners, triangles = box_triangles((1, 1, 4))
    sides = triangles[(triangles < 8).all(axis=1)]
    skin = Mesh(corners, sides, closed=False)
    points = np.array([(0, 0, 0), (0.9, 0, 0), (0.5, 0, 0), (0, 0, 2.3)], dtype=float)
    wanted = [0.5, 0.4, 0.0, math.hypot(0.5, 0.3)]
    assert skin.signed_distance(points) == pytest.approx(wanted)
    assert skin.tree.signed_distance(points) == pytest.approx(wanted)
    assert own_distance(skin, points) == pytest.approx(wanted)


@pytest.mark.parametrize(
    ("corners", "triangles", "reason", "count"),
    [
        ([], [], "holds no triangle", 0),
        ([(0, 0, 0), (1, 0, 0), (0, float("nan"), 0)], [(0, 1, 2)], "no numbers", 0),
        ([(0, 0, 0), (0, 0, 0), (0, 0, 0)], [(0, 1, 2)], "no size", 0),
        ([(0, 0, 0), (1, 0, 0), (2, 0, 0)], [(0, 1, 2)], "no area", 1),
        (TETRAHEDRON[0], TETRAHEDRON[1][:3], "not closed", 3),
        ([*TETRAHEDRON[0], (1, 1, 1)], [*TETRAHEDRON[1], (0, 1, 4), (1, 3, 4), (0, 4, 3)], "more than two", 3),
    ],
)
def test_what_is_no_mesh_says_why(corners, triangles, reason, count):
    with pytest.raises(NotAMesh, match=reason) as told:
        Mesh(np.array(corners, dtype=float), triangles)
    if count:
        assert told.value.count == count


def test_a_band_with_half_a_twist_has_no_outside():
    n = 12
    turn = 2 * math.pi * np.arange(n) / n
    edges = [
        np.column_stack(
            [
                (1 + s * 0.2 * np.cos(turn / 2)) * np.cos(turn),
                (1 + s * 0.2 * np.cos(turn / 2)) * np.sin(turn),
                s * 0.2 * np.sin(turn / 2),
            ]
        )
        for s in (1, -1)
    ]
    triangles = []
    for i in range(n):
        # after one turn the upper edge goes on as the lower one
        a, b = i, n + i
        c, d = (i + 1, n + i + 1) if i + 1 < n else (n, 0)
        triangles += [(a, b, c), (b, d, c)]
    band = np.array(triangles)
    assert len(Mesh(np.vstack(edges), band, closed=False).triangles) == 2 * n
    with pytest.raises(NotAMesh, match="not closed"):
        Mesh(np.vstack(edges), band)


def request(start, finish):
    return Request("lead", End(start, ((1, 0, 0),)), End(finish, ((-1, 0, 0),)), CABLE)


def run_past(solid, start=(-1.0, 0.3, 0.2), finish=(1.0, -0.1, -0.1), **rooms):
    space = Space((Obstacle("thing", solid),), **rooms)
    asked = request(start, finish)
    (run,) = find_runs(space, [asked])
    assert isinstance(run, Run), run.reason
    assert faults_in_run(space, asked, run) == []
    return run


def test_a_run_past_a_box_of_triangles_is_as_long_as_past_the_box():
    """Law: the same obstacle asks the same run; to 0.1 %, what the router promises of each."""
    mesh = run_past(Mesh(*box_triangles((0.4, 0.6, 0.8))))
    assert mesh.length_m == pytest.approx(run_past(Box((0, 0, 0), (0.4, 0.6, 0.8))).length_m, rel=1e-3)


def test_a_run_round_a_ball():
    """The taut way round the sphere, without a lug's straight, is two tangents and an arc: at most 2 % less."""
    mesh = ball(0.4, across=48, up=32)
    assert len(mesh.triangles) > 2500
    assert len(mesh.edges().starts) <= MOST_EDGES + 20
    run = run_past(mesh, (-1.0, 0.02, 0.03), (1.0, 0.03, 0.01))
    start, finish, r = (
        np.array((-1.0, 0.02, 0.03)),
        np.array((1.0, 0.03, 0.01)),
        0.4 * math.cos(0.08) + CABLE.standoff_m,
    )
    a, b = float(np.linalg.norm(start)), float(np.linalg.norm(finish))
    between = math.acos(float(start @ finish) / a / b)
    taut_m = math.sqrt(a * a - r * r) + math.sqrt(b * b - r * r) + r * (between - math.acos(r / a) - math.acos(r / b))
    assert taut_m <= run.length_m <= 1.02 * taut_m


def test_a_skin_is_gone_round_and_not_through():
    """A sheet 1 m square across the way: round its border. The way through it would be 2 m long."""
    skin = Mesh([(0, -0.5, -0.5), (0, 0.5, -0.5), (0, 0.5, 0.5), (0, -0.5, 0.5)], [(0, 1, 2), (0, 2, 3)], closed=False)
    run = run_past(skin, (-1.0, 0.0, 0.3), (1.0, 0.0, 0.3))
    # over the border 0.2 m above at a standoff of 14 mm: 2 hypot(1, 0.214) at the least, lug's straights not counted
    assert 2 * math.hypot(1, 0.2) < run.length_m < 2 * math.hypot(1, 0.2) * 1.05


def test_a_run_keeps_within_a_hull():
    """A compartment of triangles, an L: the run bends round the inner corner, as within the prism of that outline."""
    outline = ((-0.4, -0.4), (1.6, -0.4), (1.6, 0.4), (0.4, 0.4), (0.4, 1.6), (-0.4, 1.6))
    asked = Request("lead", End((1.4, 0, 0), ((-1, 0, 0),)), End((0, 1.4, 0.1), ((0, -1, 0),)), CABLE)
    lengths = []
    for room in (Mesh(*prism_triangles(outline, -0.3, 0.3)), Prism(outline, -0.3, 0.3)):
        space = Space((), (Obstacle("hull", room),))
        (run,) = find_runs(space, [asked])
        assert isinstance(run, Run), run.reason
        assert faults_in_run(space, asked, run) == []
        lengths.append(run.length_m)
    assert lengths[0] == pytest.approx(lengths[1], rel=2e-3)


def test_no_way_into_a_closed_shell():
    corners, triangles = box_triangles((1, 1, 1), (2, 0, 0))
    inner, others = box_triangles((0.9, 0.9, 0.9), (2, 0, 0))
    skin = Mesh(np.vstack([corners, inner]), np.vstack([triangles, others + 10]), closed=False)
    (run,) = find_runs(Space((Obstacle("shell", skin),)), [request((0, 0, 0), (2.3, 0, 0))])
    assert isinstance(run, NoRun)


@pytest.mark.skipif(not COMPILED, reason="the kernel is not built: see DEVELOPERS.md")
class TestTheKernel:
    @settings(max_examples=20, deadline=None)
    @given(seed=SEEDS)
    def test_says_what_numpy_says(self, seed):
        rng = np.random.default_rng(seed)
        meshes = [
            Mesh(*prism_triangles(star(rng), -0.3, 0.4)),
            ball(0.4),
            Mesh(*box_triangles((0.5, 0.3, 0.2), (1, 0, 0))),
        ]
        space = Space(tuple(Obstacle(f"m{i}", mesh, 0.02 * i) for i, mesh in enumerate(meshes)))
        compiled, plain = Clearances(space), Clearances(space)
        plain.packed = None
        points, every = rng.uniform(-1.5, 1.5, (40, 3)), np.arange(3)
        for i in every:
            plain.solids[i] = meshes[i].tree  # the numpy measure, not the kernel again
        assert compiled.distances(points, every) == pytest.approx(plain.distances(points, every), abs=1e-12)
        starts, ends = rng.uniform(-1.5, 1.5, (30, 3)), rng.uniform(-1.5, 1.5, (30, 3))
        one, two = (np.column_stack(c.blocked_pairs(starts, ends, every, 0.01)) for c in (compiled, plain))
        one, two = (pairs[np.lexsort(pairs.T)].tolist() for pairs in (one, two))
        assert one == two

    def test_what_is_no_number_stays_none(self):
        found = ball(0.4).signed_distance([(float("nan"), 0, 0)])
        assert math.isnan(found[0])

    @pytest.mark.parametrize("part", ["first_facet", "first_box", "facets", "boxes"])
    def test_refuses_trees_that_are_cut_short(self, part):
        mesh = Mesh(*TETRAHEDRON)
        tree = mesh.tree
        broken = {name: getattr(tree, name) for name in ("facets", "boxes", "first_facet", "first_box")}
        broken[part] = broken[part] * 0 + 7 if part.startswith("first") else broken[part][:-1]
        object.__setattr__(mesh, "tree", type(tree)(**broken))
        with pytest.raises(ValueError, match=r"packed|wanted"):
            Packed([mesh], [0.0], [], [], False)
