"""Questions asked of a finished bank: a string taken out, put back, a bad crimp, one string more."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from cutlist.bank.batteries import Battery, String, Terminal
from cutlist.bank.bus_bars import BusBar
from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.electrics.bank_solution import bank_findings, solve_bank, solve_states
from cutlist.electrics.charge_state import curve_is_checked, resting_v
from cutlist.electrics.string_model import sharing_of
from cutlist.electrics.warmth import ampacity_of
from cutlist.electrics.wiring import CableSpec
from cutlist.findings import Finding

BISECTIONS = 40


@dataclass(frozen=True)
class Isolated:
    string: str
    currents_a: dict[str, float]  # of the strings that are left, continuous
    rise: float  # the largest current against the same string's before, less 1
    failing: tuple[Finding, ...]  # limits that fail now and did not before


@dataclass(frozen=True)
class Rejoined:
    string: str
    soc: float
    others_soc: float
    difference_v: float  # of the string's resting voltage above the others'
    current_a: float  # out of the string at the first moment (negative: into it), loads off
    worst_other_a: float  # the largest current of any other string, signed likewise
    fuse_a: float | None  # rating of the string's fuse
    safe_difference: float  # of state of charge that would drive no more than the fuse or the cable allows
    finding: Finding


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
    _string(job, string)
    if len(job.strings) < 2:
        raise ValueError(f"{string} is the only string: without it the bank is dead")
    calm = replace(job, policy=replace(job.policy, one_string_out=False))
    states = [s.state for s in solve_states(calm, cables, fuses=fuses)]
    whole = [solve_bank(job, cables, fuses=fuses, state=s) for s in states]
    without = [solve_bank(job, cables, fuses=fuses, state=s, out=(string,)) for s in states]
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
    return Isolated(string, now, rise, failing)


def rejoin(
    job: Job,
    cables: Sequence[CableSpec],
    string: str,
    *,
    soc: float,
    others_soc: float,
    fuses: Mapping[str, Fuse] | None = None,
) -> Rejoined:
    """Close a string whose state of charge differs from the others', loads off, conductors at the air's temperature.

    Held against the string's fuse, or against its leads' ampacity where it has none. Raises ValueError for a state of
    charge that is none, or a chemistry without a curve of resting voltage.
    """
    found = _string(job, string)
    for share in (soc, others_soc):
        if not 0 <= share <= 1:
            raise ValueError(f"a state of charge of {share:g} is not between 0 and 1")
    currents = _rejoin_currents(job, cables, string, soc, others_soc, fuses)
    others = {name: a for name, a in currents.items() if name != string}
    fuse = (fuses or {}).get(string)
    least_a = min(ampacity_of(job, c).current_a * c.paralleled for c in cables if c.string == string)
    allowed_a = fuse.rating_a if fuse else least_a
    what = f"its {fuse.rating_a:g} A fuse" if fuse else f"its leads' {least_a:.0f} A"
    amps = currents[string]
    difference_v = float(
        sum(resting_v(b.type, soc) for b in found.batteries)
        - sum(resting_v(b.type, others_soc) for b in found.batteries)
    )
    checked = all(curve_is_checked(b.type.chemistry) for b in found.batteries)
    message = (
        f"{string} at {soc:.0%} closed onto strings at {others_soc:.0%}: {abs(difference_v):.2f} V drive "
        f"{abs(amps):.0f} A {'out of' if amps > 0 else 'into'} it at first, against {what}"
        f"{'' if checked else ' (resting voltages from memory: an estimate)'}"
    )
    status = "pass" if abs(amps) <= allowed_a else "fail"
    if status == "pass" and not checked:
        status = "unknown"
    mend = "charge it alone to the others' voltage, or close it through a resistor first"
    source = "network with resting voltages of reference/battery_ocv"
    finding = Finding("string rejoined", string, status, message, abs(amps), allowed_a, "A", source, mend)
    safe = _safe_difference(job, cables, string, others_soc, allowed_a, soc < others_soc, fuses)
    return Rejoined(
        string,
        soc,
        others_soc,
        difference_v,
        amps,
        max(others.values(), key=abs, default=0.0),
        fuse.rating_a if fuse else None,
        safe,
        finding,
    )


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
    free = {bar.name: [i for i in range(bar.studs) if not used.get((bar.name, i))] for bar in job.bus_bars}
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


def _string(job: Job, name: str) -> String:
    for string in job.strings:
        if string.name == name:
            return string
    raise ValueError(f'there is no string "{name}" ({", ".join(s.name for s in job.strings)} are)')


def _rejoin_currents(
    job: Job, cables: Sequence[CableSpec], string: str, soc: float, others_soc: float, fuses: Mapping[str, Fuse] | None
) -> dict[str, float]:
    emf = {
        b.name: float(resting_v(b.type, soc if s.name == string else others_soc))
        for s in job.strings
        for b in s.batteries
    }
    quiet = replace(job, loads=tuple(replace(x, continuous_a=0.0, surge=None) for x in job.loads))
    return solve_bank(quiet, cables, fuses=fuses, emf_v=emf, conductor_c=job.ambient_c).string_currents_a


def _safe_difference(
    job: Job,
    cables: Sequence[CableSpec],
    string: str,
    others_soc: float,
    allowed_a: float,
    lower: bool,
    fuses: Mapping[str, Fuse] | None,
) -> float:
    """How far below (or above) the others the string may be and still close within `allowed_a`."""
    most = others_soc if lower else 1 - others_soc

    def amps(difference: float) -> float:
        soc = others_soc - difference if lower else others_soc + difference
        return abs(_rejoin_currents(job, cables, string, soc, others_soc, fuses)[string])

    if amps(most) <= allowed_a:
        return most
    low, high = 0.0, most
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        low, high = (middle, high) if amps(middle) <= allowed_a else (low, middle)
    return low


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
