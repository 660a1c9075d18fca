"""Whether each cable outlives a fault until the fuses that feed it have cleared: adiabatic heating against I²t."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.electrics.faults import fault_withstand_a2s
from cutlist.electrics.main_fuses import around
from cutlist.electrics.wiring import CableSpec
from cutlist.findings import Finding

RULE = "fault withstand"
SOURCE = "adiabatic heating of copper; end temperature common practice, no published source"


def bears_a2s(cable: CableSpec) -> float | None:
    """I²t of the whole cable: two side by side each take half the current, so together four times that of one."""
    one = fault_withstand_a2s(cable.conductor)
    return None if one is None else one * cable.paralleled**2


def together_a2s(fuses: Sequence[Fuse]) -> float | None:
    """The most I²t in a cable that several fuses feed at once; None if the let-through of one is not known.

    (i1 + ... + in)² is never more than n (i1² + ... + in²) (Cauchy and Schwarz), whenever each of them clears.
    """
    known = [f.i2t_a2s for f in fuses if f.i2t_a2s is not None]
    return len(fuses) * sum(known) if len(known) == len(fuses) else None


def withstand_findings(job: Job, cables: Sequence[CableSpec], fuses: Mapping[str, Fuse]) -> Iterator[Finding]:
    """Each string's weakest cable against its own fuse, its positive lead against the other strings' fuses, and the
    weakest feeders before and beyond each main fuse. `fuses`: by string; what has none is judged elsewhere."""
    for name, fuse in sorted(fuses.items()):
        own = [c for c in cables if c.string == name]
        yield _against(_weakest(own), fuse.i2t_a2s, "its fuse lets through")
        others = [f for other, f in sorted(fuses.items()) if other != name]
        if others and job.policy.string_fuse != "at bus bar" and len(others) == len(job.strings) - 1:
            leads = [c for c in own if c.kind == "lead" and c.pole == "positive"]
            # fed from the bus bar, past no fuse of its own
            lead = _weakest([c for c in leads if c.start == ("fuse bar side", name)] or leads)
            yield _against(lead, together_a2s(others), "the other strings' fuses let through from the bus bar")
    yield from _feeders(job, cables, fuses)


def _feeders(job: Job, cables: Sequence[CableSpec], fuses: Mapping[str, Fuse]) -> Iterator[Finding]:
    positive = [c for c in cables if c.kind == "feeder" and c.pole == "positive"]
    mains = [d for d in job.devices if d.kind == "fuse"]
    all_fused = len(fuses) == len(job.strings)
    together = together_a2s([f for _, f in sorted(fuses.items())])
    for device in mains:
        before, after = around(positive, device)
        if before and all_fused:
            yield _against(_weakest(before), together, "the string fuses together let through")
        if after:
            yield _against(_weakest(after), device.i2t_a2s, f"{device.name} lets through")
    # what is behind no main fuse has only the string fuses; negative feeders carry what their positive ones carry
    behind = {c.name for d in mains for side in around(positive, d) for c in side}
    bare = [c for c in positive if c.name not in behind]
    if bare and all_fused:
        yield _against(_weakest(bare), together, "the string fuses together let through")
    negative = [c for c in cables if c.kind == "feeder" and c.pole == "negative"]
    if negative and len(mains) == 1 and not bare:
        yield _against(_weakest(negative), mains[0].i2t_a2s, f"{mains[0].name} lets through")
    elif negative and all_fused:
        yield _against(_weakest(negative), together, "the string fuses together let through")


def _weakest(cables: Sequence[CableSpec]) -> CableSpec:
    return min(cables, key=lambda c: (c.conductor.area_mm2 * c.paralleled, c.name))


def _against(cable: CableSpec, through_a2s: float | None, what: str) -> Finding:
    bears = bears_a2s(cable)
    if bears is None or through_a2s is None:
        lacking = f"what {what} is not given" if bears else "how hot its insulation may get in a fault is not known"
        message = f"{cable.name}: {lacking}, so whether it survives a fault is not known"
        mend = "give the fuse's let-through I²t" if bears else "ask the cable's maker"
        return Finding(RULE, cable.name, "unknown", message, through_a2s, bears, "A²s", mend=mend)
    bearing = f"{cable.name} bears {_three(bears)} A²s from {cable.conductor.insulation_c:g} °C up"
    message = f"{bearing}; {what} {_three(through_a2s)} A²s"
    status = "pass" if through_a2s <= bears else "fail"
    mend = "a larger conductor, or fuses that let through less"
    return Finding(RULE, cable.name, status, message, through_a2s, bears, "A²s", SOURCE, mend)


def _three(value: float) -> str:
    """Three figures, and never a power of ten: that is misread.

    >>> _three(15679736.0), _three(124.6)
    ('15700000', '125')
    """
    return f"{float(f'{value:.3g}'):.0f}"
