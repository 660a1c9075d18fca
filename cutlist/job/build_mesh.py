"""A mesh that a job file names, placed in the site."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from cutlist.job.build_solids import AXES, turned
from cutlist.job.faults import Page, shown
from cutlist.job.files import read_bytes
from cutlist.job.mesh_text import SIMPLIFY, NotRead, triangles_of
from cutlist.job.records import Record
from geometry.mesh_surface import NotAMesh
from geometry.meshes import Mesh
from geometry.runs import Point

FORMATS = (".stl", ".obj")
UNIT_M = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, "ft": 0.3048}
LARGEST_BYTES = 20_000_000
LEAST_M, MOST_M = 0.001, 200.0  # across: beyond it the unit is another
DIRECTIONS: dict[str, Point] = {
    **{f"+{name}": axis for name, axis in AXES.items()},
    **{f"-{name}": (-axis[0], -axis[1], -axis[2]) for name, axis in AXES.items()},
}
DIRECTIONS |= {"up": DIRECTIONS["+z"], "down": DIRECTIONS["-z"]}
# drawing programs are right-handed, the site's frame is not: the same shape, not its mirror image
AS_DRAWN = ("+x", "-y", "up")


def mesh(record: Record, page: Page) -> Mesh | None:
    """The mesh of a record that names its file. Faults are told where the file is named."""
    if not record.sound:
        return None
    name: str = record["file"]
    mark = record.at("file")
    placing = _placing(record, page)
    path = page.folder / name
    if path.suffix.lower() not in FORMATS:
        page.fault(mark, f"{shown(name)} is no file of a mesh that is read here", "export it as .stl or .obj")
        return None
    raw, lost = read_bytes(path, "mesh file", LARGEST_BYTES, SIMPLIFY)
    if raw is None:
        page.fault(mark, f"{path.name}: {lost[0]}", lost[1])
        return None
    try:
        points, triangles = triangles_of(raw, path.suffix.lower())
    except NotRead as fault:
        page.fault(mark, f"{path.name}: {fault.message}", fault.mend)
        return None
    if placing is None:
        return None
    axes, origin = placing
    scale = UNIT_M[record["units"]]
    if len(points) and np.isfinite(points).all():
        across_m = float((points.max(axis=0) - points.min(axis=0)).max()) * scale
        if not LEAST_M <= across_m <= MOST_M:
            page.fault(
                record.at("units"),
                f"{path.name} is {across_m:g} m across, taken in {record['units']}",
                "look at the unit in which it was drawn",
            )
            return None
    try:
        return Mesh(points * scale @ axes + origin, triangles, closed=not record.get("skin", False))
    except NotAMesh as fault:
        page.fault(mark, f"{path.name}: {_words(fault, axes, origin, scale, record['units'])}", _mend(fault))
        return None


def _placing(record: Record, page: Page) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """The file's axes in the site, one a row, and where its origin lies."""
    axes = np.array([DIRECTIONS[word] for word in record.get("axes", AS_DRAWN)])
    if abs(np.linalg.det(axes)) < 0.5:
        page.fault(
            record.at("axes"), "two of the file's axes lie on one line of the site", "write such as [+x, -y, up]"
        )
        return None
    return axes @ np.array(turned(float(record.get("turn", 0)))), np.array(record.get("at", (0.0, 0.0, 0.0)))


def _words(fault: NotAMesh, axes: NDArray[np.float64], origin: NDArray[np.float64], scale: float, unit: str) -> str:
    words = fault.reason
    if fault.count:
        words += f" ({fault.count} of them)"
    if fault.at is not None:
        # where the drawing program shows it
        own = (np.array(fault.at) - origin) @ axes.T / scale
        words += f", the first at [{', '.join(f'{v:g}' for v in np.round(own, 3) + 0.0)}] {unit} in the file"
    return words


def _mend(fault: NotAMesh) -> str:
    if "not closed" in fault.reason:
        return "close it in the program that drew it; or, if it is a skin that has no inside, add skin: yes"
    if "no area" in fault.reason or "more than two" in fault.reason or "one-sided" in fault.reason:
        return "mend it in the program that drew it: unite its bodies, take out what has no area, export it again"
    return "look at what was exported"
