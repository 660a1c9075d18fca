"""The scene as DXF for other drawing programs: everything in space, and plan and elevations beside it. Millimetres.

Drawing programs are right-handed, the site's frame (facing the wall: x right, y towards the reader, z up) is not. So
the drawing's y is the site's y with its sign turned; seen from above the drawing then looks like our plan.
Every cable is a 3D polyline, its bends in chords so fine that its length is the run's to a hundredth of a millimetre
a bend.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np

from cutlist.bank.bus_bars import BusBar
from cutlist.plan_types import Plan
from cutlist.sheets.lengths import length_text, metres_text
from cutlist.sheets.plan_json import plan_mark
from cutlist.sheets.scene import Points, Scene, polyline, scene_of
from cutlist.sheets.stud_numbers import ONE_SPOT_MM, stud_rows_of
from cutlist.sheets.views import VIEWS, View, mesh_outlines, view_outlines

if TYPE_CHECKING:
    from ezdxf.layouts import Modelspace

CHORD_RAD = np.radians(2.0)  # a chord is shorter than its arc by the 24th part of this squared: 1 part in 20 000
COLOURS = {
    "positive": 1,
    "negative": 7,
    "link": 30,
    "solid": 8,
    "battery": 5,
    "zone": 40,
    "compartment": 9,
    "bus bar": 3,
}
LINETYPES = {"positive": "CONTINUOUS", "negative": "DASHED", "link": "DOT"}
GAP_MM = 600.0  # between the views
TEXT_MM = 35.0
STUD_TEXT = 0.35  # of the way from stud to stud: the numbers of neighbours never meet
STUD_RING = 0.2


def plan_dxf(plan: Plan) -> str:
    """The drawing as DXF R2010 text. The same plan gives the same text."""
    import ezdxf

    scene = scene_of(plan)
    before = ezdxf.options.write_fixed_meta_data_for_testing
    # the library stamps clock and chance into the file unless it is told not to
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        drawing = ezdxf.new("R2010", setup=["linetypes"], units=4)
        for name, colour in COLOURS.items():
            kind = LINETYPES.get(name, "CONTINUOUS")
            drawing.layers.add(_layer(name), color=colour, linetype=kind)
            drawing.layers.add(_layer(name, flat=True), color=colour, linetype=kind)
        drawing.layers.add("TEXT", color=7)
        drawing.layers.add("MARKS", color=7)
        drawing.layers.add("STUDS", color=7)
        space = drawing.modelspace()
        _in_space(space, plan, scene)
        _views(space, plan, scene)
        text = io.StringIO()
        drawing.write(text)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before
    return text.getvalue()


def _layer(name: str, flat: bool = False) -> str:
    return name.upper().replace(" ", "-") + ("-VIEWS" if flat else "")


def _in_space(space: Modelspace, plan: Plan, scene: Scene) -> None:
    for solid in scene.solids:
        if solid.mesh is not None:
            with space.add_mesh(dxfattribs={"layer": _layer(solid.kind)}).edit_data() as data:
                data.vertices = _mm(solid.mesh.corners)
                data.faces = [[int(i) for i in t] for t in solid.mesh.triangles]
            continue
        for face in solid.faces:
            for ring in face:
                space.add_polyline3d(_mm(ring), close=True, dxfattribs={"layer": _layer(solid.kind)})
    for cable, drawn in zip(plan.cables, scene.cables, strict=True):
        space.add_polyline3d(_mm(polyline(cable.laid.curve, CHORD_RAD)), dxfattribs={"layer": _layer(cable.pole)})
        middle = _mm(drawn.points[len(drawn.points) // 2][None])[0]
        space.add_text(
            f"{cable.number} {cable.name}", height=TEXT_MM / 2, dxfattribs={"layer": "TEXT", "insert": middle}
        )
        for clamp in drawn.clamps:
            space.add_point(_mm(np.array([clamp]))[0], dxfattribs={"layer": "MARKS"})
    for mark in scene.marks:
        space.add_point(_mm(np.array([mark.point]))[0], dxfattribs={"layer": "MARKS"})
    pitch_mm = {placed.bar.name: 1000 * placed.bar.pitch_m for placed in plan.bars}
    for name, row in stud_rows_of(scene).items():
        for number, at in enumerate(_mm(row), start=1):
            attributes = {"layer": "STUDS", "insert": at}
            space.add_text(str(number), height=STUD_TEXT * pitch_mm[name], dxfattribs=attributes)


def _views(space: Modelspace, plan: Plan, scene: Scene) -> None:
    """Plan and elevations on the drawing's floor, to the right of everything, one under the other."""
    low, high = scene.bounds() * 1000
    left, top = float(high[0]) + GAP_MM, float(-low[1])
    title = (
        f"{plan.job.name}, plan {plan_mark(plan)}, cut length {length_text(plan.target_um, plan.job.units, up=True)}"
    )
    space.add_text(title, height=TEXT_MM, dxfattribs={"layer": "TEXT", "insert": (left, top + 3 * TEXT_MM)})
    for view in VIEWS:
        corners = view.flat(scene.bounds())
        least, most = corners.min(axis=0), corners.max(axis=0)
        shift = np.array([left, top]) - least * (1, -1)
        _one_view(space, plan, scene, view, shift)
        size = f"{view.name}: {metres_text(float(most[0] - least[0]) / 1000, plan.job.units)} wide"
        foot = top - float(most[1] - least[1])
        space.add_text(size, height=TEXT_MM, dxfattribs={"layer": "TEXT", "insert": (left, foot - 2 * TEXT_MM)})
        top = foot - GAP_MM


def _one_view(space: Modelspace, plan: Plan, scene: Scene, view: View, shift: np.ndarray) -> None:
    def placed(flat: np.ndarray) -> list[tuple[float, float]]:
        return [(float(x), float(y)) for x, y in flat * (1, -1) + shift]

    for solid in scene.solids:
        if solid.mesh is not None:
            for line in mesh_outlines(solid.mesh, view):
                space.add_lwpolyline(placed(line), dxfattribs={"layer": _layer(solid.kind, flat=True)})
            continue
        for ring in view_outlines(solid, view):
            space.add_lwpolyline(placed(ring), close=True, dxfattribs={"layer": _layer(solid.kind, flat=True)})
    for cable in plan.cables:
        flat = view.flat(polyline(cable.laid.curve, CHORD_RAD))
        space.add_lwpolyline(placed(flat), dxfattribs={"layer": _layer(cable.pole, flat=True)})
        at = placed(flat[len(flat) // 2][None])[0]
        space.add_text(str(cable.number), height=TEXT_MM / 2, dxfattribs={"layer": "TEXT", "insert": at})

    for placed_bar in plan.bars:
        bar = placed_bar.bar
        _studs(space, bar, placed(view.flat(np.array(bar.stud_points(placed_bar.place)))))


def _studs(space: Modelspace, bar: BusBar, row: list[tuple[float, float]]) -> None:
    """A ring at every stud of a view, and its number on it; of studs one behind another the numbers once."""
    pitch_mm = 1000 * bar.pitch_m
    height = STUD_TEXT * pitch_mm
    behind = max(np.ptp(np.array(row), axis=0)) < ONE_SPOT_MM
    words = [f"1 to {bar.studs}"] if behind and bar.studs > 1 else [str(number) for number in range(1, bar.studs + 1)]
    for (x, y), number in zip(row, words, strict=False):
        space.add_circle((x, y), STUD_RING * pitch_mm, dxfattribs={"layer": "STUDS"})
        at = (x + 1.5 * STUD_RING * pitch_mm, y - height / 2)
        space.add_text(number, height=height, dxfattribs={"layer": "STUDS", "insert": at})


def _mm(points: Points) -> list[tuple[float, float, float]]:
    """Points of the site (n, 3) in metres as the drawing's millimetres."""
    return [(1000 * float(x), -1000 * float(y), 1000 * float(z)) for x, y, z in points]
