"""The same batteries connected in other ways: chains tapped here or there, bus bars, equal leads; in figures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np

from cutlist.bank.batteries import Terminal
from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.bank_solution import settle, solve_bank
from cutlist.electrics.charge_state import CURVES, Drift, drift
from cutlist.electrics.check import faults_in
from cutlist.electrics.conductors import resistance_ohm
from cutlist.electrics.costs import cost_of_cables
from cutlist.electrics.network import Branch, Network, NetworkState, Node, Source, solve
from cutlist.electrics.policies import matched
from cutlist.electrics.warmth import ampacity_of
from cutlist.electrics.wiring import CableSpec, Wiring, cable_branch, joint_allowance_ohm, load_currents, segments_of
from cutlist.reference.tables import constant

CHAINS = ("chain tapped at one end", "chain tapped diagonally", "chain tapped at the middle")
CONNECTIONS = (*CHAINS, "bus bars, leads as routed", "bus bars, equal leads")
DETOUR = 1.15  # a link over the straight distance between two terminals: common practice, no published source


@dataclass(frozen=True)
class Connection:
    name: str
    string_currents_a: dict[str, float]
    largest_over_smallest: float
    worst_string: str
    worst_departure: float  # signed, from an even share
    drop: float  # share of nominal voltage, worst string and load
    lead_m: float  # leads, or the links of a chain
    cable_m: float  # all cables
    copper_kg: float
    cost: Decimal | None  # estimate
    hardest_used: str  # the cable nearest to its ampacity
    use: float  # its current over what it may carry
    drift: Drift | None  # None: no curve for the chemistry, or no load


def compare_connections(
    job: Job,
    stock: Stock,
    routed: Sequence[CableSpec],
    *,
    fuses: Mapping[str, Fuse] | None = None,
    laid: Mapping[str, Sequence[CableSpec]] | None = None,
    link_m: float | None = None,
    conductor_c: float | None = None,
    start: float = 0.9,
    depth: float = 0.5,
) -> tuple[Connection, ...]:
    """Each way of connecting the strings, at continuous current, conductors as warm as that and the air make them
    (or all at `conductor_c`).

    `routed`: the cables with leads as long as their shortest runs; `laid`: by connection, the cables as they will lie
    where that is known. A chain links neighbouring strings in the job's
    order, on both poles, in the leads' conductor; its links are `link_m` long, or the distance between the terminals
    and 15 % more; its feeders start at the tapped string and are longer by that string's lead. Chains have no string
    fuses. The cycle of charge runs from `start` down by `depth` and back. Raises ValueError for a single string.
    """
    if len(job.strings) < 2:
        raise ValueError("one string can be connected in one way only")
    found = [_chain(job, stock, routed, name, link_m, conductor_c, start, depth) for name in CHAINS]
    for name, policy in zip(CONNECTIONS[3:], ("as routed", "all leads alike"), strict=True):
        cables = (laid or {}).get(name) or matched(job, routed, policy, fuses=fuses)
        solution = solve_bank(job, cables, fuses=fuses, conductor_c=conductor_c)
        found.append(_connection(job, stock, name, cables, solution.wiring.network, start, depth))
    return tuple(found)


def chain_taps(name: str, strings: int) -> tuple[int, int]:
    """(string whose positive is tapped, string whose negative is tapped), from 0."""
    return {
        CHAINS[0]: (0, 0),
        CHAINS[1]: (0, strings - 1),
        CHAINS[2]: ((strings - 1) // 2, strings // 2),
    }[name]


def chain_cables(job: Job, routed: Sequence[CableSpec], name: str, link_m: float | None) -> tuple[CableSpec, ...]:
    """Jumpers as they are, links instead of leads, feeders from the tapped strings' terminals."""
    cables = [c for c in routed if c.kind == "jumper"]
    lead = next(c for c in routed if c.kind == "lead")
    for near, far in zip(job.strings, job.strings[1:], strict=False):
        for pole in ("positive", "negative"):
            a, b = getattr(near, pole), getattr(far, pole)
            long_m = DETOUR * _apart_m(a, b) if link_m is None else link_m
            cables.append(
                replace(
                    lead, name=f"link {near.name} to {far.name} {pole}", pole=pole, string="", start=a.name,
                    finish=b.name, length_m=long_m, segments=(),
                )
            )  # fmt: skip
    taps = dict(zip(("positive", "negative"), chain_taps(name, len(job.strings)), strict=True))
    for feeder in routed:
        if feeder.kind == "feeder":
            string = job.strings[taps[feeder.pole]]
            extra_m = sum(
                c.length_m for c in routed if c.kind == "lead" and (c.string, c.pole) == (string.name, feeder.pole)
            )
            ends = [
                getattr(string, feeder.pole).name if isinstance(end, tuple) and end[0] == "stud" else end
                for end in (feeder.start, feeder.finish)
            ]
            longer_m = feeder.length_m + (extra_m if ends != [feeder.start, feeder.finish] else 0.0)
            cables.append(replace(feeder, start=ends[0], finish=ends[1], length_m=longer_m))
    return tuple(cables)


def _apart_m(a: Terminal, b: Terminal) -> float:
    return float(np.linalg.norm(np.subtract(a.point, b.point)))


def _chain(
    job: Job,
    stock: Stock,
    routed: Sequence[CableSpec],
    name: str,
    link_m: float | None,
    conductor_c: float | None,
    start: float,
    depth: float,
) -> Connection:
    cables = chain_cables(job, routed, name, link_m)
    joint = joint_allowance_ohm()
    branches = [
        Branch(f"battery: {b.name}", b.negative.name, b.positive.name, b.type.resistance_ohm, b.type.emf_v)
        for s in job.strings
        for b in s.batteries
    ]
    for cable in cables:
        cold_c = 20.0 if conductor_c is None else conductor_c
        ohm = resistance_ohm(cable.conductor.ohm_per_km_20c, cable.length_m, cold_c) / cable.paralleled
        within: Node = ("within", cable.name)
        branches.append(Branch(cable_branch(cable), cable.start, within, ohm))
        branches.append(Branch(f"terminations: {cable.name}", within, cable.finish, 2 * joint / cable.paralleled))
    branches += [
        Branch(
            f"devices: {d.name}", ("device source side", d.name), ("device load side", d.name), d.resistance_ohm or 0.0
        )
        for d in job.devices
    ]
    currents = load_currents(job, "continuous")
    sources = tuple(
        Source(f"load {x.name}", ("load positive", x.name), ("load negative", x.name), currents[x.name])
        for x in job.loads
    )
    wiring = Wiring(Network(tuple(branches), sources, job.strings[0].negative.name), (), cables, ())
    if conductor_c is None:
        rated, segments = {c.name: ampacity_of(job, c) for c in cables}, {c.name: segments_of(c, job) for c in cables}
        wiring = settle(job, wiring, rated, segments, None)[0]
    return _connection(job, stock, name, cables, wiring.network, start, depth)


def _connection(
    job: Job,
    stock: Stock,
    name: str,
    cables: Sequence[CableSpec],
    network: Network,
    start: float,
    depth: float,
) -> Connection:
    state = solve(network)
    faults = faults_in(network, state)
    if faults:
        raise RuntimeError("the compared bank breaks a law of circuits: " + "; ".join(faults[:3]))
    amps = {s.name: state.currents_a[f"battery: {s.batteries[0].name}"] for s in job.strings}
    even_a = sum(amps.values()) / len(amps)
    if abs(even_a) < 1e-9:
        raise ValueError("the loads carry no continuous current: there is nothing to compare")
    far = max(abs(a / even_a - 1) for a in amps.values())
    worst = next(x for x, a in amps.items() if abs(a / even_a - 1) >= far * (1 - 1e-9))
    use = {
        c.name: abs(state.currents_a[cable_branch(c)]) / c.paralleled / ampacity_of(job, c).current_a for c in cables
    }
    hardest = max(use, key=lambda c: (round(use[c], 9), c))
    smallest = min(amps.values())
    density = constant("copper", "quantity", "density")
    return Connection(
        name=name,
        string_currents_a=amps,
        largest_over_smallest=max(amps.values()) / smallest if smallest > 0 else float("inf"),
        worst_string=worst,
        worst_departure=amps[worst] / even_a - 1,
        drop=_worst_drop_v(job, state) / job.voltage_v,
        lead_m=sum(c.length_m * c.paralleled for c in cables if c.kind == "lead"),
        cable_m=sum(c.length_m * c.paralleled for c in cables),
        copper_kg=sum(c.length_m * c.paralleled * c.conductor.area_mm2 * density / 1000 for c in cables),
        cost=cost_of_cables(job, stock, cables),
        hardest_used=hardest,
        use=use[hardest],
        drift=_drift(job, network, start, depth),
    )


def _worst_drop_v(job: Job, state: NetworkState) -> float:
    volts = state.voltages_v
    battery_v = [sum(volts[b.positive.name] - volts[b.negative.name] for b in s.batteries) for s in job.strings]
    load_v = [
        volts[("load positive", x.name)] - volts[("load negative", x.name)]
        for x in job.loads
        if state.currents_a[f"load {x.name}"] > 0
    ]
    return max(battery_v) - min(load_v)


def _drift(job: Job, network: Network, start: float, depth: float) -> Drift | None:
    if any(b.type.chemistry not in CURVES for b in job.batteries) or job.continuous_a <= 0:
        return None
    total_a = sum(s.current_a for s in network.sources)

    def currents(emf_v: np.ndarray, load_a: float) -> np.ndarray:
        first = {f"battery: {s.batteries[0].name}": e for s, e in zip(job.strings, emf_v, strict=True)}
        branches = tuple(
            replace(b, emf_v=float(first.get(b.name, 0.0))) if b.name.startswith("battery: ") else b
            for b in network.branches
        )
        sources = tuple(replace(s, current_a=s.current_a / total_a * load_a) for s in network.sources)
        state = solve(replace(network, branches=branches, sources=sources))
        return np.array([state.currents_a[f"battery: {s.batteries[0].name}"] for s in job.strings])

    return drift(job.strings, currents, current_a=job.continuous_a, start=start, depth=depth)
