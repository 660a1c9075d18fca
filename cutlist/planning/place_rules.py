"""The job's own rules for the places of bus bars and the reach of cables: what they come to, and whether a plan keeps
them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from cutlist.bank.bus_bars import BarPlace, BusBar
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.findings import Finding
from cutlist.layout.bars_apart import lugs_apart_m
from cutlist.plan_types import PlacedBar, PlannedCable

HAIR_M = 1e-6


def separation_m(stock: Stock, job: Job) -> float:
    """Between the two rows of studs: what their lugs need, more if asked for."""
    return max(lugs_apart_m(stock, job.bus_bars), job.policy.bars_apart_m)


def same_face(job: Job) -> bool | None:
    """Whether both bars must be on one face; None: as they like."""
    return {"one face": True, "different faces": False}.get(job.policy.bars_on)


def lowest_z_m(job: Job) -> float | None:
    """No stud of a bus bar lies lower; None where the site has no bilge line."""
    return None if job.site.bilge_z_m is None else job.site.bilge_z_m + job.limits.above_bilge_m


def dry_place(job: Job, bar: BusBar, place: BarPlace) -> bool:
    low_m = lowest_z_m(job)
    return low_m is None or min(z for _, _, z in bar.stud_points(place)) >= low_m - HAIR_M


def stated_places(job: Job, bar: BusBar) -> tuple[BarPlace, ...]:
    """Those of the places stated one by one that are high enough; all, where none is: a finding tells so."""
    return tuple(place for place in bar.places if dry_place(job, bar, place)) or bar.places


def pair_allowed(job: Job, positive: BarPlace, negative: BarPlace, least_m: float) -> bool:
    """Whether two bars may stand so: far enough apart, on one face or on two as asked."""
    one = same_face(job)
    if one is not None and (positive.face == negative.face) != one:
        return False
    rows = (job.positive_bar.stud_points(positive), job.negative_bar.stud_points(negative))
    return min(math.dist(a, b) for a in rows[0] for b in rows[1]) >= least_m


def place_rule_findings(job: Job, bars: Sequence[PlacedBar], cables: Sequence[PlannedCable]) -> tuple[Finding, ...]:
    """Every rule that the job states, with what the plan comes to."""
    return (*_above_bilge(job, bars), *_apart(job, bars), *_on_faces(job, bars), *_reach(job, cables))


def _above_bilge(job: Job, bars: Sequence[PlacedBar]) -> Iterator[Finding]:
    if job.site.bilge_z_m is None:
        return
    limit_m = job.limits.above_bilge_m
    for placed in bars:
        height_m = min(z for _, _, z in placed.bar.stud_points(placed.place)) - job.site.bilge_z_m
        yield Finding(
            "height above the bilge line",
            placed.bar.name,
            "pass" if height_m >= limit_m - HAIR_M else "fail",
            f"{placed.bar.name}: its lowest stud is {height_m * 1000:.0f} mm above the bilge line, "
            f"at least {limit_m * 1000:.0f} mm are asked for",
            height_m,
            limit_m,
            "m",
            "job file",
            "choose a higher place for it",
            at_least=True,
        )


def _apart(job: Job, bars: Sequence[PlacedBar]) -> Iterator[Finding]:
    asked_m = job.policy.bars_apart_m
    if not asked_m or len(bars) != 2:
        return
    rows = [placed.bar.stud_points(placed.place) for placed in bars]
    apart_m = min(math.dist(a, b) for a in rows[0] for b in rows[1])
    yield Finding(
        "distance between the bus bars",
        "bus bars",
        "pass" if apart_m >= asked_m - HAIR_M else "fail",
        f"the studs of the two bus bars are {apart_m * 1000:.0f} mm apart, "
        f"at least {asked_m * 1000:.0f} mm are asked for",
        apart_m,
        asked_m,
        "m",
        "job file",
        "set their places further apart",
        at_least=True,
    )


def _on_faces(job: Job, bars: Sequence[PlacedBar]) -> Iterator[Finding]:
    asked = same_face(job)
    if asked is None or len(bars) != 2:
        return
    names = [placed.place.face or "no face" for placed in bars]
    yield Finding(
        "faces of the bus bars",
        "bus bars",
        "pass" if (names[0] == names[1]) == asked else "fail",
        f"the bus bars are on {' and '.join(sorted(set(names)))}; {job.policy.bars_on} is asked for",
        source="job file",
        mend="allow another face, or take the rule out",
    )


def longest_run_of(job: Job, kind: str, name: str) -> float | None:
    """What the job allows this cable; None where it says nothing."""
    if kind == "lead":
        return job.limits.longest_lead_m
    return next((f.longest_m for f in job.feeders if f.name == name), None)


def _reach(job: Job, cables: Sequence[PlannedCable]) -> Iterator[Finding]:
    for cable in cables:
        limit_m = longest_run_of(job, cable.kind, cable.name)
        if limit_m is None:
            continue
        yield Finding(
            "reach",
            cable.name,
            "pass" if cable.target_m <= limit_m + HAIR_M else "fail",
            f"{cable.name} runs {cable.target_m * 1000:.0f} mm, no more than {limit_m * 1000:.0f} mm are allowed",
            cable.target_m,
            limit_m,
            "m",
            "job file",
            "bring its ends nearer to each other, or allow more",
        )
