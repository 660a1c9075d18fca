"""Solids, walls and faces as the file describes them. Distances are worked by hand beside each case."""

from __future__ import annotations

import doctest
import math
from pathlib import Path

import pytest

from cutlist.job import build_solids, overlap
from cutlist.job.overlap import box_overlap_m, deepest_m, nearest_free_shift, overlaps
from geometry.solids import Box, Cylinder, Prism, Solid, turned
from geometry.space import Space
from tests.job.broken import read_broken, sentences

FIRST = "    - {name: tray"


def space(folder: Path, *entries: str, bulkheads: str = "") -> Space:
    """The starter's site with these solids, far from the rest of it."""
    solids = "".join(f"    - {entry}\n" for entry in entries)
    walls = f"  bulkheads:\n{bulkheads}" if bulkheads else ""
    read = read_broken(
        folder,
        (
            (FIRST, solids + FIRST),
            ("  mounting faces:", walls + "  mounting faces:"),
            ("to: [1800, 600, 750]", "to: [9000, 9000, 9000]"),
        ),
    )
    assert [fault.text() for fault in read.faults] == []
    assert read.job is not None
    return read.job.site.space


def solid(found: Space, name: str) -> Solid:
    return next(o.solid for o in found.obstacles if o.name == name)


@pytest.mark.parametrize(
    ("shape", "point", "distance"),
    [
        ("box: {from: [5000, 5000, 5000], to: [5100, 5200, 5300]}", (5050, 5100, 5400), 100),
        # corners either way round
        ("box: {from: [5100, 5200, 5300], to: [5000, 5000, 5000]}", (5050, 5100, 5400), 100),
        ("box: {from: [5000, 5000, 5000], size: [100, 200, 300]}", (5050, 5100, 5400), 100),
        # 100 x 200 about (5050, 5100), turned by a quarter: 200 along x, so its side is at 5150
        ("box: {from: [5000, 5000, 5000], to: [5100, 5200, 5300], turn: 90 deg}", (5180, 5100, 5100), 30),
        ("cylinder: {base: [5000, 5000, 5000], radius: 40, height: 100}", (5100, 5000, 5050), 60),
        ("cylinder: {base: [5000, 5000, 5000], axis: [2, 0, 0], diameter: 80, height: 100}", (5130, 5000, 5000), 30),
        # a triangle in x and y
        ("prism: {axis: z, outline: [[5000, 5000], [5100, 5000], [5000, 5100]], from: 0, to: 10}", (5000, 4970, 5), 30),
        # drawn out along x: corners are y, z
        ("prism: {axis: x, outline: [[5000, 0], [5100, 0], [5100, 50], [5000, 50]], from: 5300, to: 5310}",
         (5305, 5050, 80), 30),
        # along y: corners are x, z
        ("prism: {axis: y, outline: [[5000, 0], [5100, 0], [5100, 50], [5000, 50]], from: 5300, to: 5310}",
         (5050, 5305, 80), 30),
        # its hole, 10 mm from the edge of it
        ("prism: {axis: z, outline: [[5000, 5000], [5100, 5000], [5100, 5100], [5000, 5100]], from: 0, to: 10, "
         "holes: [{centre: [5050, 5050], diameter: 60}]}", (5070, 5050, 5), 10),
    ],
)  # fmt: skip
def test_shapes(shape: str, point: tuple[float, ...], distance: float, tmp_path: Path) -> None:
    thing = solid(space(tmp_path, f"{{name: thing, {shape}}}"), "thing")
    assert float(thing.signed_distance([[x / 1000 for x in point]])[0]) * 1000 == pytest.approx(distance)  # type: ignore[arg-type]


def test_manners_of_a_solid(tmp_path: Path) -> None:
    found = space(
        tmp_path,
        "{name: hot, box: {from: [5000, 5000, 0], to: [5100, 5100, 9]}, keep off: 2 in, clamp: no, lay: no}",
        "{name: plain, box: {from: [6000, 5000, 0], to: [6100, 5100, 9]}}",
    )
    hot, plain = (next(o for o in found.obstacles if o.name == name) for name in ("hot", "plain"))
    assert (hot.keep_off_m, hot.clampable, hot.laying) == (pytest.approx(0.0508), False, False)
    assert (plain.keep_off_m, plain.clampable, plain.laying) == (0, True, True)


def test_a_round_and_a_square_hole(tmp_path: Path) -> None:
    """Round: 80 mm. Square-cornered: 100 across (y) and 60 up (z): the largest circle in it has 60."""
    found = space(
        tmp_path,
        bulkheads=(
            "    - name: wall\n"
            "      box: {from: [5000, 1000, 0], to: [5020, 3000, 2000]}\n"
            "      holes:\n"
            "        - {name: round, centre: [5010, 1500, 1000], diameter: 80, fill: 30 %}\n"
            "        - {name: square, centre: [5000, 2000, 1000], size: [100, 60]}\n"
        ),
    )
    first, second = found.penetrations
    assert (first.name, first.obstacle, first.fill_limit) == ("round", "wall", 0.3)
    assert first.centre == pytest.approx((5.01, 1.5, 1.0))
    assert first.diameter_m == pytest.approx(0.08)
    assert first.area_m2 == pytest.approx(math.pi * 0.04**2)
    assert first.depth_m == pytest.approx(0.02)
    assert [abs(x) for x in first.axis] == pytest.approx([1, 0, 0])
    assert second.centre == pytest.approx((5.01, 2.0, 1.0))  # middle of the wall's thickness
    assert second.diameter_m == pytest.approx(0.06, rel=2e-3)
    assert second.area_m2 == pytest.approx(0.006)
    wall = solid(found, "wall")
    # 30 mm to the upper edge; 45 across from the middle is 5 from the side; 40 up is 10 mm into the wall
    points = [(5.01, 2.0, 1.0), (5.01, 2.045, 1.0), (5.01, 2.0, 1.04)]
    assert wall.signed_distance(points) * 1000 == pytest.approx([30, 5, -10])  # type: ignore[arg-type]


def test_a_hole_in_a_floor_and_in_a_turned_wall(tmp_path: Path) -> None:
    found = space(
        tmp_path,
        bulkheads=(
            "    - {name: floor, box: {from: [5000, 1000, 900], to: [6000, 3000, 910]}, "
            "holes: [{name: down, centre: [5500, 2000, 0], size: [100, 60]}]}\n"
            "    - {name: slant, box: {from: [7000, 1000, 0], to: [7020, 3000, 2000], turn: 45 deg}, "
            "holes: [{name: through, centre: [7010, 2000, 1000], diameter: 80}]}\n"
        ),
    )
    down, through = found.penetrations
    assert down.centre == pytest.approx((5.5, 2.0, 0.905))
    assert [abs(x) for x in down.axis] == pytest.approx([0, 0, 1])
    # 100 along x: 45 from the middle is 5 from the edge
    assert float(solid(found, "floor").signed_distance([(5.545, 2.0, 0.905)])[0]) == pytest.approx(0.005)  # type: ignore[arg-type]
    assert [abs(x) for x in through.axis] == pytest.approx([math.sqrt(0.5), math.sqrt(0.5), 0])
    assert float(solid(found, "slant").signed_distance([(7.01, 2.0, 1.0)])[0]) == pytest.approx(0.04)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("entry", "says"),
    [
        ("{name: x, box: {from: [0, 0, 0], to: [1, 1, 1]}, cylinder: {base: [0, 0, 0], radius: 1, height: 1}}",
         "has box and"),
        ("{name: x}", 'lacks "box" or "cylinder" or "prism"'),
        ("{name: x, cylinder: {base: [0, 0, 700], axis: [0, 0, 0], radius: 1, height: 1}}", "no direction"),
        ("{name: x, cylinder: {base: [0, 0, 700], radius: 0, height: 1}}", "not above zero"),
        ("{name: x, prism: {axis: z, outline: [[0, 0], [9, 9], [9, 0], [0, 9]], from: 0, to: 1}}", "crosses itself"),
        ("{name: x, prism: {axis: z, outline: [[0, 0], [9, 9]], from: 0, to: 1}}", "2 items"),
        ("{name: x, prism: {axis: w, outline: [[0, 0], [9, 9], [9, 0]], from: 0, to: 1}}", '"w" is not known'),
        ("{name: x, prism: {axis: z, outline: [[0, 0], [9, 0], [9, 9], [0, 9]], from: 0, to: 1, "
         "holes: [{centre: [8, 8], diameter: 4}]}}", "reaches 1 mm over the edge"),
        ("{name: x, prism: {axis: z, outline: [[0, 0], [9, 0], [9, 9], [0, 9]], from: 0, to: 1, "
         "holes: [{diameter: 4}]}}", "needs its centre"),
    ],
)  # fmt: skip
def test_solids_that_cannot_be(entry: str, says: str, tmp_path: Path) -> None:
    found = sentences(read_broken(tmp_path, ((FIRST, f"    - {entry}\n{FIRST}"),)).faults)
    assert any(says in message for message in found), found


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("along: [0, -1, 0], up", "along: [0, -1, 1], up", "not at right angles"),
        ("along: [0, -1, 0], up", "along: [0, 0, 0], up", "has no length"),
        # turned round, 10 mm before the panel it looks into it
        ("[1750, 560, 260], along: [0, -1, 0]", "[1770, 60, 260], along: [0, 1, 0]", "all is inside"),
        ("height: 400, edge: 30", "height: 400, edge: 300", "leave nothing"),
    ],
)
def test_faces_that_cannot_be(old: str, new: str, says: str, tmp_path: Path) -> None:
    found = sentences(read_broken(tmp_path, ((old, new),)).faults)
    assert any(says in message for message in found), found


BOXES = (
    # apart by 5; touching; 20 deep; turned by 45 deg, its corner 0.5 x sqrt(2) x 100 = 70.71 from its middle
    (Box((0.105, 0, 0), (0.1, 0.1, 0.1)), -5.0),
    (Box((0.1, 0, 0), (0.1, 0.1, 0.1)), 0.0),
    (Box((0.08, 0, 0), (0.1, 0.1, 0.1)), 20.0),
    (Box((0.11, 0, 0), (0.1, 0.1, 0.1), turned(math.pi / 4)), 50 + 70.710678 - 110),
)


@pytest.mark.parametrize(("other", "depth_mm"), BOXES)
def test_how_deep_boxes_are(other: Box, depth_mm: float) -> None:
    assert box_overlap_m(Box((0, 0, 0), (0.1, 0.1, 0.1)), other) * 1000 == pytest.approx(depth_mm, abs=1e-4)


@pytest.mark.parametrize(
    ("thing", "hit"),
    [
        # a plate of 3 mm through the middle: thinner than any grid
        (Prism(((-1, -1), (1, -1), (1, 1), (-1, 1)), -0.0015, 0.0015), False),  # 1.5 mm deep at most: a touch
        (Prism(((-1, -1), (1, -1), (1, 1), (-1, 1)), -0.003, 0.003), True),
        (Cylinder((0.06, 0, -1), (0, 0, 1), 0.02, 2), True),  # reaches to x 0.04, the case to 0.05
        (Cylinder((0.071, 0, -1), (0, 0, 1), 0.02, 2), False),
    ],
)
def test_overlap_with_other_shapes(thing: Solid, hit: bool) -> None:
    case = Box((0, 0, 0), (0.1, 0.1, 0.1))
    assert overlaps(case, thing) is hit
    assert (deepest_m(case, thing) > 0) is hit


def test_nearest_free_shift_is_the_shorter_way_out() -> None:
    """30 mm deep from the right, 80 from the left: 30 to the left."""
    case = Box((0, 0, 0), (0.1, 0.1, 0.1))
    assert nearest_free_shift(case, [Box((0.07, 0, 0), (0.1, 1, 1))]) == pytest.approx((-0.03, 0, 0))


@pytest.mark.parametrize("module", [build_solids, overlap])
def test_the_examples_in_docstrings_hold(module: object) -> None:
    assert doctest.testmod(module).failed == 0  # type: ignore[arg-type]
