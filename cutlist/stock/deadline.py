"""How long a search may go on. Time is asked for here only; an answer found before it is up does not depend on it."""

from __future__ import annotations

import time


class Deadline:
    """`seconds` None: no limit."""

    def __init__(self, seconds: float | None):
        self._end = None if seconds is None else time.monotonic() + seconds

    def left_s(self) -> float:
        return float("inf") if self._end is None else self._end - time.monotonic()

    def passed(self) -> bool:
        return self.left_s() <= 0

    def part(self, share: float, most_s: float = float("inf")) -> Deadline:
        """A deadline that ends with this share of the time left, after `most_s` at the latest."""
        left = min(self.left_s() * share, most_s)
        return Deadline(None if left == float("inf") else max(0.0, left))
