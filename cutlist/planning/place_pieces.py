"""What is cut and bought for each choice of conductor while the bus bars move, and what they do not change."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

import numpy as np

from cutlist.bank.cables import Conductor
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.layout.matching import rounded_up_um
from cutlist.layout.place_problem import ConductorChoice, OtherPieces, PlaceProblem
from cutlist.layout.run_lengths import Joined, lugs_m

MOST_STATES = 1_500  # of a price table: kinds of piece are counted as alike beyond that


def first_piece_um(job: Job) -> int:
    """Of a positive lead that is cut in two for its fuse; else nothing."""
    if job.policy.string_fuse != "in line":
        return 0
    return rounded_up_um(job.policy.string_fuse_distance_m, job.policy.round_up_um)


def allowance_um(job: Job, stock: Stock, cables: Sequence[Joined], conductor: Conductor) -> int:
    """Cut length = run less this; of unlike lugs the longest, so that no cut is thought too long."""
    lugs = max((lugs_m(stock, c, conductor) for c in cables), default=0.0)
    return round((lugs - 2 * job.policy.end_allowance_m) * 1e6)


def longest_run_m(job: Job, limit_m: float | None, allowances_um: Iterable[int]) -> float | None:
    """The longest run that is within the limit once its cut is rounded up and it is laid at the length that gives."""
    if limit_m is None:
        return None
    step_um, spare_m = job.policy.round_up_um, 2 * job.policy.end_allowance_m
    within_um = round((limit_m - spare_m) * 1e6)
    return max((within_um - a) // step_um * step_um + a for a in allowances_um) / 1e6 - job.policy.longer_m


def lead_choice(job: Job, stock: Stock, cables: Sequence[Joined], conductor: Conductor) -> ConductorChoice:
    poles = {pole: [c for c in cables if c.kind == "lead" and c.pole == pole] for pole in ("positive", "negative")}
    return ConductorChoice(
        conductor.name,
        conductor.ohm_per_km_20c / 1000,
        allowance_um(job, stock, poles["positive"], conductor) + first_piece_um(job),
        allowance_um(job, stock, poles["negative"], conductor),
        _lugs_price(stock, [*poles["positive"], *poles["negative"]], conductor),
    )


def feeder_choice(stock: Stock, cables: Sequence[Joined], conductor: Conductor) -> ConductorChoice:
    feeders = [c for c in cables if c.kind == "feeder"]
    return ConductorChoice(
        conductor.name, conductor.ohm_per_km_20c / 1000, other_price=_lugs_price(stock, feeders, conductor)
    )


def _lugs_price(stock: Stock, cables: Sequence[Joined], conductor: Conductor) -> Decimal:
    """Of the lugs at both ends beyond what is on hand, one by one; nothing for those without a price."""
    total = Decimal(0)
    studs = [end.stud for c in cables for end in (c.start, c.finish)]
    for stud in sorted(set(studs)):
        lug = stock.lug(conductor.name, stud)
        if lug is not None and lug.price is not None:
            total += lug.price * max(0, studs.count(stud) - lug.on_hand)
    return total


def other_pieces(
    job: Job,
    stock: Stock,
    cables: Sequence[Joined],
    conductors: Mapping[str, Conductor],
    fixed: Mapping[str, float],
) -> tuple[OtherPieces, ...]:
    colours = {"positive": job.colours.positive, "negative": job.colours.negative, "link": job.colours.link}
    counts: dict[tuple[str, str, int, bool], int] = {}
    for cable in cables:
        if cable.name in fixed:
            conductor = conductors[cable.kind]
            reach_m = fixed[cable.name] + job.policy.longer_m + 2 * job.policy.end_allowance_m
            cut_um = rounded_up_um(max(reach_m - lugs_m(stock, cable, conductor), 0.0), job.policy.round_up_um)
            key = (conductor.name, colours[cable.pole], cut_um, cable.kind == "feeder")
            counts[key] = counts.get(key, 0) + 1
    first_um = first_piece_um(job)
    if first_um:
        key = (conductors["lead"].name, colours["positive"], first_um, False)
        counts[key] = counts.get(key, 0) + len(job.strings)
    return tuple(
        OtherPieces(name, colour, length_um, count, as_feeders)
        for (name, colour, length_um, as_feeders), count in sorted(counts.items())
    )


def fewer_kinds(problem: PlaceProblem) -> PlaceProblem:
    """Pieces of nearly the same length counted as the shorter of them, until the price table is small: never dearer."""
    pieces = list(problem.other_pieces)
    for pole in ("positive", "negative"):
        colour = problem.colour_of(pole)
        moving = (len(problem.strings) + 1) * 2 ** len(problem.feeders_of(pole))
        while True:
            mine = [p for p in pieces if p.colour == colour]
            states = moving * int(np.prod([p.count + 1 for p in mine], dtype=float))
            if states <= MOST_STATES:
                break
            pairs = [
                (a, b)
                for a in mine
                for b in mine
                if a is not b
                and (a.conductor, a.as_feeders) == (b.conductor, b.as_feeders)
                and a.length_um <= b.length_um
            ]
            if not pairs:
                break
            a, b = min(pairs, key=lambda ab: ((ab[1].length_um - ab[0].length_um) * ab[1].count, ab[0].length_um))
            pieces = [p for p in pieces if p is not a and p is not b]
            pieces.append(replace(a, count=a.count + b.count))
    return replace(problem, other_pieces=tuple(pieces))
