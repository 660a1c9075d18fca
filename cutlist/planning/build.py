"""One pair of bus-bar places, built: studs, runs, conductors, equal lengths. Or the reason why it cannot be."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from cutlist.bank.bus_bars import BarPlace
from cutlist.bank.cables import Conductor, Fuse
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.policies import matched
from cutlist.electrics.power_loads import at_power
from cutlist.electrics.protection import protect
from cutlist.electrics.sizing import Combination, Sizing, size
from cutlist.electrics.warmth import ampacity_of
from cutlist.electrics.wiring import CableSpec
from cutlist.layout.cable_ends import CableTask
from cutlist.layout.later_leads import later_cables, later_measured
from cutlist.layout.matching import Measured
from cutlist.layout.posts import with_posts
from cutlist.layout.run_lengths import (
    Joined,
    Laid,
    beside_each_other,
    joined,
    laid_at_length,
    lugs_m,
    run_requests,
    shortest_runs,
)
from cutlist.layout.scene import space_with_bank
from cutlist.layout.studs import TooFewStuds
from cutlist.plan_types import Infeasible
from cutlist.planning.pairs import in_pairs, studs_hold
from cutlist.planning.stud_choice import fits, takes_of
from cutlist.planning.wires import cable_specs
from cutlist.progress import Progress, counted
from geometry.curve import Curve
from geometry.runs import NoRun, Run
from geometry.space import Space

DETOUR = 1.15  # first guess of run over straight distance, only to choose conductors before anything is routed
TOUCH_M = 0.001  # nearer to a stud than its clearance and this, a run would not be certified clear of it
SIZE_ROUNDS = 8  # after the first a conductor grows or stays; were they ever used up, the last choice would stand


@dataclass(frozen=True)
class Built:
    job: Job  # with the current of loads of constant power
    stock: Stock
    places: Mapping[str, BarPlace]
    space: Space
    cables: tuple[Joined, ...]
    conductors: Mapping[str, Conductor]  # by kind of cable
    laid: Laid
    specs: tuple[CableSpec, ...]
    sizing: Sizing


def build(
    job: Job,
    stock: Stock,
    tasks: Sequence[CableTask],
    places: Mapping[str, BarPlace],
    progress: Progress,
    studs: Mapping[tuple[str, str], int] | None = None,
    *,
    explain: bool = True,
) -> Built | Infeasible:
    """`studs`: of each (cable, bus bar); None: the nearest in sum. Without `explain` the reason may be a short one."""
    try:
        cables = joined(job, tasks, places, studs)
    except TooFewStuds as fault:
        return Infeasible("bus bar", str(fault), "", 0.0)
    on_studs = _on_studs(job, stock, tasks, places, studs, cables)
    bare = space_with_bank(job, [(bar, places[bar.name]) for bar in job.bus_bars])
    space = with_posts(job, bare, places)
    guess = cable_specs(job, cables, thinnest(stock), guessed_lengths(cables), {})

    def held(combination: Combination) -> bool:
        try:
            return studs_hold(job, on_studs(combination), combination)
        except TooFewStuds:
            return False

    try:
        sizing = size(job, stock, guess, allowed=held)
    except ValueError as fault:
        return Infeasible("bus bar", str(fault), "", 0.0)
    floor: Combination | None = None
    passed: list[tuple[Curve, float]] = []  # runs that find no way but past studs, and how far they must be off them
    for left in range(SIZE_ROUNDS, 0, -1):
        chosen = chosen_combination(sizing)
        single = on_studs(chosen)  # before any are laid in pairs
        conductors, cables = _by_kind(chosen), in_pairs(single, chosen)
        requests = run_requests(job, stock, cables, conductors)
        runs = shortest_runs(job, space, requests, explain=False, told=counted(progress, "finding runs"))
        if any(isinstance(run, NoRun) for run in runs):
            # other studs may leave no way at all: a run through them is better than none, and a finding tells of it
            failed = [request for request, run in zip(requests, runs, strict=True) if isinstance(run, NoRun)]
            others = shortest_runs(job, bare, failed, explain=explain)
            spare_m = job.policy.clearance_m + TOUCH_M
            passed += [
                (run.curve, request.cable.radius_m + spare_m)
                for request, run in zip(failed, others, strict=True)
                if not isinstance(run, NoRun)
            ]
            space = with_posts(job, bare, places, passed)
            through = iter(others)
            runs = tuple(next(through) if isinstance(run, NoRun) else run for run in runs)
        stopped = [run for run in runs if isinstance(run, NoRun)]
        if stopped:
            worst = max(stopped, key=lambda r: (r.proved, r.missing_m, r.name))
            return Infeasible(worst.name, worst.reason, worst.obstacle, worst.missing_m)
        routed = [run for run in runs if not isinstance(run, NoRun)]
        beside = counted(progress, "laying cables beside each other")
        found = beside_each_other(job, space, requests, routed, told=beside)
        progress("matching lengths")
        rest = rest_of_strings(job, stock, cables, conductors, found)
        later: tuple[Measured, ...] = ()
        if job.policy.lengthen_now and job.later:
            kept = later_cables(job, stock, places, single, conductors["lead"], studs)
            measured = later_measured(job, stock, space, kept, conductors["lead"])
            if isinstance(measured, NoRun):
                return Infeasible(measured.name, measured.reason, measured.obstacle, measured.missing_m)
            later = measured
            rest |= dict.fromkeys((string.name for string in job.later), max(rest.values(), default=0.0))
        laying = counted(progress, "laying leads at length")
        laid = laid_at_length(job, stock, space, cables, requests, found, conductors, rest, later=later, told=laying)
        lengths_m = {name: length.developed_m for name, length in laid.lengths.items()}
        specs = cable_specs(job, cables, conductors, lengths_m, {run.name: run.curve for run in laid.laid})
        progress("sizing conductors")
        fuses = fuses_of(job, stock, specs)
        try:
            job = at_power(job, specs, fuses=fuses)
        except ValueError as fault:
            return Infeasible("loads", str(fault), "", 0.0)
        # what is judged last is what is built: on the last round nothing else may be chosen
        judged = [chosen] if left == 1 else None
        again = size(job, stock, specs, fuses=fuses, allowed=_allowed(held, floor, judged))
        if chosen_combination(again) == chosen:
            break
        floor, sizing = chosen_combination(again), again
    too_hot = _too_hot(job, specs)
    return too_hot or Built(job, stock, places, space, cables, conductors, laid, specs, again)


def _on_studs(
    job: Job,
    stock: Stock,
    tasks: Sequence[CableTask],
    places: Mapping[str, BarPlace],
    studs: Mapping[tuple[str, str], int] | None,
    cables: tuple[Joined, ...],
) -> Callable[[Combination], tuple[Joined, ...]]:
    """The cables on the studs that take their lugs, by the conductors chosen; raises TooFewStuds.

    Those of the search where they do; else, as with a place that is given, the nearest in sum.
    """

    @cache
    def of(lead: str, feeder: str) -> tuple[Joined, ...]:
        takes = takes_of(job, stock, lead, feeder)
        if not takes or (studs is not None and fits(job, cables, takes)):
            return cables
        return joined(job, tasks, places, None, takes)

    return lambda combination: of(combination.lead.name, combination.feeder.name)


def _allowed(
    held: Callable[[Combination], bool], floor: Combination | None, judged: Sequence[Combination] | None
) -> Callable[[Combination], bool]:
    """A choice that shrank again for the runs it gave itself would go back and forth: from the second on none does."""
    if judged is not None:
        return lambda combination: combination in judged
    if floor is None:
        return held
    least = floor
    return lambda c: held(c) and all(_copper_mm2(c, k) >= _copper_mm2(least, k) for k in least.kinds)


def _copper_mm2(combination: Combination, kind: str) -> float:
    return combination.count(kind) * combination.conductor(kind).area_mm2


def fuses_of(job: Job, stock: Stock, specs: Sequence[CableSpec]) -> Mapping[str, Fuse]:
    """The fuses that these cables would get, whose resistance counts in the drop; none where the air is too hot."""
    return {} if _too_hot(job, specs) else protect(job, stock, specs).string_fuses


def air_too_hot(job: Job, stock: Stock, tasks: Sequence[CableTask]) -> Infeasible | None:
    """The site's air is as warm as any insulation in stock may get: said at once, before anything is placed."""
    hottest_c = max((c.insulation_c for c in stock.conductors), default=float("inf"))
    if job.ambient_c < hottest_c or not tasks:
        return None
    reason = f"the air of {job.ambient_c:g} °C is as hot as insulation in stock allows ({hottest_c:g} °C at most)"
    return Infeasible(tasks[0].name, f"{reason}; use hotter insulation, or cool the place", "", 0.0)


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
    job: Job,
    stock: Stock,
    cables: Sequence[Joined],
    conductors: Mapping[str, Conductor],
    runs: Sequence[Run],
) -> dict[str, float]:
    """What the rest of each string adds to its two leads, in metres; only differences between strings count.

    Alike in resistance: what its leads would lack of the longest pair's length if all strings carried the same, with
    jumpers, joints, fuses, bars and warmth counted. Else its jumpers.
    """
    lengths_m = {run.name: run.length_m for run in runs}
    rest = {s.name: 0.0 for s in job.strings}
    if job.policy.match == "equal resistance":
        routed = cable_specs(job, cables, conductors, lengths_m, {run.name: run.curve for run in runs})
        if _too_hot(job, routed):
            return rest
        for spec in matched(job, routed, "equal resistance", fuses=fuses_of(job, stock, routed)):
            if spec.kind == "lead":
                rest[spec.string] -= spec.length_m
        for cable in _first_of_pairs(cables, "lead"):
            # lengths are made alike as they are cut: what the lugs take is not part of that
            rest[cable.string] += lugs_m(stock, cable, conductors["lead"])
        least = min(rest.values())
        return {name: metres - least for name, metres in rest.items()}
    for cable in _first_of_pairs(cables, "jumper"):
        rest[cable.string] += lengths_m[cable.name]
    return rest


def _first_of_pairs(cables: Sequence[Joined], kind: str) -> tuple[Joined, ...]:
    """The cables of a kind, of two side by side only the first."""
    return tuple({c.pair or c.name: c for c in reversed(cables) if c.kind == kind}.values())


def guessed_lengths(cables: Sequence[Joined]) -> dict[str, float]:
    """Metres, only to choose conductors by before anything is routed: the straight way and some more, leads alike."""
    straight = {
        c.name: sum((a - b) ** 2 for a, b in zip(c.start.point, c.finish.point, strict=True)) ** 0.5 for c in cables
    }
    longest = max((straight[c.name] for c in cables if c.kind == "lead"), default=0.0)
    return {c.name: DETOUR * (longest if c.kind == "lead" else straight[c.name]) for c in cables}


def thinnest(stock: Stock) -> dict[str, Conductor]:
    """The thinnest conductor in stock for every kind of cable."""
    least = min(stock.conductors, key=lambda c: (c.area_mm2, c.name))
    return dict.fromkeys(("lead", "jumper", "feeder"), least)


def chosen_combination(sizing: Sizing) -> Combination:
    """The cheapest that meets every limit; if none does, the one that falls short least: the findings say so."""
    if sizing.chosen is not None:
        return sizing.chosen.combination
    return min(sizing.tried, key=lambda s: (len(s.faults), s.worst_drop, s.ampacity_use)).combination


def _by_kind(combination: Combination) -> dict[str, Conductor]:
    jumper = combination.jumper or combination.lead
    return {"lead": combination.lead, "jumper": jumper, "feeder": combination.feeder}
