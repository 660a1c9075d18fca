"""How long a search may go on. Time is asked for here only; an answer found before it is up does not depend on it."""

from __future__ import annotations

import time


class Deadline:
    """`seconds` None: no limit. `keep_best`: whoever is interrupted (Ctrl-C) hands over the best so far and stops.

    Parts of a deadline end with it, and stop with it.
    """

    def __init__(self, seconds: float | None, *, keep_best: bool = False, whole: Deadline | None = None):
        self._end = None if seconds is None else time.monotonic() + seconds
        self._whole = whole
        self._stopped = False
        self.keep_best: bool = keep_best if whole is None else whole.keep_best

    def left_s(self) -> float:
        if self._stopped or (self._whole is not None and self._whole.left_s() <= 0):
            return 0.0
        return float("inf") if self._end is None else self._end - time.monotonic()

    @property
    def stopped(self) -> bool:
        """Whether somebody said that the time is up."""
        return self._stopped

    def passed(self) -> bool:
        return self.left_s() <= 0

    def stop(self) -> None:
        """The time is up, for the whole and all its parts."""
        self._stopped = True
        if self._whole is not None:
            self._whole.stop()

    def part(self, share: float, most_s: float = float("inf")) -> Deadline:
        """A deadline that ends with this share of the time left, after `most_s` at the latest."""
        left = min(self.left_s() * share, most_s)
        return Deadline(None if left == float("inf") else max(0.0, left), whole=self)
