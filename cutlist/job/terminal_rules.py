"""Rules about terminals: at their cases, in nothing solid, apart from each other, with room for a lug."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from cutlist.bank.batteries import Battery, Terminal
from cutlist.bank.stock import Stock
from cutlist.job.build_bank import ALONG_THE_STUD, WAYS, BankPart
from cutlist.job.build_power import PowerPart
from cutlist.job.faults import Mark, Page, shown
from cutlist.job.scene import INSIDE_M, Scene, written
from geometry.runs import Point

RECESSED_M = 0.020  # posts in a well of the lid (common practice, no published source)
STANDS_OUT_M = 0.150  # a post with an extension (common practice, no published source)
SIX_WAYS = ("+x", "-x", "+y", "-y", "up", "down")
LUG_STEP_M = 0.001
TOUCH_M = 1e-6


def terminals_of(bank: BankPart, power: PowerPart) -> Iterator[tuple[Terminal, Mark]]:
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


def terminals_at_their_cases(batteries: Sequence[Battery], bank: BankPart, page: Page) -> None:
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


def terminals_apart(batteries: Sequence[Battery], bank: BankPart, page: Page) -> None:
    ends = [(end, bank.marks[b.name]) for b in batteries for end in (b.positive, b.negative)]
    by_place: dict[tuple[int, ...], Terminal] = {}
    for end, mark in ends:
        place = tuple(round(x * 1000) for x in end.point)
        other = by_place.setdefault(place, end)
        if other is not end:
            page.fault(
                mark,
                f"terminals {shown(other.name)} and {shown(end.name)} are at one place, {written(end.point, page)}",
                "look at the coordinates of both",
            )


def terminal_free(terminal: Terminal, mark: Mark, scene: Scene, page: Page) -> bool:
    point = np.array([terminal.point])
    for name, depth in scene.depths(point, terminal.stands_on):
        if depth[0] > INSIDE_M:
            page.fault(
                mark,
                f"terminal {shown(terminal.name)} at {written(terminal.point, page)} lies inside {shown(name)}, "
                f"{depth[0] * 1000:.0f} mm deep",
                _free_point(terminal, scene, page),
            )
            return False
    if scene.outside(point)[0]:
        page.fault(
            mark,
            f"terminal {shown(terminal.name)} at {written(terminal.point, page)} is in no compartment",
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
    return f"move it at least {distance[best] * 1000:.0f} mm: {written(tuple(points[best]), page)} is free"


def lug_has_room(terminal: Terminal, mark: Mark, lug_m: float | None, scene: Scene, page: Page) -> None:
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


def lug_lengths(stock: Stock | None) -> dict[str, float]:
    """By stud: stud centre to where the cable may first bend, for the shortest lug there is."""
    lengths: dict[str, float] = {}
    for lug in stock.lugs if stock is not None else ():
        lengths[lug.stud] = min(lug.barrel_to_skin_m, lengths.get(lug.stud, lug.barrel_to_skin_m))
    return lengths
