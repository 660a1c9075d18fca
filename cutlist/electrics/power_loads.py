"""Loads that draw a power rather than a current: as the bank sags they take more."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.electrics.bank_solution import solve_bank
from cutlist.electrics.bank_state import BankSolution
from cutlist.electrics.wiring import CableSpec

SETTLED = 1e-9  # of a current: the last round changed no more than this
ROUNDS = 200


def solve_at_power(
    job: Job,
    cables: Sequence[CableSpec],
    powers_w: Mapping[str, float],
    *,
    fuses: Mapping[str, Fuse] | None = None,
    conductor_c: float | None = None,
) -> BankSolution:
    """The continuous state with these loads (by name) drawing so many watts at their own terminals.

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
        solved = solve_bank(drawing, cables, fuses=fuses, conductor_c=conductor_c)
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
