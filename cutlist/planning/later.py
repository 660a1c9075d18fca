"""Strings still to come: how long today's leads would have to be for them, and what that costs now or then."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.quick_bank import prepare, worst_at_lengths
from cutlist.layout.later_leads import later_cables, later_measured
from cutlist.layout.matching import Length, matched
from cutlist.layout.run_lengths import measured_cables
from cutlist.plan_types import PlannedCable
from cutlist.planning.build import Built, chosen_combination, rest_of_strings
from cutlist.planning.cut_pieces import cable_ends, cuts_of, pieces_of
from cutlist.stock.cut_plan import CannotCut, Piece
from cutlist.stock.later_leads import LaterLeads, priced
from geometry.runs import NoRun

TIME_LIMIT_S = 2.0  # for each of three cuts: a price to compare by, proved or not


def later_leads(
    job: Job, stock: Stock, built: Built, cables: Sequence[PlannedCable], fuses: Mapping[str, Fuse]
) -> LaterLeads | None:
    """At the places of the plan, whether its leads are long enough already or not. None where no string is named."""
    if not job.later:
        return None
    names = tuple(string.name for string in job.later)
    conductor = built.conductors["lead"]
    kept = later_cables(job, stock, built.places, built.cables, conductor)
    later = later_measured(job, stock, built.space, kept, conductor)
    own = measured_cables(stock, built.cables, built.laid.shortest, built.conductors)
    rest = rest_of_strings(job, stock, built.cables, built.conductors, built.laid.shortest)
    step_m = built.laid.longer_steps * job.policy.round_up_um / 1e6
    policy = replace(job.policy, longer_m=job.policy.longer_m + step_m)
    short = matched(own, policy, rest)
    target_um = _longest_um(built, short)
    if isinstance(later, NoRun):
        why_not = f"{later.name} finds no way: {later.reason}"
        return LaterLeads(names, job.policy.lengthen_now, target_um, target_um, "", (), why_not=why_not)
    # nothing is known of the jumpers of a string still to come: the longest of today's stand for them
    long = matched([*own, *later], policy, rest | dict.fromkeys(names, max(rest.values(), default=0.0)))
    remade = tuple(c.name for c in built.cables if long[c.pair or c.name].cut_um > short[c.pair or c.name].cut_um)
    longest = max(later, key=lambda lead: (long[lead.name].cut_um, lead.shortest_m, lead.name))
    told = LaterLeads(
        strings=names,
        lengthened=job.policy.lengthen_now,
        target_um=target_um,
        long_target_um=_longest_um(built, long),
        longest=longest.name if remade else "",
        remade=remade,
        drop=_drop(job, built, long, fuses),
    )
    as_short, as_long = (_as_cut(job, built, cables, lengths) for lengths in (short, long))
    anew = [c for c in as_long if c.name in remade]
    told = replace(
        told,
        more_um=_cut_um(pieces_of(as_long)) - _cut_um(pieces_of(as_short)),
        remade_um=_cut_um(pieces_of(anew)),
    )
    try:
        money = priced(
            pieces_of(as_short),
            pieces_of(as_long),
            pieces_of(anew),
            cable_ends(as_long, fuses),
            stock,
            time_limit_s=TIME_LIMIT_S,
        )
    except CannotCut as cannot:
        return replace(told, why_not=cannot.faults[0])
    return replace(told, more_now=money.more_now, remade_then=money.remade_then)


def _longest_um(built: Built, lengths: Mapping[str, Length]) -> int:
    return max((lengths[c.pair or c.name].cut_um for c in built.cables if c.kind == "lead"), default=0)


def _as_cut(
    job: Job, built: Built, cables: Sequence[PlannedCable], lengths: Mapping[str, Length]
) -> tuple[PlannedCable, ...]:
    """The planned cables with these cut lengths; their runs stay those of the plan."""
    return tuple(
        replace(c, cuts=cuts_of(job, c.number, c.name, c.pole, c.kind, lengths[of.pair or of.name].cut_um))
        for c, of in zip(cables, built.cables, strict=True)
    )


def _cut_um(pieces: Sequence[Piece]) -> int:
    return sum(piece.length_um for piece in pieces)


def _drop(job: Job, built: Built, lengths: Mapping[str, Length], fuses: Mapping[str, Fuse]) -> float | None:
    """Of the whole bank with leads of these lengths; the first piece of a lead cut in two stays as long as it is."""
    further_m = {
        (c.string, c.pole): lengths[c.pair or c.name].developed_m - built.laid.lengths[c.name].developed_m
        for c in built.cables
        if c.kind == "lead"
    }
    row = [
        spec.length_m
        + (
            further_m[spec.string, spec.pole]
            if spec.kind == "lead" and spec.finish != ("fuse battery side", spec.string)
            else 0.0
        )
        for spec in built.specs
    ]
    calm = replace(job, policy=replace(job.policy, one_string_out=False))  # as the plan's own worst drop is told
    worst = worst_at_lengths(prepare(calm, built.specs, fuses=fuses), chosen_combination(built.sizing), np.array([row]))
    drop = float(worst.drop[0])
    return drop if np.isfinite(drop) else None
