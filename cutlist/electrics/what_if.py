"""Questions asked of a finished bank: a string taken out, a bad crimp, one string more."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from cutlist.bank.batteries import Battery, String, Terminal
from cutlist.bank.bus_bars import BusBar
from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.electrics.bank_solution import bank_findings, solve_bank, solve_states
from cutlist.electrics.bank_state import BankSolution
from cutlist.electrics.rejoin import string_named
from cutlist.electrics.string_model import sharing_of
from cutlist.electrics.wiring import CableSpec
from cutlist.findings import Finding


@dataclass(frozen=True)
class Isolated:
    string: str
    currents_a: dict[str, float]  # of the strings that are left, continuous
    rise: float  # the largest current against the same string's before, less 1
    drop: float  # worst, share of nominal voltage
    failing: tuple[Finding, ...]  # limits that fail now and did not before


@dataclass(frozen=True)
class BadJoint:
    cable: str
    extra_ohm: float
    string_currents_a: dict[str, float]
    largest_over_smallest: float
    before: float  # the same without the bad joint
    reading_v: float  # across the extra resistance at continuous current: what a meter would show
    heat_w: float
    drop: float  # worst, share of nominal voltage


@dataclass(frozen=True)
class Further:
    """One more string like the last one, with leads that run as given."""

    target_holds: bool  # its runs are no longer than the leads that are there
    short_by_m: float  # how much longer every lead would have to be; 0 if the target holds
    free_studs: dict[str, int]  # of each bar before it is added
    largest_over_smallest: float | None  # with it; None: there is no stud for it
    failing: tuple[Finding, ...]


def isolate(job: Job, cables: Sequence[CableSpec], string: str, *, fuses: Mapping[str, Fuse] | None = None) -> Isolated:
    """Take one string out of service for good: who carries more, and which limits then fail.

    Raises ValueError if the job has no such string or only that one.
    """
    string_named(job, string)
    if len(job.strings) < 2:
        raise ValueError(f"{string} is the only string: without it the bank is dead")
    calm = replace(job, policy=replace(job.policy, one_string_out=False))
    whole = solve_states(calm, cables, fuses=fuses)
    without = [solve_bank(job, cables, fuses=fuses, state=s.state, out=(string,)) for s in whole]
    return isolated(job, cables, string, whole, without, fuses)


def isolated(
    job: Job,
    cables: Sequence[CableSpec],
    string: str,
    whole: Sequence[BankSolution],
    without: Sequence[BankSolution],
    fuses: Mapping[str, Fuse] | None = None,
) -> Isolated:
    """The same from states that are solved already: of the whole bank, and with the string out."""
    failed_before = {(f.rule, f.item) for f in bank_findings(job, cables, whole, fuses) if f.status == "fail"}
    rest = {name: fuse for name, fuse in (fuses or {}).items() if name != string}
    failing = tuple(
        f
        for f in bank_findings(job, cables, without, rest)
        if f.status == "fail" and (f.rule.removesuffix(", one string out"), f.item) not in failed_before
    )
    now = {name: a for name, a in without[0].string_currents_a.items() if name != string}
    before = whole[0].string_currents_a
    rise = max((abs(a) / abs(before[name]) - 1 for name, a in now.items() if before[name]), default=0.0)
    drop = without[0].worst_drop
    return Isolated(string, now, rise, drop.share if drop else 0.0, failing)


def bad_joint(
    job: Job, cables: Sequence[CableSpec], cable: str, extra_ohm: float, *, fuses: Mapping[str, Fuse] | None = None
) -> BadJoint:
    """Add resistance to one end of one cable: the share, the heat in that joint, and what a meter across it reads."""
    if cable not in {c.name for c in cables}:
        raise ValueError(f'there is no cable "{cable}"')
    if extra_ohm < 0:
        raise ValueError(f"a joint cannot have {extra_ohm} ohm less than nothing")
    good = sharing_of(solve_bank(job, cables, fuses=fuses))
    solved = solve_bank(job, cables, fuses=fuses, extra_ohm={cable: extra_ohm})
    bad = sharing_of(solved)
    amps = solved.cables[cable].current_a
    drop = solved.worst_drop
    return BadJoint(
        cable,
        extra_ohm,
        solved.string_currents_a,
        bad.largest_over_smallest if bad else 1.0,
        good.largest_over_smallest if good else 1.0,
        amps * extra_ohm,
        amps**2 * extra_ohm,
        drop.share if drop else 0.0,
    )


def further_string(
    job: Job,
    cables: Sequence[CableSpec],
    *,
    positive_run_m: float,
    negative_run_m: float,
    fuses: Mapping[str, Fuse] | None = None,
) -> Further:
    """Add a string like the last one on the first free studs, its leads as long as those that are there or as its runs.

    Shares and limits are those of the grown bank; studs reserved for later strings count as free.
    """
    if positive_run_m < 0 or negative_run_m < 0:
        raise ValueError("a run is no shorter than nothing")
    leads_m = _lead_lengths(cables)
    model = job.strings[-1]
    runs = {"positive": positive_run_m, "negative": negative_run_m}
    short_by_m = max(0.0, *(runs[pole] - leads_m[(model.name, pole)] for pole in runs))
    used = _stud_use(cables)
    free = {bar.name: [i for i in _of_leads(bar, cables) if not used.get((bar.name, i))] for bar in job.bus_bars}
    counts = {name: len(studs) for name, studs in free.items()}
    if not all(counts.values()):
        return Further(short_by_m == 0, short_by_m, counts, None, ())
    grown, grown_cables = _grown(job, cables, {p: max(runs[p], leads_m[(model.name, p)]) for p in runs}, free)
    more_fuses = dict(fuses or {})
    if model.name in more_fuses:
        more_fuses[grown.strings[-1].name] = more_fuses[model.name]
    solutions = solve_states(grown, grown_cables, fuses=more_fuses)
    sharing = sharing_of(solutions[0])
    failing = tuple(f for f in bank_findings(grown, grown_cables, solutions, more_fuses) if f.status == "fail")
    return Further(short_by_m == 0, short_by_m, counts, sharing.largest_over_smallest if sharing else None, failing)


def _lead_lengths(cables: Sequence[CableSpec]) -> dict[tuple[str, str], float]:
    lengths: dict[tuple[str, str], float] = {}
    for cable in cables:
        if cable.kind == "lead":
            lengths[(cable.string, cable.pole)] = lengths.get((cable.string, cable.pole), 0.0) + cable.length_m
    return lengths


def _stud_use(cables: Sequence[CableSpec]) -> dict[tuple[str, int], int]:
    use: dict[tuple[str, int], int] = {}
    for cable in cables:
        for end in (cable.start, cable.finish):
            if isinstance(end, tuple) and end[0] == "stud":
                use[(end[1], end[2])] = use.get((end[1], end[2]), 0) + cable.paralleled
    return use


def _of_leads(bar: BusBar, cables: Sequence[CableSpec]) -> list[int]:
    """Studs with a thread on which leads are already: those of one more string have the same lugs."""
    ends = [end for c in cables if c.kind == "lead" for end in (c.start, c.finish)]
    threads = {bar.threads[e[2]] for e in ends if isinstance(e, tuple) and e[:2] == ("stud", bar.name)}
    return [i for i, thread in enumerate(bar.threads) if thread in threads or not bar.unlike]


def _grown(
    job: Job, cables: Sequence[CableSpec], lead_m: Mapping[str, float], free: Mapping[str, Sequence[int]]
) -> tuple[Job, tuple[CableSpec, ...]]:
    """The bank with a copy of its last string; the copy's names have " again" after them."""
    model = job.strings[-1]

    def copied(terminal: Terminal) -> Terminal:
        return replace(terminal, name=f"{terminal.name} again")

    batteries = tuple(
        Battery(f"{b.name} again", b.type, copied(b.positive), copied(b.negative)) for b in model.batteries
    )
    string = String(f"{model.name} again", batteries)
    renamed = {t.name: f"{t.name} again" for b in model.batteries for t in (b.positive, b.negative)}
    added = []
    for cable in cables:
        if cable.string != model.name:
            continue
        ends = [_moved(end, job.bus_bars, free, renamed, string.name) for end in (cable.start, cable.finish)]
        long_m = cable.length_m
        if cable.kind == "lead":
            others_m = sum(
                c.length_m for c in cables if c.kind == "lead" and (c.string, c.pole) == (cable.string, cable.pole)
            )
            is_last = cable.name == [c.name for c in cables if (c.string, c.pole) == (cable.string, cable.pole)][-1]
            long_m += lead_m[cable.pole] - others_m if is_last else 0.0
        added.append(
            replace(
                cable, name=f"{cable.name} again", string=string.name, start=ends[0], finish=ends[1], length_m=long_m
            )
        )
    grown = replace(job, strings=(*job.strings, string), batteries=(*job.batteries, *batteries))
    return grown, (*cables, *added)


def _moved(
    end: object,
    bars: Sequence[BusBar],
    free: Mapping[str, Sequence[int]],
    renamed: Mapping[str, str],
    string: str,
) -> object:
    if isinstance(end, str):
        return renamed.get(end, end)
    if isinstance(end, tuple) and end[0] == "stud" and end[1] in {b.name for b in bars}:
        return ("stud", end[1], free[end[1]][0])
    if isinstance(end, tuple):  # a side of the string's own fuse
        return (end[0], string)
    return end
