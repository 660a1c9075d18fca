"""How warm each stretch of a cable gets, and what that makes of its resistance."""

from __future__ import annotations

from collections.abc import Sequence

from cutlist.bank.job import Job
from cutlist.electrics.ampacity import Ampacity, Segment, ampacity
from cutlist.electrics.conductors import conductor_c, resistance_ohm, time_constant_s, warmed_c
from cutlist.electrics.wiring import CableSpec, segments_of


def ampacity_of(job: Job, cable: CableSpec) -> Ampacity:
    """Raises ValueError naming the cable if its air is as hot as its insulation allows."""
    try:
        return ampacity(job.rules, cable.conductor, segments_of(cable, job), system_v=job.voltage_v)
    except ValueError as fault:
        raise ValueError(f"{cable.name}: {fault}") from None


def stretch_c(cable: CableSpec, segments: Sequence[Segment], current_a: float, rated: Ampacity) -> tuple[float, ...]:
    """Temperature of each stretch of a cable that carries `current_a` (all paralleled ones together) for long."""
    each_a = abs(current_a) / cable.paralleled
    return tuple(
        conductor_c(s.ambient_c, each_a, warming_a, rated.table_air_c, cable.conductor.insulation_c)
        for s, warming_a in zip(segments, rated.warming_a, strict=True)
    )


def warm_ohm(cable: CableSpec, segments: Sequence[Segment], stretches_c: Sequence[float]) -> float:
    """Resistance of all paralleled cables together, each stretch at its own temperature."""
    per_km = cable.conductor.ohm_per_km_20c
    one_ohm = sum(resistance_ohm(per_km, s.length_m, c) for s, c in zip(segments, stretches_c, strict=True))
    return one_ohm / cable.paralleled


def after_surge_c(
    cable: CableSpec, rated: Ampacity, start_c: Sequence[float], steady_c: Sequence[float], duration_s: float
) -> tuple[float, ...]:
    """Temperature of each stretch after `duration_s` on the way from `start_c` to `steady_c`."""
    conductor = cable.conductor
    after = []
    for first_c, last_c, warming_a in zip(start_c, steady_c, rated.warming_a, strict=True):
        slow_s = time_constant_s(
            conductor.area_mm2, conductor.ohm_per_km_20c, warming_a, rated.table_air_c, conductor.insulation_c
        )
        after.append(warmed_c(first_c, last_c, duration_s, slow_s))
    return tuple(after)
