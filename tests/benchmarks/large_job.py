"""A large invented job: strings in rows on the floor of a hall, mounting faces on its walls, crates all about.

    python -m tests.benchmarks.large_job FOLDER [STRINGS] [FACES] [SOLIDS]

writes job.yaml and stock.yaml, to be planned like any other.
"""

from __future__ import annotations

import random
import sys
from pathlib import Path

STOCK = """# What can be had in the hall's town. Prices are invented.
currency: thalers

conductors:
  - {name: 35 mm2, size: 35 mm2, strands: class 5, outside diameter: 12.7 mm, bend radius: 4 x OD, insulation: 105 °C}
  - {name: 150 mm2, size: 150 mm2, strands: class 5, outside diameter: 24 mm, bend radius: 4 x OD, insulation: 105 °C}

cable:
  - conductor: 35 mm2
    colour: red
    spools:
      - {label: 25 m spool red, length: 25 m, price: 262.00}
    by length:
      - {label: red by the metre, increment: 1 m, price: 11.40}
  - conductor: 35 mm2
    colour: black
    spools:
      - {label: 25 m spool black, length: 25 m, price: 262.00}
    by length:
      - {label: black by the metre, increment: 1 m, price: 11.40}
  - conductor: 150 mm2
    colour: red
    by length:
      - {label: heavy red by the metre, increment: 1 m, price: 44.00}
  - conductor: 150 mm2
    colour: black
    by length:
      - {label: heavy black by the metre, increment: 1 m, price: 44.00}

lugs:
  - {conductor: 35 mm2, stud: M8, strip: 17 mm, hole to stop: 19 mm, hole to skin: 37 mm, price: 1.95}
  - {conductor: 35 mm2, stud: M10, strip: 17 mm, hole to stop: 21 mm, hole to skin: 39 mm, price: 2.10}
  - {conductor: 150 mm2, stud: M10, strip: 32 mm, hole to stop: 34 mm, hole to skin: 66 mm, price: 7.10}

cutting: {kerf: 2 mm}
"""


def job_text(strings: int, faces: int, solids: int, seed: int, face_mm: tuple[int, int] = (1200, 800)) -> str:
    """The job file: a hall whose floor is wide enough for all; crates keep off batteries, faces and each other."""
    draw = random.Random(seed)
    columns = max(4, (strings + 1) // 2)
    hall = (columns * 900 + 2400, 4200, 2600)
    lines = [
        "name: Hall of many strings",
        "units: mm",
        "coordinates: mm",
        "stock: stock.yaml",
        "rules: copper by ambient",
        "ambient: 20 °C",
        "limits: {drop: 3 %, share: 10 %}",
        "site:",
        "  compartments:",
        f"    - {{name: hall, box: {{from: [0, 0, 0], to: [{hall[0]}, {hall[1]}, {hall[2]}]}}}}",
        "  mounting faces:",
    ]
    for i in range(faces):
        # along runs to the left of who stands before the wall at y = 0
        x = hall[0] - 600 - i * (hall[0] - 2400) // max(1, faces - 1)
        lines.append(
            f"    - {{name: panel {i + 1}, corner: [{x}, 20, 1100], along: [-1, 0, 0], up: [0, 0, 1],"
            f" width: {face_mm[0]}, height: {face_mm[1]}, edge: 40}}"
        )
    lines.append("  solids:")
    taken: list[tuple[int, int]] = []
    placed = 0
    while placed < solids:
        edges = [draw.randrange(80, 300, 10) for _ in range(3)]
        at = [draw.randrange(50, hall[0] - 400, 10), draw.randrange(2600, hall[1] - 350, 10), 0]
        if placed % 3 == 0:  # under the ceiling, over the batteries
            at = [draw.randrange(50, hall[0] - 400, 10), draw.randrange(700, hall[1] - 350, 10), 2200 - edges[2]]
        if placed % 3 == 1:  # between the rows, on the floor
            at[1], edges[1] = draw.randrange(1000, 1150, 10), min(edges[1], 250)
        spot = (at[0] // 320, at[1] // 320 + 100 * (at[2] > 0))
        if spot in taken:
            edges = [60, 60, 60]
            at = [50 + 80 * placed % (hall[0] - 300), hall[1] - 120, 80 * (placed // 60)]
        taken.append(spot)
        to = [a + s for a, s in zip(at, edges, strict=True)]
        lines.append(f"    - {{name: crate {placed + 1}, box: {{from: {at}, to: {to}}}}}")
        placed += 1
    lines += [
        "battery types:",
        "  - name: block 12 V",
        "    chemistry: agm",
        "    voltage: 12 V",
        "    capacity: 100 Ah",
        "    resistance: 5 mohm",
        "    rest voltage: 12.8 V",
        "    case: {size: [330, 170, 220]}",
        "    terminals:",
        "      positive: {at: [40, 85, 235], lug: level, stud: M8, stud points: up, torque: 10 N m}",
        "      negative: {at: [290, 85, 235], lug: level, stud: M8, stud points: up, torque: 10 N m}",
        "batteries:",
    ]
    for i in range(strings):
        x, y = 1200 + 900 * (i % columns), 700 + 900 * (i // columns)
        names = f"{{names: [S{i + 1}a, S{i + 1}b], type: block 12 V, at: [{x}, {y}, 0], along: x, air gap: 40}}"
        lines.append(f"  - row: {names}")
    lines.append("strings:")
    lines += [f"  - {{name: S{i + 1}, batteries: [S{i + 1}a, S{i + 1}b]}}" for i in range(strings)]
    on = ", ".join(f"panel {i + 1}" for i in range(faces))
    lines.append("bus bars:")
    for pole in ("positive", "negative"):
        lines.append(
            f"  - {{name: {pole} bar, pole: {pole}, studs: {strings + 2}, pitch: 35, stud: M10, section: 40 mm x 10 mm,"
            f" rating: 800 A, on: [{on}], turns: [0 deg]}}"
        )
    middle = hall[0] // 2
    lines += [
        "loads:",
        f"  - {{name: inverter, continuous: {15 * strings} A,",
        f"     positive: {{at: [{middle}, 400, 600], lug: [+x, -x], stud: M10, stud points: up}},",
        f"     negative: {{at: [{middle + 200}, 400, 600], lug: [+x, -x], stud: M10, stud points: up}}}}",
        "feeders:",
        "  - {name: feed, pole: positive, from: positive bar, to: inverter positive}",
        "  - {name: return, pole: negative, from: negative bar, to: inverter negative}",
        "policy: {match: all leads alike, string fuse: none, clearance: 5 mm, round up: 5 mm}",
    ]
    return "\n".join(lines) + "\n"


def write_job(folder: Path, strings: int, faces: int, solids: int, face_mm: tuple[int, int] = (1200, 800)) -> Path:
    """The job file, its stock file beside it."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "stock.yaml").write_text(STOCK, encoding="utf-8")
    path = folder / "job.yaml"
    path.write_text(job_text(strings, faces, solids, 1, face_mm), encoding="utf-8")
    return path


def main() -> None:
    given = [int(x) for x in sys.argv[2:5]]
    strings, faces, solids = (*given, *(16, 4, 100)[len(given) :])
    print(write_job(Path(sys.argv[1]), strings, faces, solids))


if __name__ == "__main__":
    main()
