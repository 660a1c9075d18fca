"""Views, drawing files and the way in words."""

from __future__ import annotations

import io
import itertools
import math
import re
import xml.etree.ElementTree as ET

import ezdxf
import numpy as np
import pytest

from cutlist.sheets.dxf import plan_dxf
from cutlist.sheets.path_words import stretches
from cutlist.sheets.scene import DrawnSolid, faces_of, polyline, scene_of
from cutlist.sheets.view_files import view_files
from cutlist.sheets.views import VIEWS, view_outlines, view_scale, view_svg
from cutlist.sheets.write import write_drawings
from geometry.curve import Arc, Curve, Straight, filleted
from geometry.outlines import Circle
from geometry.solids import Box, Cylinder, Prism, turned

PLANS = ["plan", "inch_plan", "large_plan", "hostile_plan"]


def drawn(plan):
    return ezdxf.read(io.StringIO(plan_dxf(plan)))


def length_mm(points) -> float:
    return sum(math.dist(a, b) for a, b in itertools.pairwise(points))


@pytest.mark.parametrize("name", PLANS)
def test_dxf_lengths_are_the_plans_and_no_error_is_found(name, request):
    """Chords of 2 degrees are short by a 24th of 0.0349^2, 5.1e-5, of a bend: 0.005 mm of a quarter of 60 mm radius."""
    plan = request.getfixturevalue(name)
    drawing = drawn(plan)
    layers = {"POSITIVE", "NEGATIVE", "LINK"}
    lines = [e for e in drawing.modelspace().query("POLYLINE") if e.dxf.layer in layers]
    assert len(lines) == len(plan.cables)
    for line, cable in zip(lines, plan.cables, strict=True):
        assert line.dxf.layer == cable.pole.upper()
        drawn_mm = length_mm(list(line.points()))
        assert drawn_mm == pytest.approx(1000 * cable.laid.length_m, abs=0.02)
        assert drawn_mm == pytest.approx(1000 * cable.target_m, abs=0.02)
    audit = drawing.audit()
    assert audit.errors == []
    assert audit.fixes == []


def test_dxf_turns_y_round(plan):
    """A drawing program is right-handed; the site's frame, facing the wall, is not."""
    line = next(e for e in drawn(plan).modelspace().query("POLYLINE") if e.dxf.layer == "LINK")
    x, y, z = plan.cables[0].laid.curve.start
    assert tuple(next(iter(line.points()))) == pytest.approx((1000 * x, -1000 * y, 1000 * z))


def test_dxf_is_the_same_every_time(plan):
    assert plan_dxf(plan) == plan_dxf(plan)


def test_names_in_dxf_are_only_names(hostile_plan):
    texts = [t.dxf.text for t in drawn(hostile_plan).modelspace().query("TEXT")]
    assert any("<script>alert(1)</script>=cmd()" in text for text in texts)


@pytest.mark.parametrize("name", PLANS)
def test_views_are_sound_xml(name, request):
    plan = request.getfixturevalue(name)
    scene = scene_of(plan)
    for view in VIEWS:
        root = ET.fromstring(view_svg(scene, view, plan.job.units))
        numbers = [g.findtext("{*}text") for g in root.findall(".//{*}g") if g.get("class", "").startswith("number")]
        said = [t.text for t in root.findall(".//{*}text") if re.search(r"\d numbers? had no room$", t.text or "")]
        left_out = int(said[0].split()[0]) if said else 0
        assert len(set(numbers)) == len(numbers) == len(plan.cables) - left_out
        assert set(numbers) <= {str(c.number) for c in plan.cables}


def test_views_are_to_scale(plan):
    """The page is as many millimetres as the drawing holds, divided by the scale."""
    scene = scene_of(plan)
    for view in VIEWS:
        root = ET.fromstring(view_svg(scene, view, "mm"))
        _, _, width, height = (float(v) for v in root.attrib["viewBox"].split())
        scale = view_scale(scene, view)
        assert float(root.attrib["width"][:-2]) * scale == pytest.approx(width, abs=0.05 * scale + 0.1)
        assert float(root.attrib["height"][:-2]) * scale == pytest.approx(height, abs=0.05 * scale + 0.1)
        assert float(root.attrib["width"][:-2]) <= 190


def test_cables_in_the_plan_view_end_where_their_studs_are(plan):
    """x to the right, y (out from the wall) down the page."""
    svg = view_svg(scene_of(plan), VIEWS[0], "mm")
    for cable in plan.cables:
        x, y, _ = 1000 * cable.laid.curve.start
        assert f'd="M{x:.1f} {y:.1f}L' in svg


def test_files_carry_their_styles(plan):
    files = view_files(plan)
    assert set(files) == {"plan.svg", "front-elevation.svg", "side-elevation.svg"}
    for text in files.values():
        assert "var(" not in text
        assert "stroke: #b3141b" in text
        ET.fromstring(text.encode())


def test_drawings_are_written_as_a_set(plan, tmp_path):
    names = write_drawings(plan, tmp_path)
    assert {p.name for p in tmp_path.iterdir()} == set(names)
    assert set(names) == {"drawing.dxf", "plan.svg", "front-elevation.svg", "side-elevation.svg"}


def volume_m3(solid) -> float:
    """Of a convex solid: pyramids from its middle to every face."""
    middle = solid.bounds().mean(axis=0)
    return sum(abs(float((ring - middle)[0] @ normal_of(ring))) * area_of(ring) / 3 for (ring,) in faces_of(solid))


def normal_of(ring):
    total = sum(np.cross(a, b) for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True))
    return total / np.linalg.norm(total)


def area_of(ring) -> float:
    return float(np.linalg.norm(sum(np.cross(a, b) for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True)))) / 2


def test_faces_enclose_the_solids_volume():
    """A box of 0.3 x 0.2 x 0.1 holds 0.006 m3. A 32-sided bar of radius 0.1, 0.5 high: 16 r^2 sin(2 pi/32) h."""
    box = Box((1.0, 2.0, 3.0), (0.3, 0.2, 0.1), turned(0.4))
    assert volume_m3(box) == pytest.approx(0.006)
    bar = Cylinder((0.0, 0.0, 0.0), (0.3, 0.1, 1.0), 0.1, 0.5)
    assert volume_m3(bar) == pytest.approx(16 * 0.1**2 * math.sin(2 * math.pi / 32) * 0.5)


def test_a_hole_is_seen_through():
    """A wall with a round hole, seen along its axis: its outline and the hole's, once each."""
    wall = Prism.along("x", ((0, 0), (1, 0), (1, 1), (0, 1)), 0.0, 0.02, holes=(Circle((0.5, 0.5), 0.05),))
    assert [len(face) for face in faces_of(wall)[:2]] == [2, 2]
    rings = view_outlines(DrawnSolid("wall", "solid", faces_of(wall)), VIEWS[2])
    assert [len(ring) for ring in rings] == [4, 32]


def test_polyline_follows_the_curve():
    curve = filleted([np.zeros(3), np.array([1.0, 0, 0]), np.array([1.0, 1.0, 0])], 0.2)
    points = polyline(curve)
    assert points[0].tolist() == [0, 0, 0]
    assert points[-1] == pytest.approx([1, 1, 0])
    on_arc = points[1:-1]
    assert np.linalg.norm(on_arc - np.array([0.8, 0.2, 0]), axis=1) == pytest.approx(0.2)


def test_stretches_are_the_corners_a_tape_would_measure():
    """A polyline of 300 right, 400 up, 500 out with rounded corners is told as the polyline."""
    corners = [np.array(p) for p in ((0, 0, 0), (0.3, 0, 0), (0.3, 0, 0.4), (0.3, 0.5, 0.4))]
    told = [(s.way, round(s.length_m, 9)) for s in stretches(filleted(corners, 0.05))]
    assert told == [("right", 0.3), ("up", 0.4), ("out", 0.5)]


def test_a_hairpin_is_told_with_two_corners():
    """A half turn of radius 100 between straights of 500: the tape goes 500 + 100, 200 across, 100 + 500."""
    half = Arc(np.array([0.5, 0.0, 0.1]), np.array([0.5, 0.0, 0.0]), np.array([0.0, -1.0, 0.0]), math.pi)
    curve = Curve((Straight(np.zeros(3), half.start), half, Straight(half.end, np.array([0.0, 0.0, 0.2]))))
    assert half.end == pytest.approx([0.5, 0, 0.2])
    told = [(s.way, round(s.length_m, 9)) for s in stretches(curve)]
    assert told == [("right", 0.6), ("up", 0.2), ("left", 0.6)]


def test_the_bounds_of_the_scene_hold_everything(large_plan):
    scene = scene_of(large_plan)
    low, high = scene.bounds()
    for cable in large_plan.cables:
        points = cable.laid.curve.sampled(0.05)
        assert (points >= low - 1e-9).all()
        assert (points <= high + 1e-9).all()


@pytest.mark.parametrize("name", PLANS)
@pytest.mark.parametrize("view", VIEWS, ids=lambda v: v.name)
def test_no_number_lies_on_another(name, view, request):
    svg = view_svg(scene_of(request.getfixturevalue(name)), view, "mm")
    found = re.findall(r'class="number[^>]*><circle cx="(.+?)" cy="(.+?)" r="(.+?)"', svg)
    assert found
    for (x, y, r), (u, v, q) in itertools.combinations([tuple(map(float, spot)) for spot in found], 2):
        assert math.hypot(x - u, y - v) > 0.85 * (r + q)


def test_a_small_bank_shows_every_number_in_every_view(plan):
    for view in VIEWS:
        assert "had no room" not in view_svg(scene_of(plan), view, "mm")
