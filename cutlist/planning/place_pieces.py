"""What is cut and bought for each choice of conductor while the bus bars move, and what they do not change."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

import numpy as np

from cutlist.bank.cables import Conductor
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.layout.cable_ends import Stud
from cutlist.layout.matching import rounded_up_um
from cutlist.layout.place_problem import ConductorChoice, OtherPieces, PlaceProblem
from cutlist.layout.run_lengths import Joined, lugs_m
from cutlist.layout.stud_fits import studs_for

MOST_STATES = 1_500  # of a price table: kinds of piece are counted as alike beyond that


def first_piece_um(job: Job) -> int:
    """Of a positive lead that is cut in two for its fuse; else nothing."""
    if job.policy.string_fuse != "in line":
        return 0
    return rounded_up_um(job.policy.string_fuse_distance_m, job.policy.round_up_um)


def allowance_um(job: Job, stock: Stock, cables: Sequence[Joined], conductor: Conductor) -> int:
    """Cut length = run less this; of unlike lugs the longest, so that no cut is thought too long."""
    return max(allowances_um(job, stock, cables, conductor), default=round(-2e6 * job.policy.end_allowance_m))


def allowances_um(job: Job, stock: Stock, cables: Sequence[Joined], conductor: Conductor) -> list[int]:
    """Of each cable, and each stud of its bus bar that takes it."""
    every = on_any_stud(job, stock, cables, conductor)
    return [round((lugs_m(stock, c, conductor) - 2 * job.policy.end_allowance_m) * 1e6) for c in every]


def on_any_stud(job: Job, stock: Stock, cables: Sequence[Joined], conductor: Conductor) -> list[Joined]:
    """Each cable once for every thread of its bus bar for which a lug of this conductor is listed."""
    found = []
    for cable in cables:
        starts, finishes = (_any_stud(job, stock, end, conductor) for end in (cable.start, cable.finish))
        found += [replace(cable, start=start, finish=finish) for start in starts for finish in finishes]
    return found


def _any_stud(job: Job, stock: Stock, end: Stud, conductor: Conductor) -> list[Stud]:
    bar = next((bar for bar in job.bus_bars if bar.name == end.bar and bar.unlike), None)
    if bar is None:
        return [end]
    threads = dict.fromkeys(bar.threads)
    return [replace(end, stud=t) for t in threads if t in stock.threads_of(conductor.name)] or [end]


def longest_run_m(job: Job, limit_m: float | None, allowances_um: Iterable[int]) -> float | None:
    """The longest run that is within the limit once its cut is rounded up and it is laid at the length that gives."""
    if limit_m is None:
        return None
    step_um, spare_m = job.policy.round_up_um, 2 * job.policy.end_allowance_m
    within_um = round((limit_m - spare_m) * 1e6)
    return max((within_um - a) // step_um * step_um + a for a in allowances_um) / 1e6 - job.policy.longer_m


def lead_choice(job: Job, stock: Stock, cables: Sequence[Joined], conductor: Conductor) -> ConductorChoice:
    """A conductor for all leads, with the studs of both bars on which its lugs go."""
    leads, feeders = ([c for c in cables if c.kind == kind] for kind in ("lead", "feeder"))
    poles = {pole: [c for c in leads if c.pole == pole] for pole in ("positive", "negative")}
    apart = [least_lugs_price(job, stock, some, conductor) for some in (leads, feeders)]
    return ConductorChoice(
        conductor.name,
        conductor.ohm_per_km_20c / 1000,
        allowance_um(job, stock, poles["positive"], conductor) + first_piece_um(job),
        allowance_um(job, stock, poles["negative"], conductor),
        apart[0],
        max(least_lugs_price(job, stock, [*leads, *feeders], conductor) - sum(apart), Decimal(0)),
        studs_for(stock, job.positive_bar, conductor.name),
        studs_for(stock, job.negative_bar, conductor.name),
    )


def feeder_choice(job: Job, stock: Stock, cables: Sequence[Joined], conductor: Conductor) -> ConductorChoice:
    feeders = [c for c in cables if c.kind == "feeder"]
    return ConductorChoice(
        conductor.name,
        conductor.ohm_per_km_20c / 1000,
        other_price=least_lugs_price(job, stock, feeders, conductor),
        positive_studs=studs_for(stock, job.positive_bar, conductor.name),
        negative_studs=studs_for(stock, job.negative_bar, conductor.name),
    )


def least_lugs_price(job: Job, stock: Stock, cables: Sequence[Joined], conductor: Conductor) -> Decimal:
    """Of the lugs at both ends; on unlike studs as if each were on the stud whose lug costs least, so that the bound
    holds whichever studs are taken. What is on hand and goes on no other stud is used up first."""
    choices = [_any_stud(job, stock, end, conductor) for c in cables for end in (c.start, c.finish)]
    free = [choice for choice in choices if len(choice) > 1]
    fixed = [choice[0] for choice in choices if len(choice) == 1]
    total = _lugs_price(stock, fixed, conductor)
    threads = {stud.stud for choice in free for stud in choice}
    lugs = [lug for thread in sorted(threads) if (lug := stock.lug(conductor.name, thread)) is not None]
    if lugs:
        least = min(Decimal(0) if lug.price is None else lug.price for lug in lugs)
        left = sum(max(0, lug.on_hand - sum(end.stud == lug.stud for end in fixed)) for lug in lugs)
        total += least * max(0, len(free) - left)
    return total


def lugs_price(stock: Stock, cables: Sequence[Joined], conductor: Conductor) -> Decimal:
    """Of the lugs at both ends of cables whose studs are chosen."""
    return _lugs_price(stock, [end for c in cables for end in (c.start, c.finish)], conductor)


def _lugs_price(stock: Stock, ends: Sequence[Stud], conductor: Conductor) -> Decimal:
    """Of lugs beyond what is on hand, one by one; nothing for those without a price."""
    total = Decimal(0)
    studs = [end.stud for end in ends]
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
