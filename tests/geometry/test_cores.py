"""Work beside other work gives what it gives in place, whatever becomes of the copy that does it."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest

import cutlist
from cutlist.plan_types import Plan
from cutlist.sheets.plan_json import plan_text
from geometry import cores
from tests.planning.test_routed_places import POST, small_job


@pytest.mark.parametrize("number", [1, 2])
def test_answers_in_the_order_of_the_items(monkeypatch: pytest.MonkeyPatch, number: int) -> None:
    monkeypatch.setattr(cores, "cores", lambda: number)
    heard: list[tuple[int, int]] = []
    assert cores.each(lambda n: n * n, [3, 1, 4, 1, 5], lambda done, of: heard.append((done, of))) == [9, 1, 16, 1, 25]
    assert heard[-1] == (5, 5)
    assert cores.each(lambda n: n * n, [7]) == [49]
    assert cores.each(lambda n: n * n, []) == []
    assert cores.beside(lambda: "so")() == "so"


def test_a_copy_does_the_work_where_there_are_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cores, "cores", lambda: 2)
    answer = cores.beside(os.getpid)
    assert answer() != os.getpid()
    assert answer() == answer()  # asked for twice


def test_a_copy_that_is_lost_costs_nothing_but_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Killed (as a system short of memory does), or stopped by an answer that cannot be sent."""
    monkeypatch.setattr(cores, "cores", lambda: 2)
    here = os.getpid()

    def killed() -> int:
        if os.getpid() != here:
            os.kill(os.getpid(), signal.SIGKILL)
        return 42

    assert cores.beside(killed)() == 42
    assert cores.beside(lambda: lambda: 7)()() == 7


def test_a_copy_that_stands_still_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cores, "cores", lambda: 2)
    monkeypatch.setattr(cores, "PATIENCE_S", 0.2)
    here = os.getpid()

    def still() -> int:
        while os.getpid() != here:
            signal.pause()
        return 42

    assert cores.beside(still)() == 42


def test_a_fault_in_the_work_comes_up_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cores, "cores", lambda: 2)

    def wrong() -> None:
        raise ValueError("so it is")

    answer = cores.beside(wrong)
    with pytest.raises(ValueError, match="so it is"):
        answer()


def test_a_plan_is_the_same_on_one_core_and_on_two(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    job, stock = small_job(tmp_path, POST, (60, 40), studs=2, turns="0 deg, 90 deg")
    texts = []
    for number in (1, 2):
        monkeypatch.setattr(cores, "cores", lambda number=number: number)
        plan = cutlist.make_plan(job, stock)
        assert isinstance(plan, Plan)
        texts.append(plan_text(plan))
    assert texts[0] == texts[1]
