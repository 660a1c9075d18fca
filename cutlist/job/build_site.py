"""The site of a job file: what stands there, where cables may go, where bus bars may be fixed."""

from __future__ import annotations

from dataclasses import dataclass, field

from cutlist.bank.site import MountingFace, Site, Zone
from cutlist.job.build_mesh import mesh
from cutlist.job.build_solids import bulkhead, shape, unit
from cutlist.job.faults import Mark, Page, shown
from cutlist.job.records import Record, unique
from geometry.outlines import Outline, checked_outline
from geometry.runs import Point
from geometry.solids import Solid
from geometry.space import Obstacle, Penetration, Space


@dataclass
class SitePart:
    """What could be read of the site, sound or not, with where each thing stands in the file."""

    obstacles: list[Obstacle] = field(default_factory=list)
    compartments: list[Obstacle] = field(default_factory=list)
    penetrations: list[Penetration] = field(default_factory=list)
    faces: list[MountingFace] = field(default_factory=list)
    zones: list[Zone] = field(default_factory=list)
    marks: dict[str, Mark] = field(default_factory=dict)  # of obstacles and compartments
    names: set[str] = field(default_factory=set)  # of obstacles, also of those that could not be read
    face_names: set[str] = field(default_factory=set)
    face_marks: dict[str, Mark] = field(default_factory=dict)
    bilge_z_m: float | None = None
    bilge_mark: Mark | None = None

    @property
    def site(self) -> Site:
        space = Space(tuple(self.obstacles), tuple(self.compartments), tuple(self.penetrations))
        return Site(space, tuple(self.faces), tuple(self.zones), self.bilge_z_m)


def build_site(record: Record | None, page: Page) -> SitePart:
    part = SitePart()
    if record is None:
        return part
    standing = [*record.get("solids", ()), *record.get("bulkheads", ()), *record.get("keep-outs", ())]
    standing.sort(key=lambda r: (r.mark.line, r.mark.column))
    keep_outs = set(map(id, record.get("keep-outs", ())))
    for name, item in unique(tuple(standing), "solid", page).items():
        part.names.add(name)
        part.marks[name] = item.at("name")
        _add_obstacle(name, item, part, page, keep_out=id(item) in keep_outs)
    for name, item in unique(record.get("compartments", ()), "compartment", page).items():
        part.marks.setdefault(name, item.at("name"))
        solid, _ = _shape(item, page, name, inside=True)
        if solid is not None:
            part.compartments.append(Obstacle(name, solid))
    for name, item in unique(record.get("mounting faces", ()), "mounting face", page).items():
        part.face_names.add(name)
        part.face_marks[name] = item.at("name")
        face = _face(name, item, page)
        if face is not None:
            part.faces.append(face)
    for name, item in unique(record.get("zones", ()), "zone", page).items():
        solid, _ = _shape(item, page, name, inside=True)
        if solid is not None and item["temperature"] is not None:
            part.zones.append(Zone(name, solid, float(item["temperature"]), bool(item.get("engine space", False))))
    if record["bilge line"] is not None:
        part.bilge_z_m, part.bilge_mark = float(record["bilge line"]), record.at("bilge line")
    _distinct_holes(part, page)
    return part


def _shape(item: Record, page: Page, name: str, inside: bool = False) -> tuple[Solid | None, tuple[Penetration, ...]]:
    """The solid of a record and the holes in it; `inside`: it is what is within that counts."""
    given: Record | None = item["mesh"]
    if given is None:
        return shape(item, page, name)
    if inside and given.get("skin", False):
        page.fault(given.at("skin"), f"{shown(name)} needs an inside, a skin has none", "close the mesh, or use a box")
        return None, ()
    return mesh(given, page), ()


def _add_obstacle(name: str, item: Record, part: SitePart, page: Page, keep_out: bool) -> None:
    is_wall = "holes" in item.values or (item["box"] is not None and "holes" in item.marks)
    solid, holes = bulkhead(item, page, name) if is_wall else _shape(item, page, name)
    if solid is None:
        return
    part.penetrations += holes
    part.obstacles.append(
        Obstacle(
            name,
            solid,
            keep_off_m=float(item.get("keep off", 0)),
            clampable=not keep_out and bool(item.get("clamp", True)),
            laying=not keep_out and bool(item.get("lay", True)),
        )
    )


def _face(name: str, item: Record, page: Page) -> MountingFace | None:
    if not item.sound:
        return None
    axes = square_axes(item, "along", "up", page)
    if axes is None:
        return None
    outline = _outline(item, page) if item["outline"] is not None else ()
    if outline is None or (item["height"] is None) == (not outline):
        if outline is not None:
            words, mend = ("outline", "take the height out") if outline else ("width", "add height: its size up")
            page.fault(item.mark, f"a mounting face with {words} and {'a' if outline else 'no'} height", mend)
        return None
    # an outline lies within the rectangle from the corner to the furthest of its own
    width, height = (
        max(p[i] for p in outline) if outline else float(item[key]) for i, key in enumerate(("width", "height"))
    )
    zones = [_ring(ring, item.at("forbidden outlines"), page) for ring in item.get("forbidden outlines", ())]
    forbidden = []
    for a0, b0, a1, b1 in item.get("forbidden", ()):
        forbidden.append((min(a0, a1), min(b0, b1), max(a0, a1), max(b0, b1)))
    sizes = (width, height)
    for key, corners in (
        *(("forbidden", ((a0, b0), (a1, b1))) for a0, b0, a1, b1 in forbidden),
        *(("forbidden outlines", zone) for zone in zones if zone is not None),
    ):
        if any(min(c[i] for c in corners) >= size or max(c[i] for c in corners) <= 0 for i, size in enumerate(sizes)):
            mend = "give it as along and up from the corner of the face, or take it out"
            page.fault(item.at(key), "a forbidden part lies wholly off the face", mend)
    edge = float(item.get("edge", 0))
    if 2 * edge > min(width, height):
        page.fault(item.at("edge"), "the edges leave nothing of the face", "make the edge less than half of its height")
    sound_zones = tuple(zone for zone in zones if zone is not None)
    return MountingFace(
        name, item["corner"], axes[0], axes[1], width, height, edge, tuple(forbidden), outline, sound_zones
    )


def _outline(item: Record, page: Page) -> Outline | None:
    outline = _ring(item["outline"], item.at("outline"), page)
    if outline is not None and min(x for corner in outline for x in corner) < 0:
        mend = "move the corner of the face out, so that along and up are nowhere less than 0"
        page.fault(item.at("outline"), "the outline goes back beyond the corner it is measured from", mend)
        return None
    return outline


def _ring(corners: Outline, mark: Mark, page: Page) -> Outline | None:
    """An outline that goes round once; a fault where it crosses itself or has no area."""
    try:
        ring, _ = checked_outline(corners)
    except ValueError as fault:
        page.fault(mark, str(fault), "give the corners in order, going round once")
        return None
    return tuple((float(a), float(b)) for a, b in ring)


def square_axes(item: Record, first: str, second: str, page: Page) -> tuple[Point, Point] | None:
    """Two directions of a record, made unit; a fault unless they are at right angles."""
    one, other = unit(item[first]), unit(item[second])
    if one is None or other is None:
        page.fault(item.at(first if one is None else second), "this direction has no length", "write such as [0, 0, 1]")
        return None
    slant = sum(a * b for a, b in zip(one, other, strict=True))
    if abs(slant) > 1e-3:
        page.fault(
            item.at(second),
            f"{first} and {second} are not at right angles",
            f"turn one of them: now {first} . {second} = {slant:.3f}",
        )
        return None
    # what is left of the slant is taken out of the second
    square = unit((other[0] - slant * one[0], other[1] - slant * one[1], other[2] - slant * one[2]))
    assert square is not None
    return one, square


def _distinct_holes(part: SitePart, page: Page) -> None:
    seen: set[str] = set()
    for hole in part.penetrations:
        if hole.name in seen:
            mark = part.marks[hole.obstacle]
            page.fault(
                mark, f"hole {shown(hole.name)} has the name of another hole", "give each hole a name of its own"
            )
        seen.add(hole.name)
