"""Volts lost on the way from battery to load, stage by stage; and the handbook's figure to set beside it."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cutlist.bank.job import Job
from cutlist.electrics.conductors import conductor_data, resistance_ohm
from cutlist.electrics.network import NetworkState, Node
from cutlist.electrics.wiring import Wiring
from cutlist.reference.tables import constant

STAGES = (
    "jumpers",
    "positive leads",
    "negative leads",
    "string fuses",
    "bus bars",
    "feeders",
    "devices",
    "terminations",
)
CMIL_PER_MM2 = 1973.525241
FEET_PER_M = 3.280839895

Step = tuple[Node, Node, int]  # a node, the next one towards the bus bar, the branch between them


@dataclass(frozen=True)
class LoadDrop:
    """What one load loses against the battery terminals of one string, there and back."""

    load: str
    string: str
    total_v: float
    share: float  # of nominal voltage
    stages: tuple[tuple[str, float], ...]  # (stage, volts); they add up to the total


def drop_v(current_a: float, length_m: float, ohm_per_km: float) -> float:
    """Volts lost along one cable, one way; its partner is a cable of its own.

    >>> round(drop_v(current_a=100, length_m=2.0, ohm_per_km=0.386), 6)
    0.0772
    """
    if length_m < 0 or ohm_per_km < 0:
        raise ValueError(f"length {length_m} m and {ohm_per_km} ohm/km may not be negative")
    return current_a * length_m / 1000 * ohm_per_km


def handbook_drop_v(current_a: float, out_and_back_m: float, area_mm2: float) -> float:
    """The trade's K·I·L / CM: copper at about 29 °C, joints and bars left out.

    Source: ABYC E-11 conductor sizing formula, K = 10.75 ohm circular mil per foot.

    >>> round(handbook_drop_v(10, 21 / 3.280839895, 6500 / 1973.525241), 4)
    0.3473
    """
    k = constant("copper", "quantity", "handbook K")
    return k * current_a * out_and_back_m * FEET_PER_M / (area_mm2 * CMIL_PER_MM2)


def handbook_area_mm2(current_a: float, out_and_back_m: float, allowed_v: float) -> float:
    """The copper the handbook's formula asks for: CM = K·I·L / E.

    >>> round(handbook_area_mm2(10, 21 / 3.280839895, 0.36) * 1973.525241)
    6271
    """
    if allowed_v <= 0:
        raise ValueError(f"an allowed drop of {allowed_v} V leaves no conductor")
    k = constant("copper", "quantity", "handbook K")
    return k * current_a * out_and_back_m * FEET_PER_M / allowed_v / CMIL_PER_MM2


def handbook_size(current_a: float, out_and_back_m: float, allowed_v: float, sizes: Sequence[str]) -> str | None:
    """The smallest of `sizes` whose nominal area is what the handbook's formula asks for; None if none is."""
    wanted_mm2 = handbook_area_mm2(current_a, out_and_back_m, allowed_v)
    # Areas in trade tables are rounded: half a per cent short is the size that was meant.
    fitting = [(conductor_data(size).area_mm2, size) for size in sizes]
    return min(((area, size) for area, size in fitting if area >= wanted_mm2 * 0.995), default=(0.0, None))[1]


def size_for_drop(
    current_a: float,
    out_and_back_m: float,
    allowed_v: float,
    sizes: Sequence[str],
    *,
    temperature_c: float,
    tinned: bool = False,
    paralleled: int = 1,
) -> str | None:
    """The smallest of `sizes` that loses no more than `allowed_v`, by the tables' resistance at a temperature."""
    fitting = []
    for size in sizes:
        data = conductor_data(size, tinned=tinned)
        lost_v = current_a * resistance_ohm(data.ohm_per_km_20c, out_and_back_m, temperature_c) / paralleled
        if lost_v <= allowed_v:
            fitting.append((data.area_mm2, size))
    return min(fitting, default=(0.0, None))[1]


def drops(job: Job, wiring: Wiring, state: NetworkState) -> tuple[LoadDrop, ...]:
    """For each load that carries current and each string that does, what is lost between them.

    The loss is the sum of the string's battery terminal voltages less the load's voltage (for a charger the other
    way about), so the batteries' own resistance is not part of it. By string, then load, as the job lists them.
    """
    volts = state.voltages_v
    shared = _shared_paths(wiring)
    found = []
    for load in job.loads:
        amps = state.currents_a[f"load {load.name}"]
        if amps == 0:
            continue
        way = 1.0 if amps > 0 else -1.0
        load_v = volts[("load positive", load.name)] - volts[("load negative", load.name)]
        for string in job.strings:
            own = [i for i, part in enumerate(wiring.parts) if part.string == string.name]
            if any(math.isinf(wiring.network.branches[i].resistance_ohm) for i in own):
                continue  # out of service
            battery_v = sum(volts[b.positive.name] - volts[b.negative.name] for b in string.batteries)
            stages = _stages(wiring, state, own, shared, load.name)
            total_v = way * (battery_v - load_v)
            # The bars are what is left: between the string's studs and the feeder's.
            stages["bus bars"] = battery_v - load_v - sum(stages.values())
            rows = tuple((stage, way * stages.get(stage, 0.0)) for stage in STAGES)
            found.append(LoadDrop(load.name, string.name, total_v, total_v / job.voltage_v, rows))
    return tuple(found)


def _stages(
    wiring: Wiring, state: NetworkState, own: list[int], shared: Mapping[Node, list[Step]], load: str
) -> dict[str, float]:
    """Volts lost by stage, discharge counted positive; bus bars left at 0."""
    stages: dict[str, float] = dict.fromkeys(STAGES, 0.0)
    battery = next(i for i in own if wiring.parts[i].stage == "battery")
    sign = 1.0 if state.currents_a[wiring.network.branches[battery].name] >= 0 else -1.0
    for i in own:
        branch = wiring.network.branches[i]
        if wiring.parts[i].stage != "battery":
            # All of a string is one row: whichever way a cable was drawn, it carries the string's current.
            stages[wiring.parts[i].stage] += sign * abs(state.currents_a[branch.name]) * branch.resistance_ohm
    for pole, way in (("positive", 1.0), ("negative", -1.0)):
        for node, nearer_bar, i in shared[(f"load {pole}", load)]:
            lost_v = way * (state.voltages_v[nearer_bar] - state.voltages_v[node])
            stages[wiring.parts[i].stage] += lost_v
    return stages


def _shared_paths(wiring: Wiring) -> dict[Node, list[Step]]:
    """From each load terminal the steps (feeders, devices, their joints) of the shortest way to a bus bar."""
    at_node: dict[Node, list[tuple[Node, int]]] = {}
    for i, (part, branch) in enumerate(zip(wiring.parts, wiring.network.branches, strict=True)):
        if not part.string and part.stage != "bus bars":
            at_node.setdefault(branch.start, []).append((branch.finish, i))
            at_node.setdefault(branch.finish, []).append((branch.start, i))
    terminals = [terminal for source in wiring.network.sources for terminal in (source.start, source.finish)]
    return {terminal: _way_to_bar(terminal, at_node) for terminal in terminals}


def _way_to_bar(terminal: Node, at_node: Mapping[Node, list[tuple[Node, int]]]) -> list[Step]:
    came: dict[Node, Step | None] = {terminal: None}
    queue = deque([terminal])
    while queue:
        node = queue.popleft()
        if isinstance(node, tuple) and node[0] in ("stud", "bar"):
            way = []
            step = came[node]
            while step is not None:
                way.append(step)
                step = came[step[0]]
            return way
        for other, branch in at_node.get(node, []):
            if other not in came:
                came[other] = (node, other, branch)
                queue.append(other)
    raise ValueError(f"no feeder joins {terminal} to a bus bar")
