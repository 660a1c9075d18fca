"""Runs of a bank whose bus bars have a place: every cable's shortest run, then the run at its target length."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from cutlist.bank.bus_bars import BarPlace
from cutlist.bank.cables import Conductor
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.layout.cable_ends import BarEnd, CableTask, Stud, bar_studs
from cutlist.layout.matching import Length, Measured, matched
from cutlist.layout.studs import Takes, assigned_studs
from geometry.runs import CableShape, NoRun, Request, Run
from geometry.space import Space

Told = Callable[[int, int], None]  # how many cables are done, of how many

UNKNOWN_LUG_M = 0.03  # straight from a stud whose lug stock does not list: common practice, no published source
LONGER_TRIES = 3  # rounds of making the group longer when a lead cannot be laid at the first target


@dataclass(frozen=True)
class Joined:
    """A cable with both its studs known."""

    name: str
    kind: str
    pole: str
    string: str
    start: Stud
    finish: Stud
    pair: str = ""  # the cable that this one and another side by side stand for; "": it lies alone


def joined(
    job: Job,
    tasks: Sequence[CableTask],
    places: Mapping[str, BarPlace],
    chosen: Mapping[tuple[str, str], int] | None = None,
    takes: Mapping[str, Takes] | None = None,
) -> tuple[Joined, ...]:
    """Every cable with the stud it takes on each bus bar: `chosen` for (cable, bar), else the nearest in sum.

    `takes`: by bus bar, the studs on which lugs go; None: on any. Raises TooFewStuds.
    """
    on_bar: dict[tuple[str, str], Stud] = {}
    for bar in job.bus_bars:
        studs = bar_studs(bar, places[bar.name])
        if chosen is not None:
            on_bar.update({key: studs[index] for key, index in chosen.items() if key[1] == bar.name})
            continue
        free = (takes or {}).get(bar.name)
        for name, stud in assigned_studs(tasks, bar.name, studs, bar.stack_limit, bar.reserved_studs, free).items():
            on_bar[name, bar.name] = stud

    def fixed(name: str, end: Stud | BarEnd) -> Stud:
        return end if isinstance(end, Stud) else on_bar[name, end.bar]

    return tuple(
        Joined(t.name, t.kind, t.pole, t.string, fixed(t.name, t.start), fixed(t.name, t.finish)) for t in tasks
    )


def cable_shape(job: Job, stock: Stock, cable: Joined, conductor: Conductor) -> CableShape:
    """How thick, how stiff, and how far straight beyond each stud."""
    return CableShape(
        radius_m=conductor.outside_diameter_m / 2,
        clearance_m=job.policy.clearance_m,
        bend_radius_m=conductor.bend_radius_m,
        straight_m=straight_m(job, stock, (cable.start.stud, cable.finish.stud), conductor),
    )


def straight_m(job: Job, stock: Stock, studs: Sequence[str], conductor: Conductor) -> float:
    """How far a cable between two such studs goes straight on at both: the longer of its lugs rules."""
    lugs = [stock.lug(conductor.name, stud) for stud in studs]
    straights_m = [UNKNOWN_LUG_M if lug is None else lug.barrel_to_skin_m for lug in lugs]
    return max(straights_m, default=0.0) + job.policy.relief_m


def run_requests(
    job: Job, stock: Stock, cables: Sequence[Joined], conductors: Mapping[str, Conductor]
) -> tuple[Request, ...]:
    """conductors: by kind of cable ("lead", "jumper", "feeder")."""
    return tuple(
        Request(c.name, c.start.end, c.finish.end, cable_shape(job, stock, c, conductors[c.kind])) for c in cables
    )


def lugs_m(stock: Stock, cable: Joined, conductor: Conductor) -> float:
    """Stud centre to conductor stop, both ends together; 0 for a lug that is not in the stock file."""
    lugs = [stock.lug(conductor.name, end.stud) for end in (cable.start, cable.finish)]
    return sum(lug.hole_to_stop_m for lug in lugs if lug is not None)


@dataclass(frozen=True)
class Laid:
    requests: tuple[Request, ...]
    shortest: tuple[Run, ...]  # beside each other where cables share a way
    laid: tuple[Run, ...]
    lengths: Mapping[str, Length]
    not_laid: tuple[NoRun, ...]  # leads whose surplus found no place; their shortest run stands in
    longer_steps: int  # how many steps the group was made longer so that every surplus finds a place
    crossing: tuple[str, ...]  # leads for which no place was found clear of the other cables: dressed by hand


def shortest_runs(
    job: Job, space: Space, requests: Sequence[Request], *, explain: bool = True, told: Told | None = None
) -> tuple[Run | NoRun, ...]:
    """`explain`: look for what is in the way where there is no run."""
    from geometry.find_runs import find_runs

    span_m, reach_m = job.limits.support_m, job.limits.clamp_reach_m
    return find_runs(space, requests, span_m=span_m, reach_m=reach_m, explain=explain, told=told)


def beside_each_other(
    job: Job, space: Space, requests: Sequence[Request], runs: Sequence[Run], *, told: Told | None = None
) -> tuple[Run, ...]:
    """The runs moved aside where they share a way, so that no cable lies in another, where there is room."""
    from geometry.bundles import side_by_side

    span_m, reach_m = job.limits.support_m, job.limits.clamp_reach_m
    made = side_by_side(space, requests, runs, span_m=span_m, reach_m=reach_m, told=told)
    return tuple(run for run in made.runs if isinstance(run, Run))


def laid_at_length(
    job: Job,
    stock: Stock,
    space: Space,
    cables: Sequence[Joined],
    requests: Sequence[Request],
    runs: Sequence[Run],
    conductors: Mapping[str, Conductor],
    rest_of_string_m: Mapping[str, float],
    *,
    later: Sequence[Measured] = (),
    told: Told | None = None,
) -> Laid:
    """Every lead laid at exactly the length its cut gives; the group is made longer if one cannot be laid so.

    `later`: leads of strings still to come, for which the others are made long enough.
    Jumpers and feeders are not matched: they take up the few millimetres of rounding in their bends.
    """
    measured = [*measured_cables(stock, cables, runs, conductors), *later]
    step_um = job.policy.round_up_um
    steps = 0
    for _ in range(LONGER_TRIES):
        policy = replace(job.policy, longer_m=job.policy.longer_m + steps * step_um / 1e6)
        alike = matched(measured, policy, rest_of_string_m)
        lengths = {c.name: alike[c.pair or c.name] for c in cables}
        laid, failed, short_m, crossing = _lay(job, space, cables, requests, runs, lengths, told)
        if failed or short_m <= 0:
            break
        steps += math.ceil(short_m * 1e6 / step_um)
    return Laid(tuple(requests), tuple(runs), laid, lengths, failed, steps, crossing)


def measured_cables(
    stock: Stock, cables: Sequence[Joined], runs: Sequence[Run], conductors: Mapping[str, Conductor]
) -> list[Measured]:
    """Each cable as its run has it; of two side by side the longer run counts for both."""
    found: dict[str, Measured] = {}
    for c, run in zip(cables, runs, strict=True):
        name = c.pair or c.name
        long_m = max(run.length_m, found[name].shortest_m) if name in found else run.length_m
        found[name] = Measured(name, c.kind, c.pole, c.string, long_m, lugs_m(stock, c, conductors[c.kind]))
    return list(found.values())


def _lay(
    job: Job,
    space: Space,
    cables: Sequence[Joined],
    requests: Sequence[Request],
    runs: Sequence[Run],
    lengths: Mapping[str, Length],
    told: Told | None,
) -> tuple[tuple[Run, ...], tuple[NoRun, ...], float, tuple[str, ...]]:
    """Leads of one target at a time, longest first; how much longer the targets would have to be."""
    from geometry.equal import as_laid, equal_runs

    laid = dict(zip((c.name for c in cables), runs, strict=True))
    asked = dict(zip((c.name for c in cables), requests, strict=True))
    lying = [as_laid(asked[c.name], laid[c.name]) for c in cables if c.kind != "lead"]
    targets: dict[float, list[str]] = {}
    for c in cables:
        if c.kind == "lead":
            targets.setdefault(lengths[c.name].developed_m, []).append(c.name)
    failed: list[NoRun] = []
    crossing: list[str] = []
    short_m = 0.0
    leads, before = sum(map(len, targets.values())), 0
    for target_m, names in sorted(targets.items(), reverse=True):
        equal = equal_runs(
            space,
            [asked[n] for n in names],
            [laid[n] for n in names],
            target_m=target_m,
            others=lying,
            span_m=job.limits.support_m,
            reach_m=job.limits.clamp_reach_m if job.limits.support_m is not None else None,
            told=_further(told, before, leads),
        )
        before += len(names)
        short_m = max(short_m, equal.target_m - target_m)
        crossing.extend(equal.crossing)
        for name, run in zip(names, equal.runs, strict=True):
            if isinstance(run, NoRun):
                failed.append(run)
            else:
                laid[name] = run
                lying.append(as_laid(asked[name], run))
    return tuple(laid[c.name] for c in cables), tuple(failed), short_m, tuple(crossing)


def _further(told: Told | None, before: int, of: int) -> Told | None:
    """For a group of the leads: how many of all are done."""
    return None if told is None else lambda done, _: told(before + done, of)
