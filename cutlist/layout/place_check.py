"""A stranger's check of bus-bar places: the answer rule by rule, and the proof that no other places cost less.

It works from the problem alone. With the search it shares the run lengths asked of the problem and the price of a
list of pieces (which has tests of its own); classes, studs, cells and bounds are all worked out again, here and in
`place_proof`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from cutlist.bank.bus_bars import BarPlace
from cutlist.layout.bus_bar_places import Places
from cutlist.layout.place_leaves import takes
from cutlist.layout.place_outlines import row_stands
from cutlist.layout.place_prices import HAIR_M, POLES, cuts_of, joined_rows, measure_of, prices_of
from cutlist.layout.place_problem import Array, BarRow, PlaceProblem
from cutlist.layout.place_proof import every_pair, least_between, narrowed, proof_faults
from cutlist.layout.placings import Placing, PoleLayout
from cutlist.stock.price_table import IMPOSSIBLE, SPLIT


def faults_in_places(problem: PlaceProblem, places: Places) -> list[str]:
    """Every rule that the answer breaks and every hole in its proof, in words; empty when both are sound."""
    if places.best is None or places.certificate is None:
        return []
    certificate = places.certificate
    faults = [*answer_faults(problem, places.best), *proof_faults(problem, certificate)]
    cost = _cheapest(problem, places.best)
    if cost is not None and cost > certificate.cost:
        faults.append(f"what is built costs {cost} units, the proof speaks of {certificate.cost}")
    if cost is not None and cost < certificate.bound:
        faults.append(f"what is built costs {cost} units, less than the bound of {certificate.bound}")
    if places.measure == "money" and cost is not None:
        priced = measure_of(problem).money(cost * SPLIT)
        if not priced == places.cost == places.best.build.money:
            faults.append(f"the cost given is {places.cost}, priced again it is {priced}")
    return faults


def answer_faults(problem: PlaceProblem, best: Placing) -> Iterator[str]:
    layouts = {"positive": best.positive, "negative": best.negative}
    built = narrowed(problem, best.build.lead_conductor, best.build.feeder_conductor)
    if built is None:
        yield "there are not studs enough that take the lugs of what is built"
        return
    for pole, layout in layouts.items():
        yield from _layout_faults(built, built.bar(pole), layout)
    rows = [_stud_points(problem.bar(pole), layouts[pole].place) for pole in POLES]
    apart_m = least_between(rows[0][[0, -1]], rows[1][[0, -1]])
    if apart_m < problem.separation_m - HAIR_M:
        yield f"the bus bars are {apart_m * 1000:.1f} mm apart, {problem.separation_m * 1000:.1f} are asked for"
    if problem.same_face is not None and (best.positive.place.face == best.negative.place.face) != problem.same_face:
        yield "the bus bars are on the same face or not, against what was asked"
    target_m = max(*best.positive.lead_runs_m, *best.negative.lead_runs_m)
    if abs(target_m - best.target_m) > HAIR_M:
        yield f"the target is {best.target_m:.4f} m, the longest lead {target_m:.4f} m"
    if problem.longest_lead_m is not None and target_m > problem.longest_lead_m + HAIR_M:
        yield f"the longest lead runs {target_m:.4f} m, {problem.longest_lead_m:.4f} are allowed"
    if _cheapest(problem, best) is None:
        yield "what is to be built breaks the drop limit or cannot be cut from the stock"


def _layout_faults(problem: PlaceProblem, bar: BarRow, layout: PoleLayout) -> Iterator[str]:
    points = _stud_points(bar, layout.place)
    if not _stands(problem, bar, layout.place, points):
        yield f"the {bar.pole} bus bar does not stand where it may"
    used = [*layout.string_studs, *layout.feeder_studs]
    wanted = [s.name for s in problem.strings] + [f.name for f in problem.feeders_of(bar.pole)]
    if [name for name, _ in used] != wanted:
        yield f"the {bar.pole} bus bar serves {[name for name, _ in used]} in place of {wanted}"
        return
    studs = [stud for _, stud in used]
    for stud in sorted(set(studs)):
        if studs.count(stud) > bar.lugs_per_stud:
            yield f"{bar.pole} stud {stud + 1} carries {studs.count(stud)} lugs"
    takes_leads, takes_feeders = takes(problem, bar.pole, False), takes(problem, bar.pole, True)
    for number, (name, stud) in enumerate(used):
        if stud not in (takes_leads if number < len(problem.strings) else takes_feeders):
            yield f"{name} is on {bar.pole} stud {stud + 1}, which takes no lug of its conductor"
    if len(takes_leads - set(studs)) < bar.reserved_studs:
        yield f"the {bar.pole} bus bar keeps too few studs free"
    terminals = np.vstack([problem.string_points(bar.pole), problem.feeder_points(bar.pole)])
    place = layout.place
    lies = np.array([[np.cross(place.out, place.along), place.out]], dtype=float)
    for number, (name, stud) in enumerate(used):
        length_m = float(problem.runs.lengths(terminals[number : number + 1], points[stud : stud + 1], lies)[0, 0])
        told_m = (*layout.lead_runs_m, *layout.feeder_runs_m)[number]
        if abs(length_m - told_m) > HAIR_M:
            yield f"{name} {bar.pole}: the run is {length_m:.4f} m, told is {told_m:.4f} m"


def _stud_points(bar: BarRow, place: BarPlace) -> Array:
    along, centre = np.array(place.along), np.array(place.centre)
    return np.array([centre + (i - (bar.studs - 1) / 2) * bar.pitch_m * along for i in range(bar.studs)])


def _stands(problem: PlaceProblem, bar: BarRow, place: BarPlace, points: Array) -> bool:
    if place in bar.places:
        return True
    face = next((f for f in problem.faces if f.name == place.face and f.name in bar.faces), None)
    if face is None or (bar.lowest_z_m is not None and points[:, 2].min() < bar.lowest_z_m - HAIR_M):
        return False
    a, b = ((points - np.array(face.origin)) @ np.array(axis) for axis in (face.u, face.v))
    off = (points - np.array(face.origin)) @ np.cross(face.u, face.v)
    within = (a >= face.edge_m - HAIR_M) & (a <= face.width_m - face.edge_m + HAIR_M)
    within &= (b >= face.edge_m - HAIR_M) & (b <= face.height_m - face.edge_m + HAIR_M) & (np.abs(off) < HAIR_M)
    crossed = any(
        a.max() > a0 + HAIR_M and a.min() < a1 - HAIR_M and b.max() > b0 + HAIR_M and b.min() < b1 - HAIR_M
        for a0, b0, a1, b1 in face.forbidden
    )
    ends = np.column_stack([a, b])[[0, -1]]
    return bool(within.all()) and not crossed and row_stands(face, ends[0], ends[1])


def _cheapest(problem: PlaceProblem, best: Placing) -> int | None:
    """Cost in whole units of what is to be built, worked out from its runs; None if it cannot be."""
    rows = []
    # the same studs must take what is built: of these conductors the cheapest
    pairs = tuple(pair for pair in every_pair(problem) if _goes_there(problem, pair, best))
    problem = replace(problem, pairs=pairs)
    for layout in (best.positive, best.negative):
        leads_m = np.array([max(layout.lead_runs_m)])
        rows.append(cuts_of(problem, layout.pole, leads_m, np.array([layout.feeder_runs_m]).reshape(1, -1)))
    cost = int(prices_of(problem, *joined_rows(problem, rows[0], rows[1]))[0])
    return None if cost >= IMPOSSIBLE else cost


def _goes_there(problem: PlaceProblem, pair: tuple[str, str], best: Placing) -> bool:
    """Whether leads and feeders of these conductors have lugs for the studs that are used."""
    one = replace(problem, pairs=(pair,))
    return all(
        {stud for _, stud in ends} <= takes(one, layout.pole, feeder)
        for layout in (best.positive, best.negative)
        for ends, feeder in ((layout.string_studs, False), (layout.feeder_studs, True))
    )
