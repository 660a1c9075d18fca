"""What long work is told to say while it goes on: what is being done, and how much of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol


class Progress(Protocol):
    """`what` in a few words; `done` things out of `of`, where that is known (0: it is not)."""

    def __call__(self, what: str, done: int = 0, of: int = 0) -> None: ...


def silent(what: str, done: int = 0, of: int = 0) -> None:
    """Nobody is watching."""


def counted(progress: Progress, what: str) -> Callable[[int, int], None]:
    """For calculations that know only how far they are: told (done, of), it tells `what` with it.

    >>> counted(print, "finding runs")(3, 22)
    finding runs 3 22
    """

    def told(done: int, of: int) -> None:
        progress(what, done, of)

    return told
