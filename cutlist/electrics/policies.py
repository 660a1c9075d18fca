"""Ways to match the strings of a bank, side by side: what each asks in metres and money, and how well it shares."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np

from cutlist.bank.cables import Conductor, Fuse
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.bank_solution import solve_bank
from cutlist.electrics.costs import colour_of, cost_of_cables, price_per_m
from cutlist.electrics.string_model import StringModel, sharing_of, string_model
from cutlist.electrics.warmth import ampacity_of
from cutlist.electrics.wiring import CableSpec

POLICIES = ("as routed", "each pole alike", "all leads alike", "whole loop alike", "equal resistance")
MIXED = "equal resistance, mixed sizes"
MATCHED = 1e-7  # of a string's resistance: the last round of matching changed no more than this
ROUNDS = 12


@dataclass(frozen=True)
class PolicyResult:
    policy: str
    lengths_m: dict[str, float]  # of every cable, stud to stud
    conductors: dict[str, str]  # of every cable
    lead_m: float  # all leads together
    cable_m: float  # all cables
    cost: Decimal | None  # of all cables, estimated; None: a price is missing
    largest_over_smallest: float
    worst_string: str
    worst_departure: float  # signed, from an even share
    worst_drop: float  # share of nominal voltage, continuous, all strings in service


def compare_policies(
    job: Job,
    stock: Stock,
    routed: Sequence[CableSpec],
    *,
    fuses: Mapping[str, Fuse] | None = None,
    laid: Mapping[str, Sequence[CableSpec]] | None = None,
) -> tuple[PolicyResult, ...]:
    """Each policy applied to the shortest runs (`routed`: leads as long as their runs), solved, and priced.

    `laid`: by policy, the cables as they will lie where that is known. Mixed sizes are left out where each string's
    best is the conductor it has. Whether the longer leads can be laid is not asked here. Raises ValueError if the bank
    has one string or no load.
    """
    if len(job.strings) < 2:
        raise ValueError("one string shares with none: there is nothing to match")
    ways = {p: (laid or {}).get(p) or matched(job, routed, p, fuses=fuses) for p in POLICIES}
    results = [_result(job, stock, policy, cables, fuses) for policy, cables in ways.items()]
    mixed = mixed_sizes(job, stock, routed, fuses=fuses)
    if mixed is not None and [c.conductor for c in mixed] != [c.conductor for c in routed]:
        results.append(_result(job, stock, MIXED, mixed, fuses))
    return tuple(results)


def matched(
    job: Job, routed: Sequence[CableSpec], policy: str, *, fuses: Mapping[str, Fuse] | None = None
) -> tuple[CableSpec, ...]:
    """The cables with leads lengthened as the policy asks; none is ever shorter than its run.

    "all leads alike": the longest lead sets every lead; "each pole alike": of its pole; "whole loop alike": positive
    plus negative plus jumpers, what is missing shared by both leads; "equal resistance": jumpers, joints, fuses, bars
    and warmth counted, so that currents come out even; "as routed": nothing is matched.
    """
    if policy == "equal resistance":
        return _equal_resistance(job, routed, fuses)
    lead_m = _lead_lengths(routed)
    if policy == "as routed":
        return tuple(routed)
    if policy == "all leads alike":
        longest_m = max(lead_m.values())
        return _with_lengths(routed, dict.fromkeys(lead_m, longest_m))
    if policy == "each pole alike":
        longest = {pole: max(m for (_, p), m in lead_m.items() if p == pole) for pole in ("positive", "negative")}
        return _with_lengths(routed, {key: longest[key[1]] for key in lead_m})
    if policy == "whole loop alike":
        loop_m = {
            s.name: sum(c.length_m for c in routed if c.string == s.name and c.kind in ("lead", "jumper"))
            for s in job.strings
        }
        longest_m = max(loop_m.values())
        return _with_lengths(routed, {key: m + (longest_m - loop_m[key[0]]) / 2 for key, m in lead_m.items()})
    raise ValueError(f'policy "{policy}" is not one of {", ".join(POLICIES)}')


def _equal_resistance(job: Job, routed: Sequence[CableSpec], fuses: Mapping[str, Fuse] | None) -> tuple[CableSpec, ...]:
    """Lengthen leads until every string carries the same; each round solves the bank at its temperatures."""
    cables = tuple(routed)
    shortest_m = _lead_lengths(routed)
    for _ in range(ROUNDS):
        model = string_model(job, solve_bank(job, cables, fuses=fuses))
        seen = model.resistance_ohm + bar_equivalents_ohm(model)
        per_m = model.lead_ohm_per_m.mean(axis=1)
        at_m = _lead_lengths(cables)
        # What each string would have with its leads at their shortest: the largest of these sets the target.
        spare_m = np.array([sum(at_m[key] - shortest_m[key] for key in _keys(name)) for name in model.strings])
        target = (seen - spare_m * per_m).max()
        wanted_m = spare_m + (target - seen) / per_m
        change = np.abs(target - seen).max() / target
        lengths = {
            key: shortest_m[key] + max(0.0, float(extra)) / 2
            for name, extra in zip(model.strings, wanted_m, strict=True)
            for key in _keys(name)
        }
        cables = _with_lengths(routed, lengths)
        if change < MATCHED:
            break
    return cables


def bar_equivalents_ohm(model: StringModel) -> np.ndarray:
    """What the bars add to each string when all strings carry the same: volts between its studs and the taps, per A.

    Relative to the least: only differences matter for sharing.
    """
    n = len(model.strings)
    even_a = model.load_a / n
    if even_a == 0:
        return np.zeros(n)
    total = np.zeros(n)
    plus, minus = [(tap[0], tap[2]) for tap in model.taps], [(tap[1], tap[2]) for tap in model.taps]
    for studs, pitch, taps in (
        (model.positive_stud, model.positive_pitch_ohm, plus),
        (model.negative_stud, model.negative_pitch_ohm, minus),
    ):
        total += np.array([_bar_rise_v(stud, studs, taps, pitch, even_a) for stud in studs]) / even_a
    return total - total.min()


def _bar_rise_v(
    stud: int, studs: Sequence[int], taps: Sequence[tuple[int, float]], pitch_ohm: float, even_a: float
) -> float:
    """Volts of a stud above stud 0 of a bar into which each string feeds `even_a` and from which the taps draw."""
    volts = 0.0
    for i in range(stud):
        # What flows from stud i + 1 to stud i: all that enters beyond, less all that is drawn there.
        beyond_a = sum(even_a for s in studs if s > i) - sum(amps for s, amps in taps if s > i)
        volts += beyond_a * pitch_ohm
    return volts


def mixed_sizes(
    job: Job, stock: Stock, routed: Sequence[CableSpec], *, fuses: Mapping[str, Fuse] | None = None
) -> tuple[CableSpec, ...] | None:
    """Equal resistance with a conductor chosen for each string: short leads thin, long leads thick.

    For a given resistance a string's cheapest leads are those of the conductor with the least price per ohm among
    those that carry its current and are long enough for its run; the cheapest common resistance is one at which some
    string's leads just reach. None if stock lacks prices or no conductor carries the current.
    """
    choices = _choices(job, stock, routed, fuses)
    if choices is None or any(not found for found in choices.values()):
        return None
    best: tuple[float, float, dict[str, Conductor]] | None = None
    for target in sorted({ohm for found in choices.values() for _, ohm, _ in found}):
        picked, cost = {}, 0.0
        for name, found in choices.items():
            fitting = [(price * target, c.name, c) for c, ohm, price in found if ohm <= target * (1 + 1e-12)]
            if not fitting:
                break
            least = min(fitting, key=lambda f: (f[0], f[1]))
            picked[name], cost = least[2], cost + least[0]
        else:
            if best is None or cost < best[1] * (1 - 1e-12):
                best = (target, cost, picked)
    if best is None:
        return None
    conductors = best[2]
    mixed = tuple(replace(c, conductor=conductors[c.string]) if c.kind == "lead" else c for c in routed)
    return _equal_resistance(job, mixed, fuses)


def _choices(
    job: Job, stock: Stock, routed: Sequence[CableSpec], fuses: Mapping[str, Fuse] | None
) -> dict[str, list[tuple[Conductor, float, float]]] | None:
    """For each string: (conductor, ohms of its leads at their shortest, price of one ohm of leads)."""
    names = job.policy.conductors_lead
    outs: list[tuple[str, ...]] = [()]
    if job.policy.one_string_out:
        outs += [(s.name,) for s in job.strings]
    worst_a = {s.name: 0.0 for s in job.strings}
    for out in outs:
        for name, amps in solve_bank(job, routed, fuses=fuses, out=out).string_currents_a.items():
            worst_a[name] = max(worst_a[name], abs(amps))
    found: dict[str, list[tuple[Conductor, float, float]]] = {}
    for string in job.strings:
        leads = [c for c in routed if c.string == string.name and c.kind == "lead"]
        shortest_m = sum(c.length_m for c in leads)
        found[string.name] = []
        for conductor in stock.conductors:
            if names and conductor.name not in names:
                continue
            held = [stock.cable(conductor.name, colour_of(job, c)) for c in leads]
            prices = [price_per_m(h) for h in held if h is not None]
            if len(prices) < len(leads) or None in prices:
                continue
            allowed_a = min(ampacity_of(job, replace(c, conductor=conductor)).current_a for c in leads)
            if allowed_a < worst_a[string.name]:
                continue
            per_m = conductor.ohm_per_km_20c / 1000
            price = sum(float(p) for p in prices if p is not None) / len(prices)
            found[string.name].append((conductor, per_m * shortest_m, price / per_m))
    return found


def _keys(string: str) -> tuple[tuple[str, str], tuple[str, str]]:
    return (string, "positive"), (string, "negative")


def _lead_lengths(cables: Sequence[CableSpec]) -> dict[tuple[str, str], float]:
    """(string, pole) -> metres; a lead in two cuts counts as one."""
    lengths: dict[tuple[str, str], float] = {}
    for cable in cables:
        if cable.kind == "lead":
            key = (cable.string, cable.pole)
            lengths[key] = lengths.get(key, 0.0) + cable.length_m
    return lengths


def _with_lengths(routed: Sequence[CableSpec], lead_m: Mapping[tuple[str, str], float]) -> tuple[CableSpec, ...]:
    """Leads made this long: where a lead is two cuts about its fuse, the last cut takes the difference."""
    last = {(c.string, c.pole): c.name for c in routed if c.kind == "lead"}
    changed = []
    for cable in routed:
        key = (cable.string, cable.pole)
        if cable.kind == "lead" and last[key] == cable.name:
            first_m = sum(
                c.length_m for c in routed if c.kind == "lead" and (c.string, c.pole) == key and c.name != cable.name
            )
            changed.append(replace(cable, length_m=lead_m[key] - first_m))
        else:
            changed.append(cable)
    return tuple(changed)


def _result(
    job: Job, stock: Stock, policy: str, cables: Sequence[CableSpec], fuses: Mapping[str, Fuse] | None
) -> PolicyResult:
    solution = solve_bank(job, cables, fuses=fuses)
    sharing, drop = sharing_of(solution), solution.worst_drop
    if sharing is None or drop is None:
        raise ValueError("the bank carries no current: there is nothing to share")
    return PolicyResult(
        policy=policy,
        lengths_m={c.name: c.length_m for c in cables},
        conductors={c.name: c.conductor.name for c in cables},
        lead_m=sum(c.length_m * c.paralleled for c in cables if c.kind == "lead"),
        cable_m=sum(c.length_m * c.paralleled for c in cables),
        cost=cost_of_cables(job, stock, cables),
        largest_over_smallest=sharing.largest_over_smallest,
        worst_string=sharing.worst_string,
        worst_departure=sharing.worst_departure,
        worst_drop=drop.share,
    )
