"""The bank solved for many conductors or many lengths at once: the same network and the same warmth, in arrays.

Used where a search asks thousands of times; what is chosen is then solved by `bank_solution`, and a test holds the
two against each other.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cutlist.bank.cables import Conductor, Fuse
from cutlist.bank.job import Job
from cutlist.electrics.ampacity import Ampacity, ampacity
from cutlist.electrics.conductors import time_constant_s
from cutlist.electrics.quick_paths import paths as paths_of
from cutlist.electrics.variants import Folded, fold, solve_variants
from cutlist.electrics.wiring import (
    CableSpec,
    joint_allowance_ohm,
    load_currents,
    segments_of,
    surge_duration_s,
    wire,
)
from cutlist.reference.tables import constant

SETTLED_K = 1e-3  # far finer than any limit is known
ROUNDS = 40
KINDS = ("lead", "jumper", "feeder")


@dataclass(frozen=True)
class Combination:
    """A conductor for each kind of cable, and how many lie side by side."""

    lead: Conductor
    jumper: Conductor | None  # None: no string has jumpers
    feeder: Conductor
    lead_count: int = 1
    jumper_count: int = 1
    feeder_count: int = 1

    @property
    def kinds(self) -> tuple[str, ...]:
        return KINDS if self.jumper is not None else ("lead", "feeder")

    def conductor(self, kind: str) -> Conductor:
        found = {"lead": self.lead, "jumper": self.jumper, "feeder": self.feeder}[kind]
        if found is None:
            raise ValueError("this combination has no jumpers")
        return found

    def count(self, kind: str) -> int:
        return {"lead": self.lead_count, "jumper": self.jumper_count, "feeder": self.feeder_count}[kind]


@dataclass(frozen=True)
class Prepared:
    """Everything about a job's network that conductors and lengths do not change."""

    job: Job
    cables: tuple[CableSpec, ...]
    folded: Folded
    cable_column: np.ndarray  # (cables,) the branch of each cable
    joint_column: np.ndarray  # (cables,) the branch of its two terminations
    joint_ohm: float
    opened_by: np.ndarray  # (strings,) the branch that is open when a string is out
    paths: np.ndarray  # (ways, branches) +1, -1, 0: branches passed between a string and a load, along the discharge
    path_string: np.ndarray  # (ways,)
    path_load: np.ndarray  # (ways,)
    length_m: np.ndarray  # (cables,)
    share: np.ndarray  # (cables, stretches) of the cable's length; 0 where it has fewer stretches
    air_c: np.ndarray  # (cables, stretches)


@dataclass(frozen=True)
class _Figures:
    """What the conductors say, for each variant and cable."""

    ohm_per_m: np.ndarray  # (variants, cables) at 20 °C, one cable
    count: np.ndarray  # (variants, cables) in parallel
    rise_k_per_a2: np.ndarray  # (variants, cables, stretches) of one cable
    slow_s: np.ndarray  # (variants, cables, stretches) time constants
    allowed_a: np.ndarray  # (variants, cables) of all paralleled ones together
    insulation_c: np.ndarray  # (variants, cables)
    length_m: np.ndarray  # (variants, cables)


@dataclass(frozen=True)
class Worst:
    """For each variant the worst over states and outages; infinite where a conductor may not be used."""

    drop: np.ndarray  # (variants,) share of nominal voltage, continuous
    surge_drop: np.ndarray  # (variants,)
    use: np.ndarray  # (variants, cables) lasting current over what is allowed
    heat: np.ndarray  # (variants, cables) rise over the rise allowed above the coolest air, lasting or in a surge
    lasting_a: np.ndarray  # (variants, branches) most that a branch carries for long, whichever way
    surge_a: np.ndarray  # (variants, branches) and in a surge

    def string_need(self, prepared: Prepared, string: int, variant: int = 0) -> tuple[float, float]:
        """(for long, in a surge): the most current of one string, A."""
        battery = prepared.job.strings[string].batteries[0].name
        column = prepared.folded.column(f"battery: {battery}")
        return float(self.lasting_a[variant, column]), float(self.surge_a[variant, column])


def prepare(
    job: Job, cables: Sequence[CableSpec], *, fuses: Mapping[str, Fuse] | None = None, joint_ohm: float | None = None
) -> Prepared:
    """Fold the network once. Which stud each cable takes is fixed; conductors and lengths are not."""
    joint = joint_allowance_ohm() if joint_ohm is None else joint_ohm
    # Any lengths and conductors do here, so long as no chain is without resistance.
    wiring = wire(job, cables, fuses=fuses, currents_a={}, joint_ohm=joint)
    at = {(p.stage == "terminations", p.item): i for i, p in enumerate(wiring.parts) if p.stage not in _NOT_CABLES}
    opened = {c.string: at[(False, c.name)] for c in cables if c.kind == "lead" and c.pole == "positive"}
    paths, path_string, path_load = paths_of(job, wiring)
    stretches = [segments_of(c, job) for c in cables]
    most = max(len(s) for s in stretches)
    share, air_c = np.zeros((len(cables), most)), np.full((len(cables), most), job.ambient_c)
    for i, (cable, segments) in enumerate(zip(cables, stretches, strict=True)):
        total_m = sum(s.length_m for s in segments) or 1.0
        share[i, : len(segments)] = [s.length_m / total_m for s in segments] if cable.length_m > 0 else 0.0
        if cable.length_m <= 0:
            share[i, 0] = 1.0
        air_c[i] = segments[0].ambient_c
        air_c[i, : len(segments)] = [s.ambient_c for s in segments]
    folded = fold(wiring.network)
    return Prepared(
        job=job,
        cables=tuple(cables),
        folded=folded,
        cable_column=np.array([at[(False, c.name)] for c in cables]),
        joint_column=np.array([at[(True, c.name)] for c in cables]),
        joint_ohm=joint,
        opened_by=np.array([opened[s.name] for s in job.strings]),
        paths=paths,
        path_string=path_string,
        path_load=path_load,
        length_m=np.array([c.length_m for c in cables]),
        share=share,
        air_c=air_c,
    )


_NOT_CABLES = ("battery", "string fuses", "bus bars", "devices")


def worst_drop_v(
    prepared: Prepared,
    combination: Combination,
    *,
    lead_m: np.ndarray | float | None = None,
    feeder_m: Mapping[str, np.ndarray | float] | None = None,
) -> np.ndarray:
    """Volts lost at continuous current, the worst of all strings and loads, with and (if the job asks) without any
    one string, conductors as warm as they get.

    `lead_m`: every lead this long (all leads alike); `feeder_m`: feeders by name. Arrays of one shape, or numbers;
    what is left out keeps its length. Infinite where the air is too hot for a conductor.
    """
    lengths = _lengths(prepared, lead_m, feeder_m or {})
    worst = _worst(prepared, _choices(prepared, [combination]), lengths)
    return worst.drop * prepared.job.voltage_v


def combination_meets(
    prepared: Prepared,
    combination: Combination,
    *,
    lead_m: np.ndarray | float | None = None,
    feeder_m: Mapping[str, np.ndarray | float] | None = None,
) -> np.ndarray:
    """Whether drop, ampacity and heat are within the job's limits, for each set of lengths (see `worst_drop_v`)."""
    lengths = _lengths(prepared, lead_m, feeder_m or {})
    return meets(prepared.job, _worst(prepared, _choices(prepared, [combination]), lengths))


def meets(job: Job, worst: Worst) -> np.ndarray:
    good = (worst.drop <= job.limits.drop) & (worst.use.max(axis=1) <= 1) & (worst.heat.max(axis=1) <= 1)
    if job.limits.surge_drop is not None:
        good &= worst.surge_drop <= job.limits.surge_drop
    return good


def worst_of(prepared: Prepared, combinations: Sequence[Combination], *, outages: bool = True) -> Worst:
    """The worst of each combination at the lengths the cables have."""
    return _worst(prepared, _choices(prepared, combinations), prepared.length_m[None, :], outages=outages)


def worst_at_lengths(prepared: Prepared, combination: Combination, lengths_m: np.ndarray) -> Worst:
    """The worst of one combination for each row of lengths (variants, cables)."""
    return _worst(prepared, _choices(prepared, [combination]), lengths_m)


def worst_as_laid(prepared: Prepared) -> Worst:
    """The worst of the cables with the conductors they carry: one variant."""
    laid = [[(c.conductor, c.paralleled) for c in prepared.cables]]
    return _worst(prepared, laid, prepared.length_m[None, :])


Choice = Sequence[tuple[Conductor, int]]  # for each cable its conductor and how many lie side by side


def _choices(prepared: Prepared, combinations: Sequence[Combination]) -> list[Choice]:
    return [[(c.conductor(x.kind), c.count(x.kind)) for x in prepared.cables] for c in combinations]


def _lengths(
    prepared: Prepared, lead_m: np.ndarray | float | None, feeder_m: Mapping[str, np.ndarray | float]
) -> np.ndarray:
    given = [np.asarray(v, dtype=float) for v in ([] if lead_m is None else [lead_m]) + list(feeder_m.values())]
    size = np.broadcast_shapes(*(g.shape for g in given), (1,))
    lengths = np.tile(prepared.length_m, (size[0], 1))
    names = [c.name for c in prepared.cables]
    for name, metres in feeder_m.items():
        lengths[:, names.index(name)] = metres
    if lead_m is not None:
        for i, cable in enumerate(prepared.cables):
            if cable.kind == "lead":
                first_m = 0.0
                if cable.start == ("fuse bar side", cable.string):  # second cut: what the first leaves
                    first_m = next(
                        c.length_m for c in prepared.cables if c.finish == ("fuse battery side", cable.string)
                    )
                if cable.finish != ("fuse battery side", cable.string):
                    lengths[:, i] = np.maximum(np.asarray(lead_m) - first_m, 0.0)
    return lengths


def _figures(prepared: Prepared, choices: Sequence[Choice], lengths: np.ndarray) -> _Figures:
    job, cables = prepared.job, prepared.cables
    k, c, s = len(choices), len(cables), prepared.share.shape[1]
    ohm, count, allowed, insulation = (np.zeros((k, c)) for _ in range(4))
    rise, slow = np.zeros((k, c, s)), np.ones((k, c, s))
    for j, cable in enumerate(cables):
        segments = segments_of(cable, job)
        known: dict[Conductor, Ampacity | None] = {}
        for i, choice in enumerate(choices):
            conductor, many = choice[j]
            if conductor not in known:
                try:
                    known[conductor] = ampacity(job.rules, conductor, segments, system_v=job.voltage_v)
                except ValueError:  # the air is too hot for it, or it is below the table
                    known[conductor] = None
            rated = known[conductor]
            ohm[i, j], count[i, j] = conductor.ohm_per_km_20c / 1000, many
            insulation[i, j] = conductor.insulation_c
            if rated is None:
                continue  # allowed stays 0: use becomes infinite
            allowed[i, j] = rated.current_a * many
            rise_k = conductor.insulation_c - rated.table_air_c
            for n, warming_a in enumerate(rated.warming_a):
                rise[i, j, n] = rise_k / warming_a**2
                slow[i, j, n] = time_constant_s(
                    conductor.area_mm2, conductor.ohm_per_km_20c, warming_a, rated.table_air_c, conductor.insulation_c
                )
    return _Figures(ohm, count, rise, slow, allowed, insulation, np.broadcast_to(lengths, (max(k, len(lengths)), c)))


def _worst(prepared: Prepared, choices: Sequence[Choice], lengths: np.ndarray, *, outages: bool = True) -> Worst:
    job = prepared.job
    figures = _figures(prepared, choices, lengths)
    k, strings = len(figures.length_m), len(job.strings)
    cables, branches = len(prepared.cables), len(prepared.folded.names)
    shapes = (k,), (k,), (k, cables), (k, cables), (k, branches), (k, branches)
    worst = Worst(*(np.zeros(shape) for shape in shapes))
    outs: list[int | None] = [None]
    if outages and job.policy.one_string_out and strings > 1:
        outs += list(range(strings))
    surges, chargers = any(x.surge for x in job.loads), any(x.charger for x in job.loads)
    for out in outs:
        branch_a, stretch_c = _settle(prepared, figures, "continuous", out, None)
        _note(prepared, figures, worst, branch_a, stretch_c, out, "continuous")
        if surges:
            surge_a, surge_c = _settle(prepared, figures, "surge", out, stretch_c)
            _note(prepared, figures, worst, surge_a, surge_c, out, "surge")
        if chargers:
            charge_a, charge_c = _settle(prepared, figures, "charge", out, None)
            _note(prepared, figures, worst, charge_a, charge_c, out, "charge")
    return worst


def _settle(
    prepared: Prepared, figures: _Figures, state: str, out: int | None, start_c: np.ndarray | None
) -> tuple[np.ndarray, np.ndarray]:
    """Branch currents (variants, branches) and stretch temperatures (variants, cables, stretches)."""
    job, folded = prepared.job, prepared.folded
    currents = load_currents(job, state)
    load_a = np.array([[currents[x.name] for x in job.loads]])
    alpha = constant("copper", "quantity", "temperature coefficient at 20 C")
    ohm = np.tile(folded.resistance_ohm, (len(figures.length_m), 1))
    ohm[:, prepared.joint_column] = 2 * prepared.joint_ohm / figures.count
    cold = figures.ohm_per_m * figures.length_m / figures.count
    stretch_c = np.broadcast_to(prepared.air_c, figures.rise_k_per_a2.shape)
    kept = 1.0 if start_c is None else 1 - np.exp(-surge_duration_s(job) / figures.slow_s)
    before = 0.0 if start_c is None else start_c
    for _ in range(ROUNDS):
        mean_c = (prepared.share * stretch_c).sum(axis=2)
        ohm[:, prepared.cable_column] = cold * (1 + alpha * (mean_c - 20))
        if out is not None:
            ohm[:, prepared.opened_by[out]] = math.inf
        branch_a = solve_variants(folded, resistance_ohm=ohm, current_a=load_a).currents_a
        each_a = branch_a[:, prepared.cable_column] / figures.count
        steady_c = prepared.air_c + figures.rise_k_per_a2 * (each_a**2)[:, :, None]
        warmer = steady_c if start_c is None else before + kept * (steady_c - before)
        change_k = np.abs(warmer - stretch_c).max()
        stretch_c = warmer
        if change_k < SETTLED_K:
            break
    return branch_a, stretch_c


def _note(
    prepared: Prepared,
    figures: _Figures,
    worst: Worst,
    branch_a: np.ndarray,
    stretch_c: np.ndarray,
    out: int | None,
    state: str,
) -> None:
    """Keep in `worst` (fresh arrays of this call's own) whatever this state makes worse."""
    job, folded = prepared.job, prepared.folded
    alpha = constant("copper", "quantity", "temperature coefficient at 20 C")
    ohm = np.tile(folded.resistance_ohm, (len(branch_a), 1))
    ohm[:, prepared.joint_column] = 2 * prepared.joint_ohm / figures.count
    mean_c = (prepared.share * stretch_c).sum(axis=2)
    ohm[:, prepared.cable_column] = figures.ohm_per_m * figures.length_m / figures.count * (1 + alpha * (mean_c - 20))
    lost_v = branch_a * ohm @ prepared.paths.T
    lost_v = lost_v[:, prepared.path_string != (-1 if out is None else out)]
    usable = (figures.allowed_a > 0).all(axis=1)
    if state != "charge":
        target = worst.drop if state == "continuous" else worst.surge_drop
        share = lost_v.max(axis=1, initial=0.0) / job.voltage_v
        np.maximum(target, np.where(usable, share, math.inf), out=target)
    cable_a = np.abs(branch_a[:, prepared.cable_column])
    # A stretch that does not exist has the air of the first and no rise: it never decides.
    allowed_k = np.maximum(figures.insulation_c[:, :, None] - prepared.air_c, 1e-9)
    np.maximum(worst.heat, ((stretch_c - prepared.air_c) / allowed_k).max(axis=2), out=worst.heat)
    if state == "surge":
        np.maximum(worst.surge_a, np.abs(branch_a), out=worst.surge_a)
        return
    np.maximum(worst.lasting_a, np.abs(branch_a), out=worst.lasting_a)
    with np.errstate(divide="ignore", invalid="ignore"):
        use = np.where(figures.allowed_a > 0, cable_a / figures.allowed_a, math.inf)
    np.maximum(worst.use, use, out=worst.use)
