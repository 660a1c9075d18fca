"""The state the bank settles in: who carries what, what is lost where, how warm the cables are."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import numpy as np

from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.electrics.ampacity import Ampacity, Segment
from cutlist.electrics.bank_limits import bank_findings
from cutlist.electrics.bank_state import BankSolution, CableState
from cutlist.electrics.check import faults_in
from cutlist.electrics.drop import drops
from cutlist.electrics.network import NetworkState, prepared, solve, solve_with
from cutlist.electrics.warmth import after_surge_c, ampacity_of, stretch_c, warm_ohm
from cutlist.electrics.wiring import (
    CableSpec,
    Wiring,
    cable_branch,
    load_currents,
    segments_of,
    surge_duration_s,
    wire,
)

__all__ = ["BankSolution", "CableState", "bank_findings", "settle", "solve_bank", "solve_states"]

SETTLED_K = 1e-6  # temperatures have settled when the next round changes them by less
ROUNDS = 60
GLOWING_C = 1000.0  # no cable lasts so far: it only keeps an absurd current from having no answer at all


def solve_bank(
    job: Job,
    cables: Sequence[CableSpec],
    *,
    fuses: Mapping[str, Fuse] | None = None,
    state: str = "continuous",
    out: Collection[str] = (),
    joint_ohm: float | None = None,
    emf_v: Mapping[str, float] | None = None,
    resistance_ohm: Mapping[str, float] | None = None,
    conductor_c: float | None = None,
    extra_ohm: Mapping[str, float] | None = None,
) -> BankSolution:
    """Solve the bank in one state, with some strings out of service if asked.

    `fuses` by string name; `emf_v` and `resistance_ohm` by battery name, else the battery type's. Conductors
    are at `conductor_c`, or, if None, as warm as their current and the air along them make them; in a surge as
    warm as its duration makes them from the continuous state. `joint_ohm` is one lug on one stud; None: the
    common-practice allowance; `extra_ohm` by cable name is what its terminations have beyond that. Raises
    ValueError if a cable is missing or names no node of the job, or if the air is too hot for a conductor;
    RuntimeError if the solution does not pass the independent check.
    """
    before = None
    if state == "surge" and conductor_c is None:
        before = solve_bank(
            job,
            cables,
            fuses=fuses,
            out=out,
            joint_ohm=joint_ohm,
            emf_v=emf_v,
            resistance_ohm=resistance_ohm,
            extra_ohm=extra_ohm,
        )
    currents = load_currents(job, state)
    wiring = wire(
        job,
        cables,
        fuses=fuses,
        currents_a=currents,
        out=out,
        joint_ohm=joint_ohm,
        emf_v=emf_v,
        battery_ohm=resistance_ohm,
        bar_c=conductor_c,
        cable_c=20.0 if conductor_c is None else conductor_c,
        extra_ohm=extra_ohm,
    )
    return _solve(job, state, tuple(sorted(out)), currents, wiring, conductor_c, before)


def _solve(
    job: Job,
    state: str,
    out: tuple[str, ...],
    currents: dict[str, float],
    wiring: Wiring,
    fixed_c: float | None,
    before: BankSolution | None,
) -> BankSolution:
    """`before`: the continuous state a surge starts from."""
    rated = {c.name: ampacity_of(job, c) for c in wiring.cables}
    segments = {c.name: segments_of(c, job) for c in wiring.cables}
    if fixed_c is None:
        start_c = None
        if before is not None:
            start_c = {
                c.name: stretch_c(c, segments[c.name], before.cables[c.name].current_a, rated[c.name])
                for c in wiring.cables
            }
        wiring, solved, stretches = settle(job, wiring, rated, segments, start_c)
    else:
        solved = solve(wiring.network)
        stretches = {c.name: tuple(fixed_c for _ in segments[c.name]) for c in wiring.cables}
    faults = faults_in(wiring.network, solved)
    if faults:
        raise RuntimeError("the solved bank breaks a law of circuits: " + "; ".join(faults[:3]))
    return _solution(job, state, out, currents, wiring, solved, rated, segments, stretches)


def solve_states(
    job: Job, cables: Sequence[CableSpec], *, fuses: Mapping[str, Fuse] | None = None, joint_ohm: float | None = None
) -> tuple[BankSolution, ...]:
    """Every state the bank must bear: continuous, surge and charge where the job has them, then each of these with
    one string out after another, if the job asks for that and has more than one string."""
    states = ["continuous"] if any(not x.charger for x in job.loads) else []
    states += ["surge"] if any(x.surge for x in job.loads) else []
    states += ["charge"] if any(x.charger for x in job.loads) else []
    outages: list[tuple[str, ...]] = [()]
    if job.policy.one_string_out and len(job.strings) > 1:
        outages += [(string.name,) for string in job.strings]
    solved = []
    for out in outages:
        before = None
        for state in states:
            currents = load_currents(job, state)
            wiring = wire(job, cables, fuses=fuses, currents_a=currents, out=out, joint_ohm=joint_ohm)
            solution = _solve(job, state, out, currents, wiring, None, before if state == "surge" else None)
            before = solution if state == "continuous" else before
            solved.append(solution)
    return tuple(solved)


def settle(
    job: Job,
    wiring: Wiring,
    rated: Mapping[str, Ampacity],
    segments: Mapping[str, tuple[Segment, ...]],
    start_c: Mapping[str, Sequence[float]] | None,
) -> tuple[Wiring, NetworkState, dict[str, tuple[float, ...]]]:
    """Warm the conductors, solve, and again, until temperatures stay put. Only the cables of `wiring` are warmed."""
    duration_s = surge_duration_s(job)
    network = wiring.network
    ready = prepared(network)
    ohm = np.array([b.resistance_ohm for b in network.branches])
    numbers = {b.name: i for i, b in enumerate(network.branches) if b.resistance_ohm != float("inf")}
    cables = [(c, numbers.get(cable_branch(c)), segments[c.name]) for c in wiring.cables]
    stretches = {name: tuple(s.ambient_c for s in found) for name, found in segments.items()}
    for _ in range(ROUNDS):
        for c, number, parts in cables:
            if number is not None:
                ohm[number] = warm_ohm(c, parts, stretches[c.name])
        solved = solve_with(ready, ohm)
        warmer = {}
        for c, _, parts in cables:
            after_c = stretch_c(c, parts, solved.currents_a[cable_branch(c)], rated[c.name])
            if start_c is not None:
                after_c = after_surge_c(c, rated[c.name], start_c[c.name], after_c, duration_s)
            warmer[c.name] = tuple(min(degrees, GLOWING_C) for degrees in after_c)
        change_k = max(
            (abs(a - b) for name in warmer for a, b in zip(warmer[name], stretches[name], strict=True)), default=0.0
        )
        stretches = warmer
        if change_k < SETTLED_K:
            branches = list(network.branches)
            for _, number, _ in cables:
                if number is not None:
                    branches[number] = replace(branches[number], resistance_ohm=float(ohm[number]))
            return replace(wiring, network=replace(network, branches=tuple(branches))), solved, stretches
    raise RuntimeError(f"conductor temperatures did not settle: still {change_k:.3g} K apart")


def _solution(
    job: Job,
    state: str,
    out: tuple[str, ...],
    currents: dict[str, float],
    wiring: Wiring,
    solved: NetworkState,
    rated: Mapping[str, Ampacity],
    segments: Mapping[str, tuple[Segment, ...]],
    stretches: Mapping[str, tuple[float, ...]],
) -> BankSolution:
    volts, amps = solved.voltages_v, solved.currents_a
    cables = {}
    for cable in wiring.cables:
        current_a = abs(amps[cable_branch(cable)])
        ohm = warm_ohm(cable, segments[cable.name], stretches[cable.name])
        cables[cable.name] = CableState(
            cable.name,
            current_a,
            current_a * ohm,
            ohm,
            current_a**2 * ohm,
            max(stretches[cable.name]),
            rated[cable.name],
            cable.paralleled,
            stretches[cable.name],
        )
    losses: dict[str, float] = {}
    for part, branch in zip(wiring.parts, wiring.network.branches, strict=True):
        if branch.resistance_ohm != float("inf"):
            losses[part.stage] = losses.get(part.stage, 0.0) + amps[branch.name] ** 2 * branch.resistance_ohm
    return BankSolution(
        state=state,
        out=out,
        load_currents_a=currents,
        string_currents_a={s.name: amps[f"battery: {s.batteries[0].name}"] for s in job.strings},
        load_voltages_v={
            x.name: volts[("load positive", x.name)] - volts[("load negative", x.name)] for x in job.loads
        },
        drops=drops(job, wiring, solved),
        cables=cables,
        losses_w=losses,
        node_voltages_v=volts,
        findings=wiring.findings,
        wiring=wiring,
        network_state=solved,
    )
