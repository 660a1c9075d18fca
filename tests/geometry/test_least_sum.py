"""Least sums against every choice and against another method; ties; what does not fit."""

import doctest
import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from geometry import least_sum as module
from geometry.least_sum import least_sum

tables = st.tuples(st.integers(1, 4), st.integers(1, 4)).flatmap(
    lambda size: st.lists(
        st.lists(st.integers(-3, 3), min_size=size[1], max_size=size[1]), min_size=size[0], max_size=size[0]
    )
)


def total(costs, columns):
    return sum(row[column] for row, column in zip(costs, columns, strict=True) if column is not None)


def test_examples():
    assert doctest.testmod(module).failed == 0


@given(tables)
def test_against_every_choice(costs):
    """Few enough rows and columns to look at every choice; few values, so that many are equal."""
    found = least_sum(costs)
    seated = [column for column in found if column is not None]
    rows, columns = len(costs), len(costs[0])
    assert len(seated) == len(set(seated)) == min(rows, columns)
    short = min(rows, columns)
    every = [
        sum(costs[i][j] for i, j in zip(some, others, strict=True))
        for some in itertools.combinations(range(rows), short)
        for others in itertools.permutations(range(columns), short)
    ]
    assert total(costs, found) == min(every)


@pytest.mark.parametrize("shape", [(13, 24), (30, 30), (24, 13), (40, 60)])
def test_against_another_method(shape):
    """scipy's answer to the same question."""
    costs = np.random.default_rng(shape[0]).random(shape)
    rows, columns = linear_sum_assignment(costs)
    assert total(costs.tolist(), least_sum(costs.tolist())) == pytest.approx(costs[rows, columns].sum(), abs=1e-9)


def test_ties_go_to_the_first():
    assert least_sum([[0] * 5] * 3) == [0, 1, 2]
    assert least_sum([]) == []


def test_large_whole_numbers_stay_exact():
    """One more than 2^60 is lost in a float: only whole numbers tell the two columns apart."""
    large = 2**60
    assert least_sum([[large + 1, large], [large, large + 1]]) == [1, 0]
