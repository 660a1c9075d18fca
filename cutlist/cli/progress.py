"""Progress of long work: one line on a terminal, rewritten in place; silent when nobody is watching."""

from __future__ import annotations

import shutil
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

from cutlist.progress import Progress, silent

QUIET_S = 1.0  # work shorter than this says nothing
TICK_S = 0.5  # the seconds go on even where a step says nothing
TELLING_S = 1.0  # of a step, before its pace says how long it will last
WIPED = "\r\x1b[K"


class ProgressLine:
    """What is said on the line at a time; its clock is handed in, so that a test can turn it."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self.clock = clock
        self.began_s = self.step_began_s = clock()
        self.what, self.done, self.of = "", 0, 0
        self.first_done = 0  # when the step's pace was first taken

    def tell(self, what: str, done: int = 0, of: int = 0) -> None:
        # a step that starts anew (another place, another round) has a pace of its own
        if what != self.what or done < self.done or of != self.of:
            self.step_began_s, self.first_done = self.clock(), done
        self.what, self.done, self.of = what, done, of

    def text(self) -> str:
        """Empty as long as there is nothing to say.

        >>> line = ProgressLine(iter([0.0, 0.0, 4.0]).__next__)
        >>> line.tell("finding runs", 0, 22)
        >>> line.tell("finding runs", 8, 22)
        >>> line.text()
        '   4 s  finding runs, 8 of 22, about 7 s more'
        """
        now_s = self.clock()
        if now_s - self.began_s < QUIET_S or not self.what:
            return ""
        left = self._left_s(now_s)
        counted = f", {self.done} of {self.of}" if self.of else ""
        more = f", about {max(1, round(left))} s more" if left is not None else ""
        return f"{now_s - self.began_s:4.0f} s  {self.what}{counted}{more}"

    def _left_s(self, now_s: float) -> float | None:
        """Of this step, at the pace it has had; None before that can be told."""
        passed_s, some = now_s - self.step_began_s, self.done - self.first_done
        if passed_s < TELLING_S or some <= 0 or self.done >= self.of:
            return None
        return passed_s * (self.of - self.done) / some


@contextmanager
def shown_progress(
    screen: TextIO | None = None, clock: Callable[[], float] = time.monotonic, tick_s: float = TICK_S
) -> Iterator[Progress]:
    """`screen`: standard error unless a test hands in another."""
    screen = sys.stderr if screen is None else screen
    if not screen.isatty():
        yield silent
        return
    line, over, shown = ProgressLine(clock), threading.Event(), ""

    def show() -> None:
        nonlocal shown
        text = line.text()[: shutil.get_terminal_size().columns - 1]  # a line that wraps could not be wiped
        if text and text != shown:
            shown = text
            screen.write(WIPED + text)
            screen.flush()

    def keep_showing() -> None:
        while not over.wait(tick_s):
            show()

    shower = threading.Thread(target=keep_showing, daemon=True)
    shower.start()
    try:
        yield line.tell
    finally:
        over.set()
        shower.join()
        if shown:
            screen.write(WIPED)
            screen.flush()
