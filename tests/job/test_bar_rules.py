"""Where bus bars may go, as a job file says it: outlines of faces, distances, the bilge line, reach, the objective."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.job.broken import read_broken
from tests.job.test_every_key import sound

SIZE = "width: 500, height: 400, edge: 30}"
TRAPEZE = "outline: [[0, 0], [500, 0], [400, 400], [100, 400]], edge: 30}"
ZONES = "  mounting faces:"


def test_a_face_with_an_outline(tmp_path: Path) -> None:
    """Written in millimetres, held in metres; the rectangle that holds it is 500 x 400."""
    zones = TRAPEZE.replace("edge", "forbidden outlines: [[[200, 0], [300, 0], [250, 80]]], edge")
    job, _ = sound(tmp_path, ((SIZE, zones),))
    face = job.site.faces[0]
    assert face.outline == ((0, 0), (0.5, 0), (0.4, 0.4), (0.1, 0.4))
    assert face.forbidden_outlines == (((0.2, 0), (0.3, 0), (0.25, 0.08)),)
    assert (face.width_m, face.height_m) == (0.5, 0.4)


def test_rules_of_places_and_reach(tmp_path: Path) -> None:
    job, stock = sound(
        tmp_path,
        (
            (ZONES, "  bilge line: 120\n" + ZONES),
            ("  share: 10 %", "  share: 10 %\n  above bilge: 300 mm\n  longest lead: 2.5 m"),
            ("to: main fuse source side}", "to: main fuse source side, longest: 18 in}"),
            ("policy:", "policy:\n  bars apart: 160 mm\n  bars on: one face\n  objective: least waste"),
        ),
    )
    assert (job.site.bilge_z_m, job.limits.above_bilge_m, job.limits.longest_lead_m) == (0.12, 0.3, 2.5)
    assert job.feeders[0].longest_m == pytest.approx(0.4572)
    assert job.feeders[1].longest_m is None
    assert (job.policy.bars_apart_m, job.policy.bars_on) == (0.16, "one face")
    assert stock.rules.least_waste  # the stock file does not ask for it


@pytest.mark.parametrize(
    ("old", "new", "told", "mend"),
    [
        (SIZE, "outline: [[0, 0], [500, 400], [500, 0], [0, 400]]}", "the outline crosses itself", "going round once"),
        (SIZE, "outline: [[0, 0], [500, 0]]}", "2 items", "3"),
        (SIZE, "outline: [[-10, 0], [500, 0], [0, 400]]}", "goes back beyond the corner", "nowhere less than 0"),
        (SIZE, "width: 500, edge: 30}", "width and no height", "add height"),
        (SIZE, "outline: [[0, 0], [500, 0], [0, 400]], height: 400}", "outline and a height", "take the height out"),
        (SIZE, "width: 500, " + TRAPEZE, "width and outline", "keep one"),
        # four studs of 40 mm take 120 mm, twice the edge 60: a strip of 170 mm that is 50 mm high holds none
        (
            SIZE,
            "outline: [[0, 0], [170, 0], [200, 50], [0, 50]], edge: 30}",
            'fits nowhere within the outline of mounting face "end wall"',
            "larger face",
        ),
        (SIZE, SIZE.replace("}", ", forbidden outlines: [[[0, 0], [9, 9], [9, 0], [0, 9]]]}"), "crosses", "round once"),
        (
            SIZE,
            SIZE.replace("}", ", forbidden: [[0, 0, 500, 400]]}"),
            "nowhere on what is not forbidden",
            "larger face",
        ),
        (
            SIZE,
            SIZE.replace("}", ", forbidden outlines: [[[-1, -1], [600, -1], [600, 500], [-1, 500]]]}"),
            "nowhere on what is not forbidden",
            "larger face",
        ),
        (SIZE, SIZE.replace("}", ", forbidden: [[600, 0, 700, 400]]}"), "wholly off the face", "take it out"),
        # the face ends at z 660
        (ZONES, "  bilge line: 700\n" + ZONES, "must stay above z 700 mm", "higher face"),
        ("  share: 10 %", "  share: 10 %\n  above bilge: 300 mm", "no bilge line to stay above", "bilge line:"),
        # corner to corner of 500 x 400: 640 mm
        ("    studs: 4", "    studs: 4\n    lugs per stud: 5", "5", "1 to 4"),
        ("policy:", "policy:\n  bars apart: 700 mm", "700 mm apart, and can be 640 mm at most", "ask for less"),
        ("policy:", "policy:\n  bars on: different faces", "have only one", "a second face"),
        ("policy:", "policy:\n  bars on: the wall", '"the wall" is not known', "one face"),
        ("policy:", "policy:\n  objective: least weight", '"least weight" is not known', "least waste"),
    ],
)
def test_what_cannot_be_is_told_with_its_mend(tmp_path: Path, old: str, new: str, told: str, mend: str) -> None:
    read = read_broken(tmp_path, ((old, new),))
    assert read.job is None
    texts = [fault.text() for fault in read.faults]
    assert any(told in text and mend in text for text in texts), texts
