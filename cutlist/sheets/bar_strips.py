"""Each bus bar as a row of numbered studs with the cables on them, as one stands before it: a key to the drawings."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape

import numpy as np

from cutlist.bank.bus_bars import BarPlace
from cutlist.findings import how_many
from cutlist.plan_types import PlacedBar, Plan

PITCH_MM = 9.0  # on paper, whatever the bar's own
WIDEST_MM = 170.0
TEXT_MM = 2.5
RING_MM = 2.0
LINE_MM = 4.8  # from one cable on a stud to the next


def bar_strips(plan: Plan) -> list[tuple[str, str]]:
    """For every bus bar what it is, in words, and its picture as SVG."""
    numbers = {c.name: (c.number, c.pole) for c in plan.cables}
    return [(strip_words(placed), _strip(placed, numbers)) for placed in plan.bars]


def strip_words(placed: PlacedBar) -> str:
    left, right, _ = _ends(placed.place)
    ends = f", {left} on the left, {right} on the right" if left else ", as one stands before it"
    return f"{placed.bar.name}: {how_many(placed.bar.studs, 'stud')}{ends}"


def _ends(place: BarPlace) -> tuple[str, str, bool]:
    """What is at the left and at the right of the picture, "" where that needs no words; whether stud 1 is at the
    right."""
    along, out = np.array(place.along), np.array(place.out)
    if abs(along[2]) > 0.5:
        return "the lower end", "the upper end", bool(along[2] < 0)
    # the site's frame is the surveyor's: before a face that looks the way y, right is the way x
    right = float(along @ np.cross(out, (0.0, 0.0, 1.0)))
    if abs(out[2]) < 0.5 and abs(right) > 1e-6:
        return "", "", right < 0
    axis = int(np.argmax(np.abs(along)))
    return f"the end of least {'xyz'[axis]}", f"the end of most {'xyz'[axis]}", bool(along[axis] < 0)


def _strip(placed: PlacedBar, numbers: Mapping[str, tuple[int, str]]) -> str:
    count = placed.bar.studs
    pitch = min(PITCH_MM, WIDEST_MM / max(count, 1))
    ring = min(RING_MM, 0.42 * pitch)
    text = min(TEXT_MM, 0.4 * pitch)
    wide = pitch * count
    most = max((len(names) for names in placed.stud_use), default=0)
    high = 10.0 + LINE_MM * max(most, 1)
    turned = _ends(placed.place)[2]
    title = strip_words(placed)
    parts = [f'<g class="bus-bar"><path d="M0 5H{wide:.1f}V9H0Z"/></g>']
    for number, names in enumerate(placed.stud_use, start=1):
        x = pitch * ((count - number if turned else number - 1) + 0.5)
        parts.append(f'<circle class="stud" cx="{x:.1f}" cy="7" r="1.1"/>')
        parts.append(
            f'<text class="stud-number" x="{x:.1f}" y="3.6" font-size="{text:.1f}" text-anchor="middle">{number}</text>'
        )
        if not names:
            parts.append(
                f'<text x="{x:.1f}" y="{12.4 + 0.3 * text:.1f}" font-size="{0.8 * text:.1f}" '
                'text-anchor="middle">free</text>'
            )
        for line, name in enumerate(names):
            figure, pole = numbers[name]
            y = 12.4 + LINE_MM * line
            parts.append(
                f'<g class="number {pole}"><title>{escape(name)}</title>'
                f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{ring:.1f}"/>'
                f'<text x="{x:.1f}" y="{y + 0.32 * text:.1f}" font-size="{0.85 * text:.1f}" text-anchor="middle">'
                f"{figure}</text></g>"
            )
    return (
        f'<svg class="strip" xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{escape(title)}" '
        f'width="{wide + 2:.1f}mm" height="{high:.1f}mm" viewBox="-1 0 {wide + 2:.1f} {high:.1f}" '
        f'stroke-width="0.25">{"".join(parts)}</svg>'
    )
