"""Bus bars whose places a job states: held to the mounting face they are on, and apart from each other."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from cutlist.bank.bus_bars import BarPlace, BusBar
from cutlist.bank.job import Policy
from cutlist.bank.site import MountingFace
from cutlist.bank.stock import Stock
from cutlist.job.build_power import PowerPart
from cutlist.job.build_site import SitePart
from cutlist.job.faults import Mark, Page, shown
from cutlist.job.scene import written
from cutlist.layout.bars_apart import lugs_apart_m
from cutlist.layout.face_outlines import rows_off
from cutlist.layout.studs import studs_text
from geometry.outlines import outline_distance

Array = NDArray[np.float64]
ROUNDED_M = 0.001  # places are written to the millimetre
BEFORE_M = 0.005  # studs may stand so far before or behind the plane of the face
STEP_M = 0.005  # as finely as free places are looked for


def fixed_bar_faults(site: SitePart, power: PowerPart, stock: Stock | None, policy: Policy, page: Page) -> None:
    """Each place that names a mounting face keeps to what the face allows; and the two bars stand apart somewhere."""
    for bar in power.bars:
        for place, mark in zip(bar.places, power.place_marks[bar.name], strict=False):
            face = next((f for f in site.faces if f.name == place.face), None)
            if face is not None:
                _on_its_face(bar, place, face, mark, page)
    if stock is not None and len(power.bars) == 2 and all(bar.places and not bar.faces for bar in power.bars):
        _stand_apart(power, lugs_apart_m(stock, power.bars), policy.bars_apart_m, page)


def _on_its_face(bar: BusBar, place: BarPlace, face: MountingFace, mark: Mark, page: Page) -> None:
    studs = np.array(bar.stud_points(place)) - np.array(face.origin)
    before_m = studs @ np.cross(face.u, face.v)
    name = f"bus bar {shown(bar.name)}"
    if np.abs(before_m).max() > BEFORE_M:
        stud = int(np.abs(before_m).argmax())
        side = "before" if before_m[stud] > 0 else "behind"
        centre = np.array(place.centre)
        nearest = centre - (centre - np.array(face.origin)) @ np.cross(face.u, face.v) * np.cross(face.u, face.v)
        page.fault(
            mark,
            f"{name}: stud {stud + 1} lies {abs(before_m[stud]) * 1000:.0f} mm {side} mounting face {shown(face.name)}",
            f"move its centre, in the face's plane at {written(tuple(nearest), page)}, or its direction along; or take "
            "face: out",
        )
        return
    flat = np.stack([studs @ np.array(face.u), studs @ np.array(face.v)], axis=1)
    middle, half = flat.mean(axis=0), (float(flat[-1, 0] - flat[0, 0]) / 2, float(flat[-1, 1] - flat[0, 1]) / 2)
    ringed = _ringed(face)
    if not _off(ringed, middle, half):
        return
    free = _nearest_free(ringed, middle, half)
    mend = "make the row shorter, turn it, or choose a larger face"
    if free is not None:
        moved = np.array(place.centre) + (free - middle) @ np.array([face.u, face.v])
        mend = (
            f"move its centre {math.dist(free, middle) * 1000:.0f} mm: free at {written(tuple(moved), page)}; "
            f"or turn the row, or make it shorter"
        )
    page.fault(mark, f"{name}: {_why(ringed, face.name, flat, middle, half)}", mend)


def _ringed(face: MountingFace) -> MountingFace:
    """The same face, told by outlines only."""
    whole = face.outline or ((0.0, 0.0), (face.width_m, 0.0), (face.width_m, face.height_m), (0.0, face.height_m))
    rings = tuple(((a0, b0), (a1, b0), (a1, b1), (a0, b1)) for a0, b0, a1, b1 in face.forbidden)
    return replace(face, outline=whole, forbidden=(), forbidden_outlines=(*face.forbidden_outlines, *rings))


def _off(face: MountingFace, middle: Array, half: tuple[float, float]) -> bool:
    """Whether the row breaks a rule of the face, and still does a rounding away."""
    shifts = ROUNDED_M * np.array(list(product((0.0, -1.0, 1.0), repeat=2)))
    return bool(rows_off(face, middle + shifts, half).all())


def _why(face: MountingFace, name: str, flat: Array, middle: Array, half: tuple[float, float]) -> str:
    beyond_m = outline_distance(flat, face.outline)
    stud = int(beyond_m.argmax())
    if beyond_m[stud] > ROUNDED_M:
        return f"stud {stud + 1} lies {beyond_m[stud] * 1000:.0f} mm off mounting face {shown(name)}"
    if beyond_m[stud] > ROUNDED_M - face.edge_m:
        near = f"stud {stud + 1} is {abs(beyond_m[stud]) * 1000:.0f} mm from the edge of"
        return f"{near} mounting face {shown(name)}, {face.edge_m * 1000:.0f} mm are asked for"
    if _off(replace(face, forbidden_outlines=()), middle, half):
        return f"its row of studs comes too near the edge of mounting face {shown(name)}"
    inside_m = np.array([outline_distance(flat, zone) for zone in face.forbidden_outlines])
    studs = np.flatnonzero((inside_m <= 0).any(axis=0))
    if not len(studs):
        return f"its row of studs crosses a forbidden part of mounting face {shown(name)}"
    lie = "lies" if len(studs) == 1 else "lie"
    return f"{studs_text(list(studs))} {lie} in a forbidden part of mounting face {shown(name)}"


def _nearest_free(face: MountingFace, middle: Array, half: tuple[float, float]) -> Array | None:
    a, b = (np.arange(0.0, size_m + STEP_M, STEP_M) for size_m in (face.width_m, face.height_m))
    # also straight along and up from where it is
    places = [np.stack(np.meshgrid(x, y), axis=2).reshape(-1, 2) for x, y in ((a, b), (a, middle[1:]), (middle[:1], b))]
    spots = np.vstack(places)
    free = spots[~rows_off(face, spots, half)]
    return np.asarray(free[np.linalg.norm(free - middle, axis=1).argmin()]) if len(free) else None


def _stand_apart(power: PowerPart, lugs_m: float, asked_m: float, page: Page) -> None:
    (one, other), marks, least_m = power.bars, power.place_marks, max(lugs_m, asked_m)
    most_m, i, j = max(
        (_apart_m(one, place, other, second), i, j)
        for i, place in enumerate(one.places)
        for j, second in enumerate(other.places)
    )
    if most_m >= least_m - ROUNDED_M:
        return
    mark, second_mark = sorted((marks[one.name][i], marks[other.name][j]), key=lambda m: m.line)
    first = one if mark is marks[one.name][i] else other
    last = other if first is one else one
    why = "as asked" if asked_m >= lugs_m else "half of both widths, and a lug from each side"
    best = " at best" if len(one.places) * len(other.places) > 1 else ""
    page.fault(
        second_mark,
        f"bus bars {shown(first.name)} (line {mark.line}) and {shown(last.name)} (line {second_mark.line}): their "
        f"studs are {most_m * 1000:.0f} mm apart{best}, {math.ceil(round(least_m * 1000, 6))} mm are needed ({why})",
        f"move one of them {math.ceil(round((least_m - most_m) * 1000, 6))} mm further off or more, or leave it to the "
        "plan: on: and its mounting faces",
    )


def _apart_m(one: BusBar, place: BarPlace, other: BusBar, second: BarPlace) -> float:
    return min(math.dist(a, b) for a in one.stud_points(place) for b in other.stud_points(second))
