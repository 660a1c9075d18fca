"""Meshes on paper: their outline as seen, in the drawing file, in plan.json and its schema."""

import io

import numpy as np
import pytest

from cutlist.job.reader import read_job
from cutlist.plan import make_plan
from cutlist.sheets.dxf import plan_dxf
from cutlist.sheets.mesh_lines import lines_seen, sharp_lines, triangles_seen
from cutlist.sheets.plan_json import plan_dict, plan_schema
from cutlist.sheets.scene import scene_of
from cutlist.sheets.views import VIEWS, view_svg
from geometry.meshes import Mesh
from tests.geometry.solids_as_meshes import ball, box_triangles
from tests.job.broken import write_job
from tests.job.test_meshes import binary_stl

BOX = Mesh(*box_triangles((0.2, 0.1, 0.05)))


def length_m(lines):
    return sum(float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum()) for line in lines)


def test_a_box_shows_its_twelve_edges_and_no_diagonals():
    """4 x (200 + 100 + 50) mm, whatever the triangles."""
    assert length_m(sharp_lines(BOX)) == pytest.approx(1.4)


@pytest.mark.parametrize("view", VIEWS, ids=lambda view: view.name)
def test_a_ball_is_seen_as_a_round(view):
    """Facets of 15 degrees: no sharp edge. What is left is one closed line round it, of 24 or 32 chords of a circle."""
    mesh = ball(0.5, across=24, up=16)
    assert sharp_lines(mesh) == ()
    lines = lines_seen(mesh, view.towards)
    flat = np.vstack([view.flat(line) for line in lines])
    assert np.linalg.norm(flat, axis=1) == pytest.approx(500.0, abs=10.0)
    assert length_m(lines) == pytest.approx(2 * np.pi * 0.5, rel=0.05)
    # half of what faces the eye: a projected disc, less what the chords leave out
    a, b, c = np.moveaxis(view.flat(triangles_seen(mesh, view.towards).reshape(-1, 3)).reshape(-1, 3, 2), 1, 0)
    area = np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]).sum() / 2
    assert area == pytest.approx(np.pi * 500.0**2, rel=0.03)


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    """The starter with a box of triangles in the way of its leads."""
    folder = tmp_path_factory.mktemp("mesh")
    (folder / "pump.stl").write_bytes(binary_stl(*box_triangles((200.0, 100.0, 50.0))))
    entry = "    - {name: pump, mesh: {file: pump.stl, units: mm, at: [1150, 300, 450]}, keep off: 10}\n"
    read = read_job(write_job(folder, (("    - {name: tray", entry + "    - {name: tray"),)))
    assert read.faults == ()
    return make_plan(read.job, read.stock)


def test_a_plan_past_a_mesh(plan):
    """Every run of it was checked by the checker that shares nothing with the router."""
    assert [finding.rule for finding in plan.failing] == []


def test_plan_json_holds_the_mesh_and_its_schema_knows_it(plan):
    jsonschema = pytest.importorskip("jsonschema")
    whole = plan_dict(plan)
    pump = next(o for o in whole["job"]["site"]["space"]["obstacles"] if o["name"] == "pump")
    assert pump["solid"]["shape"] == "mesh"
    assert len(pump["solid"]["triangles"]) == 16  # four sides and two ends, fanned out from the ends' middles
    jsonschema.validate(whole, plan_schema())


def test_drawings_show_it(plan):
    ezdxf = pytest.importorskip("ezdxf")
    drawing = ezdxf.read(io.StringIO(plan_dxf(plan)))
    (mesh,) = drawing.modelspace().query("MESH")
    # x 1050 to 1250; the drawing's y is the site's with its sign turned
    low, high = np.array(mesh.vertices).min(axis=0), np.array(mesh.vertices).max(axis=0)
    assert (low, high) == (pytest.approx([1050, -350, 425]), pytest.approx([1250, -250, 475]))
    scene = scene_of(plan)
    assert ">pump</title>" in view_svg(scene, VIEWS[0], "mm")
