"""Bus bars with unlike studs: the search for places against trying everything, and its check against bent answers."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutlist.layout.assignment import assign, feeder_seats, least_longest
from cutlist.layout.bus_bar_places import find_places, serves
from cutlist.layout.cells import rows_apart
from cutlist.layout.every_pair import best_of_every_pair
from cutlist.layout.face_maps import face_map
from cutlist.layout.landscape import best_on_grid, landscape
from cutlist.layout.naive_places import naive_answer
from cutlist.layout.place_check import faults_in_places
from cutlist.layout.place_costs import PlaceCosts
from cutlist.layout.place_prices import cuts_of, joined_rows, prices_of
from cutlist.layout.place_problem import BarRow, FeederEnd, PlaceProblem
from cutlist.layout.stud_fits import BarFit, cases, pairs_of
from cutlist.stock.price_table import IMPOSSIBLE
from tests.layout.place_cases import problem_of
from tests.layout.random_places import random_case

GRID_M = 0.02
POLES = ("positive", "negative")


def unlike_problem(seed: int) -> PlaceProblem:
    """A random small job whose conductors go on some of the studs only, drawn from the seed."""
    case = random_case(seed)
    draw = random.Random(seed)
    case["bus_bars"]["orientations_deg"] = draw.choice([[0], [90], [0, 180], [90, 270], [0, 90, 180, 270]])
    case["drop_limit_v"] = 1.0
    problem = problem_of(case)
    studs = problem.bars[0].studs

    def some() -> tuple[int, ...] | None:
        found = tuple(i for i in range(studs) if draw.random() < 0.6)
        return found if 0 < len(found) < studs else None

    def limited(choices):
        return tuple(replace(c, positive_studs=some(), negative_studs=some()) for c in choices)

    bars = tuple(
        replace(bar, reserved_studs=draw.choice([0, 0, min(1, studs - 1)]), most_lugs=4, lugs_per_stud=2)
        for bar in problem.bars
    )
    return replace(
        problem,
        bars=bars,
        lead_conductors=limited(problem.lead_conductors),
        feeder_conductors=limited(problem.feeder_conductors),
    )


def seatings(bar: BarRow, first: int, leads, feeders, ends: tuple[int, int], lugs: int) -> Iterator[tuple[int, ...]]:
    """Every way of giving strings, then feeders, a stud of the whole bar that is in use and takes it."""
    used = range(first, first + bar.studs - bar.reserved_studs)
    if any(stud not in used and leads is not None and stud not in leads for stud in range(bar.studs)):
        return
    on = [[s for s in used if taking is None or s in taking] for taking in (leads, feeders)]
    for way in itertools.product(*[on[0]] * ends[0], *[on[1]] * ends[1]):
        if all(way.count(stud) <= lugs for stud in way):
            yield way


def mountings(problem: PlaceProblem, bar: BarRow) -> Iterator[tuple[str, np.ndarray]]:
    """The face of every place of the grid, and the studs (studs, 3) there."""
    offsets = (np.arange(bar.studs) - (bar.studs - 1) / 2) * bar.pitch_m
    for face, turn in itertools.product(problem.faces, bar.turns if bar.studs > 1 else bar.turns[:1]):
        u, v = np.array(face.u, dtype=float), np.array(face.v, dtype=float)
        along = {0: u, 90: v, 180: -u, 270: -v}[turn]
        half = offsets[-1]
        ra, rb = (half, 0.0) if turn in (0, 180) else (0.0, half)
        for a in np.arange(face.edge_m + ra, face.width_m - face.edge_m - ra + 1e-9, GRID_M):
            for b in np.arange(face.edge_m + rb, face.height_m - face.edge_m - rb + 1e-9, GRID_M):
                if any(
                    a0 - ra + 1e-9 < a < a1 + ra - 1e-9 and b0 - rb + 1e-9 < b < b1 + rb - 1e-9
                    for a0, b0, a1, b1 in face.forbidden
                ):
                    continue
                centre = np.array(face.origin) + a * u + b * v
                yield face.name, centre + offsets[:, None] * along


def least_of_all(problem: PlaceProblem) -> int:
    """The least cost in whole units among all conductors, places of the grid, and studs."""
    best = IMPOSSIBLE
    for lead, feeder in pairs_of(problem):
        one = replace(problem, pairs=((lead.name, feeder.name if feeder else ""),))
        poles = [_rows(one, pole, lead, feeder) for pole in POLES]
        if any(not len(rows) for rows, _ in poles):
            continue
        (mine, here), (theirs, there) = poles
        i, j = (x.reshape(-1) for x in np.meshgrid(np.arange(len(mine)), np.arange(len(theirs)), indexing="ij"))
        fine = rows_apart(here[i], there[j]) >= problem.separation_m - 1e-9
        pairs = np.unique(np.hstack([mine[i[fine]], theirs[j[fine]]]), axis=0)
        if len(pairs):
            width = mine.shape[1]
            best = min(best, int(prices_of(one, *joined_rows(one, pairs[:, :width], pairs[:, width:])).min()))
    return best


def _rows(one: PlaceProblem, pole: str, lead, feeder) -> tuple[np.ndarray, np.ndarray]:
    """Cuts (n, k) and first and last stud (n, 2, 3) of every place and every way of seating the feeders."""
    bar = one.bar(pole)
    taking = (lead.studs_on(pole), feeder.studs_on(pole) if feeder else None)
    ends = len(one.strings), len(one.feeders_of(pole))
    firsts = range(bar.reserved_studs + 1)
    ways: list[tuple[int, ...]] = []
    for lugs in range(bar.lugs_per_stud, (bar.most_lugs or bar.lugs_per_stud) + 1):
        ways = [way for first in firsts for way in seatings(bar, first, *taking, ends, lugs)]
        if ways:
            break
    terminals = np.vstack([one.string_points(pole), one.feeder_points(pole)])
    leads_m, feeders_m, rows = [], [], []
    for _, studs in mountings(one, bar) if ways else ():
        runs_m = np.linalg.norm(terminals[:, None] - studs[None], axis=2)
        every = np.array(ways)
        longest_m = runs_m[np.arange(ends[0]), every[:, : ends[0]]].max(axis=1)
        for seats in {way[ends[0] :] for way in ways}:
            mine = (every[:, ends[0] :] == np.array(seats, dtype=int)).all(axis=1)
            leads_m.append(longest_m[mine].min())
            feeders_m.append([runs_m[ends[0] + k, seat] for k, seat in enumerate(seats)])
            rows.append(studs[[0, -1]])
    if not leads_m:
        return np.empty((0, 0)), np.empty((0, 2, 3))
    runs = np.array(feeders_m).reshape(len(leads_m), ends[1])
    return cuts_of(one, pole, np.array(leads_m), runs), np.array(rows)


SEEDS = [2, 4, 7, 9, 12, 13, 15, 16, 17, 20, 22, 26, 27]


@pytest.mark.parametrize("seed", SEEDS)
def test_never_worse_than_every_place_on_a_grid(seed: int) -> None:
    """Law: the best of all places, studs and conductors is at least as good as the best on any grid; the bound is not
    above what the grid holds, and the check, which counts studs in a way of its own, finds nothing wrong."""
    _hold_against_grid(unlike_problem(seed))


@pytest.mark.parametrize("seed", [102, 104, 107, 111])
def test_nor_with_two_feeders_on_a_bar(seed: int) -> None:
    problem = unlike_problem(seed)
    draw = random.Random(seed)
    far = (draw.uniform(-0.5, 1.2), draw.uniform(-0.5, 1.2), draw.uniform(-0.1, 0.5))
    feeders = (*problem.feeders, FeederEnd("second", "positive", far, problem.current_a))
    names = tuple(feeder.name for feeder in feeders)
    circuits = tuple(replace(circuit, feeders=names) for circuit in problem.circuits)
    _hold_against_grid(replace(problem, feeders=feeders, circuits=circuits))


def _hold_against_grid(problem: PlaceProblem) -> None:
    found = find_places(problem)
    on_grid = least_of_all(problem)
    if found.best is None:
        assert on_grid >= IMPOSSIBLE
        assert not serves(problem, PlaceCosts(problem), 0.005)
        return
    assert found.certificate is not None
    assert faults_in_places(problem, found) == []
    assert found.certificate.cost <= on_grid
    assert found.certificate.bound <= on_grid
    assert found.certificate.gap == 0


def test_the_seeds_hold_several_cases_turned_rows_and_kept_studs() -> None:
    """What the test above would be worth little without."""
    problems = [unlike_problem(seed) for seed in SEEDS]
    assert sum(len(cases(p)) > 1 for p in problems) >= 5
    found = [places.best for places in map(find_places, problems[:4]) if places.best is not None]
    assert any(best.positive.turn >= 180 or best.negative.turn >= 180 for best in found)
    assert any(p.bars[0].reserved_studs for p in problems)


@pytest.mark.parametrize("seed", [8, 22])
def test_what_else_is_told_of_places_keeps_to_the_studs(seed: int) -> None:
    """The naive answer, the best of every pair and the maps are never better than the search."""
    problem = unlike_problem(seed)
    found = find_places(problem)
    assert found.best is not None
    assert found.cost is not None
    assert found.certificate is not None
    costs = PlaceCosts(problem)
    naive = naive_answer(problem, costs)
    assert naive is None or naive.money is None or naive.money >= found.cost
    pair = best_of_every_pair(problem, costs, GRID_M, IMPOSSIBLE)
    assert pair is not None
    assert pair.build.money >= found.cost
    assert faults_in_places(problem, replace(found, best=pair, cost=pair.build.money))[:1] in (
        [],
        [f"what is built costs {_units(costs, pair)} units, the proof speaks of {found.certificate.cost}"],
    )
    # a map does not ask how far apart the bars are
    free = find_places(replace(problem, separation_m=0.0)).certificate
    assert free is not None
    assert min(p.units for p in face_map(problem, step_m=GRID_M) if p.units is not None) >= free.bound
    grid = best_on_grid(problem, GRID_M)
    assert grid is None or grid >= found.cost
    around = landscape(problem, found, step_m=GRID_M, front=False)
    assert all(other.build.money >= found.cost for other in around.best)


def _units(costs: PlaceCosts, placed) -> int:
    problem = costs.problem
    one = replace(problem, pairs=((placed.build.lead_conductor, placed.build.feeder_conductor),))
    rows = [
        cuts_of(one, x.pole, np.array([max(x.lead_runs_m)]), np.array(x.feeder_runs_m).reshape(1, len(x.feeder_runs_m)))
        for x in (placed.positive, placed.negative)
    ]
    return int(prices_of(one, *joined_rows(one, rows[0], rows[1]))[0])


def test_a_forbidden_stud_is_noticed() -> None:
    """A lead moved to a stud that takes no lug of its conductor, its run told rightly."""
    problem, found = _with_closed_stud()
    best = found.best
    pole, closed = "positive", 0
    at = dict(best.positive.string_studs)
    assert closed not in at.values()
    moved = tuple((name, closed if i == 0 else stud) for i, (name, stud) in enumerate(best.positive.string_studs))
    bent = replace(found, best=replace(best, positive=replace(best.positive, string_studs=moved)))
    assert any("takes no lug" in fault for fault in faults_in_places(problem, bent))
    assert pole == best.positive.pole


def test_a_bound_set_too_high_is_noticed() -> None:
    problem, found = _with_closed_stud()
    bent = replace(found, certificate=replace(found.certificate, bound=found.certificate.bound + 1))
    assert faults_in_places(problem, bent)


def test_a_proof_that_leaves_conductors_out_is_noticed() -> None:
    problem = next(
        p
        for p in map(unlike_problem, range(1, 60))
        if len(cases(p)) > 1 and (c := find_places(p).certificate) is not None and c.others
    )
    found = find_places(problem)
    bent = replace(found, certificate=replace(found.certificate, others=()))
    assert any("does not speak of" in fault for fault in faults_in_places(problem, bent))
    as_one = replace(found, certificate=replace(found.certificate, others=(), pairs=None))
    assert any("different studs" in fault for fault in faults_in_places(problem, as_one))


def _with_closed_stud():
    case = random_case(1, strings=2)
    case["bus_bars"] |= {"studs": 4, "lugs_per_stud": 1, "orientations_deg": [0], "pitch_mm": 20}
    case["drop_limit_v"] = 1.0
    problem = problem_of(case)
    choices = tuple(replace(c, positive_studs=(1, 2, 3)) for c in problem.lead_conductors)
    problem = replace(problem, lead_conductors=choices)
    found = find_places(problem)
    assert found.best is not None
    assert faults_in_places(problem, found) == []
    return problem, found


def test_a_row_is_turned_end_for_end_towards_its_feeder() -> None:
    """Two leads straight above the middle of a row of three studs that stays where it is; the positive feeder leaves to
    the right, and stud 1 alone takes its lug. Along +x stud 1 is 30 mm left of the middle, end for end 30 mm right:
    the feeder from x = 330 is 300 mm long in place of 360 mm, on a row at the feeder's height."""
    case = random_case(1, strings=2)
    case["strings"] = [{"name": f"S{i}", "plus": [0, 200 + i, 0], "minus": [0, -200 - i, 0]} for i in (1, 2)]
    case["feeders"] = {"plus": [330, 0, 0], "minus": [-330, 0, 0]}
    face = {"name": "A", "origin": [-40, -10, 0], "u": [1, 0, 0], "v": [0, 1, 0], "width": 80, "height": 20}
    case["faces"] = [face]
    case["bus_bars"] |= {"studs": 3, "lugs_per_stud": 2, "pitch_mm": 30, "edge_mm": 10, "separation_mm": 0}
    case |= {"drop_limit_v": 1.0, "kerf_mm": 0, "remnants": []}
    case["lengths"] = {"lug_allowance_mm": 0, "round_up_mm": 5}
    by_metre = {"price": 0.01, "increment_mm": 1, "max_mm": None}
    case["conductors"] = [{"name": "25", "ohm_per_km": 0.78, "by_metre": by_metre, "reels": []}]
    found = {}
    for turns in ([0], [0, 180]):
        case["bus_bars"]["orientations_deg"] = turns
        problem = problem_of(case)
        only_first = tuple(replace(c, positive_studs=(0,)) for c in problem.feeder_conductors)
        problem = replace(problem, feeder_conductors=only_first)
        found[len(turns)] = find_places(problem)
        assert faults_in_places(problem, found[len(turns)]) == []
    one, both = found[1].best, found[2].best
    assert one is not None
    assert both is not None
    assert (one.positive.turn, both.positive.turn) == (0, 180)
    assert one.positive.feeder_runs_m[0] == pytest.approx(0.36, abs=0.001)
    assert both.positive.feeder_runs_m[0] == pytest.approx(0.30, abs=0.001)
    assert both.positive.feeder_studs == (("feeder plus", 0),)


def test_like_studs_are_one_case_and_the_problem_itself() -> None:
    problem = problem_of(random_case(3))
    assert cases(problem)[0] is problem


runs = st.integers(1, 9).map(float)


@settings(deadline=None, max_examples=150)
@given(st.data())
def test_leads_on_the_studs_that_take_them_against_every_way(data: st.DataObject) -> None:
    """Exact: `assign` with infinite runs to closed studs; never too long: the stretches of the open studs alone."""
    studs, strings = data.draw(st.integers(1, 4)), data.draw(st.integers(1, 4))
    table = np.array(
        data.draw(st.lists(st.lists(runs, min_size=studs, max_size=studs), min_size=strings, max_size=strings))
    )
    open_ = sorted(data.draw(st.sets(st.integers(0, studs - 1), min_size=1)))
    lugs = data.draw(st.integers(1, 3))
    feeders = data.draw(st.integers(0, 2))
    closed = [stud for stud in range(studs) if stud not in open_]
    masked = table.copy()
    masked[:, closed] = np.inf
    among = {stud: i for i, stud in enumerate(open_)}
    for way in feeder_seats(studs, feeders, lugs):
        room = [lugs - list(way).count(stud) for stud in range(studs)]
        every = [
            max(table[i, stud] for i, stud in enumerate(seats))
            for seats in itertools.product(open_, repeat=strings)
            if all(seats.count(stud) <= room[stud] for stud in seats)
        ]
        found = assign(masked, room)
        seats = np.array([[among.get(int(stud), -1) for stud in way]], dtype=np.int64).reshape(1, feeders)
        bound = float(least_longest(table[None][:, :, open_], lugs, seats)[0, 0])
        if not every:
            assert found is None
            continue
        assert found is not None
        assert max(table[i, stud] for i, stud in enumerate(found)) == min(every)
        assert set(found) <= set(open_)
        assert bound <= min(every)


@settings(deadline=None, max_examples=200)
@given(st.data())
def test_studs_enough_against_every_way(data: st.DataObject) -> None:
    """Whether leads and feeders find room is counted; here every way of seating them is tried."""
    studs = data.draw(st.integers(1, 4))
    some = st.frozensets(st.integers(0, studs - 1))
    fit = BarFit(studs, data.draw(st.integers(0, studs - 1)), data.draw(some), data.draw(some))
    leads, feeders, lugs = data.draw(st.integers(1, 3)), data.draw(st.integers(0, 2)), data.draw(st.integers(1, 2))
    bar = BarRow("positive", studs, 0.03, lugs, reserved_studs=fit.reserved)
    expected = tuple(
        first
        for first in range(fit.reserved + 1)
        if next(seatings(bar, first, fit.leads, fit.feeders, (leads, feeders), lugs), None) is not None
    )
    assert fit.firsts(leads, feeders, lugs) == expected
