"""A bus bar fixed where a job says is held to its mounting face as one that is searched for, and to the other bar.

The end wall of the starter job is at x 1750: along it runs -y from y 560, 500 long, up from z 260, 400 high, edge 30.
A bar has four studs, 40 apart: 60 to either side of its middle.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.job.broken import line_of, read_broken

ON = "    on: [end wall]\n"
OTHER = "rating: 250 A, on: [end wall]}"
FACE = "height: 400, edge: 30}"


def at(centre: str, along: str = "+y") -> str:
    return f"    at: {{centre: [{centre}], along: {along}, out: -x, face: end wall}}\n"


def both(one: str, other: str) -> tuple[tuple[str, str], ...]:
    return (ON, at(one)), (OTHER, OTHER.replace("on: [end wall]", at(other).strip()))


@pytest.mark.parametrize(
    ("place", "forbidden", "told", "mend"),
    [
        # the middle may be 30 + 60 from the ends of the face, at y 470 and 150, and 30 above its foot
        (at("1750, 480, 460"), "", "stud 4 is 20 mm from the edge of", "10 mm: free at [1750, 470, 460]"),
        (at("1750, 120, 460"), "", "stud 1 is 0 mm from the edge of", "30 mm: free at [1750, 150, 460]"),
        (at("1750, 110, 460"), "", "stud 1 lies 10 mm off", "40 mm: free at [1750, 150, 460]"),
        (at("1750, 310, 270"), "", "stud 1 is 10 mm from the edge of", "20 mm: free at [1750, 310, 290]"),
        # up the face: the middle may be 90 above its foot, at z 350
        (at("1750, 310, 300", "up"), "", "stud 1 lies 20 mm off", "50 mm: free at [1750, 310, 350]"),
        (at("1730, 310, 460"), "", "stud 1 lies 20 mm before", "in the face's plane at [1750, 310, 460]"),
        (at("1765, 310, 460"), "", "stud 1 lies 15 mm behind", "in the face's plane at [1750, 310, 460]"),
        # a strip 40 to 60 above the foot of the face, at z 300 to 320, from end to end
        (at("1750, 310, 315"), "[[0, 40, 500, 60]]", "studs 1, 2, 3 and 4 lie in a forbidden part", "5 mm: free at ["),
        # 20 wide about the middle, y 300 to 320: no stud is in it, two on either side
        (at("1750, 310, 460"), "[[241, 0, 259, 400]]", "its row of studs crosses a forbidden part", "free at ["),
    ],
)
def test_a_fixed_bar_off_what_its_face_allows(tmp_path: Path, place: str, forbidden: str, told: str, mend: str) -> None:
    face = FACE.replace("}", f", forbidden: {forbidden}}}") if forbidden else FACE
    faults = read_broken(tmp_path, ((ON, place), (FACE, face))).faults
    assert [fault.line > 0 and told in fault.message for fault in faults] == [True], faults
    assert "at: {centre" in faults[0].excerpt
    assert mend in faults[0].mend


def test_a_fixed_bar_on_the_last_millimetre(tmp_path: Path) -> None:
    """At the edge margin exactly, at the border of what is forbidden, and 0.4 mm further: places are rounded."""
    for centre in ("1750, 470, 290", "1750, 470.4, 289.6", "1750, 310, 320"):
        face = FACE.replace("}", ", forbidden: [[0, 40, 500, 60]]}")
        assert read_broken(tmp_path, ((ON, at(centre)), (FACE, face))).faults == ()


def test_without_a_face_it_is_held_to_none(tmp_path: Path) -> None:
    place = at("1730, 480, 460").replace(", face: end wall", "")
    assert read_broken(tmp_path, ((ON, place),)).faults == ()


def test_both_bars_at_one_point(tmp_path: Path) -> None:
    """The starter's bars are 20 wide, its lug 37 to the insulation: 20 / 2 + 20 / 2 + 2 x 37 = 94 mm."""
    edits = both("1750, 310, 460", "1750, 310, 460")
    (fault,) = read_broken(tmp_path, edits).faults
    first, second = (line_of(tmp_path / "job.yaml", text) for text in ("    at: {centre", "{name: negative bus bar"))
    assert f'bus bars "positive bus bar" (line {first}) and "negative bus bar" (line {second})' in fault.message
    assert "0 mm apart, 94 mm are needed" in fault.message
    assert (fault.line, "move one of them 94 mm" in fault.mend) == (second, True)


def test_both_bars_fixed_nearer_than_asked(tmp_path: Path) -> None:
    """One above the other, z 360 and 600."""
    apart = both("1750, 310, 360", "1750, 310, 600")
    assert read_broken(tmp_path, apart).faults == ()
    (fault,) = read_broken(tmp_path, (*apart, ("policy:", "policy:\n  bars apart: 250 mm"))).faults
    assert "240 mm apart, 250 mm are needed (as asked)" in fault.message
    assert "move one of them 10 mm further off" in fault.mend
