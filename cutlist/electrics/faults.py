"""What the bank itself can drive into a fault, place by place, and what a conductor bears of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from cutlist.bank.batteries import Battery
from cutlist.bank.cables import Conductor
from cutlist.bank.job import Job
from cutlist.electrics.conductors import adiabatic_i2t_a2s
from cutlist.electrics.network import Branch, NetworkState, Node, solve
from cutlist.electrics.wiring import CableSpec, Wiring, node_at, wire
from cutlist.reference.tables import constant


@dataclass(frozen=True)
class FaultCurrent:
    """A bolted fault at 20 °C, joints without resistance: more than will flow."""

    place: str
    total_a: float
    own_a: float  # of the string it lies on; 0 at the bus bars
    others_a: float  # what the other strings feed into it


def at_battery(string: str) -> str:
    return f"{string} positive lead at the battery"


def fault_currents(job: Job, cables: Sequence[CableSpec]) -> tuple[FaultCurrent, ...]:
    """Bolted faults at the bus bars, on each positive lead at its battery, and beyond each main fuse.

    Loads off, conductors at 20 °C, no joints, batteries full with their own resistance or, if it is known, the
    maker's short-circuit current.
    """
    wiring = wire(job, cables, currents_a={}, joint_ohm=0.0, battery_ohm=_fault_ohm(job.batteries), bar_c=20.0)
    bar_positive, bar_negative = _feeder_node(job, cables, "positive"), _feeder_node(job, cables, "negative")
    found = []
    at_bus = _faulted(wiring, bar_positive, bar_negative)
    found.append(FaultCurrent("bus bars", at_bus.currents_a["fault"], 0.0, at_bus.currents_a["fault"]))
    for string in job.strings:
        state = _faulted(wiring, string.positive.name, string.negative.name)
        own_a = state.currents_a[f"battery: {string.batteries[0].name}"]
        total_a = state.currents_a["fault"]
        found.append(FaultCurrent(at_battery(string.name), total_a, own_a, total_a - own_a))
    for device in job.devices:
        if device.kind == "fuse":
            state = _faulted(wiring, ("device load side", device.name), bar_negative)
            total_a = state.currents_a["fault"]
            found.append(FaultCurrent(f"beyond {device.name}", total_a, 0.0, total_a))
    return tuple(found)


def _fault_ohm(batteries: Sequence[Battery]) -> dict[str, float]:
    return {
        b.name: min(b.type.resistance_ohm, b.type.emf_v / b.type.short_circuit_a)
        for b in batteries
        if b.type.short_circuit_a
    }


def _faulted(wiring: Wiring, start: Node, finish: Node) -> NetworkState:
    network = wiring.network
    return solve(replace(network, branches=(*network.branches, Branch("fault", start, finish, 0.0))))


def _feeder_node(job: Job, cables: Sequence[CableSpec], pole: str) -> Node:
    bar = (job.positive_bar if pole == "positive" else job.negative_bar).name
    for cable in cables:
        for end in (cable.start, cable.finish):
            if cable.kind == "feeder" and isinstance(end, tuple) and end[:2] == ("stud", bar):
                return node_at(job, end)
    raise ValueError(f"no feeder leaves bus bar {bar}: the bank feeds nothing")


def fault_withstand_a2s(conductor: Conductor) -> float | None:
    """I²t a conductor bears from its insulation's full temperature; None if the insulation's limit is not known."""
    end_c = constant("copper", "quantity", "highest temperature after a fault")
    if conductor.insulation_c >= end_c:
        return None
    return adiabatic_i2t_a2s(conductor.area_mm2, conductor.insulation_c, end_c)
