"""The compiled table of the knapsack against its numpy twin and against trying everything; wrong questions refused."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutlist.stock import knapsack
from cutlist.stock.knapsack import COMPILED, filled, read

QUICK = settings(max_examples=60, deadline=None)
needs_compiled = pytest.mark.skipif(not COMPILED, reason="the table is not compiled: see DEVELOPERS.md")
whole_bundles = st.lists(st.tuples(st.integers(1, 40), st.integers(0, 2**40)), max_size=9)
SIZES = [3_000, 1_023, 1_024, 1_025, 40]  # around the block that the compiled code takes at a time


def numpy_filled(monkeypatch, widths, worths, capacity):
    with monkeypatch.context() as without:
        without.setattr(knapsack, "_compiled", None)
        return filled(widths, worths, capacity)


@needs_compiled
@pytest.mark.parametrize("capacity", SIZES)
@pytest.mark.parametrize("number", [np.float64, np.int64])
def test_compiled_and_numpy_agree_to_the_last_bit(monkeypatch, capacity, number):
    rng = np.random.default_rng(capacity)
    widths = rng.integers(1, capacity + 1, 40)
    worths = (rng.random(40) * 1e9).astype(number)
    best, taken = filled(widths, worths, capacity)
    twin_best, twin_taken = numpy_filled(monkeypatch, widths, worths, capacity)
    assert np.array_equal(best, twin_best)
    assert np.array_equal(taken, twin_taken)


@QUICK
@given(whole_bundles, st.integers(1, 60))
def test_table_against_every_choice_of_bundles(bundles, capacity):
    """2^9 choices at most, each looked at: the law that the table must keep."""
    bundles = [(w, p) for w, p in bundles if w <= capacity]
    widths = np.array([w for w, _ in bundles], dtype=np.int64)
    worths = np.array([p for _, p in bundles], dtype=np.int64)
    best, taken = filled(widths, worths, capacity)
    choices = [c for n in range(len(bundles) + 1) for c in itertools.combinations(bundles, n)]
    most = max(sum(p for _, p in c) for c in choices if sum(w for w, _ in c) <= capacity)
    assert best[capacity] == most
    counts = read([(i, 1) for i in range(len(bundles))], widths, taken, capacity)
    assert sum(worths[i] for i, _ in counts) == most
    assert sum(widths[i] for i, _ in counts) <= capacity


@needs_compiled
def test_wrong_questions_are_refused():
    compiled = knapsack._compiled
    widths, worths = np.array([2, 3]), np.array([1.0, 2.0])
    best, taken = np.zeros(5), np.empty((2, 5), dtype=bool)
    for wrong in (np.array([0, 3]), np.array([2, 5]), np.array([-1, 2])):
        with pytest.raises(ValueError, match="outside of the table"):
            compiled.fill(wrong, worths, best, taken)
    for wrong in (np.empty((1, 5), dtype=bool), np.empty((2, 4), dtype=bool), np.empty((3, 5), dtype=bool)):
        with pytest.raises(ValueError, match="do not fit"):
            compiled.fill(widths, worths, best, wrong)
    with pytest.raises(TypeError, match="another kind"):
        compiled.fill(widths, worths, np.zeros(5, dtype=np.int64), taken)
    with pytest.raises(TypeError, match="another kind"):
        compiled.fill(widths.astype(np.int32), worths, best, taken)
    with pytest.raises(TypeError, match="another kind"):
        compiled.fill(widths, worths, best, taken.astype(float))
    with pytest.raises(TypeError):
        compiled.fill(widths, worths, best)
    best.flags.writeable = False
    with pytest.raises((ValueError, BufferError)):
        compiled.fill(widths, worths, best, taken)
