"""Does a mounting face stand off far enough from what it is on for a cable to leave a stud?"""

from __future__ import annotations

import math

import numpy as np

from cutlist.bank.cables import Conductor
from cutlist.bank.job import Policy
from cutlist.bank.site import MountingFace
from cutlist.bank.stock import Stock
from cutlist.job.build_bank import BankPart
from cutlist.job.build_power import PowerPart
from cutlist.job.build_site import SitePart
from cutlist.job.faults import Page, shown
from cutlist.job.scene import written
from geometry.clearances import Clearances, Numbers
from geometry.outlines import outline_distance
from geometry.space import Obstacle, Space

STEP_M = 0.005  # as finely as the search divides a face (layout/taken_zones)
MOST_POINTS = 121  # along each side of a face
TOUCH_M = 1e-9  # at exactly the standoff a cable is clear


def flush_faults(
    site: SitePart, bank: BankPart, power: PowerPart, stock: Stock | None, policy: Policy, page: Page
) -> None:
    """A face that is taken as a whole by what it stands on: the search finds no place on it, and says nothing of it.

    Faces that look into their board are left to `geometry_faults`: they are told here only if they are not there.
    """
    thinnest = _thinnest_lead(stock, policy)
    if thinnest is None:
        return
    told = {fault.line for fault in page.faults}
    cases = [Obstacle(b.name, b.case) for b in bank.batteries if b.case is not None]
    around = Clearances(Space((*site.obstacles, *cases), tuple(site.compartments)))
    standoff_m = thinnest.outside_diameter_m / 2 + policy.clearance_m
    used = {name for bar in power.bars for name in bar.faces}
    for face in site.faces:
        mark = site.face_marks[face.name]
        if face.name not in used or mark.line in told:
            continue
        points = _points(face)
        if not len(points):
            continue  # too thin a face to be looked at so
        near = around.near(points, standoff_m)
        gaps = around.distances(points, near)
        taken = gaps < standoff_m - TOUCH_M
        if not len(near) or not taken.any(axis=1).all():
            continue
        k = int(taken.sum(axis=0).argmax())
        what = "the wall of its compartment" if near[k] == around.walls else shown(around.names[near[k]])
        if around.keep_off[near[k]]:
            what += f" with its keep-off of {1000 * around.keep_off[near[k]]:g} mm"
        if not taken[:, k].all():
            what += " and other solids"
        message = (
            f"mounting face {shown(face.name)} {_lies(float(gaps[:, k].min()), what)}, where no cable can leave a "
            f"stud: the middle of {shown(thinnest.name)} keeps {_up_mm(standoff_m)} mm off "
            f"(half its thickness and the clearance of {policy.clearance_m * 1000:g} mm)"
        )
        less = ", or ask for less clearance" if (gaps > thinnest.outside_diameter_m / 2).all() else ""
        page.fault(mark, message, _mend(face, standoff_m - float(gaps.min()), page) + less)


def _thinnest_lead(stock: Stock | None, policy: Policy) -> Conductor | None:
    """What a lead may be at its thinnest; every bus bar has leads."""
    allowed = [] if stock is None else [c for c in stock.conductors if c.name in policy.conductors_lead]
    if stock is not None and not policy.conductors_lead:
        allowed = list(stock.conductors)
    return min(allowed, key=lambda c: (c.outside_diameter_m, c.name), default=None)


def _points(face: MountingFace) -> Numbers:
    """Points (n, 3) all over the face."""
    counts = [min(MOST_POINTS, math.ceil(size / STEP_M) + 1) for size in (face.width_m, face.height_m)]
    a, b = np.meshgrid(np.linspace(0, face.width_m, counts[0]), np.linspace(0, face.height_m, counts[1]))
    flat = np.column_stack([a.ravel(), b.ravel()])
    if face.outline:
        flat = flat[outline_distance(flat, face.outline) <= 0]
    return np.array(face.origin) + flat[:, :1] * np.array(face.u) + flat[:, 1:] * np.array(face.v)


def _lies(gap_m: float, what: str) -> str:
    gap = round(gap_m * 1000)
    if gap == 0:
        return f"is flush with {what}"
    return f"lies {gap} mm before {what}" if gap > 0 else f"lies {-gap} mm deep in {what}"


def _mend(face: MountingFace, by_m: float, page: Page) -> str:
    out = np.cross(face.u, face.v)
    by_mm = _up_mm(by_m)
    corner = written(tuple(np.array(face.origin) + by_mm / 1000 * out), page)
    return (
        f"a face is where the lugs seat, in front of the board by the bus bar's stand-offs: move its corner {by_mm} mm "
        f"out or more, to {corner}"
    )


def _up_mm(length_m: float) -> int:
    return math.ceil(round(length_m * 1000, 6))
