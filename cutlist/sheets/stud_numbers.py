"""Numbers at the studs of the bus bars in a view: as many as have room, the first and the last before all others."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from cutlist.sheets.scene import Points, Scene

Flat = NDArray[np.float64]  # (n, 2): right and down, in mm of the site
Box2 = tuple[Flat, Flat]  # least and greatest corner, (2,) each

LETTER = 0.6  # width of a letter of the fixed-width face, as a share of its size
SIZE = 0.72  # of the drawing's other text
ONE_SPOT_MM = 1.0  # studs nearer than this to each other in a view stand one behind another


def stud_rows_of(scene: Scene) -> dict[str, Points]:
    """The studs (n, 3) of each bus bar, in their order."""
    rows: dict[str, list[tuple[float, float, float]]] = {}
    for mark in scene.marks:
        if mark.kind == "stud":
            rows.setdefault(mark.of, []).append(mark.point)
    return {name: np.array(points) for name, points in rows.items()}


def stud_numbers(
    rows: Sequence[Flat], cables: Sequence[Flat], text: float, names: Sequence[Box2]
) -> tuple[list[str], list[Box2]]:
    """SVG of the numbers beside each row of studs (n, 2), on that side of it where less is in their way; their boxes.

    `text`: size of the drawing's text; `cables`: their lines (n, 2); `names`: boxes that hold words already.
    """
    size = SIZE * text
    points = np.vstack([_dense(line, size / 2) for line in cables]) if cables else np.empty((0, 2))
    boxes: list[Box2] = []
    parts: list[str] = []
    for row in rows:
        which = shown_numbers(row, size)
        if not which:
            continue
        way = (row[-1] - row[0]) / np.linalg.norm(row[-1] - row[0])
        sides = [_boxes(row, which, sign * np.array([way[1], -way[0]]), size) for sign in (1, -1)]
        best = min(sides, key=lambda side: _in_the_way(side, points, [*names, *boxes]))
        boxes += best
        parts += [
            f'<text class="stud-number" x="{float(low[0] + high[0]) / 2:.1f}" '
            f'y="{float(low[1] + high[1]) / 2 + 0.35 * size:.1f}" font-size="{size:.1f}" '
            f'stroke-width="{0.4 * size:.1f}" text-anchor="middle">{number}</text>'
            for number, (low, high) in zip(which, best, strict=True)
        ]
    return parts, boxes


def shown_numbers(row: Flat, size: float) -> tuple[int, ...]:
    """Of the studs 1 to n those whose numbers do not touch: every one, or every second, ..., and the last.

    >>> shown_numbers(np.array([[0.0, 40.0 * i] for i in range(7)]), 50.0)
    (1, 3, 5, 7)
    >>> shown_numbers(np.array([[0.0, 0.0], [0.0, 0.1]]), 50.0)
    ()
    """
    count = len(row)
    if count < 2:
        return (1,) if count else ()
    across, down = np.abs(row[-1] - row[0]) / (count - 1)
    if np.hypot(across, down) * (count - 1) < ONE_SPOT_MM:
        return ()
    wide = (LETTER * len(str(count)) + 0.3) * size
    step = next((k for k in range(1, count) if k * across >= wide or k * down >= 0.9 * size), count)
    return (*range(1, count - step + 1, step), count) if step < count else (1,)


def _boxes(row: Flat, which: Sequence[int], side: Flat, size: float) -> list[Box2]:
    found = []
    for number in which:
        half = np.array([LETTER * len(str(number)) / 2, 0.45]) * size
        # clear of the bar and of the stud's ring
        middle = row[number - 1] + side * (0.75 * size + float(np.abs(side) @ half))
        found.append((middle - half, middle + half))
    return found


def _in_the_way(side: Sequence[Box2], points: Flat, words: Sequence[Box2]) -> int:
    """Words count more than any cable."""
    crossed = sum(int(np.all((low <= points) & (points <= high), axis=1).sum()) for low, high in side)
    met = sum(bool(np.all(low < b) and np.all(a < high)) for low, high in side for a, b in words)
    return crossed + 1000 * met


def _dense(line: Flat, step: float) -> Flat:
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    wanted = np.linspace(0.0, along[-1], max(2, int(along[-1] / step)))
    return np.column_stack([np.interp(wanted, along, line[:, i]) for i in (0, 1)])
