"""Progress of long work: one line on a terminal, rewritten in place; silent when nobody is watching."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

QUIET_S = 1.0  # work shorter than this says nothing


@contextmanager
def shown_progress() -> Iterator[Callable[[str], None]]:
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    began = time.monotonic()
    shown = False

    def show(text: str) -> None:
        nonlocal shown
        passed_s = time.monotonic() - began
        if passed_s >= QUIET_S:
            shown = True
            sys.stderr.write(f"\r\x1b[K{passed_s:4.0f} s  {text}")
            sys.stderr.flush()

    try:
        yield show
    finally:
        if shown:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()
