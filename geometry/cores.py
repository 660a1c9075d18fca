"""Work done beside other work, by copies of this process on further cores.

Every answer is the same as if it had been worked out in place: where the system cannot copy a running process, where
there is one core only, or where a copy is lost, the work is done here when its answer is asked for.

A copy has this thread only: libraries that keep threads of their own (the printing of pages, solvers) stand still in
it. Such work is not for copies; threads serve there. A copy that stands still all the same is given up.
"""

from __future__ import annotations

import os
import pickle
import select
import signal
import sys
import time
import warnings
from collections.abc import Callable, Sequence
from typing import TypeVar

PATIENCE_S, PATIENCE = 20.0, 2.0  # how long a copy is waited for: so many seconds, or so many times as it had already
Answer = TypeVar("Answer")
Item = TypeVar("Item")


_is_copy = False


def cores() -> int:
    """How many this process may use for copies of itself; 1 in a copy, and where it cannot be copied."""
    if _is_copy or not sys.platform.startswith("linux"):
        return 1  # elsewhere libraries do not stand being copied, or it cannot be done at all
    return len(os.sched_getaffinity(0))


def beside(work: Callable[[], Answer]) -> Callable[[], Answer]:
    """Begins the work in a copy of this process; what comes back waits for the answer, which must be picklable."""
    if cores() < 2:
        return work
    reading, writing = os.pipe()
    try:
        with warnings.catch_warnings():
            # newer Pythons warn of threads; those of numerical libraries rest here
            warnings.simplefilter("ignore", DeprecationWarning)
            process = os.fork()
    except OSError:  # no memory or no processes left
        os.close(reading)
        os.close(writing)
        return work
    if process == 0:
        _as_copy(work, reading, writing)
    os.close(writing)
    begun_s = time.monotonic()
    answers: list[Answer] = []

    def answer() -> Answer:
        if not answers:
            patience_s = max(PATIENCE_S, PATIENCE * (time.monotonic() - begun_s))
            told = _read_all(reading, process, patience_s)
            _, status = os.waitpid(process, 0)
            answers.append(pickle.loads(told) if status == 0 else work())
        return answers[0]

    return answer


def each(
    work: Callable[[Item], Answer], items: Sequence[Item], told: Callable[[int, int], None] | None = None
) -> list[Answer]:
    """The work done for each item, in their order; where there are cores, those at odd places beside the others.

    `told` hears about how many are done, of how many.
    """
    here = items if len(items) < 2 or cores() < 2 else items[::2]
    others = beside(lambda: [work(item) for item in items[1::2]]) if len(here) < len(items) else list
    answers = []
    for item in here:
        answers.append(work(item))
        if told is not None:
            told(min(len(answers) * len(items) // len(here), len(items)), len(items))
    there = others()
    return [(there if i % 2 else answers)[i // 2] for i in range(len(items))] if there else answers


def _as_copy(work: Callable[[], object], reading: int, writing: int) -> None:
    """What the copy does: it never returns, and says nothing but the answer."""
    global _is_copy
    _is_copy = True
    try:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        os.close(reading)
        told = pickle.dumps(work(), protocol=pickle.HIGHEST_PROTOCOL)
        with os.fdopen(writing, "wb") as pipe:
            pipe.write(told)
    except BaseException:
        os._exit(1)
    os._exit(0)


def _read_all(reading: int, process: int, patience_s: float) -> bytes:
    with os.fdopen(reading, "rb") as pipe:
        if not select.select([pipe], [], [], patience_s)[0]:
            os.kill(process, signal.SIGKILL)
        return pipe.read()
