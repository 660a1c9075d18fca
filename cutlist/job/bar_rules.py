"""Rules that tell where bus bars may go, held against each other before anything is searched.

What is a fault here leaves no place at all; whether a place that is left can be wired, the plan finds out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from cutlist.bank.bus_bars import BusBar
from cutlist.bank.job import Limits, Policy
from cutlist.bank.site import MountingFace
from cutlist.job.build_power import PowerPart
from cutlist.job.build_site import SitePart
from cutlist.job.faults import Mark, Page, shown
from cutlist.job.records import Record
from cutlist.layout.face_outlines import no_room

Points = NDArray[np.float64]


def bar_faults(
    record: Record, site: SitePart, power: PowerPart, limits: Limits | None, policy: Policy, page: Page
) -> None:
    """`record` is the whole job: it tells where each rule stands."""
    for bar in power.bars:
        for face in _faces(bar, site):
            if not bar.places and all(no_room(face, bar, turn) for turn in bar.turns):
                barred = face.forbidden or face.forbidden_outlines
                where = "on what is not forbidden of" if barred else "within the outline of"
                words = f"bus bar {shown(bar.name)}: its row of studs fits nowhere {where}"
                mend = "make the row shorter, turn it, make the edge or what is forbidden less, or choose a larger face"
                page.fault(power.bar_marks[bar.name], f"{words} mounting face {shown(face.name)}", mend)
    above_m = 0.0 if limits is None else limits.above_bilge_m
    if record["limits"] is not None and "above bilge" in record["limits"].marks and site.bilge_z_m is None:
        mend = "add to the site: bilge line: and its height z, or take this out"
        page.fault(record["limits"].at("above bilge"), "the site has no bilge line to stay above", mend)
    if site.bilge_z_m is not None and site.bilge_mark is not None:
        _dry(site.bilge_z_m + above_m, site.bilge_mark, site, power, page)
    if len(power.bars) == 2:
        rules = record["policy"]
        mark = record.mark if rules is None else rules.mark
        _together(policy, rules.at("bars on") if rules else mark, power.bars, page)
        _apart(policy, rules.at("bars apart") if rules else mark, site, power.bars, page)


def _faces(bar: BusBar, site: SitePart) -> list[MountingFace]:
    return [face for face in site.faces if face.name in bar.faces]


def _dry(lowest_z_m: float, mark: Mark, site: SitePart, power: PowerPart, page: Page) -> None:
    """A bar whose every face ends below the height asked for. Fixed places are held to it in the plan."""
    for bar in power.bars:
        faces = _faces(bar, site)
        if not faces or len(faces) < len(bar.faces) or bar.places:
            continue
        top_m = max(float(_corners(face)[:, 2].max()) for face in faces)
        if top_m < lowest_z_m:
            names = ", ".join(shown(face.name) for face in faces)
            page.fault(
                mark,
                f"bus bar {shown(bar.name)} must stay above z {lowest_z_m * 1000:.0f} mm, its mounting faces ({names}) "
                f"end at {top_m * 1000:.0f} mm",
                "lower the bilge line or the height above it, or give the bus bar a higher face",
            )


def _together(policy: Policy, mark: Mark, bars: Sequence[BusBar], page: Page) -> None:
    one, other = (_names(bar) for bar in bars)
    if policy.bars_on == "one face" and not one & other:
        page.fault(
            mark, "both bus bars are to be on one face, and have none in common", "name a face under both bus bars"
        )
    if policy.bars_on == "different faces" and len(one | other) < 2:
        page.fault(mark, "the bus bars are to be on different faces, and have only one", "name a second face")


def _names(bar: BusBar) -> set[str]:
    return {*bar.faces, *(place.face for place in bar.places)}


def _apart(policy: Policy, mark: Mark, site: SitePart, bars: Sequence[BusBar], page: Page) -> None:
    ends = [np.vstack(list(_reach(bar, site)) or [np.empty((0, 3))]) for bar in bars]
    if not all(len(points) for points in ends) or any(len(_faces(b, site)) < len(b.faces) for b in bars):
        return
    most_m = float(np.linalg.norm(ends[0][:, None] - ends[1][None], axis=2).max())
    if policy.bars_apart_m > most_m:
        page.fault(
            mark,
            f"the bus bars are to be {policy.bars_apart_m * 1000:.0f} mm apart, "
            f"and can be {most_m * 1000:.0f} mm at most",
            "ask for less, or allow faces further apart",
        )


def _reach(bar: BusBar, site: SitePart) -> Iterator[Points]:
    """Points that no stud of the bar lies beyond."""
    for face in _faces(bar, site):
        yield _corners(face)
    for place in bar.places:
        yield np.array(bar.stud_points(place))


def _corners(face: MountingFace) -> Points:
    flat = np.array(face.outline or [(a, b) for a in (0.0, face.width_m) for b in (0.0, face.height_m)])
    return np.array(face.origin) + flat[:, :1] * np.array(face.u) + flat[:, 1:] * np.array(face.v)
