"""From laid runs to the cables of the electrical network: lengths, ends, and the air each stretch runs in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from cutlist.bank.cables import Conductor
from cutlist.bank.job import Job
from cutlist.bank.site import Zone
from cutlist.electrics.wiring import CableSpec, Segment
from cutlist.layout.cable_ends import Stud
from cutlist.layout.run_lengths import Joined
from geometry.curve import Curve

SAMPLE_M = 0.02  # how finely a run is looked at for zones and neighbours
BUNDLE_GAP_M = 0.010  # cables nearer than this, skin to skin, warm each other (common practice, no published source)

# Cables that only cross warm each other over a hand's breadth, and the copper carries that heat off to both sides:
# its warmth dies away over sqrt(k A / (h p)), some 0.2 m for 50 mm2 (k 400 W/mK, h 10 W/m2K, p 45 mm). Common practice
# does not count a crossing as a bundle; no published source.
LEAST_TOGETHER_M = 0.15


def node_of(job: Job, stud: Stud) -> object:
    """The key of this end in the electrical network (see electrics/wiring.py)."""
    if stud.bar:
        return ("stud", stud.bar, stud.index)
    for device in job.devices:
        if stud.at == device.source_side.name:
            return ("device source side", device.name)
        if stud.at == device.load_side.name:
            return ("device load side", device.name)
    for load in job.loads:
        if stud.at == load.positive.name:
            return ("load positive", load.name)
        if stud.at == load.negative.name:
            return ("load negative", load.name)
    return stud.at


def cable_specs(
    job: Job,
    cables: Sequence[Joined],
    conductors: Mapping[str, Conductor],
    lengths_m: Mapping[str, float],
    curves: Mapping[str, Curve],
) -> tuple[CableSpec, ...]:
    """lengths_m: developed, stud centre to stud centre. curves may be empty: then all is at the site's ambient.

    Two cables side by side are one of the network, of twice the copper; the first one's run stands for both.
    """
    bundled = _bundled_counts(cables, conductors, curves) if curves else {}
    specs: list[CableSpec] = []
    seen: set[str] = set()
    for c in cables:
        if c.pair in seen:
            continue
        seen |= {c.pair} - {""}
        spec = CableSpec(
            name=c.pair or c.name,
            kind=c.kind,
            pole="" if c.pole == "link" else c.pole,
            string=c.string,
            start=node_of(job, c.start),
            finish=node_of(job, c.finish),
            conductor=conductors[c.kind],
            length_m=lengths_m[c.name],
            segments=_segments(job, curves[c.name], bundled[c.name]) if c.name in curves else (),
            paralleled=2 if c.pair else 1,
        )
        inline = spec.kind == "lead" and spec.pole == "positive" and job.policy.string_fuse == "in line"
        specs.extend(_two_cuts(job, spec) if inline else (spec,))
    return tuple(specs)


def _two_cuts(job: Job, lead: CableSpec) -> tuple[CableSpec, CableSpec]:
    """A lead with its fuse in line: one cable on the battery side of the fuse, one on the bar side."""
    first_m = min(max(job.policy.string_fuse_distance_m, 0.0), lead.length_m)
    inner, outer = ("fuse battery side", lead.string), ("fuse bar side", lead.string)
    return (
        replace(lead, name=f"{lead.name} to fuse", finish=inner, length_m=first_m),
        replace(lead, name=f"{lead.name} from fuse", start=outer, length_m=lead.length_m - first_m),
    )


def _segments(job: Job, curve: Curve, bundled: np.ndarray) -> tuple[Segment, ...]:
    """Stretches of like air and like company, in order."""
    points = curve.sampled(SAMPLE_M)
    middles = (points[:-1] + points[1:]) / 2
    step_m = curve.length_m / len(middles)
    # the warmest zone a point lies in rules; none: the site's ambient
    zones: list[Zone | None] = [None, *sorted(job.site.zones, key=lambda z: (z.temperature_c, z.name))]
    index = np.zeros(len(middles), dtype=int)
    for i, zone in enumerate(zones):
        if zone is not None:
            index[zone.solid.signed_distance(middles) < 0] = i
    segments: list[Segment] = []
    for i, count in zip(index, bundled, strict=True):
        zone = zones[i]
        ambient_c = job.ambient_c if zone is None else max(zone.temperature_c, job.ambient_c)
        engine_space = zone is not None and zone.engine_space
        last = segments[-1] if segments else None
        if last and (last.ambient_c, last.engine_space, last.bundled_count) == (ambient_c, engine_space, int(count)):
            segments[-1] = Segment(last.length_m + step_m, ambient_c, engine_space, int(count))
        else:
            segments.append(Segment(step_m, ambient_c, engine_space, int(count)))
    return tuple(segments)


def _bundled_counts(
    cables: Sequence[Joined], conductors: Mapping[str, Conductor], curves: Mapping[str, Curve]
) -> dict[str, np.ndarray]:
    """For each stretch of each cable, how many cables lie together there, itself counted."""
    middles = {c.name: _middles(curves[c.name]) for c in cables}
    bounds = {name: (points.min(axis=0), points.max(axis=0)) for name, points in middles.items()}
    radius = {c.name: conductors[c.kind].outside_diameter_m / 2 for c in cables}
    counts: dict[str, np.ndarray] = {}
    for c in cables:
        mine, (low, high) = middles[c.name], bounds[c.name]
        count = np.ones(len(mine), dtype=int)
        for other, points in middles.items():
            near_m = radius[c.name] + radius[other] + BUNDLE_GAP_M
            other_low, other_high = bounds[other]
            if other == c.name or ((other_low - near_m > high) | (other_high + near_m < low)).any():
                continue
            apart = ((mine[:, None, :] - points[None]) ** 2).sum(axis=2).min(axis=1)
            count += _lasting(apart <= near_m**2, curves[c.name].length_m / len(mine))
        counts[c.name] = count
    return counts


def _lasting(near: np.ndarray, step_m: float) -> np.ndarray:
    """Only those stretches, of samples `step_m` long, that are near for LEAST_TOGETHER_M and more.

    >>> _lasting(np.array([True, False, True, True, True]), 0.05).tolist()
    [False, False, True, True, True]
    """
    changes = np.flatnonzero(np.diff(near)) + 1
    lasting = near.copy()
    for first, after in zip([0, *changes], [*changes, len(near)], strict=True):
        if (after - first) * step_m < LEAST_TOGETHER_M - 1e-9:
            lasting[first:after] = False
    return lasting


def _middles(curve: Curve) -> np.ndarray:
    points = curve.sampled(SAMPLE_M)
    return (points[:-1] + points[1:]) / 2
