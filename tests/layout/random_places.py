"""Small invented jobs in the plain form of the reference cases, drawn from a seed."""

from __future__ import annotations

import random
from typing import Any


def random_case(seed: int, *, strings: int | None = None, width: int = 160, height: int = 120) -> dict[str, Any]:
    draw = random.Random(seed)
    n = strings or draw.randint(1, 4)
    studs = draw.choice([1, 2, 3, 4])
    lugs = draw.randint(1, 3)
    while studs * lugs < n + 1:
        lugs += 1
    axes = [([1, 0, 0], [0, 1, 0]), ([0, 1, 0], [0, 0, 1]), ([1, 0, 0], [0, 0, 1])]
    faces = []
    for name in "AB"[: draw.randint(1, 2)]:
        u, v = draw.choice(axes)
        face = {
            "name": name,
            "origin": [draw.randint(-300, 900), draw.randint(-300, 900), draw.randint(100, 700)],
            "u": u,
            "v": v,
            "width": width + draw.choice([0, 40]),
            "height": height + draw.choice([0, 40]),
        }
        if draw.random() < 0.3:
            face["forbidden"] = [[40, 40, 40 + draw.randint(10, 50), 40 + draw.randint(10, 50)]]
        faces.append(face)

    def point() -> list[int]:
        return [draw.randint(-500, 1200), draw.randint(-500, 1200), draw.randint(-100, 500)]

    conductors, remnants = [], []
    for name, ohm, dear in (("25", 0.78, 1.0), ("50", 0.386, 1.7))[: draw.randint(1, 2)]:
        reels = [
            {"length_mm": draw.randrange(1000, 5000, 50), "price": round(dear * draw.uniform(8, 40), 2)}
            for _ in range(draw.randint(0, 2))
        ]
        by_metre = None
        if not reels or draw.random() < 0.5:
            increment = draw.choice([10, 100, 305, 1000])
            by_metre = {
                "price": round(dear * draw.uniform(5, 12) * increment / 1000, 2),
                "increment_mm": increment,
                "max_mm": draw.choice([None, None, 4000]),
            }
        conductors.append({"name": name, "ohm_per_km": ohm, "by_metre": by_metre, "reels": reels})
        for colour in ("red", "black"):
            remnants += [
                {"conductor": name, "colour": colour, "length_mm": draw.randrange(600, 3500, 10)}
                for _ in range(draw.choice([0, 0, 1, 2]))
            ]
    return {
        "name": f"random {seed}",
        "strings": [{"name": f"S{i + 1}", "plus": point(), "minus": point()} for i in range(n)],
        "feeders": {"plus": point(), "minus": point()} if draw.random() < 0.6 else None,
        "faces": faces,
        "bus_bars": {
            "studs": studs,
            "pitch_mm": draw.choice([20, 30]),
            "lugs_per_stud": lugs,
            "edge_mm": draw.choice([10, 20]),
            "separation_mm": draw.choice([0, 40, 80, 110]),
            "orientations_deg": draw.choice([[0], [90], [0, 90]]),
        },
        "lengths": {"lug_allowance_mm": draw.choice([0, 27, 41]), "round_up_mm": draw.choice([5, 5, 10])},
        "kerf_mm": draw.choice([0, 3]),
        "current_a": draw.choice([40, 100]),
        "drop_limit_v": draw.choice([0.15, 0.3, 1.0]),
        "conductors": conductors,
        "remnants": remnants,
    }
