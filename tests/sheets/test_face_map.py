"""A map of a mounting face is read by itself: title, scale, how the bar lies, bilge line."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from dataclasses import replace
from decimal import Decimal

import pytest

from cutlist.bank.bus_bars import BarPlace
from cutlist.bank.site import MountingFace
from cutlist.place_types import FaceCost
from cutlist.sheets.face_map import _marked, drawn_maps
from cutlist.sheets.map_frame import LETTER


def maps(plan, job=None, place=None):
    """Of the positive bus bar on the sample's back wall: 900 x 500 mm, corner (200, 0, 700), along x, up z."""
    costs = tuple(FaceCost("positive", "back wall", 0.1 * i, 0.2, Decimal(200 + i), 1.5) for i in range(5))
    chosen = {"positive": place or plan.bars[0].place}
    (drawn,) = drawn_maps(job or plan.job, costs, chosen, (), searched=True, currency="EUR")
    return drawn, ET.fromstring(drawn.svg)


def words(root) -> list[str]:
    return [t.text or "" for t in root.findall(".//{*}text")]


@pytest.mark.parametrize("name", ["plan", "inch_plan"])
def test_it_says_what_it_shows_and_how_large(name, request):
    plan = request.getfixturevalue(name)
    _, root = maps(plan)
    shown = words(root)
    assert "Positive bus bar on back wall" in shown
    assert "cost (EUR) of each place, seen from the front" in shown
    # at most a third of 900 mm
    length, mm = ("6 in", 152.4) if plan.job.units == "in" else ("200 mm", 200.0)
    assert length in shown
    assert f"h{mm:.1f}" in root.find(".//{*}g[@class='scale']/{*}path").get("d")
    assert "200.00 to 204.00" in shown


def test_everything_lies_within_the_picture(plan):
    _, root = maps(plan)
    left, top, wide, high = map(float, root.get("viewBox").split())
    size = float(root.get("font-size"))
    for text in root.findall(".//{*}text"):
        x, y, letters = float(text.get("x")), float(text.get("y")), LETTER * size * len(text.text)
        start = x - letters / 2 if text.get("text-anchor") == "middle" else x
        assert left <= start
        assert start + letters <= left + wide + 1e-6
        assert top <= y - 0.8 * size
        assert y <= top + high


@pytest.mark.parametrize(
    ("along", "said", "first"),
    [
        # the wall looks the way -y, so who stands before it has x to his left
        ((1.0, 0.0, 0.0), "turned 0 deg, stud 1 at the right", (1, 0)),
        ((-1.0, 0.0, 0.0), "turned 0 deg, stud 1 at the left", (-1, 0)),
        ((0.0, 0.0, 1.0), "turned 90 deg, stud 1 lowest", (0, 1)),
    ],
)
def test_the_bar_is_drawn_as_it_lies(plan, along, said, first):
    place = BarPlace((0.46, 0.02, 1.1), along, (0.0, -1.0, 0.0), "back wall")
    _, root = maps(plan, place=place)
    assert any(said in line for line in words(root))
    bar = plan.bars[0].bar
    studs = [(float(c.get("cx")), float(c.get("cy"))) for c in root.findall(".//{*}circle[@class='stud']")]
    assert len(studs) == bar.studs
    half = 1000 * bar.pitch_m * (bar.studs - 1) / 2
    assert studs[0] == pytest.approx((640 + first[0] * half, 100 + first[1] * half), abs=0.06)


def test_the_bilge_line_is_drawn_where_it_crosses_the_face_and_told_where_it_does_not(plan):
    """The face is from z 700 to 1200: the line at 800 is 400 from its top, that of 300 more 100."""

    def with_bilge(z_m: float, above_m: float = 0.0):
        site, limits = replace(plan.job.site, bilge_z_m=z_m), replace(plan.job.limits, above_bilge_m=above_m)
        return maps(plan, replace(plan.job, site=site, limits=limits))[1]

    lines = [p.get("d") for p in with_bilge(0.8, 0.3).findall(".//{*}g[@class='bilge']/{*}path")]
    assert lines == ["M0.0 400.0L900.0 400.0", "M0.0 100.0L900.0 100.0"]
    below = with_bilge(0.6)
    assert below.findall(".//{*}g[@class='bilge']") == []
    assert "bilge line 100 mm below its lowest edge" in words(below)
    assert "bilge line 200 mm above its highest edge" in words(with_bilge(1.4))
    assert not any("bilge" in line for line in words(maps(plan)[1]))


def test_a_narrow_face_has_room_for_its_words(plan):
    """100 mm wide and 1 m high: the picture is as if it were 833 mm wide."""
    faces = tuple(replace(f, width_m=0.1, height_m=1.0) for f in plan.job.site.faces)
    job = replace(plan.job, site=replace(plan.job.site, faces=faces))
    _, root = maps(plan, job)
    assert float(root.get("font-size")) == pytest.approx(1000 / 1.2 / 150 * 4.8, abs=0.06)
    assert math.isclose(float(root.get("width").removesuffix("mm")), 150)


def test_numbers_that_would_lie_on_each_other_stand_together() -> None:
    """Text 10 high: 6 and 9 lie 4 aside, 3 lies 40 away, 12 lies 15 above."""
    face = MountingFace("f", (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), 1.0, 1.0)
    marks = [
        (n, BarPlace((x, 0.0, z), (1.0, 0.0, 0.0), (0.0, -1.0, 0.0), "f"))
        for n, x, z in ((3, 0.54, 0.5), (6, 0.5, 0.5), (9, 0.504, 0.5), (12, 0.5, 0.515))
    ]
    assert [words for words, _, _ in _marked(face, marks, 1.0, 10.0)] == ["3", "6, 9", "12"]
