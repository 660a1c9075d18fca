"""The search that fills slots: its time that runs out is not taken for somebody who interrupts."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from cutlist.stock.deadline import Deadline
from cutlist.stock.first_fit import first_fit
from cutlist.stock.problem import Problem, StockLine
from cutlist.stock.slots import Searched, search_slots

# Forty pieces of nearly a third of a spool: far more ways than can be looked at in a tenth of a second.
HARD = Problem(
    widths=tuple(range(4_390, 2_790, -40)),
    demands=(1,) * 40,
    lines=(StockLine(10_000, 7), StockLine(13_000, 9)),
    may_yield=(tuple(range(40)),),
)


class Told(Deadline):
    """Tells these times left, one after the other, and the last for ever."""

    def __init__(self, *left_s: float) -> None:
        super().__init__(None)
        self.told: Iterator[float] = iter(left_s)
        self.last = left_s[-1]

    def left_s(self) -> float:
        return next(self.told, self.last)


def searched(deadline: Deadline) -> Searched | None:
    best = first_fit(HARD)
    assert best is not None
    found = search_slots(HARD, best, 1, deadline)
    assert found is None or found.bound < (found.cuts or best).cost(HARD)  # else it came to its end in time
    return found


@pytest.mark.parametrize("left_s", [-0.001, 0.004])
def test_time_that_is_up_or_nearly_is_no_interruption(left_s: float) -> None:
    searched(Told(0.1, 0.1, left_s))


def test_coming_back_early_is_one() -> None:
    """CP-SAT takes Ctrl-C for itself: all that tells is that much of the time is left."""
    with pytest.raises(KeyboardInterrupt):
        searched(Told(0.1, 0.1, 5.0))
