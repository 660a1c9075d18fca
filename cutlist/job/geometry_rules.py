"""Rules about places that need no solving: nothing inside anything else, lugs with room, bars that fit their face."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutlist.bank.batteries import Terminal
from cutlist.bank.bus_bars import BusBar, runs_up
from cutlist.bank.site import MountingFace
from cutlist.bank.stock import Stock
from cutlist.job.build_bank import BankPart
from cutlist.job.build_power import PowerPart
from cutlist.job.build_site import SitePart
from cutlist.job.faults import Mark, Page, shown
from cutlist.job.overlap import nearest_free_shift, overlap_m, overlaps
from cutlist.job.scene import INSIDE_M, Scene, scene_of, written
from cutlist.job.terminal_rules import (
    lug_has_room,
    lug_lengths,
    terminal_free,
    terminals_apart,
    terminals_at_their_cases,
    terminals_of,
)
from geometry.clearances import Numbers
from geometry.outlines import outline_distance
from geometry.solids import Box

MOST_FAULTS = 60  # of one rule: more tell nobody anything
STUD_ROOM_M = 0.02  # before a face: a stud at least
LUG_ROOM_M = 0.04  # a lug and its nut on the stud, and a spanner: common practice, no published source
TOUCHES_ROOM_M = 0.05  # what is bolted to a compartment's wall may lie in the wall


def geometry_faults(site: SitePart, bank: BankPart, power: PowerPart, stock: Stock | None, page: Page) -> None:
    """`stock` tells how long a lug is; without it the room before a terminal is not looked at."""
    cases = [(b.name, b.case) for b in bank.batteries if b.case is not None]
    named = [*((o.name, o.solid) for o in site.obstacles), *cases]
    scene = scene_of(named, site.compartments)
    if _cases(site, bank, scene, page) == MOST_FAULTS:
        return  # the whole bank is misplaced
    lug_m = lug_lengths(stock)
    for terminal, mark in terminals_of(bank, power):
        if terminal_free(terminal, mark, scene, page):
            lug_has_room(terminal, mark, lug_m.get(terminal.stud), scene, page)
    terminals_at_their_cases(bank.batteries, bank, page)
    terminals_apart(bank.batteries, bank, page)
    _compartments_used(site, [terminal for terminal, _ in terminals_of(bank, power)], power.bars, page)
    for bar in power.bars:
        _bar_free(bar, site, power, scene, page)
    for face in site.faces:
        _face_free(face, site.face_marks[face.name], scene, page)


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
    return f"move it {moved * 1000:.0f} mm: it stands free at {written(corner, page)}, or look at the solid's size"


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
        longest = max(face.height_m if runs_up(turn) else face.width_m for turn in bar.turns) - 2 * face.edge_m
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
    flat = np.array(face.origin) + a.reshape(-1, 1) * np.array(face.u) + b.reshape(-1, 1) * np.array(face.v)
    turn = "studs point to along x up: turn along or up round, with the corner at the other end, or look at the corner"
    words = ", ".join(f"{x:g}" for x in np.round(out, 3) + 0.0)
    why = _nothing_free(scene, flat + STUD_ROOM_M * out)
    if why:
        before = f"{STUD_ROOM_M * 1000:.0f} mm before it, the way [{words}], "
        page.fault(mark, f"mounting face {shown(face.name)}: {before}{why}", turn)
        return
    why = _nothing_free(scene, flat + LUG_ROOM_M * out)
    if why and not _nothing_free(scene, flat - LUG_ROOM_M * out):
        before = f"{LUG_ROOM_M * 1000:.0f} mm before it, the way [{words}] its studs point, "
        page.fault(mark, f"mounting face {shown(face.name)}: {before}{why}; behind it is room", turn)


def _nothing_free(scene: Scene, points: Numbers) -> str:
    """What is at all these points; "" where one of them is free."""
    outside = scene.outside(points)
    free, buried = ~outside, {}
    for name, depth in scene.depths(points, ""):
        free &= depth <= 0
        buried[name] = int((depth > 0).sum())
    if free.any():
        return ""
    if outside.all():
        return "is no compartment"
    if buried and max(buried.values()) == len(points):
        return f"all is inside {shown(max(buried, key=lambda n: buried[n]))}"
    return "nothing is free"


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
