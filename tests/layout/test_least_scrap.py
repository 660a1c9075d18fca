"""Places that leave least cable over, against every pair of places of the same grid."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from cutlist.bank.stock import Stock
from cutlist.layout.least_scrap import Scrap, alike_um, least_scrap
from cutlist.layout.naive_places import pieces_built
from cutlist.layout.place_costs import PlaceCosts
from cutlist.layout.place_problem import PlaceProblem
from cutlist.layout.placings import Placing
from cutlist.stock.price_table import IMPOSSIBLE, SPLIT, least_costs, measure_for
from cutlist.stock.spool_cuts import cut
from tests.layout.place_cases import MM, problem_of
from tests.layout.random_places import random_case

STEP_MM = 5


def one_stud_case(seed: int) -> dict[str, Any]:
    case = random_case(seed, strings=2, width=70, height=60)
    case["bus_bars"] |= {"studs": 1, "lugs_per_stud": 4, "orientations_deg": [0], "separation_mm": 30}
    case["conductors"] = case["conductors"][:1]
    case["drop_limit_v"] = 5.0
    for face in case["faces"]:
        face.pop("forbidden", None)
    return case


def least_waste_problem(case: dict[str, Any], keep_um: int | None) -> PlaceProblem:
    problem = problem_of(case)
    rules = replace(problem.stock.rules, least_waste=True, keep_above_um=keep_um)
    return replace(problem, stock=replace(problem.stock, rules=rules))


def marks(low: float, high: float) -> np.ndarray:
    return np.linspace(low, high, math.ceil((high - low) / STEP_MM - 1e-9) + 1)


def places_of(case: dict[str, Any], sign: str) -> list[tuple[np.ndarray, int, int]]:
    """Stud, lead cut and feeder cut (mm) at every place of the grid: leads as long as this pole's longest."""
    edge = case["bus_bars"]["edge_mm"]
    step, allowance = case["lengths"]["round_up_mm"], case["lengths"]["lug_allowance_mm"]

    def cut_mm(run_mm: float) -> int:
        return step * math.ceil((run_mm - allowance) / step - 1e-6)

    found = []
    for face in case["faces"]:
        u, v, origin = (np.array(face[k], float) for k in ("u", "v", "origin"))
        for a, b in itertools.product(marks(edge, face["width"] - edge), marks(edge, face["height"] - edge)):
            stud = origin + a * u + b * v
            lead = max(float(np.linalg.norm(stud - s[sign])) for s in case["strings"])
            feeder = float(np.linalg.norm(stud - case["feeders"][sign])) if case["feeders"] else 0.0
            found.append((stud, cut_mm(lead), cut_mm(feeder)))
    return found


def scraps_of(case: dict[str, Any], stock: Stock, keys: np.ndarray) -> list[Scrap]:
    """Of (lead, feeder, feeder) cuts (q, 3); it shares with the search only the price of a list of pieces, which has
    tests of its own."""
    name, strings = case["conductors"][0]["name"], len(case["strings"])
    counts = (strings, 1) if case["feeders"] else (strings,)
    total = np.zeros(len(keys), dtype=np.int64)
    used = 2 * strings * keys[:, 0] + (keys[:, 1] + keys[:, 2] if case["feeders"] else 0)
    for colour, column in (("red", 1), ("black", 2)):
        cable = stock.cable(name, colour)
        measure = measure_for([cable], stock.rules)
        total += least_costs(cable, stock.rules, measure, counts, keys[:, [0, column][: len(counts)]] * MM)
    served = total < IMPOSSIBLE
    scrap, bought = (total % SPLIT - used) * MM, total // SPLIT
    return [Scrap(int(s), int(b)) for s, b in zip(scrap[served], bought[served], strict=True)]


def scrap_by_cutting(problem: PlaceProblem, placed: Placing) -> Scrap:
    plan = cut(pieces_built(problem, placed), problem.stock)
    return Scrap(plan.waste_um, plan.bought_um)


@pytest.mark.parametrize("seed", [2, 3, 5, 8, 11])
@pytest.mark.parametrize("keep_mm", [None, 400])
def test_no_pair_of_the_grid_leaves_less(seed: int, keep_mm: int | None) -> None:
    """Every pair of places of a 5 mm grid that stand apart, its pieces cut at their best: none leaves less by more
    than the marking steps; of those alike none buys less, and of these none leaves less. The cutting solver says the
    same of what is found."""
    case = one_stud_case(seed)
    problem = least_waste_problem(case, keep_mm and keep_mm * MM)
    found = least_scrap(problem, PlaceCosts(problem), STEP_MM / 1000)
    keys = {
        (max(lead, other_lead), feeder, other_feeder)
        for (one, lead, feeder), (two, other_lead, other_feeder) in itertools.product(
            places_of(case, "plus"), places_of(case, "minus")
        )
        if math.dist(one, two) >= case["bus_bars"]["separation_mm"] - 1e-6
    }
    scraps = scraps_of(case, problem.stock, np.array(sorted(keys)))
    if not scraps:
        assert found is None
        return
    assert found is not None
    least_um = min(scrap.scrap_um for scrap in scraps)
    alike = [s for s in scraps if s.scrap_um <= least_um + alike_um(problem)]
    expected = min(alike, key=lambda s: (s.bought_um, s.scrap_um))
    assert found[0] == expected
    assert scrap_by_cutting(problem, found[1]) == expected


def test_money_is_not_counted_so() -> None:
    """Where the job asks for least cost nothing is looked for."""
    problem = problem_of(one_stud_case(2))
    assert least_scrap(problem, PlaceCosts(problem), 0.005) is None
