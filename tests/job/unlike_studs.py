"""The starter job with thick feeders: 70 mm² lugs go on M10 only, those of the 35 mm² leads on M8 only."""

from __future__ import annotations

from tests.job.broken import Edit

THICK = (
    ("insulation: 105 °C}\n", "insulation: 105 °C}\n  - {name: 70 mm2, size: 70 mm2, strands: class 5, "
     "outside diameter: 16 mm, bend radius: 4 x OD, insulation: 105 °C}\n"),
    ("  - conductor: 35 mm2\n    colour: black", "".join(
        f"  - conductor: 70 mm2\n    colour: {colour}\n    by length:\n"
        f"      - {{label: thick {colour} by the metre, increment: 1 m, price: 19.20, longest: 50 m}}\n"
        for colour in ("red", "black")
    ) + "  - conductor: 35 mm2\n    colour: black"),
    ("pack: 10, on hand: 6}\n", "pack: 10, on hand: 6}\n  - {conductor: 70 mm2, stud: M10, strip: 20 mm, "
     "hole to stop: 23 mm, hole to skin: 43 mm, price: 3.40}\n"),
)  # fmt: skip
STOCK: tuple[Edit, ...] = THICK
M10_FIRST = ("    stud: M8\n    section: 20", "    stud: [M10, M8, M8, M8]\n    section: 20")
M10_LAST = ("studs: 4, pitch: 40, stud: M8, section", "studs: 4, pitch: 40, stud: [M8, M8, M8, M10], section")
FEEDERS = ("  match: all leads alike", "  feeder conductors: [70 mm2]\n  match: all leads alike")
# devices and loads take the thick feeders' lugs
ENDS = (
    ("550], lug: [+x, up, down], stud: M8", "550], lug: [+x, up, down], stud: M10"),
    ("550], lug: [-x, up, down], stud: M8", "550], lug: [-x, up, down], stud: M10"),
    ("560], lug: [+y, up, down], stud: M8", "560], lug: [+y, up, down], stud: M10"),
    ("560], lug: [+y, up, down], stud: M8", "560], lug: [+y, up, down], stud: M10"),
)
JOB: tuple[Edit, ...] = (M10_FIRST, M10_LAST, FEEDERS, *ENDS)
