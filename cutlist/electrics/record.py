"""The calculation record: every electrical figure with its formula, its inputs and their source.

A formula is plain arithmetic in the names of its inputs, so that anybody can do it again on a pocket calculator, and a
test does. What the network solver found (string currents, volts between studs) is written as the equations it must
satisfy.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from cutlist.bank.batteries import String
from cutlist.bank.job import Job
from cutlist.electrics.bank_state import BankSolution
from cutlist.electrics.drop import LoadDrop, handbook_drop_v
from cutlist.electrics.string_model import feeder_stud
from cutlist.electrics.wiring import BAR_RISE_K, CableSpec, Part, bar_pitch_ohm, branch_name, node_at, segments_of
from cutlist.reference.tables import constant, row_where

OHM = "Ω"
NETWORK = "network of the bank, solved and checked for current and energy balance"


@dataclass(frozen=True)
class Figure:
    item: str  # "S1 positive"
    quantity: str  # "resistance"
    value: float
    unit: str
    formula: str  # arithmetic in the names of the inputs
    inputs: tuple[tuple[str, float, str], ...]  # (name, value, unit)
    source: str


def electrical_record(job: Job, solution: BankSolution) -> tuple[Figure, ...]:
    """The record of one lasting state (continuous or charge), cable by cable, string by string, load by load.

    Raises ValueError for a surge, whose temperatures depend on the state before it.
    """
    if solution.state == "surge":
        raise ValueError("a surge has no record of its own: its conductors start as warm as the state before left them")
    return (
        *(figure for cable in solution.wiring.cables for figure in _cable(job, solution, cable)),
        *_bars(job),
        *(figure for s in job.strings if s.name not in solution.out for figure in _string(job, solution, s)),
        *_shares(job, solution),
        *(figure for load in job.loads for figure in _load(job, solution, load.name)),
    )


def _cable(job: Job, solution: BankSolution, cable: CableSpec) -> Iterator[Figure]:
    state, conductor, segments = solution.cables[cable.name], cable.conductor, segments_of(cable, job)
    rated = state.ampacity
    factors = [(f"factor_{i}", f.value, f.name) for i, f in enumerate(rated.factors, start=1)]
    yield Figure(
        cable.name,
        "ampacity",
        state.allowed_a,
        "A",
        " * ".join(["table", *(name for name, _, _ in factors), "paralleled"]),
        (("table", rated.table_a, "A"), *factors, ("paralleled", cable.paralleled, "")),
        rated.source,
    )
    for i, (segment, warming_a) in enumerate(zip(segments, rated.warming_a, strict=True), start=1):
        yield Figure(
            cable.name,
            f"temperature of stretch {i}",
            state.stretches_c[i - 1],
            "°C",
            "air + (insulation - table_air) * (current / paralleled / warming) ** 2",
            (
                ("air", segment.ambient_c, "°C"),
                ("insulation", conductor.insulation_c, "°C"),
                ("table_air", rated.table_air_c, "°C"),
                ("current", state.current_a, "A"),
                ("paralleled", cable.paralleled, ""),
                ("warming", warming_a, "A"),
            ),
            "rise with the square of current; warming current from the ampacity table with the bundle factor",
        )
    total_m = sum(s.length_m for s in segments) or 1.0
    share = [s.length_m / total_m for s in segments] if cable.length_m > 0 else [1.0] + [0.0] * (len(segments) - 1)
    mean_c = sum(a * b for a, b in zip(share, state.stretches_c, strict=True))
    yield Figure(
        cable.name,
        "mean temperature",
        mean_c,
        "°C",
        " + ".join(f"share_{i} * stretch_{i}" for i in range(1, len(segments) + 1)),
        (
            *((f"share_{i}", a, "of length") for i, a in enumerate(share, start=1)),
            *((f"stretch_{i}", c, "°C") for i, c in enumerate(state.stretches_c, start=1)),
        ),
        "stretches as routed",
    )
    yield Figure(
        cable.name,
        "resistance",
        state.resistance_ohm,
        OHM,
        "ohm_per_km / 1000 * length * (1 + alpha * (mean - 20)) / paralleled",
        (
            ("ohm_per_km", conductor.ohm_per_km_20c, "Ω/km at 20 °C"),
            ("length", cable.length_m, "m"),
            ("alpha", constant("copper", "quantity", "temperature coefficient at 20 C"), "1/K"),
            ("mean", mean_c, "°C"),
            ("paralleled", cable.paralleled, ""),
        ),
        f"{conductor.ohm_source}; IEC 60028",
    )
    inputs = (("current", state.current_a, "A"), ("resistance", state.resistance_ohm, OHM))
    yield Figure(cable.name, "drop", state.drop_v, "V", "current * resistance", inputs, "Ohm's law")
    yield Figure(cable.name, "loss", state.loss_w, "W", "current ** 2 * resistance", inputs, "Joule's law")


def _bars(job: Job) -> Iterator[Figure]:
    at_c = job.ambient_c + BAR_RISE_K
    for bar in job.bus_bars:
        ohm = bar_pitch_ohm(bar, at_c)
        if ohm is None:
            continue
        row = row_where("bus_bar_materials", "material", bar.material)
        yield Figure(
            bar.name,
            "resistance from stud to stud",
            ohm,
            OHM,
            "rho * pitch / (width * thickness) * (1 + per_k * (air + rise - 20))",
            (
                ("rho", float(row["ohm_mm2_per_m_20c"]), "Ω mm²/m at 20 °C"),
                ("pitch", bar.pitch_m, "m"),
                ("width", bar.width_m * 1000, "mm"),
                ("thickness", bar.thickness_m * 1000, "mm"),
                ("per_k", float(row["per_k"]), "1/K"),
                ("air", job.ambient_c, "°C"),
                ("rise", BAR_RISE_K, "K"),
            ),
            f"{row['source']}; rise: ANSI C37.20 limit for plain joints",
        )


def _string(job: Job, solution: BankSolution, string: String) -> Iterator[Figure]:
    wiring = solution.wiring
    parts: list[tuple[str, float, str]] = []
    for part, branch in zip(wiring.parts, wiring.network.branches, strict=True):
        if part.string == string.name:
            parts.append((f"r_{len(parts) + 1}", branch.resistance_ohm, f"{OHM}, {part.stage}: {part.item}"))
    ohm = sum(value for _, value, _ in parts)
    formula = " + ".join(name for name, _, _ in parts)
    source = "batteries: job file; cables: this record; terminations: measured or common-practice allowance"
    yield Figure(string.name, "resistance from stud to stud", ohm, OHM, formula, tuple(parts), source)
    emf_v = sum(_emf_v(solution, b.name) for b in string.batteries)
    ends = {pole: node_at(job, _stud(solution, string.name, pole)) for pole in ("positive", "negative")}
    between_v = solution.node_voltages_v[ends["positive"]] - solution.node_voltages_v[ends["negative"]]
    yield Figure(
        string.name,
        "current",
        solution.string_currents_a[string.name],
        "A",
        "(emf - between_studs) / resistance",
        (("emf", emf_v, "V"), ("between_studs", between_v, "V"), ("resistance", ohm, OHM)),
        NETWORK,
    )


def _shares(job: Job, solution: BankSolution) -> Iterator[Figure]:
    amps = [(s.name, solution.string_currents_a[s.name]) for s in job.strings if s.name not in solution.out]
    currents = tuple((f"i_{i}", a, f"A, {name}") for i, (name, a) in enumerate(amps, start=1))
    total_a = sum(a for _, a in amps)
    formula = " + ".join(name for name, _, _ in currents)
    yield Figure("bank", "current of all strings", total_a, "A", formula, currents, "equals the loads' current")
    if abs(total_a) < 1e-9:
        return
    for name, a in amps:
        inputs = (("current", a, "A"), ("total", total_a, "A"), ("strings", len(amps), ""))
        value = a / (total_a / len(amps)) - 1
        yield Figure(
            name, "departure from an even share", value, "", "current / (total / strings) - 1", inputs, NETWORK
        )


def _load(job: Job, solution: BankSolution, load: str) -> Iterator[Figure]:
    own = [d for d in solution.drops if d.load == load]
    if not own:
        return
    most_v = max(d.total_v for d in own)
    worst = next(d for d in own if d.total_v >= most_v * (1 - 1e-7))
    yield from _bar_drop(job, solution, worst)
    inputs = tuple((stage.replace(" ", "_"), volts, "V") for stage, volts in worst.stages)
    formula = " + ".join(name for name, _, _ in inputs)
    source = f"stages between {worst.string} and {load}, the string that loses most"
    yield Figure(load, "drop", worst.total_v, "V", formula, inputs, source)
    share_inputs = (("drop", worst.total_v, "V"), ("nominal", job.voltage_v, "V"))
    yield Figure(load, "drop, share of nominal", worst.share, "", "drop / nominal", share_inputs, "job file")
    yield from _handbook(solution, worst)


def _bar_drop(job: Job, solution: BankSolution, worst: LoadDrop) -> Iterator[Figure]:
    """Bars between the string's studs and the load's: section by section, the way current flows."""
    volts = dict(worst.stages)["bus bars"]
    terms: list[str] = []
    inputs: list[tuple[str, float, str]] = []
    way = 1.0 if solution.load_currents_a[worst.load] > 0 else -1.0
    for bar in job.bus_bars:
        pitch_ohm = bar_pitch_ohm(bar, job.ambient_c + BAR_RISE_K)
        if pitch_ohm is None:
            continue
        stud = _stud(solution, worst.string, bar.pole)[2]
        tap = feeder_stud(solution, (f"load {bar.pole}", worst.load))
        inputs.append((f"pitch_{bar.pole}", pitch_ohm, OHM))
        # Out along the positive bar from string to tap, back along the negative one from tap to string.
        from_to = (stud, tap) if bar.pole == "positive" else (tap, stud)
        for i in range(min(from_to), max(from_to)):
            along = 1.0 if from_to[0] < from_to[1] else -1.0
            section = branch_name(Part("bus bars", f"{bar.name} {i} to {i + 1}"))
            name = f"i_{len(inputs)}"
            amps = way * along * solution.network_state.currents_a[section]
            inputs.append((name, amps, f"A, {bar.name} {i} to {i + 1}"))
            terms.append(f"pitch_{bar.pole} * {name}")
    if terms:
        yield Figure(worst.load, "drop in the bus bars", volts, "V", " + ".join(terms), tuple(inputs), NETWORK)


def _handbook(solution: BankSolution, worst: LoadDrop) -> Iterator[Figure]:
    """K·I·L / CM for the string's cables and the feeders, each at its own current."""
    cables = [c for c in solution.wiring.cables if c.string == worst.string]
    cables += [c for c in solution.wiring.cables if c.kind == "feeder"]
    terms, inputs, total_v = [], [("k", constant("copper", "quantity", "handbook K"), "Ω cmil/ft")], 0.0
    for i, cable in enumerate(cables, start=1):
        amps = solution.cables[cable.name].current_a
        area_mm2 = cable.conductor.area_mm2 * cable.paralleled
        terms.append(f"k * i_{i} * l_{i} * 3.280839895 / (s_{i} * 1973.525241)")
        inputs += [(f"i_{i}", amps, f"A, {cable.name}"), (f"l_{i}", cable.length_m, "m"), (f"s_{i}", area_mm2, "mm²")]
        total_v += handbook_drop_v(amps, cable.length_m, area_mm2)
    source = "ABYC E-11 formula; joints, bars, fuses and warmth left out; all feeders counted"
    yield Figure(worst.load, "drop by the handbook", total_v, "V", " + ".join(terms), tuple(inputs), source)


def _emf_v(solution: BankSolution, battery: str) -> float:
    name = f"battery: {battery}"
    return next(b.emf_v for b in solution.wiring.network.branches if b.name == name)


def _stud(solution: BankSolution, string: str, pole: str) -> tuple[str, str, int]:
    """The stud where a string's lead lands."""
    for cable in solution.wiring.cables:
        if cable.string == string and cable.kind == "lead" and cable.pole == pole:
            for end in (cable.start, cable.finish):
                if isinstance(end, tuple) and end[0] == "stud":
                    return end
    raise ValueError(f"no {pole} lead of {string} ends on a bus bar")
