"""Rules about places that need no solving: nothing inside anything else, lugs with room, bars that fit their face."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutlist.bank.batteries import Battery, Terminal
from cutlist.bank.bus_bars import BusBar
from cutlist.bank.site import MountingFace
from cutlist.bank.stock import Stock
from cutlist.job.build_bank import ALONG_THE_STUD, WAYS, BankPart
from cutlist.job.build_power import PowerPart
from cutlist.job.build_site import SitePart
from cutlist.job.faults import Mark, Page, shown
from cutlist.job.overlap import is_skin, nearest_free_shift, overlap_m, overlaps
from geometry.outlines import outline_distance
from geometry.runs import Point
from geometry.solids import Box, Solid
from geometry.space import Obstacle

MOST_FAULTS = 60  # of one rule: more tell nobody anything
INSIDE_M = 0.0005  # a stud is measured no better
RECESSED_M = 0.020  # posts in a well of the lid (common practice, no published source)
STANDS_OUT_M = 0.150  # a post with an extension (common practice, no published source)
UNIT_M = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, "ft": 0.3048}
SIX_WAYS = ("+x", "-x", "+y", "-y", "up", "down")
LUG_STEP_M = 0.001
TOUCH_M = 1e-6
TOUCHES_ROOM_M = 0.05  # what is bolted to a compartment's wall may lie in the wall
SHEET_M = 0.0006  # a skin counts as a sheet of twice this: no step along a lug misses it


@dataclass(frozen=True)
class Scene:
    """Everything solid, with its bounds."""

    names: tuple[str, ...]
    solids: tuple[Solid, ...]
    low: NDArray[np.float64]  # (n, 3)
    high: NDArray[np.float64]  # (n, 3)
    compartments: tuple[Obstacle, ...]

    def depths(self, points: NDArray[np.float64], skip: str) -> Iterator[tuple[str, NDArray[np.float64]]]:
        """How deep the points are in each solid that any of them could be in, by name."""
        near = np.all((self.low <= points.max(axis=0)) & (points.min(axis=0) <= self.high), axis=1)
        for i in np.flatnonzero(near).tolist():
            if self.names[i] != skip:
                thick_m = SHEET_M if is_skin(self.solids[i]) else 0.0
                yield self.names[i], thick_m - self.solids[i].signed_distance(points)

    def outside(self, points: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Points in no compartment; none is, where no compartment is given."""
        if not self.compartments:
            return np.zeros(len(points), dtype=bool)
        depth = np.max([-c.solid.signed_distance(points) for c in self.compartments], axis=0)
        return np.asarray(depth < -INSIDE_M)


def geometry_faults(site: SitePart, bank: BankPart, power: PowerPart, stock: Stock | None, page: Page) -> None:
    """`stock` tells how long a lug is; without it the room before a terminal is not looked at."""
    cases = [(b.name, b.case) for b in bank.batteries if b.case is not None]
    named = [*((o.name, o.solid) for o in site.obstacles), *cases]
    scene = _scene(named, site.compartments)
    if _cases(site, bank, scene, page) == MOST_FAULTS:
        return  # the whole bank is misplaced
    lug_m = _lug_lengths(stock)
    for terminal, mark in _terminals(bank, power):
        if _terminal_free(terminal, mark, scene, page):
            _lug_has_room(terminal, mark, lug_m.get(terminal.stud), scene, page)
    _terminals_at_their_cases(bank.batteries, bank, page)
    _terminals_apart(bank.batteries, bank, page)
    _compartments_used(site, [terminal for terminal, _ in _terminals(bank, power)], power.bars, page)
    for bar in power.bars:
        _bar_free(bar, site, power, scene, page)
    for face in site.faces:
        _face_free(face, site.face_marks[face.name], scene, page)


def _scene(named: Sequence[tuple[str, Solid]], compartments: Sequence[Obstacle]) -> Scene:
    bounds = np.array([solid.bounds() for _, solid in named]).reshape(-1, 2, 3)
    names, solids = tuple(name for name, _ in named), tuple(solid for _, solid in named)
    return Scene(names, solids, bounds[:, 0], bounds[:, 1], tuple(compartments))


def _cases(site: SitePart, bank: BankPart, scene: Scene, page: Page) -> int:
    """No case within a solid or within another case; how many are."""
    said = 0
    first_case = len(site.obstacles)
    cased = [b for b in bank.batteries if b.case is not None]
    for k, battery in enumerate(cased):
        case, own = battery.case, first_case + k
        assert isinstance(case, Box)
        low, high = scene.low[own], scene.high[own]
        near = np.flatnonzero(np.all((scene.low < high) & (low < scene.high), axis=1))
        hit = next((i for i in near if i < own and overlaps(case, scene.solids[i])), None)
        if hit is None:
            continue
        solid = scene.solids[hit]
        depth = overlap_m(case, solid)
        what = "battery" if hit >= first_case else "solid"
        page.fault(
            bank.marks[battery.name],
            f"battery {shown(battery.name)} stands {depth * 1000:.0f} mm deep in {what} {shown(scene.names[hit])}",
            _free_place(case, own, scene, page),
        )
        said += 1
        if said == MOST_FAULTS:
            break
    return said


def _free_place(case: Box, own: int, scene: Scene, page: Page) -> str:
    reach = 0.8
    low, high = scene.low[own] - reach, scene.high[own] + reach
    near = [i for i in np.flatnonzero(np.all((scene.low < high) & (low < scene.high), axis=1)) if i != own]
    shift = nearest_free_shift(case, [scene.solids[i] for i in near]) if len(near) <= 60 else None
    if shift is None:
        return "move it, or look whether its turn, its size or the solid is as it should be"
    corner = tuple(a + s for a, s in zip(case.bounds()[0], shift, strict=True))
    moved = max(abs(s) for s in shift)
    return f"move it {moved * 1000:.0f} mm: it stands free at {_written(corner, page)}, or look at the solid's size"


def _terminals(bank: BankPart, power: PowerPart) -> Iterator[tuple[Terminal, Mark]]:
    for battery in bank.batteries:
        yield battery.positive, bank.marks[battery.name]
        yield battery.negative, bank.marks[battery.name]
    for later in bank.later:
        yield later.positive, bank.later_marks[later.name]
        yield later.negative, bank.later_marks[later.name]
    for device in power.devices:
        yield device.source_side, power.device_marks[device.name]
        yield device.load_side, power.device_marks[device.name]
    for load in power.loads:
        yield load.positive, power.load_marks[load.name]
        yield load.negative, power.load_marks[load.name]


def _terminals_at_their_cases(batteries: Sequence[Battery], bank: BankPart, page: Page) -> None:
    """A stud stands on its battery: a little recessed at most, and not up in the air."""
    told: set[str] = set()
    for battery in batteries:
        if battery.case is None or battery.type.name in told:
            continue
        for terminal in (battery.positive, battery.negative):
            out_m = float(battery.case.signed_distance(np.array([terminal.point]))[0])
            if -RECESSED_M <= out_m <= STANDS_OUT_M:
                continue
            told.add(battery.type.name)  # the type is at fault: once is enough
            where = "inside its own case" if out_m < 0 else "away from its own case"
            page.fault(
                bank.marks[battery.name],
                f"terminal {shown(terminal.name)} lies {abs(out_m) * 1000:.0f} mm {where}",
                "look at `at` of the terminal, or at the size of the case, in its battery type",
            )
            break


def _terminal_free(terminal: Terminal, mark: Mark, scene: Scene, page: Page) -> bool:
    point = np.array([terminal.point])
    for name, depth in scene.depths(point, terminal.stands_on):
        if depth[0] > INSIDE_M:
            page.fault(
                mark,
                f"terminal {shown(terminal.name)} at {_written(terminal.point, page)} lies inside {shown(name)}, "
                f"{depth[0] * 1000:.0f} mm deep",
                _free_point(terminal, scene, page),
            )
            return False
    if scene.outside(point)[0]:
        page.fault(
            mark,
            f"terminal {shown(terminal.name)} at {_written(terminal.point, page)} is in no compartment",
            "enlarge a compartment to hold it, or look at the terminal's coordinates",
        )
        return False
    return True


def _free_point(terminal: Terminal, scene: Scene, page: Page) -> str:
    """The least move along x, y or z to where nothing is, in steps of 5 mm."""
    steps = np.arange(0.005, 1.0001, 0.005)
    tracks = np.array([[WAYS[way][0][k] for k in range(3)] for way in SIX_WAYS])
    points = np.array(terminal.point) + (tracks[:, None, :] * steps[None, :, None]).reshape(-1, 3)
    free = ~scene.outside(points)
    for _, depth in scene.depths(points, terminal.stands_on):
        free &= depth <= 0
    if not free.any():
        return "move it, or look at the coordinates of both"
    distance = np.tile(steps, len(SIX_WAYS))
    best = int(np.argmin(np.where(free, distance, np.inf)))
    return f"move it at least {distance[best] * 1000:.0f} mm: {_written(tuple(points[best]), page)} is free"


def _lug_has_room(terminal: Terminal, mark: Mark, lug_m: float | None, scene: Scene, page: Page) -> None:
    if lug_m is None:
        return
    blocked = [_first_hit(terminal, way, lug_m, scene) for way in terminal.directions]
    if not all(blocked) or not blocked:
        return
    name, gap_m = max((hit for hit in blocked if hit is not None), key=lambda hit: hit[1])
    free = [word for word in SIX_WAYS if _can_point(terminal, WAYS[word][0], lug_m, scene)]
    mend = f"let the lug point {' or '.join(free)}" if free else "no way is free: look at the coordinates of both"
    page.fault(
        mark,
        f"terminal {shown(terminal.name)} faces {shown(name)} in {gap_m * 1000:.0f} mm; "
        f"its lug needs {lug_m * 1000:.0f} mm",
        mend,
    )


def _can_point(terminal: Terminal, way: Point, lug_m: float, scene: Scene) -> bool:
    """Nothing is in the way, not even what it stands on, and it is not along its stud."""
    if _first_hit(terminal, way, lug_m, scene) is not None:
        return False
    if terminal.axis is not None and abs(float(np.dot(terminal.axis, way))) > ALONG_THE_STUD:
        return False
    end = np.array([terminal.point]) + lug_m * np.array(way)
    stands_in = [solid for name, solid in zip(scene.names, scene.solids, strict=True) if name == terminal.stands_on]
    return all(float(solid.signed_distance(end)[0]) > 0 for solid in stands_in)


def _first_hit(terminal: Terminal, way: Point, lug_m: float, scene: Scene) -> tuple[str, float] | None:
    """The solid that a lug pointing this way would run into, and how far off it is."""
    along = np.arange(LUG_STEP_M, lug_m, LUG_STEP_M)
    points = np.array(terminal.point) + along[:, None] * np.array(way)
    hits = [
        (float(along[int(np.argmax(depth > -TOUCH_M))]), name)
        for name, depth in scene.depths(points, terminal.stands_on)
        if (depth > -TOUCH_M).any()
    ]
    if (outside := scene.outside(points)).any():
        hits.append((float(along[int(np.argmax(outside))]), "the end of the compartments"))
    if not hits:
        return None
    gap_m, name = min(hits)
    return name, gap_m


def _terminals_apart(batteries: Sequence[Battery], bank: BankPart, page: Page) -> None:
    ends = [(end, bank.marks[b.name]) for b in batteries for end in (b.positive, b.negative)]
    by_place: dict[tuple[int, ...], Terminal] = {}
    for end, mark in ends:
        place = tuple(round(x * 1000) for x in end.point)
        other = by_place.setdefault(place, end)
        if other is not end:
            page.fault(
                mark,
                f"terminals {shown(other.name)} and {shown(end.name)} are at one place, {_written(end.point, page)}",
                "look at the coordinates of both",
            )


def _bar_free(bar: BusBar, site: SitePart, power: PowerPart, scene: Scene, page: Page) -> None:
    for place, mark in zip(bar.places, power.place_marks[bar.name], strict=False):
        points = np.array(bar.stud_points(place))
        for name, depth in scene.depths(points, ""):
            if depth.max() > INSIDE_M:
                stud = int(np.argmax(depth)) + 1
                page.fault(
                    mark,
                    f"bus bar {shown(bar.name)}: stud {stud} lies inside {shown(name)}, "
                    f"{depth.max() * 1000:.0f} mm deep",
                    "move its centre out from there, or make the row shorter",
                )
                break
        else:
            if scene.outside(points).any():
                stud = int(np.argmax(scene.outside(points))) + 1
                page.fault(
                    mark,
                    f"bus bar {shown(bar.name)}: stud {stud} is in no compartment",
                    "move its centre, or enlarge one",
                )
    row_m = (bar.studs - 1) * bar.pitch_m
    for name in bar.faces:
        face = next((f for f in site.faces if f.name == name), None)
        if face is None:
            continue
        room = {0: face.width_m, 90: face.height_m}
        longest = max(room[turn] for turn in bar.turns) - 2 * face.edge_m
        if row_m > longest + 1e-9:
            page.fault(
                power.bar_marks[bar.name],
                f"bus bar {shown(bar.name)}: its studs take {row_m * 1000:.0f} mm, "
                f"mounting face {shown(name)} has {max(longest, 0) * 1000:.0f} mm between its edges",
                "make the row shorter, turn it, or choose a larger face",
            )


def _face_free(face: MountingFace, mark: Mark, scene: Scene, page: Page) -> None:
    """Somewhere on the face a stud is in the open; else it most likely looks into the wall."""
    (ux, uy, uz), (vx, vy, vz) = face.u, face.v
    out = np.array([uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx])
    a, b = np.meshgrid(np.linspace(0.05, 0.95, 9) * face.width_m, np.linspace(0.05, 0.95, 9) * face.height_m)
    if face.outline:
        within = outline_distance(np.column_stack([a.ravel(), b.ravel()]), face.outline) <= 0
        if not within.any():
            return  # too thin a face to be looked at so
        a, b = a.ravel()[within], b.ravel()[within]
    flat = a.reshape(-1, 1) * np.array(face.u) + b.reshape(-1, 1) * np.array(face.v)
    points = np.array(face.origin) + flat + 0.02 * out
    outside = scene.outside(points)
    free, buried = ~outside, {}
    for name, depth in scene.depths(points, ""):
        free &= depth <= 0
        buried[name] = int((depth > 0).sum())
    if free.any():
        return
    words = ", ".join(f"{x:g}" for x in np.round(out, 3) + 0.0)
    before = f"mounting face {shown(face.name)}: 20 mm before it, the way [{words}], "
    turn = "studs point to along x up: turn along or up round, or look at the corner"
    if outside.all():
        page.fault(mark, before + "is no compartment", turn)
    elif buried and max(buried.values()) == len(points):
        page.fault(mark, before + f"all is inside {shown(max(buried, key=lambda n: buried[n]))}", turn)
    else:
        page.fault(mark, before + "nothing is free", turn)


def _compartments_used(site: SitePart, terminals: Sequence[Terminal], bars: Sequence[BusBar], page: Page) -> None:
    """A compartment without a terminal, a bus bar or a face, and that no cable could reach from one that has some.

    Compartments whose bounds overlap count as joined: no passage is called useless that is one.
    """
    rooms = site.compartments
    if len(rooms) < 2:
        return
    points = [t.point for t in terminals]
    points += [stud for bar in bars for place in bar.places for stud in bar.stud_points(place)]
    for face in site.faces:
        for a, b in ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0), (0.5, 0.5)):
            along, up = a * face.width_m * np.array(face.u), b * face.height_m * np.array(face.v)
            x, y, z = (float(v) for v in np.array(face.origin) + along + up)
            points.append((x, y, z))
    if not points:
        return
    bounds = np.array([room.solid.bounds() for room in rooms])
    used = [bool((room.solid.signed_distance(np.array(points)) <= TOUCHES_ROOM_M).any()) for room in rooms]
    if not any(used):
        return  # every terminal was told to be outside
    spreading = True
    while spreading:
        spreading = False
        for i in range(len(rooms)):
            joined = (bounds[:, 0] < bounds[i, 1]).all(axis=1) & (bounds[i, 0] < bounds[:, 1]).all(axis=1)
            if not used[i] and any(used[j] for j in np.flatnonzero(joined)):
                used[i] = spreading = True
    for room, is_used in zip(rooms, used, strict=True):
        if not is_used:
            page.fault(
                site.marks[room.name],
                f"compartment {shown(room.name)} holds no terminal and overlaps no compartment that does",
                "look at its corners; let it overlap its neighbour where cables pass; or take it out",
            )


def _lug_lengths(stock: Stock | None) -> dict[str, float]:
    """By stud: stud centre to where the cable may first bend, for the shortest lug there is."""
    lengths: dict[str, float] = {}
    for lug in stock.lugs if stock is not None else ():
        lengths[lug.stud] = min(lug.barrel_to_skin_m, lengths.get(lug.stud, lug.barrel_to_skin_m))
    return lengths


def _written(point: Sequence[float], page: Page) -> str:
    """A point as it would stand in this job file."""
    unit = page.coordinate_unit or "mm"
    numbers = ", ".join(f"{round(x / UNIT_M[unit], 3) + 0.0:g}" for x in point)
    return f"[{numbers}]" if page.coordinate_unit else f"[{numbers.replace(',', ' mm,')} mm]"
