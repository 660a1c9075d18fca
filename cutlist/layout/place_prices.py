"""What two bars cost, worked out by the check of bus-bar places and by nobody else: cuts from runs, prices from cuts.

A row of cuts has, for each lead conductor, the cut of a lead on the positive and on the negative side, then for each
feeder and each feeder conductor its cut. Longer runs never make any of them smaller, nor the price.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np

from cutlist.layout.place_problem import Array, ConductorChoice, PlaceProblem
from cutlist.stock.price_table import IMPOSSIBLE, SPLIT, Measure, Whole, least_costs, measure_for

POLES = ("positive", "negative")
HAIR_M = 1e-7


def cuts_of(problem: PlaceProblem, pole: str, leads_m: Array, feeders_m: Array) -> Whole:
    columns = []
    for lead in problem.lead_conductors:
        columns += [_cut(problem, leads_m, a) for a in (lead.positive_allowance_um, lead.negative_allowance_um)]
    if problem.longest_lead_m is not None:
        columns = [np.where(leads_m > problem.longest_lead_m + HAIR_M, IMPOSSIBLE, c) for c in columns]
    for number, feeder in enumerate(problem.feeders_of(pole)):
        run_m = feeders_m[:, number]
        too_long = run_m > (math.inf if feeder.longest_m is None else feeder.longest_m) + HAIR_M
        for choice in problem.feeder_conductors:
            allowance = choice.positive_allowance_um if pole == "positive" else choice.negative_allowance_um
            columns.append(np.where(too_long, IMPOSSIBLE, _cut(problem, run_m, allowance + feeder.allowance_um)))
    return np.stack(columns, axis=1)


def _cut(problem: PlaceProblem, runs_m: Array, allowance_um: int) -> Whole:
    step = problem.round_up_um
    run_um = np.where(np.isfinite(runs_m), runs_m + problem.longer_m, 1e6) * 1e6
    steps = np.ceil((run_um - allowance_um) / step - 1e-6)
    return np.where(np.isfinite(runs_m), np.maximum(steps, 0).astype(np.int64) * step, IMPOSSIBLE)


def joined_rows(problem: PlaceProblem, positive: Whole, negative: Whole) -> tuple[Whole, Whole]:
    leads = 2 * len(problem.lead_conductors)
    if not problem.poles_alike:
        return positive, negative
    longer = np.maximum(positive[:, :leads], negative[:, :leads])
    return np.hstack([longer, positive[:, leads:]]), np.hstack([longer, negative[:, leads:]])


def measure_of(problem: PlaceProblem) -> Measure:
    choices = (*problem.lead_conductors, *problem.feeder_conductors)
    cables = [c for c in problem.stock.cables if c.conductor in {choice.name for choice in choices}]
    return measure_for(
        cables, problem.stock.rules, [p for choice in choices for p in (choice.other_price, choice.shared_price)]
    )


def prices_of(problem: PlaceProblem, positive: Whole, negative: Whole) -> Whole:
    """Least cost (q,) in whole units of building rows of cuts within the drop limit; IMPOSSIBLE where it cannot be."""
    measure = measure_of(problem)
    best = np.full(len(positive), IMPOSSIBLE, dtype=np.int64)
    feeder_choices = list(enumerate(problem.feeder_conductors)) if problem.feeders else [(0, None)]
    for (i, lead), (j, feeder) in itertools.product(enumerate(problem.lead_conductors), feeder_choices):
        if not problem.together(lead, feeder):
            continue
        total = np.zeros(len(positive), dtype=np.int64)
        drops = [np.full(len(positive), circuit.other_v) for circuit in problem.circuits]
        if feeder:
            drops = [
                drop + circuit.fixed_am * feeder.ohm_per_m
                for drop, circuit in zip(drops, problem.circuits, strict=True)
            ]
        for side, (pole, rows) in enumerate(zip(POLES, (positive, negative), strict=True)):
            leads = rows[:, 2 * i + side]
            ends = problem.feeders_of(pole)
            first = 2 * len(problem.lead_conductors) + j
            feeders = [rows[:, first + n * len(problem.feeder_conductors)] for n in range(len(ends))]
            for number, circuit in enumerate(problem.circuits):
                bank_a = problem.current_a if circuit.leads_a is None else circuit.leads_a
                drops[number] = drops[number] + bank_a * leads * lead.ohm_per_m / 1e6 / len(problem.strings)
                for end, cut in zip(ends, feeders, strict=True):
                    if feeder and end.name in circuit.feeders:
                        drops[number] = drops[number] + circuit.feeder_a(end) * cut * feeder.ohm_per_m / 1e6
            for cost in _poleprices_of(problem, measure, pole, lead, feeder, leads, feeders):
                total = np.where((total >= IMPOSSIBLE) | (cost >= IMPOSSIBLE), IMPOSSIBLE, total + cost)
        if measure.first == "money":
            lugs = lead.other_price
            if feeder:  # of one conductor both use up the same lugs on hand
                lugs += feeder.other_price + (lead.shared_price if lead.name == feeder.name else 0)
            total = total + measure.units(lugs) * SPLIT
        holds = np.ones(len(positive), dtype=bool)
        for circuit, drop in zip(problem.circuits, drops, strict=True):
            holds &= drop <= circuit.drop_limit_v + 1e-9
        best = np.minimum(best, np.where(holds & (total < IMPOSSIBLE), total // SPLIT, IMPOSSIBLE))
    return best


def _poleprices_of(
    problem: PlaceProblem,
    measure: Measure,
    pole: str,
    lead: ConductorChoice,
    feeder: ConductorChoice | None,
    leads: Whole,
    feeders: list[Whole],
) -> Iterator[Whole]:
    colour = problem.colour_of(pole)
    bought = sum(1 for s in problem.strings if not s.later)
    pieces: dict[str, list[tuple[int, Whole]]] = {lead.name: [(bought, leads)]}
    for cut in feeders:
        assert feeder is not None
        pieces.setdefault(feeder.name, []).append((1, cut))
    for other in problem.other_pieces:
        if other.colour == colour:
            name = feeder.name if feeder and other.as_feeders else other.conductor
            pieces.setdefault(name, []).append((other.count, np.full(len(leads), other.length_um)))
    for name, kinds in pieces.items():
        lengths = np.column_stack([length for _, length in kinds])
        known = np.asarray((lengths < IMPOSSIBLE).all(axis=1))
        cost = least_costs(
            problem.stock.cable(name, colour),
            problem.stock.rules,
            measure,
            [count for count, _ in kinds],
            np.where(known[:, None], lengths, 1),
        )
        yield np.where(known, cost, IMPOSSIBLE)
