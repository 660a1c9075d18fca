"""A string closed onto others that are charged more or less than it: what flows at first, and how far apart is safe."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from cutlist.bank.batteries import String
from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.electrics.bank_solution import solve_bank
from cutlist.electrics.charge_state import curve_is_checked, resting_v
from cutlist.electrics.warmth import ampacity_of
from cutlist.electrics.wiring import CableSpec
from cutlist.findings import Finding

BISECTIONS = 40


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

    What flows at first falls off as the charges even out. Held against the string's fuse, or against its leads'
    ampacity where it has none. Raises ValueError for the only string, a state of charge that is none, or a chemistry
    without a curve of resting voltage.
    """
    found = string_named(job, string)
    if len(job.strings) < 2:
        raise ValueError(f"{string} is the only string: there are no others to close it onto")
    for share in (soc, others_soc):
        if not 0 <= share <= 1:
            raise ValueError(f"a state of charge of {share:g} is not between 0 and 1")
    answer, difference_v = _answer(job, cables, found, others_soc, fuses), _difference_v(found, soc, others_soc)
    currents = answer.currents_a(difference_v)
    others = {name: a for name, a in currents.items() if name != string}
    fuse = (fuses or {}).get(string)
    least_a = min(ampacity_of(job, c).current_a * c.paralleled for c in cables if c.string == string)
    allowed_a = fuse.rating_a if fuse else least_a
    what = f"its {fuse.rating_a:g} A fuse" if fuse else f"its leads' {least_a:.0f} A"
    amps = currents[string]
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
    safe = _safe_difference(answer, found, others_soc, allowed_a, soc < others_soc)
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


def string_named(job: Job, name: str) -> String:
    for string in job.strings:
        if string.name == name:
            return string
    raise ValueError(f'there is no string "{name}" ({", ".join(s.name for s in job.strings)} are)')


@dataclass(frozen=True)
class _Answer:
    """The resting bank answers the EMF of one string along a straight line: conductors are all at one temperature."""

    alike_a: dict[str, float]  # string currents with every string at the others' state of charge
    per_v: dict[str, float]  # and for each volt that the one string's EMF lies above that

    def currents_a(self, difference_v: float) -> dict[str, float]:
        return {name: a + self.per_v[name] * difference_v for name, a in self.alike_a.items()}


def _answer(
    job: Job, cables: Sequence[CableSpec], string: String, others_soc: float, fuses: Mapping[str, Fuse] | None
) -> _Answer:
    quiet = replace(job, loads=tuple(replace(x, continuous_a=0.0, surge=None) for x in job.loads))
    alike = {b.name: float(resting_v(b.type, others_soc)) for s in job.strings for b in s.batteries}
    first = string.batteries[0].name
    before, after = (
        solve_bank(quiet, cables, fuses=fuses, emf_v=emf, conductor_c=job.ambient_c).string_currents_a
        for emf in (alike, alike | {first: alike[first] + 1.0})
    )
    return _Answer(before, {name: after[name] - a for name, a in before.items()})


def _difference_v(string: String, soc: float, others_soc: float) -> float:
    return float(sum(resting_v(b.type, soc) - resting_v(b.type, others_soc) for b in string.batteries))


def _safe_difference(answer: _Answer, string: String, others_soc: float, allowed_a: float, lower: bool) -> float:
    """How far below (or above) the others the string may be and still close within `allowed_a`."""
    most = others_soc if lower else 1 - others_soc

    def amps(difference: float) -> float:
        soc = others_soc - difference if lower else others_soc + difference
        return abs(answer.currents_a(_difference_v(string, soc, others_soc))[string.name])

    if amps(most) <= allowed_a:
        return most
    low, high = 0.0, most
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        low, high = (middle, high) if amps(middle) <= allowed_a else (low, middle)
    return low
