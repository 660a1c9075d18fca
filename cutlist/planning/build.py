"""One pair of bus-bar places, built: studs, runs, conductors, equal lengths. Or the reason why it cannot be."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from cutlist.bank.bus_bars import BarPlace
from cutlist.bank.cables import Conductor
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.sizing import Combination, Sizing, size
from cutlist.electrics.warmth import ampacity_of
from cutlist.electrics.wiring import CableSpec
from cutlist.layout.cable_ends import CableTask
from cutlist.layout.run_lengths import Joined, Laid, joined, laid_at_length, run_requests, shortest_runs
from cutlist.layout.scene import space_with_bank
from cutlist.layout.studs import TooFewStuds
from cutlist.plan_types import Infeasible
from cutlist.planning.wires import cable_specs
from geometry.runs import NoRun
from geometry.space import Space

DETOUR = 1.15  # first guess of run over straight distance, only to choose conductors before anything is routed
SIZE_ROUNDS = 4  # a conductor may grow when the true lengths are known; each round it grows or stays

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Built:
    places: Mapping[str, BarPlace]
    space: Space
    cables: tuple[Joined, ...]
    conductors: Mapping[str, Conductor]  # by kind of cable
    laid: Laid
    specs: tuple[CableSpec, ...]
    sizing: Sizing


def build(
    job: Job, stock: Stock, tasks: Sequence[CableTask], places: Mapping[str, BarPlace], progress: Progress
) -> Built | Infeasible:
    try:
        cables = joined(job, tasks, places)
    except TooFewStuds as fault:
        return Infeasible("bus bar", str(fault), "", 0.0)
    space = space_with_bank(job, [(bar, places[bar.name]) for bar in job.bus_bars])
    guess = cable_specs(job, cables, _thinnest(stock), _guessed_lengths(cables), {})
    sizing = size(job, stock, guess)
    for _ in range(SIZE_ROUNDS):
        conductors = _by_kind(sizing)
        progress("finding runs")
        requests = run_requests(job, stock, cables, conductors)
        runs = shortest_runs(job, space, requests)
        stopped = [run for run in runs if isinstance(run, NoRun)]
        if stopped:
            worst = max(stopped, key=lambda r: (r.proved, r.missing_m, r.name))
            return Infeasible(worst.name, worst.reason, worst.obstacle, worst.missing_m)
        found = [run for run in runs if not isinstance(run, NoRun)]
        progress("matching lengths")
        rest = rest_of_strings(job, cables, conductors, {run.name: run.length_m for run in found})
        laid = laid_at_length(job, stock, space, cables, requests, found, conductors, rest)
        lengths_m = {name: length.developed_m for name, length in laid.lengths.items()}
        specs = cable_specs(job, cables, conductors, lengths_m, {run.name: run.curve for run in laid.laid})
        progress("sizing conductors")
        again = size(job, stock, specs)
        if _by_kind(again) == conductors:
            break
        sizing = again
    too_hot = _too_hot(job, specs)
    return too_hot or Built(places, space, cables, conductors, laid, specs, again)


def _too_hot(job: Job, specs: Sequence[CableSpec]) -> Infeasible | None:
    """A cable whose air is as warm as its insulation may get can carry nothing: no plan, and which cable."""
    for spec in specs:
        try:
            ampacity_of(job, spec)
        except ValueError as fault:
            reason = str(fault).removeprefix(f"{spec.name}: ")
            return Infeasible(spec.name, f"{reason}; use hotter insulation, or keep it out of that zone", "", 0.0)
    return None


def rest_of_strings(
    job: Job, cables: Sequence[Joined], conductors: Mapping[str, Conductor], lengths_m: Mapping[str, float]
) -> dict[str, float]:
    """What each string's jumpers add to its loop, in metres of cable, or of lead conductor of equal resistance."""
    rest = {s.name: 0.0 for s in job.strings}
    scale = 1.0
    if job.policy.match == "equal resistance":
        scale = conductors["jumper"].ohm_per_km_20c / conductors["lead"].ohm_per_km_20c
    for cable in cables:
        if cable.kind == "jumper":
            rest[cable.string] += scale * lengths_m[cable.name]
    return rest


def _guessed_lengths(cables: Sequence[Joined]) -> dict[str, float]:
    straight = {
        c.name: sum((a - b) ** 2 for a, b in zip(c.start.point, c.finish.point, strict=True)) ** 0.5 for c in cables
    }
    longest = max((straight[c.name] for c in cables if c.kind == "lead"), default=0.0)
    return {c.name: DETOUR * (longest if c.kind == "lead" else straight[c.name]) for c in cables}


def _thinnest(stock: Stock) -> dict[str, Conductor]:
    thinnest = min(stock.conductors, key=lambda c: (c.area_mm2, c.name))
    return dict.fromkeys(("lead", "jumper", "feeder"), thinnest)


def chosen_combination(sizing: Sizing) -> Combination:
    """The cheapest that meets every limit; if none does, the one that falls short least: the findings say so."""
    if sizing.chosen is not None:
        return sizing.chosen.combination
    return min(sizing.tried, key=lambda s: (len(s.faults), s.worst_drop, s.ampacity_use)).combination


def _by_kind(sizing: Sizing) -> dict[str, Conductor]:
    combination = chosen_combination(sizing)
    jumper = combination.jumper or combination.lead
    return {"lead": combination.lead, "jumper": jumper, "feeder": combination.feeder}
