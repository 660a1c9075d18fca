"""The bank as a network: batteries, jumpers, leads, fuses, bus bars, devices, feeders and loads of a job.

Nodes: a battery terminal by its name; ("stud", bar, index); a device's or load's side as feeders name it; and where a
lead is two cuts about an in-line fuse, ("fuse battery side", string) and ("fuse bar side", string).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from cutlist.bank.batteries import String
from cutlist.bank.bus_bars import BusBar
from cutlist.bank.cables import Conductor, Fuse
from cutlist.bank.job import Job
from cutlist.electrics.ampacity import Segment
from cutlist.electrics.conductors import resistance_ohm
from cutlist.electrics.network import Branch, Network, Node, Source
from cutlist.findings import Finding
from cutlist.reference.tables import row_where

STATES = ("continuous", "surge", "charge")
BAR_RISE_K = 30.0  # bus bars are counted this much above the air: ANSI C37.20's limit for plain joints


@dataclass(frozen=True)
class CableSpec:
    """One cable as laid: its ends, its conductor, and the length of that conductor from stud to stud."""

    name: str  # "S1 positive"
    kind: str  # "lead", "jumper", "feeder"
    pole: str  # "positive", "negative"; "" for a jumper
    string: str  # "" for a feeder
    start: Node
    finish: Node
    conductor: Conductor
    length_m: float
    segments: tuple[Segment, ...] = ()  # stretches of the run; () means all of it in the job's air
    paralleled: int = 1  # like cables side by side that share the current


@dataclass(frozen=True)
class Part:
    """What one branch of the network stands for."""

    stage: str  # "battery", "jumpers", "positive leads", "negative leads", "string fuses", "bus bars", "feeders", ...
    item: str  # the battery, cable, string, bar or device
    string: str = ""  # "" for what all strings share


@dataclass(frozen=True)
class Wiring:
    network: Network
    parts: tuple[Part, ...]  # one for each branch, in the same order
    cables: tuple[CableSpec, ...]
    findings: tuple[Finding, ...]  # what had to be left out


def load_currents(job: Job, state: str) -> dict[str, float]:
    """Current from each load's positive to its negative, by name; a charger's is negative.

    "continuous": loads at their continuous current; "surge": those that surge at their surge current, all at the
    same moment; "charge": chargers alone.
    """
    if state not in STATES:
        raise ValueError(f'state "{state}" is not one of {", ".join(STATES)}')
    currents = {}
    for load in job.loads:
        if load.charger:
            currents[load.name] = -load.continuous_a if state == "charge" else 0.0
        elif state == "charge":
            currents[load.name] = 0.0
        elif state == "surge" and load.surge:
            currents[load.name] = load.surge.current_a
        else:
            currents[load.name] = load.continuous_a
    return currents


def surge_duration_s(job: Job) -> float:
    return max((load.surge.duration_s for load in job.loads if load.surge), default=0.0)


def segments_of(cable: CableSpec, job: Job) -> tuple[Segment, ...]:
    """The cable's stretches, scaled to its length; one in the job's air if none are given."""
    total_m = sum(s.length_m for s in cable.segments)
    if not cable.segments or total_m <= 0:
        bundled = max((s.bundled_count for s in cable.segments), default=1)
        air_c = max((s.ambient_c for s in cable.segments), default=job.ambient_c)
        engine = any(s.engine_space for s in cable.segments)
        return (Segment(cable.length_m, air_c, engine, bundled),)
    scale = cable.length_m / total_m
    return tuple(Segment(s.length_m * scale, s.ambient_c, s.engine_space, s.bundled_count) for s in cable.segments)


def joint_allowance_ohm() -> float:
    """Resistance counted for one lug on one stud where none was measured: the middle of what practice finds."""
    row = row_where("joints", "joint", "lug on stud: crimp, lug and contact")
    return (float(row["low_ohm"]) + float(row["high_ohm"])) / 2


def bar_pitch_ohm(bar: BusBar, temperature_c: float) -> float | None:
    """Resistance of a bar from one stud to the next; None if its section is not given. Holes are ignored."""
    area_mm2 = bar.width_m * bar.thickness_m * 1e6
    if area_mm2 <= 0:
        return None
    row = row_where("bus_bar_materials", "material", bar.material)
    ratio = 1 + float(row["per_k"]) * (temperature_c - 20)
    return float(row["ohm_mm2_per_m_20c"]) * bar.pitch_m / area_mm2 * ratio


def wire(
    job: Job,
    cables: Sequence[CableSpec],
    *,
    fuses: Mapping[str, Fuse] | None = None,
    currents_a: Mapping[str, float],
    out: Collection[str] = (),
    joint_ohm: float | None = None,
    emf_v: Mapping[str, float] | None = None,
    battery_ohm: Mapping[str, float] | None = None,
    bar_c: float | None = None,
    cable_c: float = 20.0,
    extra_ohm: Mapping[str, float] | None = None,
) -> Wiring:
    """The network of the whole bank, conductors at `cable_c`.

    `fuses` by string, `emf_v` and `battery_ohm` by battery (else the type's figures), `currents_a` by load,
    `extra_ohm` by cable: what its terminations have beyond the allowance. Strings in `out` have their positive
    lead open. Raises ValueError if a lead is missing or an end is no node of the job.
    """
    fuses = fuses or {}
    joint = joint_allowance_ohm() if joint_ohm is None else joint_ohm
    bar_at_c = job.ambient_c + BAR_RISE_K if bar_c is None else bar_c
    solid_bars = {b.name for b in job.bus_bars if bar_pitch_ohm(b, bar_at_c) is None}
    findings = list(_bar_findings(job, solid_bars))
    branches: list[Branch] = []
    parts: list[Part] = []

    def add(part: Part, start: Node, finish: Node, ohm: float, emf: float = 0.0) -> None:
        branches.append(Branch(branch_name(part), start, finish, ohm, emf))
        parts.append(part)

    for string in job.strings:
        for battery in string.batteries:
            ohm = (battery_ohm or {}).get(battery.name, battery.type.resistance_ohm)
            emf = (emf_v or {}).get(battery.name, battery.type.emf_v)
            add(Part("battery", battery.name, string.name), battery.negative.name, battery.positive.name, ohm, emf)
    for cable in cables:
        start, finish = (_merged(end, solid_bars) for end in _cable_ends(cable, job, fuses))
        within = ("within", cable.name)
        ohm = resistance_ohm(cable.conductor.ohm_per_km_20c, cable.length_m, cable_c) / cable.paralleled
        if cable.string in out and cable.kind == "lead" and cable.pole == "positive":
            ohm = math.inf
        add(Part(stage_of(cable), cable.name, cable.string), start, within, ohm)
        joints = 2 * joint / cable.paralleled + (extra_ohm or {}).get(cable.name, 0.0)
        add(Part("terminations", cable.name, cable.string), within, finish, joints)
    for string in job.strings:
        ends = _fuse_ends(string, cables, job, fuses)
        if ends:
            fuse = fuses.get(string.name)
            ohm = fuse.resistance_ohm if fuse and fuse.resistance_ohm is not None else 0.0
            if fuse and fuse.resistance_ohm is None:
                findings.append(_left_out(f"{string.name} fuse", "its resistance is not given"))
            add(Part("string fuses", string.name, string.name), *ends, ohm)
    _add_bars(job, cables, bar_at_c, add)
    for device in job.devices:
        if device.resistance_ohm is None:
            findings.append(_left_out(device.name, "its resistance is not given"))
        sides = ("device source side", device.name), ("device load side", device.name)
        add(Part("devices", device.name), *sides, device.resistance_ohm or 0.0)
    sources = tuple(
        Source(f"load {x.name}", ("load positive", x.name), ("load negative", x.name), currents_a.get(x.name, 0.0))
        for x in job.loads
    )
    ground = _merged(_feeder_stud(cables, "negative", job), solid_bars)
    network = Network(tuple(branches), sources, ground)
    _check_joined(job, network)
    return Wiring(network, tuple(parts), tuple(cables), tuple(findings))


def branch_name(part: Part) -> str:
    return f"{part.stage}: {part.item}"


def cable_branch(cable: CableSpec) -> str:
    """The name of a cable's own branch (its terminations are another)."""
    return branch_name(Part(stage_of(cable), cable.name))


def stage_of(cable: CableSpec) -> str:
    return {"lead": f"{cable.pole} leads", "jumper": "jumpers", "feeder": "feeders"}[cable.kind]


def node_at(job: Job, node: Node, bars_without_section: Collection[str] | None = None) -> Node:
    """The network's name for a node: all studs of a bar without a section are one node."""
    solid = bars_without_section
    if solid is None:
        solid = {b.name for b in job.bus_bars if bar_pitch_ohm(b, 20.0) is None}
    return _merged(node, solid)


def _merged(node: Node, solid_bars: Collection[str]) -> Node:
    if isinstance(node, tuple) and node[0] == "stud" and node[1] in solid_bars:
        return ("bar", node[1])
    return node


def _cable_ends(cable: CableSpec, job: Job, fuses: Mapping[str, Fuse]) -> tuple[Node, Node]:
    """The cable's ends, with a fuse that sits on a stud put between lead and stud."""
    if cable.kind != "lead" or cable.pole != "positive" or cable.string not in fuses:
        return cable.start, cable.finish
    if job.policy.string_fuse == "at battery" and isinstance(cable.start, str):
        return ("fuse bar side", cable.string), cable.finish
    if job.policy.string_fuse == "at bus bar" and isinstance(cable.finish, tuple) and cable.finish[0] == "stud":
        return cable.start, ("fuse battery side", cable.string)
    return cable.start, cable.finish


def _fuse_ends(
    string: String, cables: Sequence[CableSpec], job: Job, fuses: Mapping[str, Fuse]
) -> tuple[Node, Node] | None:
    leads = [c for c in cables if c.kind == "lead" and c.pole == "positive" and c.string == string.name]
    sides: tuple[Node, Node] = ("fuse battery side", string.name), ("fuse bar side", string.name)
    if any(end in sides for lead in leads for end in (lead.start, lead.finish)):
        return sides
    if string.name not in fuses or not leads or job.policy.string_fuse == "none":
        return None
    if job.policy.string_fuse == "at bus bar":
        solid = {b.name for b in job.bus_bars if bar_pitch_ohm(b, 20.0) is None}
        return sides[0], _merged(leads[-1].finish, solid)
    if job.policy.string_fuse == "at battery":
        return leads[0].start, sides[1]
    raise ValueError(f"{string.name}: an in-line fuse needs its positive lead as two cuts")


def _add_bars(job: Job, cables: Sequence[CableSpec], bar_c: float, add) -> None:
    for bar in job.bus_bars:
        pitch_ohm = bar_pitch_ohm(bar, bar_c)
        used = [
            end[2]
            for c in cables
            for end in (c.start, c.finish)
            if isinstance(end, tuple) and end[:2] == ("stud", bar.name)
        ]
        if pitch_ohm is None or not used:
            continue
        if min(used) < 0 or max(used) >= bar.studs:
            raise ValueError(f"{bar.name} has studs 0 to {bar.studs - 1}; a cable asks for {max(used)}")
        for i in range(min(used), max(used)):
            add(
                Part("bus bars", f"{bar.name} {i} to {i + 1}"),
                ("stud", bar.name, i),
                ("stud", bar.name, i + 1),
                pitch_ohm,
            )


def _feeder_stud(cables: Sequence[CableSpec], pole: str, job: Job) -> Node:
    bar = job.negative_bar.name if pole == "negative" else job.positive_bar.name
    for cable in cables:
        for end in (cable.start, cable.finish):
            if cable.kind == "feeder" and isinstance(end, tuple) and end[:2] == ("stud", bar):
                return end
    raise ValueError(f"no feeder leaves bus bar {bar}: the bank feeds nothing")


def _check_joined(job: Job, network: Network) -> None:
    touched = Counter(node for b in network.branches for node in (b.start, b.finish))
    for load in job.loads:
        for node in (("load positive", load.name), ("load negative", load.name)):
            if node not in touched:
                raise ValueError(f"no feeder reaches the {node[0].removeprefix('load ')} of {load.name}")
    for string in job.strings:
        for terminal, pole in ((string.positive.name, "positive"), (string.negative.name, "negative")):
            if touched[terminal] < 2:
                raise ValueError(f"string {string.name} has no {pole} lead")


def _bar_findings(job: Job, solid_bars: Collection[str]) -> list[Finding]:
    found = [_left_out(name, "its section is not given") for name in sorted(solid_bars)]
    for bar in job.bus_bars:
        row = row_where("bus_bar_materials", "material", bar.material)
        if row["status"] == "from-memory" and bar.name not in solid_bars:
            message = f"{bar.name}: the resistivity of {bar.material} is an estimate ({row['source']})"
            found.append(Finding("data", bar.name, "note", message, source=row["source"]))
    return found


def _left_out(item: str, why: str) -> Finding:
    message = f"{item}: {why}, so its resistance is left out of drop and sharing"
    return Finding("data", item, "unknown", message, mend="give it in the job or stock file")
