"""The stranger's check passes what the search finds, and notices whatever is bent."""

from __future__ import annotations

from dataclasses import replace

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
