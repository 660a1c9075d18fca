"""The planned cables and bus bars, as the sheets print them."""

from __future__ import annotations

from collections.abc import Sequence

from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.layout.cable_ends import Stud
from cutlist.plan_types import CableEnd, PlacedBar, PlannedCable
from cutlist.planning.build import Built
from cutlist.planning.cut_pieces import cuts_of
from cutlist.planning.wires import BUNDLE_GAP_M, LEAST_TOGETHER_M
from geometry.beside import lies_along
from geometry.company import company_of
from geometry.frames import lug_angle_deg
from geometry.runs import Run
from geometry.surroundings import Surroundings

NEAR_M = 0.05  # from skin to structure: near enough that a person would say "along it"


def planned_cables(job: Job, stock: Stock, built: Built) -> tuple[PlannedCable, ...]:
    colours = {"positive": job.colours.positive, "negative": job.colours.negative, "link": job.colours.link}
    surroundings = Surroundings(built.space)
    company = company_of(built.laid.requests, built.laid.laid, gap_m=BUNDLE_GAP_M, least_m=LEAST_TOGETHER_M)
    cables = []
    for number, (cable, short, laid) in enumerate(
        zip(built.cables, built.laid.shortest, built.laid.laid, strict=True), 1
    ):
        conductor = built.conductors[cable.kind]
        length = built.laid.lengths[cable.name]

        def end(stud: Stud, name: str = conductor.name) -> CableEnd:
            lug = stock.lug(name, stud.stud)
            return CableEnd(stud.at, stud.stud, lug, lug.strip_m if lug else None, stud.torque_nm)

        cables.append(
            PlannedCable(
                number=number,
                name=cable.name,
                kind=cable.kind,
                pole=cable.pole,
                string=cable.string,
                conductor=conductor,
                colour=colours[cable.pole],
                start=end(cable.start),
                finish=end(cable.finish),
                shortest=short,
                laid=laid,
                target_m=length.developed_m,
                cuts=cuts_of(job, number, cable.name, cable.pole, cable.kind, length.cut_um),
                lug_angle_deg=_lug_angle_deg(laid, cable.start, cable.finish),
                beside=lies_along(surroundings, laid.curve, conductor.outside_diameter_m / 2 + NEAR_M),
                company=company[number - 1],
            )
        )
    return tuple(cables)


def _lug_angle_deg(laid: Run, start: Stud, finish: Stud) -> float | None:
    """Clockwise as seen along the cable.

    The surveyor's frame (x to the right, y towards him, z up) is left-handed, geometry's is right-handed: what turns
    clockwise in one turns anticlockwise in the other.
    """
    angle = lug_angle_deg(laid.curve, start.axis, finish.axis)
    if angle is None:
        return None
    mirrored = round(-angle, 3)
    return 180.0 if mirrored == -180.0 else mirrored + 0.0  # no minus nought


def placed_bars(job: Job, built: Built, cables: Sequence[PlannedCable]) -> tuple[PlacedBar, ...]:
    """Each bus bar with what stands on each stud, the largest conductor first, next to the bar."""
    area = {c.name: c.conductor.area_mm2 for c in cables}
    bars = []
    for bar in job.bus_bars:
        use: list[list[str]] = [[] for _ in range(bar.studs)]
        for cable in built.cables:
            for stud in (cable.start, cable.finish):
                if stud.bar == bar.name:
                    use[stud.index].append(cable.name)
        stacks = tuple(tuple(sorted(names, key=lambda n: (-area[n], n))) for names in use)
        bars.append(PlacedBar(bar, built.places[bar.name], stacks))
    return tuple(sorted(bars, key=lambda b: b.bar.pole, reverse=True))
