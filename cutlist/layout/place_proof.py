"""Whether the proof that comes with bus-bar places holds: that no pair of cells can hold a cheaper pair of places.

The cells of each pole must cover every place once, and the least cuts that any two of them could come to must cost no
less than the bound, unless their bars cannot stand together. Slow and plain on purpose; see `place_check`.

A row of cuts has, for each lead conductor, the cut of a lead on the positive and on the negative side, then for each
feeder and each feeder conductor its cut. Longer runs never make any of them smaller.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from cutlist.layout.bus_bar_places import Certificate, SeatName
from cutlist.layout.cells import Cells
from cutlist.layout.place_problem import Array, BarRow, ConductorChoice, PlaceProblem
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


def prices_of(problem: PlaceProblem, positive: Whole, negative: Whole) -> Whole:
    """Least cost (q,) in whole units of building rows of cuts within the drop limit; IMPOSSIBLE where it cannot be."""
    used = {c.name for c in (*problem.lead_conductors, *problem.feeder_conductors)}
    cables = [c for c in problem.stock.cables if c.conductor in used]
    others = [c.other_price for c in (*problem.lead_conductors, *problem.feeder_conductors)]
    measure = measure_for(cables, problem.stock.rules, others)
    best = np.full(len(positive), IMPOSSIBLE, dtype=np.int64)
    feeder_choices = list(enumerate(problem.feeder_conductors)) if problem.feeders else [(0, None)]
    for (i, lead), (j, feeder) in itertools.product(enumerate(problem.lead_conductors), feeder_choices):
        if feeder and problem.pairs is not None and (lead.name, feeder.name) not in problem.pairs:
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
            total = total + measure.units(lead.other_price + (feeder.other_price if feeder else 0)) * SPLIT
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


def proof_faults(problem: PlaceProblem, proof: Certificate) -> Iterator[str]:
    tables = []
    for pole, cells, seats in zip(POLES, proof.leaves, proof.seats, strict=True):
        bar = problem.bar(pole)
        yield from _cover_faults(problem, bar, cells, seats)
        tables.append(_leaf_rows(problem, bar, cells, seats))
    (owner_p, rows_p), (owner_n, rows_n) = tables
    distinct_p, back_p = np.unique(rows_p, axis=0, return_inverse=True)
    distinct_n, back_n = np.unique(rows_n, axis=0, return_inverse=True)
    lowest_p, lowest_n = _lowest(distinct_p), _lowest(distinct_n)
    cheap = _cheap_pairs(problem, lowest_p, lowest_n, proof.bound)
    if not cheap:
        return  # what the least rows of both poles cost, no others undercut
    cheap = _cheap_pairs(problem, distinct_p, distinct_n, proof.bound)
    for i, j in cheap:
        first, second = (
            np.unique(owner[back.reshape(-1) == k]) for owner, back, k in ((owner_p, back_p, i), (owner_n, back_n, j))
        )
        if _some_stand_apart(problem, proof, first, second):
            yield f"cells {first[:3]} and {second[:3]} could hold places that cost less than the bound"
            return


def _cover_faults(problem: PlaceProblem, bar: BarRow, cells: Cells, seats: tuple[SeatName, ...]) -> Iterator[str]:
    """Every way of mounting the bar is there, and its rectangle is filled by cells that do not overlap."""
    expected = []
    for first in range(bar.reserved_studs + 1):
        expected += [(place.face, 0, first, 0.0, 0.0, 0.0, 0.0) for place in bar.places]
        for face in (f for f in problem.faces if f.name in bar.faces):
            for turn in bar.turns if bar.studs > 1 else bar.turns[:1]:
                reach_m = (bar.studs - 1) / 2 * bar.pitch_m
                a, b = (reach_m, 0.0) if turn == 0 else (0.0, reach_m)
                low_a, low_b = face.edge_m + a, face.edge_m + b
                high_a, high_b = face.width_m - low_a, face.height_m - low_b
                if high_a >= low_a - 1e-9 and high_b >= low_b - 1e-9:
                    expected.append((face.name, turn, first, low_a, low_b, max(high_a, low_a), max(high_b, low_b)))
    if [e[:3] for e in expected] != list(seats):
        yield f"the proof speaks of other ways of mounting the {bar.pole} bus bar than there are"
        return
    for number, (name, _, _, low_a, low_b, high_a, high_b) in enumerate(expected):
        mine = cells[cells.seat == number]
        a0, a1 = mine.a - mine.half_a, mine.a + mine.half_a
        b0, b1 = mine.b - mine.half_b, mine.b + mine.half_b
        # a side without length counts as one, so that lines and points have an area too
        wide, tall = (high > low + 1e-9 for low, high in ((low_a, high_a), (low_b, high_b)))
        area = (a1 - a0 if wide else np.ones(len(mine))) * (b1 - b0 if tall else np.ones(len(mine)))
        whole = (high_a - low_a if wide else 1.0) * (high_b - low_b if tall else 1.0)
        inside = (a0 > low_a - 1e-9) & (a1 < high_a + 1e-9) & (b0 > low_b - 1e-9) & (b1 < high_b + 1e-9)
        if not inside.all() or abs(area.sum() - whole) > 1e-9 or _overlap(a0, a1, b0, b1, wide, tall):
            yield f"the cells do not cover {name} once for the {bar.pole} bus bar"


def _overlap(a0: Array, a1: Array, b0: Array, b1: Array, wide: bool, tall: bool) -> bool:
    order = np.argsort(a0, kind="stable")
    a0, a1, b0, b1 = a0[order], a1[order], b0[order], b1[order]
    for i in range(len(a0) - 1):
        last = len(a0) if not wide else int(np.searchsorted(a0, a1[i] - 1e-9))
        if last > i + 1:
            crosses = (b0[i + 1 : last] < b1[i] - 1e-9) & (b1[i + 1 : last] > b0[i] + 1e-9)
            if crosses.any() or not tall:
                return True
    return False


def _leaf_rows(
    problem: PlaceProblem, bar: BarRow, cells: Cells, seats: tuple[SeatName, ...]
) -> tuple[NDArray[np.int64], Whole]:
    """(owner, cuts): for every leaf and every way of seating the feeders the least cuts that could be had in it."""
    strings, feeders = problem.string_points(bar.pole), problem.feeder_points(bar.pole)
    used = bar.studs - bar.reserved_studs
    ends = _row_ends(problem, bar, cells, seats)
    shares = (np.arange(bar.studs) / max(bar.studs - 1, 1))[None, :, None]
    studs = ends[:, :1] + shares * (ends[:, 1:] - ends[:, :1])
    owners, rows = [], []
    ways = list(itertools.product(range(used), repeat=len(feeders)))
    reach_m = np.hypot(cells.half_a, cells.half_b) + 1e-9
    for leaf in range(len(cells)):
        first = seats[cells.seat[leaf]][2]
        points = studs[leaf, first : first + used]
        table = problem.runs.bounds(np.vstack([strings, feeders]), points) - reach_m[leaf]
        table = np.maximum(table, 0.0)
        for way in ways:
            room = [bar.lugs_per_stud - way.count(stud) for stud in range(used)]
            if min(room) < 0:
                continue
            lead_m = _longest_at_best(table[: len(strings)], room)
            run_m = [table[len(strings) + n, stud] for n, stud in enumerate(way)]
            owners.append(leaf)
            rows.append((lead_m, run_m))
    leads_m = np.array([lead for lead, _ in rows])
    feeders_m = np.array([run for _, run in rows]).reshape(len(rows), len(feeders))
    return np.array(owners), cuts_of(problem, bar.pole, leads_m, feeders_m)


def _longest_at_best(table: Array, room: list[int]) -> float:
    """Strings seated one by one in order of need; the least length at which all find a stud."""
    for length_m in np.unique(table):
        if length_m < table.min(axis=1).max():
            continue
        taken: dict[int, list[int]] = {stud: [] for stud in range(table.shape[1])}

        def place(string: int, seen: set[int], limit_m: float, taken: dict[int, list[int]]) -> bool:
            for stud in np.flatnonzero(table[string] <= limit_m).tolist():
                if stud in seen:
                    continue
                seen.add(stud)
                if len(taken[stud]) < room[stud]:
                    taken[stud].append(string)
                    return True
                for other in list(taken[stud]):
                    if place(other, seen, limit_m, taken):
                        taken[stud].remove(other)
                        taken[stud].append(string)
                        return True
            return False

        if all(place(string, set(), float(length_m), taken) for string in range(len(table))):
            return float(length_m)
    return math.inf


def _row_ends(problem: PlaceProblem, bar: BarRow, cells: Cells, seats: tuple[SeatName, ...]) -> Array:
    ends = np.empty((len(cells), 2, 3))
    reach_m = (bar.studs - 1) / 2 * bar.pitch_m
    per_first = sum(1 for _, _, first in seats if first == 0)  # fixed places come first, then the faces
    for leaf in range(len(cells)):
        number = int(cells.seat[leaf])
        name, turn, _ = seats[number]
        if number % per_first < len(bar.places):
            place = bar.places[number % per_first]
            centre, along = np.array(place.centre), np.array(place.along)
        else:
            face = next(f for f in problem.faces if f.name == name)
            u, v = np.array(face.u), np.array(face.v)
            centre = np.array(face.origin) + cells.a[leaf] * u + cells.b[leaf] * v
            along = u if turn == 0 else v
        ends[leaf] = [centre - reach_m * along, centre + reach_m * along]
    return ends


def _lowest(rows: Whole) -> Whole:
    kept = [i for i, row in enumerate(rows) if not ((rows <= row).all(axis=1) & (rows != row).any(axis=1)).any()]
    return rows[kept]


def _cheap_pairs(problem: PlaceProblem, positive: Whole, negative: Whole, bound: int) -> list[tuple[int, int]]:
    cheap = []
    for start in range(0, len(positive), max(1, 50_000 // len(negative))):
        some = positive[start : start + max(1, 50_000 // len(negative))]
        pairs = joined_rows(problem, np.repeat(some, len(negative), axis=0), np.tile(negative, (len(some), 1)))
        below = np.flatnonzero(prices_of(problem, *pairs) < bound)
        cheap += [(start + int(k) // len(negative), int(k) % len(negative)) for k in below]
    return cheap


def _some_stand_apart(
    problem: PlaceProblem, proof: Certificate, first: NDArray[np.int64], second: NDArray[np.int64]
) -> bool:
    """Whether two bars in any pair of these leaves could stand together."""
    sides = []
    for pole, cells, seats, chosen in zip(POLES, proof.leaves, proof.seats, (first, second), strict=True):
        bar = problem.bar(pole)
        mine = cells[chosen]
        shut = np.array([_shut(problem, bar, mine, seats, leaf) for leaf in range(len(mine))])
        mine = mine[~shut]
        sides.append((mine, seats, _row_ends(problem, bar, mine, seats), np.hypot(mine.half_a, mine.half_b)))
    (one, seats_p, ends_p, reach_p), (two, seats_n, ends_n, reach_n) = sides
    for i, j in itertools.product(range(len(one)), range(len(two))):
        same = seats_p[one.seat[i]][0] == seats_n[two.seat[j]][0]
        if problem.same_face is not None and same != problem.same_face:
            continue
        if least_between(ends_p[i], ends_n[j]) + reach_p[i] + reach_n[j] >= problem.separation_m - HAIR_M:
            return True
    return False


def _shut(problem: PlaceProblem, bar: BarRow, cells: Cells, seats: tuple[SeatName, ...], leaf: int) -> bool:
    """Whether one forbidden zone, or the height asked for, rules out the whole leaf."""
    name, turn, _ = seats[cells.seat[leaf]]
    face = next((f for f in problem.faces if f.name == name and name in bar.faces), None)
    if face is None:
        return False
    reach_m = (bar.studs - 1) / 2 * bar.pitch_m
    ra, rb = (reach_m, 0.0) if turn == 0 else (0.0, reach_m)
    a, b, da, db = (float(x[leaf]) for x in (cells.a, cells.b, cells.half_a, cells.half_b))
    for a0, b0, a1, b1 in face.forbidden:
        if a - da > a0 - ra and a + da < a1 + ra and b - db > b0 - rb and b + db < b1 + rb:
            return True
    if bar.lowest_z_m is None:
        return False
    ends = _row_ends(problem, bar, cells[np.array([leaf])], seats)[0]
    rise_m = da * abs(face.u[2]) + db * abs(face.v[2])
    return bool(ends[:, 2].min() + rise_m < bar.lowest_z_m)


def least_between(one: Array, two: Array) -> float:
    """Distance between two straight rows, by halving the stretch of one that can hold the nearest point."""
    d, e = one[1] - one[0], two[1] - two[0]

    def at(share: float) -> float:
        p = one[0] + share * d
        t = float(np.clip(np.dot(p - two[0], e) / max(float(np.dot(e, e)), 1e-18), 0.0, 1.0))
        return float(np.linalg.norm(p - two[0] - t * e))

    low, high = 0.0, 1.0
    for _ in range(80):  # the distance is convex along the row
        first, second = low + (high - low) / 3, high - (high - low) / 3
        low, high = (low, second) if at(first) <= at(second) else (first, high)
    return min(at(0.0), at(1.0), at((low + high) / 2))
