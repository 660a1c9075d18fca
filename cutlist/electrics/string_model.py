"""The bank reduced to what decides its sharing: each string as EMF and resistance between its studs, on two bars."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from cutlist.bank.job import Job
from cutlist.electrics.bank_state import BankSolution
from cutlist.electrics.conductors import resistance_ohm
from cutlist.electrics.network import Branch, Network, Node, Source
from cutlist.electrics.variants import Folded, fold, solve_variants
from cutlist.electrics.wiring import bar_pitch_ohm

RESISTANCES = ("battery resistance", "lead length", "jumpers", "terminations", "string fuses", "temperature")
CAUSES = (*RESISTANCES, "battery EMF", "bus bars and tap")
_CAUSE_OF = {
    "battery": "battery resistance",
    "positive leads": "lead length",
    "negative leads": "lead length",
    "jumpers": "jumpers",
    "terminations": "terminations",
    "string fuses": "string fuses",
}


@dataclass(frozen=True)
class StringModel:
    strings: tuple[str, ...]
    parts_ohm: Mapping[str, np.ndarray]  # each cause of RESISTANCES -> (strings,)
    emf_v: np.ndarray  # (strings,)
    positive_stud: tuple[int, ...]  # (strings,)
    negative_stud: tuple[int, ...]
    positive_pitch_ohm: float  # bar resistance from stud to stud; 0: the bar is one node
    negative_pitch_ohm: float
    taps: tuple[tuple[int, int, float], ...]  # (positive stud, negative stud, A out of the bank)
    lead_ohm_per_m: np.ndarray  # (strings, 2) of its positive and negative lead, warm
    batteries: np.ndarray  # (strings,) how many in series
    joints: np.ndarray  # (strings,) terminations in the string's cables
    joint_ohm: float

    @property
    def resistance_ohm(self) -> np.ndarray:
        """(strings,) of each string from stud to stud."""
        return np.sum([self.parts_ohm[cause] for cause in RESISTANCES], axis=0)

    @property
    def load_a(self) -> float:
        return sum(amps for _, _, amps in self.taps)


@dataclass(frozen=True)
class Sharing:
    state: str
    out: tuple[str, ...]
    string_currents_a: dict[str, float]
    largest_over_smallest: float  # inf if a string carries nothing or the wrong way
    worst_string: str  # the one farthest from an even share
    worst_departure: float  # signed: 0.03 is 3 % more than an even share


def string_model(job: Job, solution: BankSolution) -> StringModel:
    """Reduce a solved bank. Resistances are those of its temperatures; strings out of service are left out.

    Raises ValueError if a string's lead does not end on a bus-bar stud.
    """
    strings = [s for s in job.strings if s.name not in solution.out]
    names = tuple(s.name for s in strings)
    row = {name: i for i, name in enumerate(names)}
    parts: dict[str, np.ndarray] = {cause: np.zeros(len(names)) for cause in RESISTANCES}
    joints = np.zeros(len(names), dtype=int)
    cables = {c.name: c for c in solution.wiring.cables}
    joint_ohm = 0.0
    for part, branch in zip(solution.wiring.parts, solution.wiring.network.branches, strict=True):
        if part.string not in row:
            continue
        i, ohm = row[part.string], branch.resistance_ohm
        cause = _CAUSE_OF[part.stage]
        if part.stage in ("positive leads", "negative leads", "jumpers"):
            cable = cables[part.item]
            cold = resistance_ohm(cable.conductor.ohm_per_km_20c, cable.length_m) / cable.paralleled
            parts[cause][i] += cold
            parts["temperature"][i] += ohm - cold
        else:
            parts[cause][i] += ohm
        if part.stage == "terminations":
            joints[i] += 2 * cables[part.item].paralleled
            joint_ohm = ohm * cables[part.item].paralleled / 2
    emf_v = np.array([sum(_emf_v(solution, b.name) for b in s.batteries) for s in strings])
    pitch = {bar.pole: _pitch_ohm(job, solution, bar.name) for bar in job.bus_bars}
    return StringModel(
        strings=names,
        parts_ohm=parts,
        emf_v=emf_v,
        positive_stud=tuple(_stud(solution, name, "positive") for name in names),
        negative_stud=tuple(_stud(solution, name, "negative") for name in names),
        positive_pitch_ohm=pitch["positive"],
        negative_pitch_ohm=pitch["negative"],
        taps=_taps(job, solution),
        lead_ohm_per_m=np.array([[_lead_ohm_per_m(solution, name, pole) for pole in _POLES] for name in names]),
        batteries=np.array([len(s.batteries) for s in strings]),
        joints=joints,
        joint_ohm=joint_ohm,
    )


_POLES = ("positive", "negative")


def string_currents(
    model: StringModel, *, resistance_ohm: np.ndarray | None = None, emf_v: np.ndarray | None = None
) -> np.ndarray:
    """(variants, strings) currents for (variants, strings) resistances and EMFs; None: the model's own.

    Where both bars are single nodes this is the current divider: V = (sum(E/R) - I) / sum(1/R), I_k = (E_k - V)/R_k.
    """
    ohm = np.atleast_2d(model.resistance_ohm if resistance_ohm is None else resistance_ohm)
    emf = np.atleast_2d(model.emf_v if emf_v is None else emf_v)
    if model.positive_pitch_ohm == 0 and model.negative_pitch_ohm == 0:
        siemens = 1 / ohm
        bank_v = ((siemens * emf).sum(axis=1) - model.load_a) / siemens.sum(axis=1)
        return siemens * (emf - bank_v[:, None])
    folded = _folded(model)
    n = len(model.strings)
    all_ohm = np.tile(folded.resistance_ohm, (len(ohm), 1))
    all_emf = np.zeros((len(emf), len(folded.names)))
    all_ohm[:, :n], all_emf[:, :n] = ohm, emf
    return solve_variants(folded, resistance_ohm=all_ohm, emf_v=all_emf).currents_a[:, :n]


def departures(model: StringModel, currents_a: np.ndarray) -> np.ndarray:
    """Each string's current against an even share, less 1. Raises ValueError if the bank carries nothing."""
    even_a = model.load_a / len(model.strings)
    if even_a == 0:
        raise ValueError("the bank carries no current: there is nothing to share")
    return currents_a / even_a - 1


def sharing_of(solution: BankSolution) -> Sharing | None:
    """How one solved state shares its current; None if it carries none or has one string in service."""
    amps = {name: a for name, a in solution.string_currents_a.items() if name not in solution.out}
    total_a = sum(amps.values())
    if len(amps) < 2 or abs(total_a) < 1e-9:
        return None
    even_a = total_a / len(amps)
    relative = {name: a / even_a for name, a in amps.items()}
    largest, smallest = max(relative.values()), min(relative.values())
    far = max(abs(r - 1) for r in relative.values())
    worst = next(name for name, r in relative.items() if abs(r - 1) >= far * (1 - 1e-9))
    ratio = largest / smallest if smallest > 0 else float("inf")
    return Sharing(solution.state, solution.out, amps, ratio, worst, relative[worst] - 1)


def with_stud_order(model: StringModel, order: tuple[int, ...]) -> StringModel:
    """The same strings on one another's studs: string k moves to where string order[k] was."""
    return replace(
        model,
        positive_stud=tuple(model.positive_stud[k] for k in order),
        negative_stud=tuple(model.negative_stud[k] for k in order),
    )


def _folded(model: StringModel) -> Folded:
    branches = [
        Branch(name, _node("-", q, model.negative_pitch_ohm), _node("+", p, model.positive_pitch_ohm), 1.0)
        for name, p, q in zip(model.strings, model.positive_stud, model.negative_stud, strict=True)
    ]
    plus, minus = [tap[0] for tap in model.taps], [tap[1] for tap in model.taps]
    for pole, used, pitch in (
        ("+", [*model.positive_stud, *plus], model.positive_pitch_ohm),
        ("-", [*model.negative_stud, *minus], model.negative_pitch_ohm),
    ):
        if pitch > 0:
            steps = range(min(used), max(used))
            branches += [Branch(f"bar {pole} {i}", (pole, i), (pole, i + 1), pitch) for i in steps]
    sources = tuple(
        Source(f"tap {i}", _node("+", p, model.positive_pitch_ohm), _node("-", q, model.negative_pitch_ohm), amps)
        for i, (p, q, amps) in enumerate(model.taps)
    )
    return fold(Network(tuple(branches), sources))


def _node(pole: str, stud: int, pitch_ohm: float) -> Node:
    return (pole, stud if pitch_ohm > 0 else 0)


def _emf_v(solution: BankSolution, battery: str) -> float:
    name = f"battery: {battery}"
    return next(b.emf_v for b in solution.wiring.network.branches if b.name == name)


def _pitch_ohm(job: Job, solution: BankSolution, bar: str) -> float:
    for part, branch in zip(solution.wiring.parts, solution.wiring.network.branches, strict=True):
        if part.stage == "bus bars" and part.item.startswith(f"{bar} "):
            return branch.resistance_ohm
    spec = next(b for b in job.bus_bars if b.name == bar)
    return bar_pitch_ohm(spec, job.ambient_c) or 0.0


def _stud(solution: BankSolution, string: str, pole: str) -> int:
    for cable in solution.wiring.cables:
        if cable.string == string and cable.kind == "lead" and cable.pole == pole:
            for end in (cable.start, cable.finish):
                if isinstance(end, tuple) and end[0] == "stud":
                    return int(end[2])
    raise ValueError(f"no {pole} lead of {string} ends on a bus bar")


def _lead_ohm_per_m(solution: BankSolution, string: str, pole: str) -> float:
    """Of the lead's last cut, which is the one made to length."""
    own = [c for c in solution.wiring.cables if c.string == string and c.kind == "lead" and c.pole == pole]
    cable = own[-1]
    warm = solution.cables[cable.name]
    if cable.length_m > 0:
        return warm.resistance_ohm / cable.length_m
    return cable.conductor.ohm_per_km_20c / 1000 / cable.paralleled


def _taps(job: Job, solution: BankSolution) -> tuple[tuple[int, int, float], ...]:
    """Where each load's current leaves the bars: the stud its feeders start from."""
    taps = []
    for load in job.loads:
        amps = solution.load_currents_a[load.name]
        if amps != 0:
            studs = [feeder_stud(solution, (f"load {pole}", load.name)) for pole in _POLES]
            taps.append((studs[0], studs[1], amps))
    return tuple(taps)


def feeder_stud(solution: BankSolution, terminal: Node) -> int:
    """Walk feeders and devices from a load's terminal to the bar."""
    joined: dict[Node, list[Node]] = {}
    ends = [(c.start, c.finish) for c in solution.wiring.cables if c.kind == "feeder"]
    devices = {p.item for p in solution.wiring.parts if p.stage == "devices"}
    ends += [(("device source side", d), ("device load side", d)) for d in sorted(devices)]
    for a, b in ends:
        joined.setdefault(a, []).append(b)
        joined.setdefault(b, []).append(a)
    seen, queue = {terminal}, [terminal]
    for node in queue:
        if isinstance(node, tuple) and node[0] == "stud":
            return int(node[2])
        fresh = [other for other in joined.get(node, []) if other not in seen]
        seen.update(fresh)
        queue.extend(fresh)
    raise ValueError(f"no feeder joins {terminal} to a bus bar")
