"""The stranger's check passes what the search finds, and notices whatever is bent."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from functools import cache

import numpy as np
import pytest

from cutlist.layout.bus_bar_places import find_places
from cutlist.layout.place_check import faults_in_places
from tests.layout.place_cases import problem_of
from tests.layout.random_places import random_case
from tests.layout.test_reference_places import CEILING, ROW, TWO_FACES

SEEDS = (0, 1, 2, 3, 5, 7, 8, 13, 17, 24, 28)


@pytest.mark.parametrize("case", [CEILING, ROW, TWO_FACES, *(random_case(seed) for seed in SEEDS)])
def test_what_the_search_finds_is_sound(case):
    problem = problem_of(case)
    assert faults_in_places(problem, find_places(problem)) == []


@cache
def solved():
    problem = problem_of(TWO_FACES)
    return problem, find_places(problem)


def test_a_bound_set_too_high_is_noticed():
    """There is a place at 120, so nobody can prove 120.01."""
    problem, found = solved()
    bent = replace(found, certificate=replace(found.certificate, bound=found.certificate.bound + 1))
    assert any("less than the bound" in fault for fault in faults_in_places(problem, bent))


def test_a_missing_cell_is_noticed():
    problem, found = solved()
    first, second = found.certificate.leaves
    bent = replace(found, certificate=replace(found.certificate, leaves=(first[np.arange(1, len(first))], second)))
    assert any("do not cover" in fault for fault in faults_in_places(problem, bent))


def test_a_cell_told_twice_is_noticed():
    problem, found = solved()
    first, second = found.certificate.leaves
    bent = replace(found, certificate=replace(found.certificate, leaves=(first[np.arange(len(first)) // 2], second)))
    assert any("do not cover" in fault for fault in faults_in_places(problem, bent))


def test_a_bar_moved_is_noticed():
    """Moved 30 mm, every run is another one; moved 300 mm, it no longer hangs on the face."""
    problem, found = solved()
    x, y, z = found.best.positive.place.centre
    for dy, words in ((-0.030, "the run is"), (0.300, "does not stand")):
        place = replace(found.best.positive.place, centre=(x, y + dy, z))
        bent = replace(found, best=replace(found.best, positive=replace(found.best.positive, place=place)))
        assert any(words in fault for fault in faults_in_places(problem, bent))


def test_bars_too_near_each_other_are_noticed():
    """80 mm are asked for."""
    problem, found = solved()
    bent = replace(found, best=replace(found.best, positive=replace(found.best.negative, pole="positive")))
    assert any("mm apart" in fault for fault in faults_in_places(problem, bent))


def test_a_crowded_stud_is_noticed():
    """One stud takes four lugs; with three per stud, four on one are too many."""
    problem, found = solved()
    bars = tuple(replace(bar, lugs_per_stud=3) for bar in problem.bars)
    assert any("carries 4 lugs" in fault for fault in faults_in_places(replace(problem, bars=bars), found))


def test_a_cost_told_wrong_is_noticed():
    problem, found = solved()
    assert any("the cost given" in f for f in faults_in_places(problem, replace(found, cost=found.cost - 1)))


def test_any_cell_left_out_is_noticed():
    """Of either pole, wherever it lies: the rectangle of the centres is no longer full."""
    problem, found = solved()
    for pole in (0, 1):
        for left_out in range(0, len(found.certificate.leaves[pole]), 40):
            leaves = list(found.certificate.leaves)
            leaves[pole] = leaves[pole][np.delete(np.arange(len(leaves[pole])), left_out)]
            bent = replace(found, certificate=replace(found.certificate, leaves=tuple(leaves)))
            assert any("do not cover" in fault for fault in faults_in_places(problem, bent))


def test_a_cell_shrunk_or_shifted_is_noticed():
    problem, found = solved()
    cells = found.certificate.leaves[0]
    for change in ({"half_a": 0.9 * cells.half_a}, {"b": cells.b + 0.001}):
        bent = replace(found, certificate=replace(found.certificate, leaves=(replace(cells, **change), cells)))
        assert any("do not cover" in fault for fault in faults_in_places(problem, bent))


def test_another_seat_is_noticed():
    """Cells of face B told as cells of face A, and a proof that speaks of one way of mounting less."""
    problem, found = solved()
    cells, seats = found.certificate.leaves[0], found.certificate.seats
    turned = replace(cells, seat=(cells.seat + 1) % len(seats[0]))
    bent = replace(found, certificate=replace(found.certificate, leaves=(turned, found.certificate.leaves[1])))
    assert any("do not cover" in fault for fault in faults_in_places(problem, bent))
    bent = replace(found, certificate=replace(found.certificate, seats=(seats[0][:-1], seats[1])))
    assert any("other ways of mounting" in fault for fault in faults_in_places(problem, bent))


@pytest.mark.parametrize("seed", [0, 5])
def test_no_proof_of_a_cost_above_a_place_that_there_is(seed):
    """Law: the cells cover the place found, so with a bound above its cost some pair of cells is found too cheap."""
    problem = problem_of(random_case(seed))
    found = find_places(problem)
    bound = found.certificate.cost + 1
    bent = replace(found, certificate=replace(found.certificate, cost=bound, bound=bound))
    assert any("could hold places" in fault for fault in faults_in_places(problem, bent))


def test_a_cheaper_class_hidden_from_the_proof_is_noticed():
    """The proof of a job with 30.00 a reel, held against the same job with 29.90: two reels a pole cost 119.60."""
    problem, found = solved()
    cables = tuple(
        replace(cable, spools=tuple(replace(s, price=Decimal("29.9")) for s in cable.spools))
        for cable in problem.stock.cables
    )
    cheaper = replace(problem, stock=replace(problem.stock, cables=cables))
    assert any("could hold places" in fault for fault in faults_in_places(cheaper, found))
