"""The least cost of a small group, found by a stranger: every choice of pieces, split in every way.

For `proof.py`, where the claim is that everything was tried. Written apart from the solver's table: choice by choice in
order of size, with nothing left out and nothing taken together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

BEYOND = 2**60  # dearer than anything
MOST_CHOICES = 20_000


@dataclass(frozen=True)
class Offer:
    """One kind of spool: cost in whole units, room for pieces with their kerfs, kinds of piece it may yield."""

    cost: int
    room_um: int
    there: int | None
    yields: tuple[int, ...]


@dataclass(frozen=True)
class Asked:
    """Pieces by kind: length with one kerf, and how many. A kept rest is worth `per_um` if at least `keep_um` long."""

    widths_um: tuple[int, ...]
    numbers: tuple[int, ...]
    kerf_um: int
    keep_um: int | None
    per_um: int


def least_by_trying(asked: Asked, offers: Sequence[Offer]) -> int | None:
    """The least cost of all pieces from these spools; None if they do not suffice. ValueError: too many choices."""
    size = 1
    place = []
    for number in asked.numbers:
        place.append(size)
        size *= number + 1
    if size > MOST_CHOICES:
        raise ValueError(f"{size} choices of pieces")
    choice = np.arange(size)
    count = np.stack([choice // p % (n + 1) for p, n in zip(place, asked.numbers, strict=True)], axis=1)
    width_um = count @ np.array(asked.widths_um, dtype=np.int64)

    many = np.full(size, BEYOND, dtype=np.int64)
    few: list[np.ndarray[Any, Any]] = []
    for offer in offers:
        cost = _costs(asked, offer, count, width_um)
        if offer.there is None:
            many = np.minimum(many, cost)
        else:
            few += [cost] * min(offer.there, sum(asked.numbers))

    first = [int(np.flatnonzero(row)[0]) if row.any() else 0 for row in count]
    useful = [cost < BEYOND for cost in few]
    # least[0]: without the spools there are few of; least[k]: with the first k of them
    least = np.full((len(few) + 1, size), BEYOND, dtype=np.int64)
    least[:, 0] = 0
    for whole in range(1, size):
        parts = _parts(count, whole)
        # the piece of the first kind that is left is on some spool: try every spool-load with it
        loads = parts[count[parts, first[whole]] > 0]
        least[0, whole] = min(BEYOND, int((many[loads] + least[0, whole - loads]).min()))
        for k, cost in enumerate(few):
            loads = parts[useful[k][parts]]
            least[k + 1, whole] = least[k, whole]
            if len(loads):
                least[k + 1, whole] = min(least[k, whole], int((cost[loads] + least[k, whole - loads]).min()))
    return None if least[-1, -1] >= BEYOND else int(least[-1, -1])


def _parts(count: np.ndarray[Any, Any], whole: int) -> np.ndarray[Any, Any]:
    """Every choice that is contained in this one."""
    return np.flatnonzero((count[: whole + 1] <= count[whole]).all(axis=1))


def _costs(
    asked: Asked, offer: Offer, count: np.ndarray[Any, Any], width_um: np.ndarray[Any, Any]
) -> np.ndarray[Any, Any]:
    cost = np.full(len(width_um), offer.cost, dtype=np.int64)
    rest_um = offer.room_um - asked.kerf_um - width_um
    if asked.keep_um is not None and asked.per_um:
        cost -= np.where(rest_um >= max(asked.keep_um, 1), asked.per_um * rest_um, 0)
    others = [i for i in range(len(asked.numbers)) if i not in offer.yields]
    cost[(width_um > offer.room_um) | count[:, others].any(axis=1)] = BEYOND
    return cost
