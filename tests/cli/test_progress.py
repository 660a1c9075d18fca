"""Long work shows itself on a terminal and nowhere else. Terminal and clock are made up here."""

from __future__ import annotations

import contextlib
import io
import time

import pytest

from cutlist.cli.progress import WIPED, ProgressLine, shown_progress
from cutlist.progress import counted


class Clock:
    def __init__(self) -> None:
        self.now_s = 100.0

    def __call__(self) -> float:
        return self.now_s


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_short_work_says_nothing() -> None:
    clock = Clock()
    line = ProgressLine(clock)
    line.tell("finding runs", 3, 9)
    clock.now_s += 0.9
    assert line.text() == ""
    clock.now_s += 0.2
    assert line.text().startswith("   1 s  finding runs, 3 of 9")


def test_time_left_is_what_the_pace_says() -> None:
    """By hand: 5 of 20 in 10 s from when the step began is 2 s each; 15 are left: 30 s."""
    clock = Clock()
    line = ProgressLine(clock)
    line.tell("placing bus bars")
    clock.now_s += 7  # of another step: no part of this one's pace
    line.tell("finding runs", 0, 20)
    clock.now_s += 10
    line.tell("finding runs", 5, 20)
    assert line.text() == "  17 s  finding runs, 5 of 20, about 30 s more"


def test_no_time_left_before_it_can_be_told() -> None:
    clock = Clock()
    line = ProgressLine(clock)
    clock.now_s += 5
    line.tell("finding runs", 1, 20)
    assert line.text() == "   5 s  finding runs, 1 of 20"  # its first count says nothing of its pace
    clock.now_s += 0.5
    line.tell("finding runs", 2, 20)
    assert "more" not in line.text()
    line.tell("solving the network")
    clock.now_s += 50
    assert line.text() == "  56 s  solving the network"


def test_a_step_that_starts_anew_has_its_own_pace() -> None:
    """By hand: the second round has done 2 of 4 in 4 s since its first count of 0."""
    clock = Clock()
    line = ProgressLine(clock)
    for done in range(5):
        line.tell("laying leads", done, 4)
        clock.now_s += 100
    line.tell("laying leads", 0, 4)
    clock.now_s += 4
    line.tell("laying leads", 2, 4)
    assert line.text().endswith("2 of 4, about 4 s more")


def test_a_calculation_tells_how_far_it_is() -> None:
    said: list[tuple[str, int, int]] = []
    counted(lambda what, done=0, of=0: said.append((what, done, of)), "finding runs")(2, 7)
    assert said == [("finding runs", 2, 7)]


def test_nothing_is_written_where_nobody_watches() -> None:
    screen = io.StringIO()  # no terminal
    clock = Clock()
    with shown_progress(screen, clock, tick_s=0.001) as progress:
        clock.now_s += 60
        progress("finding runs", 1, 2)
        time.sleep(0.02)
    assert screen.getvalue() == ""


def test_the_line_is_wiped_in_the_end_even_when_interrupted() -> None:
    screen, clock = Terminal(), Clock()
    with contextlib.suppress(KeyboardInterrupt), shown_progress(screen, clock, tick_s=0.001) as progress:
        clock.now_s += 2
        progress("finding runs", 1, 2)
        deadline = time.monotonic() + 5
        while "finding runs" not in screen.getvalue() and time.monotonic() < deadline:
            time.sleep(0.002)
        raise KeyboardInterrupt
    assert "   2 s  finding runs, 1 of 2" in screen.getvalue()
    assert screen.getvalue().endswith(WIPED)


def test_a_long_line_is_cut_at_the_terminals_edge(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "30")
    screen, clock = Terminal(), Clock()
    with shown_progress(screen, clock, tick_s=0.001) as progress:
        clock.now_s += 2
        progress("laying cables beside each other", 1, 2)
        deadline = time.monotonic() + 5
        while "laying" not in screen.getvalue() and time.monotonic() < deadline:
            time.sleep(0.002)
    assert max(len(part) for part in screen.getvalue().split(WIPED)) == 29
