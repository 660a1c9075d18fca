"""The compiled step of the price table against its numpy twin and trying everything; wrong questions refused."""

import itertools

import numpy as np
import pytest

from cutlist.stock import one_more
from cutlist.stock.one_more import COMPILED, with_one_more

IMPOSSIBLE = 1 << 60
needs_compiled = pytest.mark.skipif(not COMPILED, reason="the step is not compiled: see DEVELOPERS.md")
SHAPES = [(6,), (2, 3), (4, 1, 3), (3, 2, 3, 2, 2)]  # how many of each kind, and one
QUESTIONS = [1, 7, 8, 9, 40]  # around the number that the compiled code takes at a time


def table(rng, shape):
    """Costs of both signs, some of them impossible."""
    costs = rng.integers(-(10**12), 10**12, shape)
    costs[rng.random(shape) < 0.4] = IMPOSSIBLE
    return costs


@needs_compiled
@pytest.mark.parametrize("questions", QUESTIONS)
@pytest.mark.parametrize("sizes", SHAPES)
def test_compiled_and_numpy_agree_to_the_last_bit(monkeypatch, sizes, questions):
    rng = np.random.default_rng(questions)
    least, cost = table(rng, (*sizes, questions)), table(rng, (*sizes, questions))
    cost[..., questions // 2 :] = IMPOSSIBLE  # questions that nothing can be cut for
    before = least.copy()
    found = with_one_more(least, cost, IMPOSSIBLE)
    with monkeypatch.context() as without:
        without.setattr(one_more, "_compiled", None)
        twin = with_one_more(least, cost, IMPOSSIBLE)
    assert np.array_equal(found, twin)
    assert np.array_equal(least, before)


@pytest.mark.parametrize("sizes", SHAPES)
def test_table_against_every_content(sizes):
    """The law: least with one more is the least over every content, nothing among them, and what is then left."""
    rng = np.random.default_rng(len(sizes))
    least, cost = table(rng, (*sizes, 3)), table(rng, (*sizes, 3))
    found = with_one_more(least, cost, IMPOSSIBLE)
    lists = list(itertools.product(*map(range, sizes)))
    for pieces, question in itertools.product(lists, range(3)):
        rests = [(*(n - m for n, m in zip(pieces, content, strict=True)),) for content in lists]
        sums = [least[(*pieces, question)]] + [
            least[(*rest, question)] + cost[(*content, question)]
            for content, rest in zip(lists, rests, strict=True)
            if any(content) and min(rest) >= 0
        ]
        known = [x for x in sums if x < IMPOSSIBLE // 2]
        assert found[(*pieces, question)] == min(known, default=IMPOSSIBLE)


@needs_compiled
def test_wrong_questions_are_refused():
    add = one_more._compiled.add
    least, cost, after = (np.zeros((2, 3, 4), dtype=np.int64) for _ in range(3))
    for wrong in (cost[:1], cost[..., :3].copy(), cost[0], cost.reshape(2, 4, 3)):
        with pytest.raises(ValueError, match="do not fit"):
            add(least, wrong, after, IMPOSSIBLE)
    with pytest.raises(TypeError, match="another kind"):
        add(least, cost.astype(float), after, IMPOSSIBLE)
    with pytest.raises(TypeError, match="another kind"):
        add(least.astype(np.int32), cost, after, IMPOSSIBLE)
    with pytest.raises(ValueError, match="kinds of piece"):
        add(*(np.zeros(4, dtype=np.int64) for _ in range(3)), IMPOSSIBLE)
    for wrong in (0, -1, 1 << 62):
        with pytest.raises(ValueError, match="no such cost"):
            add(least, cost, after, wrong)
    with pytest.raises((TypeError, OverflowError)):
        add(least, cost, after, 1 << 70)
    with pytest.raises(TypeError):
        add(least, cost, after)
    with pytest.raises((ValueError, BufferError)):
        add(least, cost[..., ::2], after[..., ::2], IMPOSSIBLE)
    after.flags.writeable = False
    with pytest.raises((ValueError, BufferError)):
        add(least, cost, after, IMPOSSIBLE)
