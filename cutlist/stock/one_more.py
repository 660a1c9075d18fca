"""One spool, remnant or length more: what is the least cost then, for every list of pieces and many questions at once?

The tables (of how many of each kind are cut, question) are where a price table spends its time, so this step is also
written in C: `_one_more.c`, built when the package is installed. A machine without a C compiler gets the numpy code;
the answers are the same to the last bit.
"""

from __future__ import annotations

from types import ModuleType

import numpy as np
from numpy.typing import NDArray

Whole = NDArray[np.int64]

_compiled: ModuleType | None
try:
    from cutlist.stock import _one_more as _compiled
except ImportError:
    _compiled = None

COMPILED = _compiled is not None


def with_one_more(least: Whole, cost: Whole, impossible: int) -> Whole:
    """Least costs (counts + 1 of each kind, q) when one container more may be cut from, for cost[content].

    `least`: without it. A cost of `impossible` is no content; a sum beyond half of that is none either.
    """
    after = least.copy()
    if _compiled is None:
        _put_all(least, cost, after, impossible)
    else:
        _compiled.add(np.ascontiguousarray(least), np.ascontiguousarray(cost), after, impossible)
    return after


def _put_all(least: Whole, cost: Whole, after: Whole, impossible: int) -> None:
    """The numpy twin of the compiled step. Changes `after`."""
    sizes = after.shape[:-1]
    for part in np.argwhere((cost < impossible).any(axis=-1)).tolist():
        if any(part):
            to = after[tuple(slice(p, None) for p in part)]
            rest = least[tuple(slice(None, size - p) for p, size in zip(part, sizes, strict=True))]
            np.minimum(to, rest + cost[tuple(part)], out=to)
    after[after >= impossible // 2] = impossible
