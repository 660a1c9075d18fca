"""In free space the best places are known points: centres of smallest balls, Weber points, mirror images.

The search is held against methods of its own in here: a ball through few of the points, a convex function narrowed
down, a fixed-point iteration. All jobs are invented: a face 1.2 x 0.8 m at 1 m above the floor, cable by the metre.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from cutlist.bank.bus_bars import BarPlace
from cutlist.bank.site import MountingFace
from cutlist.bank.stock import ByLength, CableStock, CuttingRules, Stock
from cutlist.layout.bus_bar_places import Places, find_places
from cutlist.layout.place_check import faults_in_places
from cutlist.layout.place_problem import BarRow, Circuit, ConductorChoice, FeederEnd, PlaceProblem, StringEnds
from tests.layout.place_cases import problem_of
from tests.layout.random_places import random_case

FACE = MountingFace("ceiling", (0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), 1.2, 0.8, 0.01)
BESIDE = BarPlace((-0.5, 0.4, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), "floor")
STEP_UM = 1000  # cuts are whole millimetres, bought by the millimetre: cost is metres
Points = Sequence[tuple[float, float, float]]


def free_space(negative: Points, positive: Points | None = None, feeders: Points = (), **changes: Any) -> PlaceProblem:
    """Leads end at `negative` and `positive`; without the latter the positive bar is fixed beside its terminals.

    Every bar is one stud. Feeders leave the negative bar.
    """
    fixed = BarRow("positive", 1, 0.04, 9, places=(BESIDE,))
    bars = (
        fixed if positive is None else BarRow("positive", 1, 0.04, 9, faces=("ceiling",)),
        BarRow("negative", 1, 0.04, 9, faces=("ceiling",)),
    )
    plus = [BESIDE.centre] * len(negative) if positive is None else positive
    offer = ByLength("by the metre", STEP_UM, Decimal("0.01"), 0, None)
    cables = tuple(CableStock("35", colour, (), (), (offer,)) for colour in ("red", "black"))
    conductor = (ConductorChoice("35", 0.000554),)
    names = tuple(f"load {i + 1}" for i in range(len(feeders)))
    plain = PlaceProblem(
        strings=tuple(StringEnds(f"S{i + 1}", *ends) for i, ends in enumerate(zip(plus, negative, strict=True))),
        feeders=tuple(FeederEnd(name, "negative", far, 10.0) for name, far in zip(names, feeders, strict=True)),
        circuits=(Circuit("all", names, 5.0),),
        faces=(FACE,),
        bars=bars,
        stock=Stock("", (), cables, rules=CuttingRules(0)),
        lead_conductors=conductor,
        feeder_conductors=conductor,
        current_a=50.0,
        round_up_um=STEP_UM,
    )
    return replace(plain, **changes)


def solved(problem: PlaceProblem) -> Places:
    found = find_places(problem)
    assert found.best is not None, found.why_not
    assert found.certificate is not None
    assert found.certificate.gap == 0
    assert faults_in_places(problem, found) == []
    return found


def points(seed: int, count: int, height: float | None = None) -> Points:
    """Terminals under the face and beside it, so that the point looked for lies inside the face's edges."""
    draw = np.random.default_rng(seed)
    x, y = draw.uniform(0.0, 1.2, count), draw.uniform(0.0, 0.8, count)
    z = draw.uniform(-0.3, 0.6, count) if height is None else np.full(count, height)
    return [(float(a), float(b), float(c)) for a, b, c in zip(x, y, z, strict=True)]


def smallest_circle(ends: Points) -> tuple[float, float, float]:
    """x, y, radius: of all circles on two points as a diameter or through three, the least that holds all points."""
    flat = [(x, y) for x, y, _ in ends]
    circles = []
    for (ax, ay), (bx, by) in itertools.combinations(flat, 2):
        circles.append(((ax + bx) / 2, (ay + by) / 2, math.dist((ax, ay), (bx, by)) / 2))
    for (ax, ay), (bx, by), (cx, cy) in itertools.combinations(flat, 3):
        matrix = 2 * np.array([[bx - ax, by - ay], [cx - ax, cy - ay]])
        right = np.array([bx**2 - ax**2 + by**2 - ay**2, cx**2 - ax**2 + cy**2 - ay**2])
        if abs(np.linalg.det(matrix)) > 1e-9:
            x, y = np.linalg.solve(matrix, right)
            circles.append((float(x), float(y), math.dist((x, y), (ax, ay))))
    return min((c for c in circles if all(math.dist(c[:2], p) <= c[2] + 1e-12 for p in flat)), key=lambda c: c[2])


def least_on_face(value: Callable[[float, float], float]) -> tuple[float, float, float]:
    """x, y, value of a convex function on the face, narrowed down by thirds, one axis inside the other."""

    def narrowed(one: Callable[[float], float], low: float, high: float) -> tuple[float, float]:
        for _ in range(60):
            a, b = low + (high - low) / 3, high - (high - low) / 3
            low, high = (low, b) if one(a) <= one(b) else (a, high)
        return (low + high) / 2, one((low + high) / 2)

    edge = FACE.edge_m

    def best_y(x: float) -> tuple[float, float]:
        return narrowed(lambda y: value(x, y), edge, FACE.height_m - edge)

    x, least = narrowed(lambda x: best_y(x)[1], edge, FACE.width_m - edge)
    return x, best_y(x)[0], least


def longest_m(ends: Points) -> float:
    return least_on_face(lambda x, y: max(math.dist((x, y, 1.0), end) for end in ends))[2]


def cut_mm(run_m: float) -> int:
    return math.ceil(run_m * 1000 - 1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_longest_run_ends_at_the_centre_of_the_smallest_circle(seed: int) -> None:
    """All terminals at one height: the bar stands over the centre of the smallest circle round them, and all leads
    of both poles are cut to the slope from its rim."""
    ends = points(seed, 3 + seed % 3, height=0.2)
    x, y, radius = smallest_circle(ends)
    target_m = math.hypot(radius, 0.8)
    found = solved(free_space(ends))
    assert found.best is not None
    assert found.best.target_m == pytest.approx(target_m, abs=0.0005)
    assert found.cost == 2 * len(ends) * cut_mm(target_m) * Decimal("0.01")
    # half a millimetre more on the target lets the bar off by this much, and no more
    assert math.dist(found.best.negative.place.centre[:2], (x, y)) <= 1.5 * math.sqrt(
        (target_m + 5e-4) ** 2 - target_m**2
    )


@pytest.mark.parametrize("seed", range(10, 12))
def test_longest_run_from_terminals_at_any_height(seed: int) -> None:
    """The largest distance is convex over the face: narrowed down, its least is the target."""
    ends = points(seed, 5)
    found = solved(free_space(ends))
    assert found.best is not None
    assert found.best.target_m == pytest.approx(longest_m(ends), abs=0.0005)
    assert found.cost == 10 * cut_mm(longest_m(ends)) * Decimal("0.01")


def weber_point(ends: Points) -> tuple[float, float, float]:
    """x, y and the least sum of distances to a point of the face's plane, by Weiszfeld's iteration."""
    table = np.array(ends)
    at = np.array([0.6, 0.4])
    for _ in range(2_000):
        away = np.sqrt(((table[:, :2] - at) ** 2).sum(axis=1) + (table[:, 2] - 1.0) ** 2)
        at = (table[:, :2] / away[:, None]).sum(axis=0) / (1 / away).sum()
    away = np.sqrt(((table[:, :2] - at) ** 2).sum(axis=1) + (table[:, 2] - 1.0) ** 2)
    return float(at[0]), float(at[1]), float(away.sum())


@pytest.mark.parametrize(("seed", "feeders"), [(20, 1), (21, 2), (23, 3)])
def test_total_metres_end_at_the_weber_point(seed: int, feeders: int) -> None:
    """One lead and its feeders, each as long as its own run: what is bought is the sum of the runs, each up to the
    next millimetre. So it costs no less than the sum at the Weber point, and no more than what is cut there. (The other
    bar is fixed and cannot be cut finer: the search must not wait for it.)"""
    ends = points(seed, 1 + feeders)
    x, y, total_m = weber_point(ends)
    assert least_on_face(lambda a, b: sum(math.dist((a, b, 1.0), end) for end in ends))[2] == pytest.approx(total_m)
    found = solved(free_space(ends[:1], feeders=ends[1:], poles_alike=False))
    assert found.best is not None
    assert found.cost is not None
    bought_mm = float(found.cost) * 100
    assert bought_mm >= total_m * 1000 - 1e-6
    assert bought_mm <= sum(cut_mm(math.dist((x, y, 1.0), end)) for end in ends)


def test_three_points_in_the_plane_of_the_face_meet_at_120_degrees() -> None:
    """Fermat's point of an equilateral triangle of side 0.6 m round (0.6, 0.4) is its centre, 0.6 / sqrt 3 = 346.41 mm
    from each corner: 1039.23 mm together, so at least 1040 are bought, and 3 x 347 = 1041 suffice. A sum of 1041 is
    1.77 over the least; at r from the centre it is about 3 r^2 / (4 x 0.34641) over it: r is at most 28.6 mm."""
    radius = 0.6 / math.sqrt(3)
    corners = [
        (0.6 + radius * math.cos(angle), 0.4 + radius * math.sin(angle), 1.0)
        for angle in (math.pi / 2, math.pi * 7 / 6, math.pi * 11 / 6)
    ]
    found = solved(free_space(corners[:1], feeders=corners[1:], poles_alike=False))
    assert found.best is not None
    assert found.cost is not None
    assert math.ceil(3 * radius * 1000) <= float(found.cost) * 100 <= 3 * 347
    assert math.dist(found.best.negative.place.centre, (0.6, 0.4, 1.0)) < 0.03


@pytest.mark.parametrize("seed", [30, 31])
def test_two_bars_each_at_the_centre_of_its_own_ball(seed: int) -> None:
    """Both poles alike: the longer of the two least targets rules. Each pole by itself: each has its own."""
    plus, minus = points(seed, 4), points(seed + 100, 4)
    each = longest_m(plus), longest_m(minus)
    alike = solved(free_space(minus, plus))
    assert alike.best is not None
    assert alike.best.target_m == pytest.approx(max(each), abs=0.0005)
    assert alike.cost == 8 * cut_mm(max(each)) * Decimal("0.01")
    apart = solved(free_space(minus, plus, poles_alike=False))
    assert apart.cost == 4 * sum(cut_mm(each_m) for each_m in each) * Decimal("0.01")


def mirrored(case: dict[str, Any]) -> dict[str, Any]:
    """The whole job seen in a mirror at x = 0; faces along x are measured from their other end."""

    def over(point: list[float]) -> list[float]:
        return [-point[0], point[1], point[2]]

    faces = []
    for face in case["faces"]:
        width = face["width"] if face["u"] == [1, 0, 0] else 0
        x, y, z = face["origin"]
        turned = dict(face, origin=[-x - width, y, z])
        if width and "forbidden" in face:
            turned["forbidden"] = [[width - a1, b0, width - a0, b1] for a0, b0, a1, b1 in face["forbidden"]]
        faces.append(turned)
    strings = [dict(s, plus=over(s["plus"]), minus=over(s["minus"])) for s in case["strings"]]
    feeders = case["feeders"] and {sign: over(far) for sign, far in case["feeders"].items()}
    return dict(case, faces=faces, strings=strings, feeders=feeders)


def poles_swapped(case: dict[str, Any]) -> dict[str, Any]:
    strings = [dict(s, plus=s["minus"], minus=s["plus"]) for s in case["strings"]]
    feeders = case["feeders"] and {"plus": case["feeders"]["minus"], "minus": case["feeders"]["plus"]}
    colours = {"red": "black", "black": "red"}
    remnants = [dict(r, colour=colours[r["colour"]]) for r in case["remnants"]]
    return dict(case, strings=strings, feeders=feeders, remnants=remnants)


@pytest.mark.parametrize("seed", [3, 5, 9, 16])
def test_a_job_in_a_mirror_costs_the_same(seed: int) -> None:
    """Law: neither the mirror nor the names of the poles change a distance or a price."""
    case = random_case(seed)
    plain = find_places(problem_of(case))
    for other in (mirrored(case), poles_swapped(case)):
        found = find_places(problem_of(other))
        assert found.cost == plain.cost
        assert found.least_cost == plain.least_cost
        if plain.best is not None and found.best is not None:
            assert found.best.total_um == plain.best.total_um
            assert found.best.target_m == pytest.approx(plain.best.target_m, abs=0.0005)
