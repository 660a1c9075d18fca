"""Studs of the bus bars are numbered wherever they are drawn."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from collections import Counter
from dataclasses import replace

import ezdxf
import numpy as np
import pytest

from cutlist.bank.bus_bars import BarPlace
from cutlist.sheets.bar_strips import bar_strips, strip_words
from cutlist.sheets.dxf import plan_dxf
from cutlist.sheets.scene import scene_of
from cutlist.sheets.stud_numbers import shown_numbers, stud_numbers
from cutlist.sheets.views import VIEWS, view_svg

PLANS = ["plan", "inch_plan", "large_plan", "hostile_plan"]


@pytest.mark.parametrize("name", PLANS)
def test_views_number_the_first_and_the_last_stud_or_say_that_they_hide_each_other(name, request):
    plan = request.getfixturevalue(name)
    scene = scene_of(plan)
    for view in VIEWS:
        root = ET.fromstring(view_svg(scene, view, plan.job.units))
        seen = Counter(t.text for t in root.findall(".//{*}text[@class='stud-number']"))
        notes = [t.text or "" for t in root.findall(".//{*}text[@class='note']")]
        hidden = sum("one behind another" in note for note in notes)
        assert seen["1"] == len(plan.bars) - hidden
        lasts = Counter(str(b.bar.studs) for b in plan.bars)
        assert sum(min(seen[n], count) for n, count in lasts.items()) >= len(plan.bars) - hidden


def test_numbers_are_as_many_as_do_not_touch():
    """A letter is 0.6 of its size wide; with 0.3 between, a row of figures across needs 0.9 of 10 mm a number."""
    assert shown_numbers(np.array([[9.1 * i, 0.0] for i in range(4)]), 10.0) == (1, 2, 3, 4)
    assert shown_numbers(np.array([[8.9 * i, 0.0] for i in range(5)]), 10.0) == (1, 3, 5)
    # every third: 1, 4 and then the last, since 7 would touch 8
    assert shown_numbers(np.array([[3.1 * i, 0.0] for i in range(8)]), 10.0) == (1, 4, 8)
    assert shown_numbers(np.array([[1.0, 0.0], [2.5, 0.0]]), 10.0) == (1,)


def test_numbers_stand_on_the_side_where_no_cable_is():
    """A row that goes down, and a cable along its right, then along its left, where figures of 22 mm would be."""
    row = np.array([[0.0, 40.0 * i] for i in range(4)])
    for side in (1, -1):
        cable = np.array([[22.0 * side, -50.0], [22.0 * side, 200.0]])
        _, boxes = stud_numbers([row], [cable], 30.0, [])
        assert len(boxes) == 4
        assert all(side * float(low[0] + high[0]) < 0 for low, high in boxes)


@pytest.mark.parametrize("name", PLANS)
def test_the_drawing_file_numbers_every_stud(name, request):
    """Once in space, and in each view each, or once for all of a row that is seen on end."""
    plan = request.getfixturevalue(name)
    drawing = ezdxf.read(io.StringIO(plan_dxf(plan)))
    texts = Counter(t.dxf.text for t in drawing.modelspace().query("TEXT") if t.dxf.layer == "STUDS")
    for placed in plan.bars:
        ends = sum(texts[f"1 to {n}"] for n in {b.bar.studs for b in plan.bars})
        for number in range(1, placed.bar.studs + 1):
            assert texts[str(number)] >= 1 + len(VIEWS) - ends


def test_strips_hold_every_stud_with_its_cables_in_the_order_one_sees(plan):
    numbers = {str(c.number): c.name for c in plan.cables}
    for placed, (words, svg) in zip(plan.bars, bar_strips(plan), strict=True):
        root = ET.fromstring(svg)
        assert placed.bar.name in words
        at = {t.get("x"): int(t.text) for t in root.findall(".//{*}text[@class='stud-number']")}
        assert sorted(at.values()) == list(range(1, placed.bar.studs + 1))
        on: dict[int, list[str]] = {n: [] for n in at.values()}
        for group in root.findall(".//{*}g"):
            if group.get("class", "").startswith("number"):
                text = group.find("{*}text")
                on[at[text.get("x")]].append(numbers[text.text])
        assert [tuple(on[n]) for n in sorted(on)] == list(placed.stud_use)


@pytest.mark.parametrize(
    ("along", "out", "left", "first_is_left"),
    [
        # facing the wall (it looks the way y) right is x
        ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), "studs, as one stands before it", True),
        ((-1.0, 0.0, 0.0), (0.0, 1.0, 0.0), "studs, as one stands before it", False),
        # a wall on the left that looks to the right: who faces it has the far end of y, nearest to him before, at left
        ((0.0, 1.0, 0.0), (1.0, 0.0, 0.0), "studs, as one stands before it", False),
        ((0.0, 0.0, 1.0), (1.0, 0.0, 0.0), "the lower end on the left", True),
        ((0.0, 0.0, -1.0), (1.0, 0.0, 0.0), "the lower end on the left", False),
        ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0), "the end of least y on the left", True),
    ],
)
def test_which_end_is_left(plan, along, out, left, first_is_left):
    placed = replace(plan.bars[0], place=BarPlace((0.0, 0.0, 0.0), along, out))
    assert left in strip_words(placed)
    (_, svg), *_ = bar_strips(replace(plan, bars=(placed,)))
    xs = [float(x) for x in re.findall(r'class="stud-number" x="([0-9.]+)"', svg)]
    assert xs == sorted(xs, reverse=not first_is_left)
