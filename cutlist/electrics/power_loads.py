"""Loads that draw a power rather than a current: as the bank sags they take more."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace

from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.electrics.bank_solution import solve_bank
from cutlist.electrics.bank_state import BankSolution
from cutlist.electrics.wiring import CableSpec
from cutlist.findings import Finding

SETTLED = 1e-9  # of a current: the last round changed no more than this
ROUNDS = 200


def solve_at_power(
    job: Job,
    cables: Sequence[CableSpec],
    powers_w: Mapping[str, float],
    *,
    fuses: Mapping[str, Fuse] | None = None,
    conductor_c: float | None = None,
    out: Collection[str] = (),
) -> BankSolution:
    """The continuous state, some strings out of service if asked, with these loads (by name) drawing so many watts at
    their own terminals.

    Each round the current is the power over the voltage the last round left. That settles on the higher of the two
    voltages that satisfy the power wherever there is one: below half the resting voltage no bank gives more power for
    more current. Raises ValueError for an unknown load, a power not above 0, or more power than the bank can give.
    """
    unknown = sorted(set(powers_w) - {x.name for x in job.loads})
    if unknown:
        raise ValueError(f"there is no load {', '.join(unknown)}")
    for name, watts in powers_w.items():
        if not watts > 0:
            raise ValueError(f"{name}: {watts:g} W is no load")
    rest_v = min(s.emf_v for s in job.strings)
    amps = {name: watts / rest_v for name, watts in powers_w.items()}
    for _ in range(ROUNDS):
        drawing = replace(
            job, loads=tuple(replace(x, continuous_a=amps.get(x.name, x.continuous_a)) for x in job.loads)
        )
        solved = solve_bank(drawing, cables, fuses=fuses, conductor_c=conductor_c, out=out)
        low = [name for name in powers_w if solved.load_voltages_v[name] < rest_v / 2]
        if low:
            total_w = sum(powers_w.values())
            raise ValueError(f"the bank cannot give {total_w:g} W: {low[0]} would have less than half its voltage")
        wanted = {name: watts / solved.load_voltages_v[name] for name, watts in powers_w.items()}
        change = max(abs(wanted[name] - amps[name]) / wanted[name] for name in powers_w) if powers_w else 0.0
        amps = wanted
        if change < SETTLED:
            return solved
    raise ValueError(f"the bank cannot give {sum(powers_w.values()):g} W: its voltage does not settle")


def guessed_power(job: Job) -> Job:
    """The job with loads of constant power at nominal voltage: a first guess, until there are cables."""
    unsettled = {x.name: x.power_w / job.voltage_v for x in job.loads if x.power_w and x.lowest_v is None}
    return replace(job, loads=tuple(replace(x, continuous_a=unsettled.get(x.name, x.continuous_a)) for x in job.loads))


def at_power(job: Job, cables: Sequence[CableSpec], *, fuses: Mapping[str, Fuse] | None = None) -> Job:
    """The job with the current of every load of constant power that gives no lowest voltage of its own.

    It is the current out of the full bank, the worst of all strings in service and (if the job asks) any one out.
    Raises ValueError if the bank cannot give it.
    """
    powers = {x.name: x.power_w for x in job.loads if x.power_w is not None and x.lowest_v is None}
    if not powers:
        return job
    outs: list[tuple[str, ...]] = [()]
    if job.policy.one_string_out and len(job.strings) > 1:
        outs += [(s.name,) for s in job.strings]
    amps = dict.fromkeys(powers, 0.0)
    for out in outs:
        solved = solve_at_power(job, cables, powers, fuses=fuses, out=out)
        amps = {name: max(a, solved.load_currents_a[name]) for name, a in amps.items()}
    return replace(job, loads=tuple(replace(x, continuous_a=amps.get(x.name, x.continuous_a)) for x in job.loads))


def power_findings(job: Job) -> Iterator[Finding]:
    """At which current each load of constant power is counted."""
    for load in job.loads:
        if load.power_w is None:
            continue
        counted = (
            f"{load.name} draws {load.power_w:g} W whatever its voltage; it is counted at {load.continuous_a:.1f} A"
        )
        if load.lowest_v is not None:
            message = f"{counted}, which is what it takes at {load.lowest_v:g} V, where it switches off"
            yield Finding("load of constant power", load.name, "note", message, source="job file")
            continue
        message = f"{counted}, out of a full bank; as the bank empties it takes more, and that was not looked at"
        mend = "give the lowest voltage at which it still runs"
        yield Finding("load of constant power", load.name, "unknown", message, source="job file", mend=mend)
