"""Meshes named in a job file: read from each format, placed in the site, and every way they can be wrong."""

import struct

import numpy as np
import pytest

from cutlist.job.mesh_text import MOST_TRIANGLES, NotRead, triangles_of
from geometry.meshes import Mesh
from tests.geometry.solids_as_meshes import box_triangles
from tests.job.broken import line_of, read_broken, sentences

TRAY = "    - {name: tray"


def binary_stl(corners, triangles):
    head = b"a box".ljust(80) + struct.pack("<I", len(triangles))
    return head + b"".join(struct.pack("<12fH", 0, 0, 0, *corners[t].ravel(), 0) for t in triangles)


def text_stl(corners, triangles):
    facets = [
        "facet normal 0 0 0\n outer loop\n"
        + "".join("  vertex {:.6e} {:.6e} {:.6e}\n".format(*corners[i]) for i in t)
        + " endloop\nendfacet\n"
        for t in triangles
    ]
    return f"solid box\n{''.join(facets)}endsolid box\n".encode()


def obj(corners, triangles):
    rows = [f"v {x} {y} {z} 0.5 0.5 0.5" for x, y, z in corners] + [
        f"f {a + 1}/1 {b + 1}//2 {c + 1}" for a, b, c in triangles
    ]
    return "\n".join(["# box", "mtllib none.mtl", "o box", *rows]).encode()


BOX_200_100_50 = box_triangles((200.0, 100.0, 50.0), (100.0, 50.0, 25.0))  # from [0, 0, 0], figures in mm
FORMS = {"b.stl": binary_stl, "t.STL": text_stl, "o.obj": obj}


def with_mesh(folder, entry, *more):
    edits = ((TRAY, f"    - {{name: pump, mesh: {{{entry}}}}}\n" + TRAY), *more)
    return read_broken(folder, edits)


@pytest.mark.parametrize("name", FORMS)
def test_each_format_holds_the_same_box(tmp_path, name):
    (tmp_path / name).write_bytes(FORMS[name](*BOX_200_100_50))
    read = with_mesh(tmp_path, f"file: {name}, units: mm, at: [900, 300, 300]")
    assert sentences(read.faults) == []
    solid = next(o.solid for o in read.job.site.space.obstacles if o.name == "pump")
    # the file's y runs into the wall: y of the site from 300 down to 200
    assert solid.bounds() == pytest.approx(np.array([[0.9, 0.2, 0.3], [1.1, 0.3, 0.35]]), abs=1e-6)
    assert solid.signed_distance([(1.0, 0.25, 0.45), (1.0, 0.25, 0.325)]) == pytest.approx([0.1, -0.025], abs=1e-6)


@pytest.mark.parametrize(
    ("entry", "low", "high"),
    [
        ("units: cm", (0, -1.0, 0), (2.0, 0, 0.5)),
        ("units: in", (0, -2.54, 0), (5.08, 0, 1.27)),
        ("units: mm, axes: [+x, +y, up]", (0, 0, 0), (0.2, 0.1, 0.05)),
        ("units: mm, axes: [up, +x, +y]", (0, 0, 0), (0.1, 0.05, 0.2)),
        # a quarter turn takes x to y and y to -x; the file's y is the site's -y, so it ends along x
        ("units: mm, turn: 90 deg", (0, 0, 0), (0.1, 0.2, 0.05)),
        ("units: mm, turn: 90 deg, at: [100, 0, 0]", (0.1, 0, 0), (0.2, 0.2, 0.05)),
    ],
)
def test_units_axes_turn_and_place(tmp_path, entry, low, high):
    (tmp_path / "b.stl").write_bytes(binary_stl(*BOX_200_100_50))
    # as a zone: it may lie anywhere
    zone = f"  zones:\n    - {{name: warm, temperature: 40 °C, mesh: {{file: b.stl, {entry}}}}}\n"
    read = read_broken(tmp_path, (("  # zones: # warmer air\n", zone),))
    assert sentences(read.faults) == []
    assert read.job.site.zones[0].solid.bounds() == pytest.approx(np.array([low, high], dtype=float), abs=1e-5)


def test_faces_of_many_corners_and_corners_counted_back():
    """A square as one face: two triangles. The last corner is -1."""
    raw = b"v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nf 1 2 3 -1\n"
    points, triangles = triangles_of(raw, ".obj")
    assert len(points) == 4
    assert triangles.tolist() == [[0, 1, 2], [0, 2, 3]]


@pytest.mark.parametrize(
    ("raw", "suffix", "told"),
    [
        (b"", ".stl", "empty"),
        (b"hello", ".stl", "no STL file"),
        (binary_stl(*BOX_200_100_50)[:-7], ".stl", "cut short"),
        (
            b"solid x\nfacet\nouter loop\nvertex 0 0 0\nendloop\nendfacet\nendsolid",
            ".stl",
            "1 facets and 1",
        ),
        (text_stl(*BOX_200_100_50).replace(b"1.000000e+02", b"1.0a", 1), ".stl", "'1.0a' is no coordinate"),
        (b"solid x\nendsolid x\n", ".stl", "0 facets"),
        (b"v 0 0 0\nv 1 0\n", ".obj", "line 2"),
        (b"v 0 0 0\nv 1 0 0\nf 1 2 3\n", ".obj", "line 3: there is no corner '3'"),
        (b"v 0 0 0\nv 1 0 0\nf 1 2\n", ".obj", "line 3: a face needs three"),
        (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 x\n", ".obj", "no corner 'x'"),
        (b"\x00\x01", ".obj", "binary"),
        (b"just words\n", ".obj", "no face"),
        # an arrow head: its third corner points inwards
        (b"v 0 0 0\nv 2 1 0\nv 0 2 0\nv 1 1 0\nf 1 2 3 4\n", ".obj", "inner corner"),
        (b"q".ljust(80) + struct.pack("<I", MOST_TRIANGLES + 1) + bytes(50 * (MOST_TRIANGLES + 1)), ".stl", "20001"),
    ],
)
def test_files_that_hold_no_mesh(raw, suffix, told):
    with pytest.raises(NotRead, match=told):
        triangles_of(raw, suffix)


OPEN = binary_stl(BOX_200_100_50[0], BOX_200_100_50[1][:-1])
FLAT = b"v 0 0 0\nv 100 0 0\nv 200 0 0\nf 1 2 3\n"


@pytest.mark.parametrize(
    ("name", "raw", "entry", "message", "mend"),
    [
        ("b.stl", None, "units: mm", "b.stl: there is no such mesh file", "looked for it in"),
        ("b.step", b"x", "units: mm", '"b.step" is no file of a mesh', ".stl or .obj"),
        ("b.stl", b"hello", "units: mm", "b.stl: this is no STL file", "export it again"),
        ("b.stl", OPEN, "units: mm", "it is not closed: sides of triangles have no neighbour (3 of them)", "skin: yes"),
        ("b.obj", FLAT, "units: mm", "have no area (1 of them), the first at [0, 0, 0] mm in the file", "take out"),
        ("b.stl", binary_stl(*BOX_200_100_50), "units: ft", "b.stl is 60.96 m across, taken in ft", ""),
        ("b.stl", binary_stl(*BOX_200_100_50), "axes: [+x, -x, up], units: mm", "axes lie on one line", "[+x, -y, up]"),
        ("b.stl", b"x" * 20_000_001, "units: mm", "the file has 20.0 MB", "simplify it"),
    ],
)
def test_faults_name_file_line_item_and_mend(tmp_path, name, raw, entry, message, mend):
    if raw is not None:
        (tmp_path / name).write_bytes(raw)
    if "60.96" in message:  # 200 ft are within what a site may measure; ten times that are not
        (tmp_path / name).write_bytes(binary_stl(BOX_200_100_50[0] * 10, BOX_200_100_50[1]))
        message = message.replace("60.96", "609.6")
    read = with_mesh(tmp_path, f"file: {name}, {entry}, at: [900, 300, 300]")
    (fault,) = [f for f in read.faults if "pump" in f.excerpt]
    assert message in fault.message
    assert mend in fault.mend
    assert fault.line == line_of(tmp_path / "job.yaml", "name: pump")
    assert len(read.faults) == 1


def test_a_folder_is_no_mesh(tmp_path):
    (tmp_path / "b.stl").mkdir()
    (fault,) = with_mesh(tmp_path, "file: b.stl, units: mm").faults
    assert "this is a folder, not a mesh file" in fault.message


def test_units_have_to_be_given(tmp_path):
    (tmp_path / "b.stl").write_bytes(binary_stl(*BOX_200_100_50))
    (fault,) = with_mesh(tmp_path, "file: b.stl").faults
    assert 'a mesh lacks "units"' in fault.message


def test_a_skin_is_read_and_pierces_no_battery(tmp_path):
    """A sheet across the locker at x = 150 mm goes through battery A1, from x = 60 to 390 and 173 mm deep.

    Its middle is 173 / 2 = 86.5 mm from the case's nearest sides; that is found to 2 %: 85 or 86.
    """
    sheet = b"v 0 0 0\nv 0 500 0\nv 0 500 300\nv 0 0 300\nf 1 2 3 4\n"
    (tmp_path / "s.obj").write_bytes(sheet)
    read = with_mesh(tmp_path, "file: s.obj, units: mm, at: [950, 550, 400], skin: yes")
    assert sentences(read.faults) == []
    skin = next(o.solid for o in read.job.site.space.obstacles if o.name == "pump")
    assert isinstance(skin, Mesh)
    assert not skin.closed
    (fault,) = with_mesh(tmp_path, "file: s.obj, units: mm, at: [150, 550, 0], skin: yes").faults
    assert '"A1" stands 8' in fault.message
    assert 'mm deep in solid "pump"' in fault.message


def test_a_compartment_needs_an_inside(tmp_path):
    (tmp_path / "s.obj").write_bytes(b"v 0 0 0\nv 0 500 0\nv 0 500 300\nf 1 2 3\n")
    entry = "    - {name: hull, mesh: {file: s.obj, units: mm, skin: yes}}\n  solids:"
    read = read_broken(tmp_path, (("  solids:", entry),))
    (fault,) = read.faults
    assert fault.message == '"hull" needs an inside, a skin has none'
