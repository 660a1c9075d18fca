"""The compiled kernel against the numpy code it stands in for, against laws, and against wrong input.

Both answer every question here; neither is taken for right: the distances themselves are tested in test_solids.py.
"""

import itertools
import math
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry import apart, clearances, curve, least_change, polish, surroundings
from geometry.clearances import Clearances
from geometry.curve import filleted
from geometry.footing import MARGIN_M, Track, footings
from geometry.kernel import COMPILED
from geometry.runs import CableShape, End
from geometry.solids import Box, Circle, Cylinder, Prism, turned
from geometry.space import Obstacle, Space
from geometry.structure import Structure, bare_stretches
from geometry.surroundings import RoomGrid
from geometry.way_graph import WayGraph
from geometry.ways import WaySearch

pytestmark = pytest.mark.skipif(not COMPILED, reason="the kernel is not built: see DEVELOPERS.md")
ROOT = Path(__file__).parent.parent.parent
SEEDS = st.integers(0, 2**32 - 1)


def a_prism(rng, frame, origin):
    """A star-shaped outline, not convex as a rule, with a round hole and a three-cornered one.

    Its corners are 0.4 to 1 m from the middle and less than 84 degrees apart, so it holds a disc of
    0.4 cos 42 = 0.297 m; the holes reach no further than 0.2 m.
    """
    count = int(rng.integers(5, 9))
    angles = 2 * math.pi * (np.arange(count) + rng.uniform(-0.08, 0.08, count)) / count
    reach = rng.uniform(0.4, 1.0, count)
    outline = tuple(zip(reach * np.cos(angles), reach * np.sin(angles), strict=True))
    triangle = tuple((0.12 + 0.08 * math.cos(a), 0.08 * math.sin(a)) for a in (0.3, 2.4, 4.5))
    holes = (Circle((-0.12, 0.0), 0.06), triangle)[: int(rng.integers(0, 3))]
    low = float(rng.uniform(-0.5, 0.0))
    return Prism(outline, low, low + float(rng.uniform(0.01, 1.0)), holes, frame, origin)


def a_scene(seed, rooms):
    rng = np.random.default_rng(seed)
    solids = []
    for i in range(6):
        frame = turned(float(rng.uniform(0, 6)), "xyz"[i % 3])
        at = tuple(rng.uniform(-1.5, 1.5, 3))
        if i % 3 == 0:
            solids.append(Box(at, tuple(rng.uniform(0.05, 1.2, 3)), frame))
        elif i % 3 == 1:
            solids.append(a_prism(rng, frame, at))
        else:
            solids.append(Cylinder(at, tuple(rng.normal(size=3)), *rng.uniform(0.05, 0.9, 2)))
    obstacles = tuple(Obstacle(f"s{i}", s, float(i % 2) * 0.03) for i, s in enumerate(solids))
    walls = [Box((0, 0, 0), (3, 3, 3)), Box((1.2, 0, 0.5), (2, 2, 2)), a_prism(rng, turned(0.3, "x"), (0.2, 0, 0))]
    return Space(obstacles, tuple(Obstacle(f"room {i}", s, 0.01 * i) for i, s in enumerate(walls[:rooms])))


def both(space):
    compiled, plain = Clearances(space), Clearances(space)
    plain.packed = None
    return compiled, plain


@settings(max_examples=60, deadline=None)
@given(seed=SEEDS, rooms=st.integers(0, 3))
def test_distances_are_the_same(seed, rooms):
    compiled, plain = both(a_scene(seed, rooms))
    rng = np.random.default_rng(seed + 1)
    points = rng.uniform(-2, 2, (60, 3))
    every = np.arange(compiled.count)
    assert np.abs(compiled.distances(points, every) - plain.distances(points, every)).max() < 1e-12
    own = rng.integers(0, compiled.count, 60)
    assert np.abs(compiled.pair_distances(points, own) - plain.pair_distances(points, own)).max() < 1e-12
    # the two questions are one
    assert compiled.pair_distances(points, own) == pytest.approx(compiled.distances(points, every)[range(60), own])


@settings(max_examples=60, deadline=None)
@given(seed=SEEDS, rooms=st.integers(0, 3), standoff_m=st.floats(0.0, 0.1))
def test_blocked_segments_are_the_same_and_truly_blocked(seed, rooms, standoff_m):
    """Law: what is called blocked comes that near, and what is called free comes nearer at most by half of the
    shortest stretch looked at, 1/128 of its length: distance changes by no more than a metre a metre. Between these two
    a segment that leaves the solid's box through a flat side ends at exactly the standoff, and rounding decides."""
    compiled, plain = both(a_scene(seed, rooms))
    rng = np.random.default_rng(seed + 1)
    starts, ends = rng.uniform(-1.6, 1.6, (2, 25, 3))
    every = np.arange(compiled.count)
    hit = np.zeros((25, compiled.count), dtype=bool)
    hit[compiled.blocked_pairs(starts, ends, every, standoff_m)] = True
    other = np.zeros_like(hit)
    other[plain.blocked_pairs(starts, ends, every, standoff_m)] = True
    share = np.linspace(0, 1, 1001)[:, None, None]
    places = (starts + share * (ends - starts)).reshape(-1, 3)
    least = plain.distances(places, every).reshape(1001, 25, -1).min(axis=0)
    length = np.broadcast_to(np.linalg.norm(ends - starts, axis=1)[:, None], hit.shape)
    for found in (hit, other):
        assert (least[found] <= standoff_m + length[found] / 2000 + 1e-9).all()
        assert (least[~found] >= standoff_m - length[~found] / 256 - 1e-9).all()
    assert (hit != other).sum() <= 2
    assert (compiled.blocked(starts, ends, every, standoff_m) == hit.any(axis=1)).all()


@settings(max_examples=40, deadline=None)
@given(seed=SEEDS, rooms=st.integers(0, 1), reach_m=st.floats(0.02, 0.3))
def test_how_far_segments_go_bare_is_the_same(seed, rooms, reach_m):
    """The numpy code asks every 4 mm, the compiled one marches by no less than 3 mm: they may differ by both."""
    compiled, plain = (Structure(around, reach_m) for around in both(a_scene(seed, rooms)))
    rng = np.random.default_rng(seed + 2)
    starts, ends = rng.uniform(-2, 2, (2, 12, 3))
    fast = bare_stretches(compiled, starts, ends, compiled.solids)
    slow = bare_stretches(plain, starts, ends, plain.solids)
    lengths = np.linalg.norm(ends - starts, axis=1)
    # a graze shorter than a step may be seen by one of the two only: then look at whether it is a graze
    for one, two, start, end, length_m in zip(fast, slow, starts, ends, lengths, strict=True):
        if not np.isfinite([one[0], two[0]]).any():
            continue
        if np.isfinite([one[0], two[0]]).all() and np.abs(one - two).max() < 0.0075:
            continue
        along = np.arange(0.0, length_m, 2e-4)
        points = start + (along / length_m)[:, None] * (end - start)
        held = plain.gaps(points, plain.solids).min(axis=1) <= reach_m
        edges = np.flatnonzero(np.diff(np.concatenate([[0], held.astype(int), [0]])))
        stretches = np.diff(edges)[::2] * 2e-4
        assert stretches.min() < 0.008


def test_a_point_level_with_a_corner():
    """Corners whose heights do not add up in binary: a ray level with one still crosses one side there, not two.

    -3 + (0.1 + 3) is more than 0.1 in doubles. The point (0.05, 0.1) lies in the outline, 0.05 from the side x = 0.
    """
    assert -3.0 + (0.1 + 3.0) > 0.1
    outline = ((0.0, -3.0), (0.6, -3.0), (0.8, 0.1), (0.6, 1.7), (0.0, 1.7))
    prism = Prism(outline, -1.0, 1.0)
    point = np.array([(0.05, 0.1, 0.0)])
    assert prism.signed_distance(point) == pytest.approx([-0.05])
    for around in both(Space((Obstacle("prism", prism),))):
        assert around.distances(point, np.array([0])) == pytest.approx(np.array([[-0.05]]))


@settings(max_examples=60, deadline=None)
@given(seed=SEEDS, rooms=st.integers(0, 1), within_m=st.floats(-0.1, 0.8))
def test_what_is_near_is_the_same(seed, rooms, within_m):
    compiled, _ = both(a_scene(seed, rooms))
    points = np.random.default_rng(seed + 1).uniform(-3, 3, (7, 3))
    with pytest.MonkeyPatch.context() as patch:
        got = compiled.near(points, within_m)
        patch.setattr(clearances, "COMPILED", False)
        assert got.tolist() == compiled.near(points, within_m).tolist()


@settings(max_examples=60, deadline=None)
@given(seed=SEEDS, count=st.integers(2, 6))
def test_points_of_a_curve_are_the_same(seed, count):
    """C against numpy, and against each piece asked for its own points."""
    rng = np.random.default_rng(seed)
    vertices = np.cumsum(rng.uniform(0.5, 1.0, (count, 3)) * rng.choice([-1.0, 1.0], (count, 3)), axis=0)
    try:
        laid = filleted(vertices, 0.05)
    except ValueError:  # the corner is too sharp for the bend
        return
    along = rng.uniform(-0.1, laid.length_m + 0.1, 50)
    got = laid.points_at(along)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(curve, "COMPILED", False)
        assert np.abs(got - laid.points_at(along)).max() < 1e-12
    begin_m = 0.0
    for piece in laid.pieces:
        own = (along > begin_m) & (along < begin_m + piece.length_m)
        assert got[own] == pytest.approx(piece.points_at(along[own] - begin_m), abs=1e-9)
        begin_m += piece.length_m
    assert got[along < 0] == pytest.approx(np.tile(vertices[0], (int((along < 0).sum()), 1)))


@settings(max_examples=40, deadline=None)
@given(seed=SEEDS, rooms=st.integers(0, 2))
def test_the_least_distance_along_a_curve(seed, rooms):
    """C and numpy, each held against 20 001 places along the curve: no nearer than the least of them by more than
    their spacing, no further than it by more than the tolerance; and the place that is named is where it is."""
    compiled, plain = both(a_scene(seed, rooms))
    rng = np.random.default_rng(seed + 1)
    laid = filleted(rng.uniform(-1.2, 1.2, (2, 3)), 0.05)
    if seed % 2:
        vertices = np.cumsum(rng.uniform(0.3, 0.8, (4, 3)) * rng.choice([-1.0, 1.0], (4, 3)), axis=0)
        try:
            laid = filleted(vertices, 0.03)
        except ValueError:  # a corner is too sharp for the bend
            return
    from_m, to_m = 0.1 * laid.length_m, laid.length_m
    which = np.sort(rng.choice(compiled.count, 4, replace=False))
    step_m = (to_m - from_m) / 20_000
    dense = plain.distances(laid.points_at(np.linspace(from_m, to_m, 20_001)), which).min()
    for around in (compiled, plain):
        least, at_m, solid = around.least_along(laid, from_m, to_m, which, 1e-4)
        assert dense - step_m / 2 - 1e-12 <= least <= dense + 1e-4
        assert from_m <= at_m <= to_m
        assert solid in which
        assert around.distances(laid.points_at([at_m]), np.array([solid]))[0, 0] == pytest.approx(least, abs=1e-12)
        enough, _, _ = around.least_along(laid, from_m, to_m, which, 1e-4, dense + 0.05)
        assert dense - step_m <= enough <= dense + 0.05
        assert around.least_along(laid, from_m, to_m, which[:0]) == (math.inf, from_m, -1)


@settings(max_examples=40, deadline=None)
@given(seed=SEEDS)
def test_distances_to_rods(seed):
    """C against numpy; and law: no place on a rod is nearer, the nearest of 1001 no further than 1/2000 of it."""
    rng = np.random.default_rng(seed)
    points, rods = rng.uniform(-1, 1, (9, 3)), rng.uniform(-1, 1, (5, 2, 3))
    got = apart.to_rods(points, rods)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(apart, "COMPILED", False)
        assert got == pytest.approx(apart.to_rods(points, rods), abs=1e-7)
    share = np.linspace(0, 1, 1001)[:, None, None]
    places = rods[:, 0] + share * (rods[:, 1] - rods[:, 0])
    dense = np.linalg.norm(points[:, None, None] - places[None], axis=3).min(axis=1)
    assert (got <= dense + 1e-12).all()
    assert (got >= dense - np.linalg.norm(rods[:, 1] - rods[:, 0], axis=1) / 2000).all()


@settings(max_examples=20, deadline=None)
@given(seed=SEEDS)
def test_a_cable_stamped_into_a_grid(seed):
    """C against numpy: the same cells, the same distances; single precision."""
    rng = np.random.default_rng(seed)
    shape = tuple(int(n) for n in rng.integers(2, 9, 3))
    grid = SimpleNamespace(low=rng.normal(size=3), pitch_m=0.02, slack=np.zeros(shape, np.float32))
    points = grid.low + 0.02 * rng.uniform(-4.0, np.array(shape) + 4.0, (6, 3))
    got = RoomGrid.stamp(grid, points, 0.008)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(surroundings, "COMPILED", False)
        plain = RoomGrid.stamp(grid, points, 0.008)
    assert got.cells.tolist() == plain.cells.tolist()
    assert got.apart == pytest.approx(plain.apart, abs=1e-7)


@settings(max_examples=40, deadline=None)
@given(seed=SEEDS)
def test_between_the_cells_of_a_grid(seed):
    """C against numpy; and law: a field that rises evenly each way is told exactly within the grid."""
    rng = np.random.default_rng(seed)
    shape = tuple(int(n) for n in rng.integers(2, 7, 3))
    low, pitch_m = rng.normal(size=3), 0.1
    rise = rng.normal(size=3)
    cells = np.stack(np.meshgrid(*(np.arange(n) for n in shape), indexing="ij"), axis=-1)
    even = ((low + pitch_m * cells) @ rise).astype(np.float32)
    grid = SimpleNamespace(low=low, pitch_m=pitch_m)  # all that the question needs of a grid
    within = low + pitch_m * rng.uniform(0.0, np.array(shape) - 1.002, (4, 5, 3))
    assert RoomGrid.between(grid, even, within) == pytest.approx(within @ rise, abs=2e-6)  # single precision
    field = rng.normal(size=shape).astype(np.float32)
    points = low + pitch_m * rng.uniform(-1.0, np.array(shape) + 1.0, (4, 5, 3))
    got = RoomGrid.between(grid, field, points)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(surroundings, "COMPILED", False)
        assert np.abs(got - RoomGrid.between(grid, field, points)).max() < 1e-12


@settings(max_examples=10, deadline=None)
@given(seed=SEEDS, rooms=st.integers(0, 2))
def test_the_shortest_way_over_way_points_is_the_same(seed, rooms):
    """C against numpy, and against Floyd's relaxation over every pair of way points, a third program."""
    lengths = []
    for around in both(a_scene(seed, rooms)):
        rng = np.random.default_rng(seed + 1)
        graph = WayGraph(around, np.full(3, -1.4), np.full(3, 1.4), 0.02, math.inf, apart_m=1.5)
        graph.add_solids(np.arange(3))
        count = len(graph.points)
        if not count:
            return
        reached = np.where(rng.random(count) < 0.1, rng.random(count), math.inf)
        onward = np.where(rng.random(count) < 0.1, 3 * rng.random(count), math.inf)
        dear = np.where(rng.random(count) < 0.2, 0.1, 0.0)
        _, before, best_m, last = graph.spread(reached, onward, np.zeros(count), dear)
        lengths.append(best_m)
        if last >= 0:  # the chain tells the same length
            chain = [last]
            while before[chain[-1]] >= 0:
                chain.append(int(before[chain[-1]]))
            legs = [math.dist(graph.points[a], graph.points[b]) + dear[a] for a, b in itertools.pairwise(chain)]
            assert best_m == pytest.approx(reached[chain[-1]] + sum(legs) + onward[last])
        everything, _, _, _ = graph.spread(reached, np.full(count, math.inf), np.zeros(count), dear)
        live = np.flatnonzero(graph.alive)
        step = np.full((count, count), math.inf)
        for one in live:
            seen = live[graph.visible(int(one), live)]
            step[one, seen] = np.linalg.norm(graph.points[seen] - graph.points[one], axis=1) + dear[seen]
        relaxed = np.where(graph.alive, reached, math.inf)
        for _ in range(count):
            better = np.minimum(relaxed, (relaxed[:, None] + step).min(axis=0))
            if (better == relaxed).all():
                break
            relaxed = better
        assert everything[live] == pytest.approx(relaxed[live], abs=1e-7)
        assert best_m == pytest.approx(float((relaxed + onward).min()), abs=1e-7)
    assert lengths[0] == pytest.approx(lengths[1], abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(seed=SEEDS, count=st.integers(1, 30))
def test_least_of_a_quadratic_over_what_is_not_negative(seed, count):
    """Law (Karush, Kuhn, Tucker): u >= 0, Q u - c >= 0, and where one is above zero the other is zero."""
    rng = np.random.default_rng(seed)
    factor = rng.normal(size=(count + 2, count))
    square, linear = factor.T @ factor, rng.normal(size=count)
    for compiled in (True, False):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(least_change, "COMPILED", compiled)
            found = least_change._non_negative(square, linear)
        assert found is not None
        slope = square @ found - linear
        scale = 1e-7 * (1 + np.abs(found).max() * np.abs(square).max())
        assert found.min() >= 0
        assert slope.min() >= -scale
        assert np.abs(slope * found).max() <= scale * (1 + found.max())


def test_both_polishes_pull_a_run_equally_taut():
    """Round a tank and over a wall: two programs, one method; lengths agree to 1/2000, neither trespasses."""
    solids = (Cylinder((0, 0, -2), (0, 0, 1), 0.15, 4.0), Box((0.7, 0, -0.9), (0.05, 4, 2)))
    space = Space(tuple(Obstacle(f"s{i}", s) for i, s in enumerate(solids)))
    cable = CableShape(radius_m=0.0085, clearance_m=0.005, bend_radius_m=0.07, straight_m=0.03)
    compiled, plain = both(space)
    (start,), _ = footings(plain, End((-0.5, 0.02, 0.0), ((1.0, 0.0, 0.0),)), cable)
    (finish,), _ = footings(plain, End((1.2, 0.1, 0.0), ((0.0, 0.0, 1.0),)), cable)
    way = WaySearch(plain, [start], [finish], cable.standoff_m, cable.bend_radius_m).best()
    assert way is not None
    track = Track(start, finish, cable.standoff_m, cable.bend_radius_m)
    corners = polish.pushed_out(track, way.corners)
    taut = [polish.polished(around, track, corners) for around in (compiled, plain)]
    lengths = [float(one.run.length_m[0]) for one in taut]
    assert lengths[0] == pytest.approx(lengths[1], rel=5e-4)
    for one in taut:
        assert one.trespass_m < 1e-4
        # measured apart from both: 400 places a piece
        pieces = np.repeat(np.arange(2 * one.run.radii.shape[1] + 1), 400)
        points = one.run.points(pieces, np.tile(np.linspace(0, 1, 400), len(pieces) // 400))[0]
        gaps = [s.signed_distance(points).min() for s in solids]
        assert min(gaps) >= cable.standoff_m - 1e-4


def test_both_polishes_give_up_what_cannot_be_clear():
    """Two plates 20 mm apart, a cable of 17 mm that asks 5 mm on either side and is led between them through no gap: it
    trespasses by (2 * 13.5 - 20) / 2 = 3.5 mm at best. Told to give up above 2 mm both do after the steps that any run
    gets; told to give up above 4 mm they go on as if not told."""
    solids = tuple(Box((0.5, side * 0.04, 0.0), (0.4, 0.06, 3.0)) for side in (1, -1))
    space = Space(tuple(Obstacle(f"s{i}", s) for i, s in enumerate(solids)))
    cable = CableShape(radius_m=0.0085, clearance_m=0.005, bend_radius_m=0.07, straight_m=0.03)
    around_both = both(space)
    (start,), _ = footings(around_both[1], End((0.0, 0.004, 0.0), ((1.0, 0.0, 0.0),)), cable)
    (finish,), _ = footings(around_both[1], End((1.0, -0.003, 0.0), ((-1.0, 0.0, 0.0),)), cable)
    track = Track(start, finish, cable.standoff_m, cable.bend_radius_m)
    corners = np.array([[0.1, 0.004, 0.0], [0.3, 0.001, 0.0], [0.7, 0.002, 0.0], [0.9, -0.003, 0.0]])
    for around in around_both:
        whole = polish.polished(around, track, corners)
        assert whole.trespass_m == pytest.approx(0.0035 + MARGIN_M, abs=1e-4)
        given_up = polish.polished(around, track, corners, hopeless_m=0.002)
        tried = polish.polished(around, track, corners, steps=polish.TRIED_STEPS)
        assert (given_up.run.vertices == tried.run.vertices).all()
        assert not (given_up.run.vertices == whole.run.vertices).all()
        same = polish.polished(around, track, corners, hopeless_m=0.004)
        assert (same.run.vertices == whole.run.vertices).all()


def test_without_the_kernel_the_same_run_is_found():
    """In a process in which the kernel cannot be imported, numpy answers; the runs agree to 1/2000."""
    program = """
import sys
if sys.argv[1] == "plain":
    sys.modules["geometry._kernel"] = None
from geometry.find_runs import find_runs
from geometry.kernel import COMPILED
from geometry.runs import CableShape, End, Request
from geometry.solids import Box, Circle, Prism
from geometry.space import Obstacle, Space
assert COMPILED == (sys.argv[1] != "plain")
wall = Prism.along("x", ((-1, -1), (1, -1), (1, 1), (-1, 1)), 0.0, 0.02, holes=(Circle((0.2, 0.1), 0.05),))
space = Space((Obstacle("wall", wall),), (Obstacle("room", Box((0, 0, 0), (2, 1.9, 1.9))),))
cable = CableShape(0.008, 0.005, 0.07, 0.03)
asked = Request("lead", End((-0.5, 0, 0), ((1.0, 0, 0),)), End((0.6, -0.3, 0.2), ((-1.0, 0, 0),)), cable)
print(repr(find_runs(space, [asked])[0].length_m))
"""
    lengths = [
        float(subprocess.run([sys.executable, "-c", program, how], cwd=ROOT, check=True, capture_output=True).stdout)
        for how in ("compiled", "plain")
    ]
    assert lengths[0] == pytest.approx(lengths[1], rel=5e-4)


def one_box():
    """The parts a scene is packed from: one box of 2 m."""
    return [
        1,
        1,
        np.zeros(1, np.int64),
        np.eye(3).ravel(),
        np.zeros(3),
        np.ones(3),
        np.zeros(1),
        np.zeros(2, np.int64),
        np.zeros(0),
        np.zeros(2, np.int64),
        np.zeros(0),
        np.zeros(2, np.int64),
        np.zeros(1, np.int64),
        np.zeros(1, np.int64),
        np.zeros(0),
        np.zeros(0),
    ]


@pytest.mark.parametrize(
    ("place", "value"),
    [
        (0, -1),
        (0, 2),
        (1, 0),
        (1, 2**61),
        (2, np.array([7])),
        (2, np.array([-1])),
        (2, np.zeros(1)),
        (2, np.zeros(2, np.int64)),
        (3, np.zeros(8)),
        (3, np.zeros(9, np.float32)),
        (3, np.zeros((18, 2))[::2, 0]),
        (3, None),
        (7, np.array([0, -1])),
        (7, np.array([1, 1])),
        (7, np.array([0, 2**60])),
        (7, np.array([0, 1])),
        (9, np.array([0, 1])),
        (10, np.zeros(3)),
        (2, np.array([4])),  # a mesh without triangles
        (11, np.array([0, 1])),
        (11, np.array([1, 1])),
        (11, np.array([0, -1])),
        (12, np.array([1])),
        (13, np.zeros(2, np.int64)),
        (14, np.zeros(30)),
        (15, np.zeros(6)),
    ],
)
def test_a_scene_wrongly_packed_is_refused(place, value):
    from geometry import _kernel

    parts = one_box()
    _kernel.scene(*parts)
    parts[place] = value
    with pytest.raises((ValueError, TypeError)):
        _kernel.scene(*parts)


def spread(scene, **changed):
    """Two way points far from a box, the second a metre on; `changed` are the arguments that are wrong."""
    from geometry import _kernel

    asked = {
        "points": np.array([(3.0, 0, 0), (4.0, 0, 0)]),
        "onward": np.array([np.inf, 0.5]),
        "least": np.zeros(2),
        "dear": np.zeros(2),
        "active": np.zeros(1, np.int64),
        "standoff": 0.01,
        "convex": False,
        "reached": np.array([0.25, np.inf]),
        "before": np.full(2, -1),
        "settled": np.zeros(2, bool),
        "seen": np.zeros((2, 2), np.int8),
    }
    return _kernel.spread(scene, *(asked | changed).values())


def least_chain(**changed):
    """From a launch to one a metre away, nothing between; `changed` are the arguments that are wrong."""
    from geometry import _kernel

    ends = np.array([(0.0, 0, 0, 0, 0, 0, 0), (1.0, 0, 0, 1, 0, 0, 0)])
    asked = {
        "nodes": ends,
        "mid": np.ascontiguousarray(ends[:, 3:]),
        "role": np.array([1, 2], np.int8),
        "foot": np.zeros(2, np.int64),
        "first": np.zeros(2),
        "floor_from": np.zeros((1, 2)),
        "floor_to": np.zeros((1, 2)),
        "direct": np.zeros((1, 1)),
        "onward": np.zeros(2),
        "kind": np.zeros(0, np.int64),
        "first_group": np.zeros(1, np.int64),
        "first_row": np.zeros(1, np.int64),
        "rows": np.zeros((0, 4)),
        "frames": np.zeros((0, 12)),
        "balls": np.zeros((0, 4)),
        "limit": 9.0,
        "reached": np.array([0.0, np.inf]),
        "before": np.full(2, -1),
        "seen": np.zeros((2, 2), np.int8),
    }
    return _kernel.reach(*(asked | changed).values())


ONE_BODY = {
    "kind": np.zeros(1, np.int64),
    "first_group": np.array([0, 1]),
    "first_row": np.array([0, 1]),
    "rows": np.zeros((1, 4)),
    "frames": np.zeros((1, 12)),
    "balls": np.zeros((1, 4)),
}


def test_wrong_questions_about_least_chains_are_refused():
    least_m, last = least_chain()
    assert (least_m, last) == (pytest.approx(1.0, abs=1e-6), 1)  # the metre between them
    assert least_chain(**ONE_BODY)[1] == 1  # a body without size hides nothing
    wrong = [
        {"nodes": np.zeros((2, 6))},
        {"nodes": np.zeros((1, 7))},
        {"mid": np.zeros((2, 3))},
        {"role": np.array([1, 3], np.int8)},
        {"role": np.array([-1, 2], np.int8)},
        {"role": np.array([1], np.int8)},
        {"role": np.zeros(0, np.int8)},
        {"foot": np.array([0, 1])},
        {"foot": np.array([-1, 0])},
        {"foot": np.zeros(2)},
        {"first": np.zeros(3)},
        {"onward": np.zeros(1)},
        {"direct": np.zeros((2, 1))},
        {"floor_from": np.zeros((0, 2))},
        {"floor_to": np.zeros((0, 2))},
        {"reached": np.zeros(1)},
        {"before": np.zeros(1, np.int64)},
        {"seen": np.zeros((1, 1), np.int8)},
        {"kind": np.zeros(1, np.int64)},
        {"limit": "far"},
        ONE_BODY | {"kind": np.array([2])},
        ONE_BODY | {"first_group": np.array([0, 2])},
        ONE_BODY | {"first_group": np.array([1, 1])},
        ONE_BODY | {"first_row": np.array([0, 2])},
        ONE_BODY | {"first_row": np.array([1, 0])},
        ONE_BODY | {"frames": np.zeros((1, 11))},
        ONE_BODY | {"balls": np.zeros((0, 4))},
    ]
    for changed in wrong:
        with pytest.raises((ValueError, TypeError, BufferError)):
            least_chain(**changed)
    # numbers that are none give none, and no more
    least_chain(nodes=np.full((2, 7), np.nan), mid=np.full((2, 4), np.nan))
    least_chain(**ONE_BODY | {"rows": np.full((1, 4), np.nan), "balls": np.full((1, 4), np.nan)})
    least_chain(limit=np.nan)


def test_wrong_questions_are_refused():
    from geometry import _kernel

    scene = _kernel.scene(*one_box())
    points, which, out = np.zeros((2, 3)), np.zeros(2, np.int64), np.zeros(2)
    frozen = np.zeros(2)
    frozen.flags.writeable = False
    _kernel.pairs(scene, points, which, out)
    assert out.tolist() == [-1.0, -1.0]  # the middle of a box of 2 m
    assert spread(scene) == (1.75, 1)  # 0.25 to the first, 1 to the second, 0.5 on
    wrong = [
        lambda: _kernel.pairs(None, points, which, out),
        lambda: _kernel.pairs(scene, points, np.array([0, 1]), out),
        lambda: _kernel.pairs(scene, points, np.array([0, -1]), out),
        lambda: _kernel.pairs(scene, points[:1], which, out),
        lambda: _kernel.pairs(scene, points, which, out[:1]),
        lambda: _kernel.pairs(scene, points, which, frozen),
        lambda: _kernel.pairs(scene, np.zeros((3, 4)).T[:2, :3], which, out),
        lambda: _kernel.pairs(scene, points, which),
        lambda: _kernel.distances(scene, np.zeros(7), which, out),
        lambda: _kernel.distances(scene, points, which, out),
        lambda: _kernel.distances(scene, points, np.zeros(2), np.zeros(4)),
        lambda: _kernel.blocked(scene, points, points[:1], which, 0.0, False, np.zeros((2, 2), bool), False),
        lambda: _kernel.blocked(scene, points, points, which, 0.0, False, np.zeros(3, bool), False),
        lambda: _kernel.blocked(scene, points, points, np.array([5]), 0.0, False, np.zeros(2, bool), True),
        lambda: _kernel.bare(scene, points, points[:1], which, 0.1, np.zeros((2, 3))),
        lambda: _kernel.bare(scene, points, points, which, 0.1, np.zeros((1, 3))),
        lambda: _kernel.bare(scene, points, points, np.array([1]), 0.1, np.zeros((2, 3))),
        lambda: _kernel.bare(scene, points, points, which, -0.1, np.zeros((2, 3))),
        lambda: _kernel.bare(scene, points, points, which, math.nan, np.zeros((2, 3))),
        lambda: _kernel.bare(scene, points + math.nan, points, which, 0.1, np.zeros((2, 3))),
        lambda: _kernel.bare(scene, points, points + math.inf, which, 0.1, np.zeros((2, 3))),
        lambda: _kernel.near(points, points[:1], which, points, np.zeros(2, bool)),
        lambda: _kernel.near(points, points, np.zeros(2), points, np.zeros(3, bool)),
        lambda: _kernel.near(points, points, np.zeros(2), np.zeros(4), np.zeros(2, bool)),
        lambda: _kernel.along(np.zeros(12), out, np.zeros((2, 3))),
        lambda: _kernel.along(np.zeros(0), out, np.zeros((2, 3))),
        lambda: _kernel.along(np.zeros(13), out, np.zeros((2, 2))),
        lambda: _kernel.between(np.zeros((2, 2, 2)), 2, 2, 2, points, out),
        lambda: _kernel.between(np.zeros((2, 2, 2), np.float32), 2, 2, 3, points, out),
        lambda: _kernel.between(np.zeros((1, 2, 2), np.float32), 1, 2, 2, points, out),
        lambda: _kernel.between(np.zeros((2, 2, 2), np.float32), 2, 2, 2, points, np.zeros(3)),
        lambda: _kernel.rods(points, np.zeros(9), np.zeros(2)),
        lambda: _kernel.rods(points, np.zeros(6), np.zeros(1)),
        lambda: _kernel.stamp(np.zeros((2, 2, 2)), 2, 2, 2, points, 1, 0.1, 0.1),
        lambda: _kernel.stamp(np.zeros((2, 2, 2), np.float32), 2, 2, 3, points, 1, 0.1, 0.1),
        lambda: _kernel.least_along(scene, np.zeros(12), 0.0, 1.0, which, 1e-4, 0.0),
        lambda: _kernel.least_along(scene, np.zeros(13), 1.0, 0.0, which, 1e-4, 0.0),
        lambda: _kernel.least_along(scene, np.zeros(13), 0.0, math.inf, which, 1e-4, 0.0),
        lambda: _kernel.least_along(scene, np.zeros(13), 0.0, math.nan, which, 1e-4, 0.0),
        lambda: _kernel.least_along(scene, np.zeros(13), 0.0, 1.0, which, 0.0, 0.0),
        lambda: _kernel.least_along(scene, np.zeros(13), 0.0, 1.0, np.array([1]), 1e-4, 0.0),
        lambda: spread(scene, before=np.zeros(1, np.int64)),
        lambda: spread(scene, settled=np.zeros(1, bool)),
        lambda: spread(scene, seen=np.zeros(4)),
        lambda: spread(scene, seen=np.zeros((2, 1), np.int8)),
        lambda: spread(scene, active=np.array([1])),
        lambda: spread(scene, reached=np.zeros(3)),
        lambda: _kernel.non_negative(np.zeros(3), np.zeros(2), np.zeros(2)),
        lambda: _kernel.non_negative(np.zeros(4), np.zeros(2), np.zeros(1)),
        lambda: _kernel.non_negative(np.zeros(4), np.zeros(5000), np.zeros(5000)),
    ]
    for ask in wrong:
        with pytest.raises((ValueError, TypeError, BufferError)):
            ask()
    # numbers that are none give none, and no more
    assert _kernel.least_along(scene, np.full(13, np.nan), 0.0, 1.0, which, 1e-4, 0.0)[2] == -1
    _kernel.stamp(np.zeros((2, 2, 2), np.float32), 2, 2, 2, np.full((1, 3), np.nan), 1, 0.1, 0.1)
    _kernel.stamp(np.zeros((2, 2, 2), np.float32), 2, 2, 2, np.full((1, 3), 1e300), 2**62, 0.1, 0.1)
    _kernel.between(np.zeros((2, 2, 2), np.float32), 2, 2, 2, np.full((2, 3), np.nan), out)
    _kernel.along(np.zeros(26), np.full(2, np.nan), np.zeros((2, 3)))
    _kernel.pairs(scene, np.full((2, 3), np.nan), which, out)
    assert not np.isfinite(out).any()
    _kernel.blocked(scene, np.full((2, 3), np.nan), points, which, 0.0, False, np.zeros((2, 2), bool), False)


def test_a_run_that_cannot_be_is_not_polished():
    from geometry import _kernel

    scene = _kernel.scene(*one_box())
    none, nothing = np.zeros(0, np.int64), np.zeros(0)
    ends, rules, values = np.ones(16), np.ones(15), np.ones(4)

    def polished(corners=2, values=values, ends=ends, rules=rules, own=none, lies=nothing):
        return _kernel.polish(scene, corners, values, ends, own, lies, none, nothing, rules, 5, True)

    assert math.isfinite(polished(values=values.copy()))
    for wrong in (
        {"corners": 1},
        {"corners": 41, "values": np.ones(160)},
        {"values": np.ones(5)},
        {"values": np.array([np.nan, 1, 1, 1])},
        {"values": np.full(4, 1e300)},
        {"ends": np.full(16, np.inf)},
        {"ends": np.ones(15)},
        {"rules": np.zeros(15)},
        {"rules": np.full(15, np.nan)},
        {"rules": np.ones(14)},
        {"own": np.zeros(1, np.int64)},
    ):
        with pytest.raises((ValueError, TypeError)):
            polished(**wrong)
