"""Every place on a 5 mm grid, every seating of the feeder, every conductor: slow and plain, to check the search by.

It shares with the search only the straight-line length and the price of a list of pieces, which has tests of its own.
"""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import shapely

from cutlist.stock.price_table import IMPOSSIBLE, SPLIT, least_costs, measure_for
from tests.layout.place_cases import MM, stock_of

GRID_MM = 5


def least_on_grid(case: dict[str, Any]) -> tuple[float | None, float]:
    """Least cost (None: none) and least drop over any limit (V) among all pairs of grid places."""
    plus, minus = (poles_places(case, sign) for sign in ("plus", "minus"))
    pairs = list(itertools.product(plus, minus))
    keys = np.array([(max(one[0], two[0]), one[1], two[1]) for one, two in pairs]).reshape(-1, 3)
    cost, over = costs_of(case, keys)

    def least(values: np.ndarray) -> float:
        for number in np.argsort(values, kind="stable"):
            one, two = pairs[number]
            if any_apart(plus[one], minus[two], case["bus_bars"]["separation_mm"]):
                return float(values[number])
        return math.inf

    best = least(cost)
    return None if best == math.inf else best, least(over)


def cut(case: dict[str, Any], runs_mm: np.ndarray) -> np.ndarray:
    step = case["lengths"]["round_up_mm"]
    return step * np.ceil((runs_mm - case["lengths"]["lug_allowance_mm"]) / step - 1e-6).astype(int)


def poles_places(case: dict[str, Any], sign: str) -> dict[tuple[int, int], np.ndarray]:
    """(lead cut, feeder cut) -> the rows of studs (n, 2, 3) with which they can be had."""
    bars = case["bus_bars"]
    terminals = [np.array(s[sign], float) for s in case["strings"]]
    far = np.array(case["feeders"][sign], float) if case["feeders"] else None
    half = (bars["studs"] - 1) / 2 * bars["pitch_mm"]
    rows, keys = [], []
    for face, turn in itertools.product(case["faces"], bars["orientations_deg"]):
        u, v = np.array(face["u"], float), np.array(face["v"], float)
        along = u if turn == 0 else v
        reach_a, reach_b = (half, 0.0) if turn == 0 else (0.0, half)
        low_a, low_b = bars["edge_mm"] + reach_a, bars["edge_mm"] + reach_b
        a, b = np.meshgrid(
            np.arange(low_a, face["width"] - low_a + 1e-9, GRID_MM),
            np.arange(low_b, face["height"] - low_b + 1e-9, GRID_MM),
        )
        for r in face.get("forbidden", ()):
            crosses = (a + reach_a > r[0]) & (a - reach_a < r[2]) & (b + reach_b > r[1]) & (b - reach_b < r[3])
            a, b = a[~crosses], b[~crosses]
        if "outline" in face:
            fits = [
                on_outline(face, bars["edge_mm"], x, y, reach_a, reach_b) for x, y in zip(a.flat, b.flat, strict=True)
            ]
            a, b = a.reshape(-1)[fits], b.reshape(-1)[fits]
        centres = np.array(face["origin"], float) + a.reshape(-1, 1) * u + b.reshape(-1, 1) * v
        steps = np.arange(bars["studs"]) * bars["pitch_mm"] - half
        studs = centres[:, None, :] + steps[:, None] * along
        for key in seatings(case, terminals, far, studs):
            rows.append(studs[:, [0, -1]])
            keys.append(key)
    if not rows:
        return {}
    every_row, every_key = np.concatenate(rows), np.concatenate(keys)
    distinct, back = np.unique(every_key, axis=0, return_inverse=True)
    back = back.reshape(-1)
    return {(int(k[0]), int(k[1])): every_row[back == number] for number, k in enumerate(distinct)}


def seatings(case: dict[str, Any], terminals: list, far: np.ndarray | None, studs: np.ndarray) -> list[np.ndarray]:
    """For each stud of the feeder the cuts (q, 2) of leads and feeder, every way of assigning strings tried."""
    runs = [np.linalg.norm(studs - t, axis=2) for t in terminals]
    lugs, count = case["bus_bars"]["lugs_per_stud"], studs.shape[1]
    keys = []
    for seat in range(count) if far is not None else (None,):
        room = [lugs - (stud == seat) for stud in range(count)]
        longest = np.full(len(studs), np.inf)
        for way in itertools.product(range(count), repeat=len(terminals)):
            if all(way.count(stud) <= room[stud] for stud in range(count)):
                longest = np.minimum(longest, np.max([runs[i][:, stud] for i, stud in enumerate(way)], axis=0))
        feeder = np.zeros(len(studs), dtype=int)
        if far is not None:
            feeder = cut(case, np.linalg.norm(studs[:, seat] - far, axis=1))
        keys.append(np.column_stack([cut(case, longest), feeder]))
    return keys


def on_outline(face: dict[str, Any], edge: float, a: float, b: float, reach_a: float, reach_b: float) -> bool:
    """Whether shapely covers a row with the outline and finds it an edge away, with no length in what is forbidden."""
    row = shapely.LineString([(a - reach_a, b - reach_b), (a + reach_a, b + reach_b)])
    whole = shapely.Polygon(face["outline"])
    taken = sum(row.intersection(shapely.Polygon(ring)).length for ring in face.get("forbidden_outlines", ()))
    return whole.covers(row) and row.distance(whole.exterior) >= edge - 1e-6 and taken <= 1e-6


def any_apart(one: np.ndarray, two: np.ndarray, least_mm: float) -> bool:
    if least_mm == 0:
        return True
    centres = one.mean(axis=1), two.mean(axis=1)
    between = np.linalg.norm(centres[0][:, None] - centres[1][None, :], axis=2)
    i, j = np.nonzero(between >= least_mm - 1e-6)  # rows of studs are never further apart than their middles
    order = np.argsort(-between[i, j], kind="stable")
    for start in range(0, len(order), 2000):  # the furthest are far enough off more often than not
        some = order[start : start + 2000]
        if (gap_between(one[i[some]], two[j[some]]) >= least_mm - 1e-6).any():
            return True
    return False


def gap_between(one: np.ndarray, two: np.ndarray) -> np.ndarray:
    """Distance between rows of studs, by marching: 41 points on one, exact distance to the other."""
    least = np.full(len(one), np.inf)
    d = two[:, 1] - two[:, 0]
    length2 = np.maximum((d * d).sum(axis=1), 1e-12)
    for share in np.linspace(0, 1, 41):
        p = one[:, 0] + share * (one[:, 1] - one[:, 0])
        t = np.clip(((p - two[:, 0]) * d).sum(axis=1) / length2, 0, 1)
        least = np.minimum(least, np.linalg.norm(p - two[:, 0] - t[:, None] * d, axis=1))
    return least


def costs_of(case: dict[str, Any], keys: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """For each (lead cut, feeder cut, feeder cut) (q, 3) the least cost and the least drop over the limit."""
    n, current = len(case["strings"]), case["current_a"]
    stock = stock_of(case)
    lead, feeders = keys[:, :1], (keys[:, 1:2], keys[:, 2:3])
    best, best_over = np.full(len(keys), np.inf), np.full(len(keys), np.inf)
    for first, second in itertools.product(case["conductors"], case["conductors"]):
        if not case["feeders"] and second is not first:
            continue
        drop = current * 2 * lead[:, 0] * first["ohm_per_km"] * 1e-6 / n
        if case["feeders"]:
            drop = drop + current * keys[:, 1:].sum(axis=1) * second["ohm_per_km"] * 1e-6
        total = np.zeros(len(keys))
        for colour, feeder in zip(("red", "black"), feeders, strict=True):
            if first is second and case["feeders"]:
                jobs = [(first, (n, 1), np.hstack([lead, feeder]))]
            else:
                jobs = [(first, (n,), lead)] + ([(second, (1,), feeder)] if case["feeders"] else [])
            for conductor, counts, lengths in jobs:
                cable = stock.cable(conductor["name"], colour)
                measure = measure_for([cable], stock.rules)
                cost = least_costs(cable, stock.rules, measure, counts, lengths * MM)
                total += np.where(cost >= IMPOSSIBLE, np.inf, cost // SPLIT / 10**measure.places)
        over = drop - case["drop_limit_v"]
        best_over = np.minimum(best_over, np.where(np.isfinite(total), over, np.inf))
        best = np.minimum(best, np.where(over <= 1e-9, total, np.inf))
    return best, best_over
