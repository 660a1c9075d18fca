"""A stranger's check of a solved network: every law of it, by plain sums, sharing no code with the solvers."""

from __future__ import annotations

import math
from collections import defaultdict

from cutlist.electrics.network import Network, NetworkState, Node


def faults_in(network: Network, state: NetworkState, *, relative: float = 1e-7) -> list[str]:
    """Every law the state breaks, in words; empty when it is sound.

    Ohm's law on each branch, currents at each node, the sources' own currents, and power given against power lost.
    """
    faults = []
    largest_a = max((abs(a) for a in state.currents_a.values()), default=0.0)
    largest_v = max((abs(v) for v in state.voltages_v.values()), default=0.0)
    largest_v = max([largest_v, 1e-9, *(abs(b.emf_v) for b in network.branches)])
    largest_a = max(largest_a, 1.0)  # an idle bank has only the solver's noise
    near_a = relative * largest_a
    balance_a: defaultdict[Node, float] = defaultdict(float)
    given_w = lost_w = 0.0
    for branch in network.branches:
        amps = state.currents_a[branch.name]
        balance_a[branch.start] -= amps
        balance_a[branch.finish] += amps
        across_v = state.voltages_v[branch.start] - state.voltages_v[branch.finish]
        if math.isinf(branch.resistance_ohm):
            if amps != 0:
                faults.append(f"{branch.name}: {amps} A through an open branch")
            continue
        wanted_v = amps * branch.resistance_ohm - branch.emf_v
        if abs(across_v - wanted_v) > relative * largest_v:
            faults.append(f"{branch.name}: {across_v} V across it, Ohm's law gives {wanted_v} V")
        given_w += amps * branch.emf_v
        lost_w += amps * amps * branch.resistance_ohm
    for source in network.sources:
        amps = state.currents_a[source.name]
        if amps != source.current_a:
            faults.append(f"{source.name}: carries {amps} A, not the {source.current_a} A it was set to")
        balance_a[source.start] -= amps
        balance_a[source.finish] += amps
        given_w += amps * (state.voltages_v[source.finish] - state.voltages_v[source.start])
    for node, amps in balance_a.items():
        if abs(amps) > near_a:
            faults.append(f"{node}: {amps} A more flow in than out")
    if abs(given_w - lost_w) > relative * max(abs(given_w), abs(lost_w), largest_a * largest_v):
        faults.append(f"{given_w} W given but {lost_w} W lost")
    return faults
