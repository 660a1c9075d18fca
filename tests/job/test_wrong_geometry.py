"""Wrong geometry is a fault that names the item, says how much, and how to mend it. Figures are worked beside each."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.job.broken import Edit, read_broken

TRAY = "    - {name: tray"
WALLS = "  mounting faces:"
ROOM = "    - {name: locker, box: {from: [0, 0, 0], to: [1800, 600, 750]}}\n"


def solid(entry: str) -> Edit:
    return TRAY, f"    - {entry}\n{TRAY}"


def wall(*holes: str) -> Edit:
    """A wall from y 100 to 300, z 0 to 200, with holes."""
    listed = "".join(f"        - {hole}\n" for hole in holes)
    text = "  bulkheads:\n    - name: part\n      box: {from: [1600, 100, 0], to: [1612, 300, 200]}\n      holes:\n"
    return WALLS, text + listed + WALLS


BOW_TIE = "axis: z, outline: [[1500, 100], [1600, 200], [1600, 100], [1500, 200]]"
SQUARE = "axis: z, outline: [[1500, 100], [1600, 100], [1600, 200], [1500, 200]]"


@pytest.mark.parametrize(
    ("edit", "message", "mend"),
    [
        (
            solid(f"{{name: p, prism: {{{BOW_TIE}, from: 300, to: 400}}}}"),
            "the outline crosses itself",
            "going round once",
        ),
        (solid(f"{{name: p, prism: {{{SQUARE}, from: 300, to: 300}}}}"), "the prism has no height", "from and to"),
        # its centre is 200 beyond the edge at y 300, its rim 180
        (wall("{name: h, centre: [1606, 500, 100], diameter: 40}"), 'hole "h" lies 180 mm outside "part"', "centre"),
        # 10 from the edge at y 100, radius 20
        (wall("{name: h, centre: [1606, 110, 100], diameter: 40}"), 'hole "h" reaches 10 mm over the edge', "inwards"),
        (
            wall("{name: h, centre: [1606, 110, 100], size: [40, 40]}"),
            'hole "h" reaches 10 mm over the edge',
            "inwards",
        ),
        (wall("{name: h, centre: [1606, 200, 100], diameter: 400}"), "reaches 100 mm over", '"part" is 200 mm wide'),
        # 20 between the centres, 20 + 20 needed
        (
            wall(
                "{name: h, centre: [1606, 200, 100], diameter: 40}", "{name: g, centre: [1606, 220, 100], diameter: 40}"
            ),
            'hole "g" meets hole "h", in line ',
            "move one of them",
        ),
        (
            solid(
                f"{{name: p, prism: {{{SQUARE}, from: 300, to: 310, "
                "holes: [{name: q, outline: [[1510, 110], [1540, 140], [1540, 110], [1510, 140]]}]}}"
            ),
            'hole "q" crosses itself',
            "going round once",
        ),
        (
            (ROOM, ROOM + "    - {name: attic, box: {from: [0, 0, 2000], to: [1800, 600, 2500]}}\n"),
            'compartment "attic" holds no terminal and overlaps no compartment that does',
            "let it overlap",
        ),
        (
            solid("{name: p, box: {from: [1690, 0, 200], to: [1800, 600, 720]}}"),
            'all is inside "p"',
            "turn along or up round",
        ),
        (("corner: [1750, 560, 260]", "corner: [2750, 560, 260]"), "is no compartment", "look at the corner"),
    ],
)
def test_one_fault_that_says_it(tmp_path: Path, edit: Edit, message: str, mend: str) -> None:
    (fault,) = read_broken(tmp_path, (edit,)).faults
    assert message in fault.message
    assert mend in fault.mend
    assert fault.line


def test_a_face_turned_to_the_board_it_is_on(tmp_path: Path) -> None:
    """A board 35 to 50 mm before the studs and open room behind them; with the board further off it is the room's."""
    moved = ("corner: [1750, 560, 260]", "corner: [1500, 560, 260]")
    near = solid("{name: p, box: {from: [1450, 0, 200], to: [1465, 600, 720]}}")
    (fault,) = read_broken(tmp_path, (moved, near)).faults
    assert '40 mm before it, the way [-1, 0, 0] its studs point, all is inside "p"; behind it is room' in fault.message
    assert "turn along or up round" in fault.mend
    further = solid("{name: p, box: {from: [1440, 0, 200], to: [1455, 600, 720]}}")
    assert read_broken(tmp_path, (moved, further)).faults == ()


def test_a_face_flush_with_its_board(tmp_path: Path) -> None:
    """The face is at x 1750 and looks the way -x; a board from there on behind it. The only cable is 12.5 mm thick, the
    clearance 5 mm: 11.25 mm must be free, so that a board 12 mm behind it is none of its business."""
    flush = solid("{name: p, box: {from: [1750, 0, 200], to: [1765, 600, 720]}}")
    (fault,) = read_broken(tmp_path, (flush,)).faults
    assert 'mounting face "end wall" is flush with "p", where no cable can leave a stud' in fault.message
    assert "move its corner 12 mm out or more, to [1738, 560, 260]" in fault.mend
    behind = solid("{name: p, box: {from: [1758, 0, 200], to: [1765, 600, 720]}}")
    (fault,) = read_broken(tmp_path, (behind,)).faults
    assert 'lies 8 mm before "p"' in fault.message
    assert "4 mm out or more, to [1746, 560, 260]" in fault.mend
    clear = solid("{name: p, box: {from: [1762, 0, 200], to: [1765, 600, 720]}}")
    assert read_broken(tmp_path, (clear,)).faults == ()
    # two boards with their seam beneath the face
    boards = (
        "{name: p, box: {from: [1750, 0, 200], to: [1765, 300, 720]}}",
        "{name: q, box: {from: [1750, 305, 200], to: [1765, 600, 720]}}",
    )
    (fault,) = read_broken(tmp_path, tuple(solid(board) for board in boards)).faults
    assert 'is flush with "q" and other solids' in fault.message
    # it takes a part of the face only: the search knows that by itself
    part = solid("{name: p, box: {from: [1750, 0, 200], to: [1765, 300, 720]}}")
    assert read_broken(tmp_path, (part,)).faults == ()


def test_a_passage_without_terminals_is_no_fault(tmp_path: Path) -> None:
    """A duct that overlaps the locker, and a second one that overlaps only the first."""
    ducts = (
        "    - {name: duct, box: {from: [1700, 0, 600], to: [2500, 100, 700]}}\n"
        "    - {name: far duct, box: {from: [2400, 0, 600], to: [3500, 100, 700]}}\n"
    )
    assert read_broken(tmp_path, ((ROOM, ROOM + ducts),)).faults == ()


def test_a_lug_is_not_told_to_point_into_its_own_battery(tmp_path: Path) -> None:
    """A block 20 mm before the stud; the lug may turn to the sides, but not down into the case or along its stud."""
    block = solid("{name: p, box: {from: [60, 300, 240], to: [400, 380, 300]}}")
    (fault, *_) = read_broken(tmp_path, (block, ("lug: level", "lug: -y"))).faults
    assert 'faces "p" in 20 mm' in fault.message
    assert fault.mend == "let the lug point +x or -x or +y"
