"""The electrical limits of a bank as findings: value, limit, source, and the state in which it is worst."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.electrics.bank_state import BankSolution
from cutlist.electrics.wiring import CableSpec, surge_duration_s
from cutlist.findings import Finding
from cutlist.reference.tables import row_where

JOB_FILE = "job file"


def bank_findings(
    job: Job,
    cables: Sequence[CableSpec],
    solutions: Sequence[BankSolution],
    fuses: Mapping[str, Fuse] | None = None,
) -> tuple[Finding, ...]:
    """Every electrical limit of the bank, held against the worst of the solved states.

    Drop in normal use, with a string out and in a surge; each string's share; ampacity of each cable and its warmth;
    what bus bars, devices and string fuses are rated for; and what data was missing.
    """
    lasting = [s for s in solutions if s.state != "surge"]
    surges = [s for s in solutions if s.state == "surge"]
    missing = dict.fromkeys(f for s in solutions for f in s.findings)
    return (
        *_drop(job, solutions),
        *_shares(job, solutions),
        *_ampacity(cables, lasting),
        *_temperatures(job, cables, lasting, surges),
        *_bars(job, lasting),
        *_devices(job, lasting),
        *_fuse_load(fuses or {}, lasting),
        *missing,
    )


def when(solution: BankSolution) -> str:
    """ "continuous", "surge, S2 out": the state in words."""
    return solution.state + "".join(f", {name} out" for name in solution.out)


def _first_worst(solutions: Sequence[BankSolution], figures: Sequence[float]) -> BankSolution | None:
    """The first of the states whose figure is largest; differences below the solver's noise do not count."""
    if not solutions:
        return None
    most = max(figures)
    return next(s for s, figure in zip(solutions, figures, strict=True) if figure >= most - 1e-7 * abs(most))


def _verdict(value: float, limit: float) -> str:
    # Rounding noise of the solver must not fail a bank that is exactly on its limit.
    return "pass" if value <= limit * (1 + 1e-9) else "fail"


def _drop(job: Job, solutions: Sequence[BankSolution]) -> Iterator[Finding]:
    groups: list[tuple[str, float | None, list[BankSolution]]] = [
        ("voltage drop", job.limits.drop, [s for s in solutions if s.state == "continuous" and not s.out]),
        ("voltage drop, one string out", job.limits.drop, [s for s in solutions if s.state == "continuous" and s.out]),
        ("voltage drop in a surge", job.limits.surge_drop, [s for s in solutions if s.state == "surge"]),
    ]
    for rule, limit, states in groups:
        solution = _first_worst(states, [max((d.total_v for d in s.drops), default=0.0) for s in states])
        if solution is None or limit is None or not solution.drops:
            continue
        most_v = max(d.total_v for d in solution.drops)
        drop = next(d for d in solution.drops if d.total_v >= most_v * (1 - 1e-7))
        largest = max(drop.stages, key=lambda stage: stage[1])
        message = (
            f"{drop.load} loses {drop.total_v:.3f} V of {job.voltage_v:g} V ({drop.share:.2%}) against {drop.string}, "
            f"{when(solution)}; limit {limit:.2%}. Most in the {largest[0]}: {largest[1]:.3f} V"
        )
        mend = f"larger conductors or shorter runs in the {largest[0]}"
        yield Finding(rule, drop.load, _verdict(drop.share, limit), message, drop.share, limit, "", JOB_FILE, mend)


def _shares(job: Job, solutions: Sequence[BankSolution]) -> Iterator[Finding]:
    normal = next((s for s in solutions if not s.out), None)
    if normal is None or len(job.strings) < 2:
        return
    even_a = sum(normal.string_currents_a.values()) / len(job.strings)
    if even_a == 0:
        return
    for name, amps in normal.string_currents_a.items():
        departure = amps / even_a - 1
        message = (
            f"{name} carries {amps:.1f} A where an even share is {even_a:.1f} A ({departure:+.1%}); "
            f"up to {job.limits.share:.0%} either way is allowed"
        )
        status = _verdict(abs(departure), job.limits.share)
        mend = "see which of leads, jumpers, bars, joints or batteries differ"
        yield Finding("string share", name, status, message, abs(departure), job.limits.share, "", JOB_FILE, mend)


def _ampacity(cables: Sequence[CableSpec], lasting: Sequence[BankSolution]) -> Iterator[Finding]:
    for cable in cables:
        worst = _first_worst(lasting, [s.cables[cable.name].current_a for s in lasting])
        if worst is None:
            return
        state = worst.cables[cable.name]
        message = (
            f"{cable.name}: {state.current_a:.0f} A ({when(worst)}) in {cable.conductor.name}"
            f"{'' if cable.paralleled == 1 else f' x {cable.paralleled}'}, which may carry {state.allowed_a:.0f} A"
        )
        status = _verdict(state.current_a, state.allowed_a)
        yield Finding(
            "ampacity",
            cable.name,
            status,
            message,
            state.current_a,
            state.allowed_a,
            "A",
            state.ampacity.source,
            "a larger conductor, or a run through cooler air",
        )


def _temperatures(
    job: Job, cables: Sequence[CableSpec], lasting: Sequence[BankSolution], surges: Sequence[BankSolution]
) -> Iterator[Finding]:
    """The warmest cable for long and in a surge, and every one that is too warm."""
    for rule, states in (("conductor temperature", lasting), ("conductor temperature in a surge", surges)):
        found = []
        for cable in cables:
            worst = _first_worst(states, [s.cables[cable.name].temperature_c for s in states])
            if worst is None:
                continue
            warm_c, limit_c = worst.cables[cable.name].temperature_c, cable.conductor.insulation_c
            lasts = f" after {surge_duration_s(job):g} s" if worst.state == "surge" else ""
            message = (
                f"{cable.name} reaches {warm_c:.0f} °C{lasts} ({when(worst)}); its insulation is for {limit_c:.0f} °C"
            )
            source = "heat balance from the ampacity table; insulation rating from the stock file"
            status = _verdict(warm_c, limit_c)
            found.append(
                Finding(rule, cable.name, status, message, warm_c, limit_c, "°C", source, "a larger conductor")
            )
        failing = [f for f in found if f.status == "fail"]
        yield from failing or sorted(found, key=lambda f: (f.margin if f.margin is not None else 0.0, f.item))[:1]


def _bars(job: Job, lasting: Sequence[BankSolution]) -> Iterator[Finding]:
    for bar in job.bus_bars:
        worst = _first_worst(lasting, [_bar_a(bar.name, s) for s in lasting])
        if worst is None:
            return
        amps = _bar_a(bar.name, worst)
        if bar.rating_a is None:
            message = f"{bar.name} carries {amps:.0f} A; its rating is not given"
            yield Finding("bus bar rating", bar.name, "unknown", message, amps, None, "A", mend="give its rating")
            continue
        message = f"{bar.name} carries {amps:.0f} A ({when(worst)}) and is rated for {bar.rating_a:g} A"
        status = _verdict(amps, bar.rating_a)
        yield Finding("bus bar rating", bar.name, status, message, amps, bar.rating_a, "A", JOB_FILE, "a larger bar")


def _bar_a(name: str, solution: BankSolution) -> float:
    """The most that passes any section of the bar; what enters it in all if its sections are not modelled."""
    network, parts = solution.wiring.network, solution.wiring.parts
    sections = [
        abs(solution.network_state.currents_a[branch.name])
        for part, branch in zip(parts, network.branches, strict=True)
        if part.stage == "bus bars" and part.item.startswith(f"{name} ")
    ]
    return max(sections) if sections else abs(sum(solution.string_currents_a.values()))


def _devices(job: Job, lasting: Sequence[BankSolution]) -> Iterator[Finding]:
    for device in job.devices:
        worst = _first_worst(lasting, [_device_a(device.name, s) for s in lasting])
        if worst is None:
            return
        amps = _device_a(device.name, worst)
        if device.rating_a is None:
            message = f"{device.name} carries {amps:.0f} A; its rating is not given"
            yield Finding("device rating", device.name, "unknown", message, amps, None, "A", mend="give its rating")
            continue
        message = f"{device.name} carries {amps:.0f} A ({when(worst)}) and is rated for {device.rating_a:g} A"
        status = _verdict(amps, device.rating_a)
        yield Finding("device rating", device.name, status, message, amps, device.rating_a, "A", JOB_FILE)


def _device_a(name: str, solution: BankSolution) -> float:
    return abs(solution.network_state.currents_a[f"devices: {name}"])


def _fuse_load(fuses: Mapping[str, Fuse], lasting: Sequence[BankSolution]) -> Iterator[Finding]:
    row = row_where("protection_rules", "rule", "continuous current, share of fuse rating")
    for name, fuse in sorted(fuses.items()):
        worst = _first_worst(lasting, [abs(s.string_currents_a[name]) for s in lasting])
        if worst is None:
            return
        amps, limit_a = abs(worst.string_currents_a[name]), float(row["value"]) * fuse.rating_a
        message = (
            f"the {fuse.rating_a:g} A fuse of {name} carries {amps:.0f} A for long ({when(worst)}); "
            f"{float(row['value']):.0%} of its rating is {limit_a:.0f} A"
        )
        status = _verdict(amps, limit_a)
        yield Finding("fuse load", name, status, message, amps, limit_a, "A", row["source"], "a larger fuse and cable")
