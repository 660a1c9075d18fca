"""The main fuses: what they must carry, which feeder each protects, and what lies between them and the bus bar."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from cutlist.bank.bus_bars import Device
from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.electrics.faults import FaultCurrent
from cutlist.electrics.fuse_rules import (
    NOISE,
    fuse_distance_limit,
    highest_rating_a,
    interrupt_finding,
    rating_source,
    rule,
)
from cutlist.electrics.network import Node
from cutlist.electrics.warmth import ampacity_of
from cutlist.electrics.wiring import CableSpec
from cutlist.findings import Finding


def main_findings(
    job: Job,
    cables: Sequence[CableSpec],
    lasting_a: Mapping[str, float],
    fuses: Mapping[str, Fuse],
    faults: Sequence[FaultCurrent],
) -> Iterator[Finding]:
    feeders = [c for c in cables if c.kind == "feeder" and c.pole == "positive"]
    if not feeders:
        return
    weakest = min(feeders, key=lambda c: (ampacity_of(job, c).current_a * c.paralleled, c.name))
    allowed_a = ampacity_of(job, weakest).current_a * weakest.paralleled
    mains = [d for d in job.devices if d.kind == "fuse"]
    highest_a = highest_rating_a(job, [d.rating_a for d in mains if d.rating_a], allowed_a)
    if not mains:
        together_a = sum(f.rating_a for f in fuses.values())
        covered = len(fuses) == len(job.strings) and together_a <= highest_a
        message = (
            f"no main fuse: {weakest.name} may carry {allowed_a:.0f} A, so a fuse for it may be {highest_a:.0f} A; "
        )
        message += f"the string fuses together pass {together_a:g} A" if fuses else "nothing limits what reaches it"
        status = "pass" if covered else "fail"
        source, mend = "33 CFR 183.455(a)", "a main fuse next to the positive bus bar"
        yield Finding("main fuse", "feeders", status, message, together_a or None, highest_a, "A", source, mend)
        return
    for device in mains:
        before, after = around(feeders, device)
        protected = min(after or feeders, key=lambda c: (ampacity_of(job, c).current_a * c.paralleled, c.name))
        allowed_a = ampacity_of(job, protected).current_a * protected.paralleled
        highest_a = highest_rating_a(job, [d.rating_a for d in mains if d.rating_a], allowed_a)
        yield _main_rating(job, device, lasting_a[device.name], highest_a, protected.name)
        through_a = next(f.total_a for f in faults if f.place == f"beyond {device.name}")
        yield interrupt_finding(device.name, device.interrupt_a, through_a)
        yield from _before_main(job, device, before, fuses)


def feeder_faults(job: Job, cables: Sequence[CableSpec], fuses: Mapping[str, Fuse]) -> tuple[str, ...]:
    """What a larger feeder would mend: a main fuse too large for it, or too far off for what the string fuses pass.

    The same rules as `main_findings`, without the currents: for choosing conductors. `fuses`: by string.
    """
    feeders = [c for c in cables if c.kind == "feeder" and c.pole == "positive"]
    mains = [d for d in job.devices if d.kind == "fuse"]
    found = []
    for device in mains:
        before, after = around(feeders, device)
        if after and device.rating_a is not None:
            protected = min(after, key=lambda c: (ampacity_of(job, c).current_a * c.paralleled, c.name))
            allowed_a = ampacity_of(job, protected).current_a * protected.paralleled
            highest_a = highest_rating_a(job, [d.rating_a for d in mains if d.rating_a], allowed_a)
            if device.rating_a > highest_a * (1 + NOISE):
                found.append(f"{device.name} of {device.rating_a:g} A is too large for {protected.name}")
        found += [f.message for f in _before_main(job, device, before, fuses) if f.status == "fail"]
    return tuple(found)


def around(feeders: Sequence[CableSpec], device: Device) -> tuple[list[CableSpec], list[CableSpec]]:
    """Feeders between the bus bar and a main fuse, and those beyond it."""
    sides: dict[str, list[CableSpec]] = {}
    for side in ("device source side", "device load side"):
        seen: set[Node] = {(side, device.name), (_OTHER_SIDE[side], device.name)}
        queue: list[Node] = [(side, device.name)]
        found: list[CableSpec] = []
        for node in queue:
            if isinstance(node, tuple) and node[0] == "stud":
                continue  # other feeders of the bar are no part of this way
            for cable in feeders:
                if node in (cable.start, cable.finish) and cable not in found:
                    found.append(cable)
                    queue += [end for end in (cable.start, cable.finish) if end not in seen]
                    seen.update((cable.start, cable.finish))
            if isinstance(node, tuple) and node[0] in _OTHER_SIDE:
                through = (_OTHER_SIDE[node[0]], node[1])
                if through not in seen:
                    seen.add(through)
                    queue.append(through)
        sides[side] = found
    return sides["device source side"], sides["device load side"]


_OTHER_SIDE = {"device source side": "device load side", "device load side": "device source side"}


def _before_main(job: Job, device: Device, before: Sequence[CableSpec], fuses: Mapping[str, Fuse]) -> Iterator[Finding]:
    """The cable between bus bar and main fuse: short, or covered by the string fuses together."""
    if not before:
        return
    away_m = sum(c.length_m for c in before)
    limit_m, source = fuse_distance_limit(job)
    allowed_a = min(ampacity_of(job, c).current_a * c.paralleled for c in before)
    together_a = sum(f.rating_a for f in fuses.values())
    highest_a = highest_rating_a(job, (), allowed_a)
    covered = len(fuses) == len(job.strings) and together_a <= highest_a
    near = away_m <= limit_m + 1e-9
    away, together = f"{device.name} sits {1000 * away_m:.0f} mm of cable from the bus bar", f"{together_a:g} A"
    if covered and not near:  # then the string fuses are what protects that cable, and they are held to its limit
        message = (
            f"{away}, more than {1000 * limit_m:.0f}; the string fuses protect that cable: together they pass "
            f"{together}, and it may be fused at {highest_a:.0f} A"
        )
        figures = (together_a, highest_a, "A", rating_source(job))
        yield Finding("main fuse distance", device.name, "pass", message, *figures)
        return
    message = (
        f"{away}, {1000 * limit_m:.0f} allowed; the string fuses together pass {together} where that cable may be "
        f"fused at {highest_a:.0f} A"
    )
    status = "pass" if near else "fail"
    mend = "put the main fuse next to the bus bar, or use a larger cable up to it"
    yield Finding("main fuse distance", device.name, status, message, away_m, limit_m, "m", source, mend)


def _main_rating(job: Job, device: Device, lasting_a: float, highest_a: float, feeder: str) -> Finding:
    share = rule("continuous current, share of fuse rating")
    least_a = lasting_a / float(share["value"])
    rule_name, mend = "main fuse rating", "give its rating"
    if device.rating_a is None:
        message = f"{device.name}: its rating is not given; it should lie between {least_a:.0f} and {highest_a:.0f} A"
        return Finding(rule_name, device.name, "unknown", message, mend=mend)
    message = (
        f"{device.name}: {device.rating_a:g} A; {lasting_a:.0f} A flow for long, so at least {least_a:.0f} A, "
        f"and {feeder} allows {highest_a:.0f} A"
    )
    low, high = device.rating_a < least_a * (1 - NOISE), device.rating_a > highest_a * (1 + NOISE)
    source = share["source"] if low else rating_source(job)
    limit_a, mend = (least_a, "a larger main fuse") if low else (highest_a, "larger feeders or a smaller main fuse")
    status = "fail" if low or high else "pass"
    return Finding(rule_name, device.name, status, message, device.rating_a, limit_a, "A", source, mend)
