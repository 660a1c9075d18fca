"""How long it takes to place bus bars, and what simpler ways would cost: `python -m tests.benchmarks.bench_places`.

First invented jobs from seeds with straight runs, then whole jobs among obstacles. The 50 mm grid is priced in the same
run by the same table.
"""

from __future__ import annotations

import random
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

import cutlist
from cutlist.layout.bus_bar_places import find_places
from cutlist.layout.cable_ends import cable_tasks
from cutlist.layout.landscape import best_on_grid
from cutlist.planning.searched_places import searched_places
from tests.benchmarks.bench_plan import measured
from tests.benchmarks.large_job import write_job
from tests.layout.place_cases import problem_of


def job(seed: int, strings: int, faces: int, width: int, height: int) -> dict[str, Any]:
    draw = random.Random(seed)
    turns = [([1, 0, 0], [0, 1, 0]), ([0, 1, 0], [0, 0, 1]), ([1, 0, 0], [0, 0, 1])]
    span = 300 * strings

    def point() -> list[int]:
        return [draw.randint(0, span), draw.randint(0, 800), draw.randint(0, 600)]

    conductors = []
    for name, ohm, dear in (("35", 0.554, 7.0), ("50", 0.386, 9.5), ("70", 0.272, 13.0)):
        reels = [
            {"length_mm": length, "price": round(dear * length / 1000 * draw.uniform(0.75, 0.95), 2)}
            for length in (10_000, 25_000)
        ]
        conductors.append(
            {
                "name": name,
                "ohm_per_km": ohm,
                "by_metre": {"price": dear, "increment_mm": 1000, "max_mm": None},
                "reels": reels,
            }
        )
    # short ones: with more on hand whole jobs are cut from them, and every place costs nothing
    remnants = [
        {"conductor": name, "colour": colour, "length_mm": draw.randrange(500, 2000, 10)}
        for name in ("35", "50", "70")
        for colour in ("red", "black")
    ]
    return {
        "strings": [{"name": f"S{i + 1}", "plus": point(), "minus": point()} for i in range(strings)],
        "feeders": {"plus": [span + 800, 0, 900], "minus": [span + 800, 100, 900]},
        "faces": [
            {
                "name": "ABCD"[i],
                "origin": [draw.randint(0, span), draw.randint(-200, 900), draw.randint(300, 900)],
                "u": turns[i % 3][0],
                "v": turns[i % 3][1],
                "width": width,
                "height": height,
            }
            for i in range(faces)
        ],
        "bus_bars": {
            "studs": strings + 1,
            "pitch_mm": 30,
            "lugs_per_stud": 1,
            "edge_mm": 30,
            "separation_mm": 100,
            "orientations_deg": [0, 90],
        },
        "lengths": {"lug_allowance_mm": 34, "round_up_mm": 5},
        "kerf_mm": 2,
        "current_a": 140,
        "drop_limit_v": 0.7,
        "conductors": conductors,
        "remnants": remnants,
    }


def measure(title: str, count: int, strings: int, faces: int, width: int, height: int) -> None:
    times, grid_times, gaps, dearer = [], [], [], []
    for seed in range(count):
        problem = problem_of(job(seed, strings, faces, width, height))
        start = time.process_time()
        found = find_places(problem)
        times.append(time.process_time() - start)
        if found.best is None or found.cost is None or found.certificate is None:
            continue
        gaps.append(found.certificate.gap)
        start = time.process_time()
        grid_cost = best_on_grid(problem, 0.050)
        grid_times.append(time.process_time() - start)
        if grid_cost is not None and found.cost > 0:  # a job cut from remnants alone costs nothing
            dearer.append(float(grid_cost / found.cost) - 1)
    print(
        f"{title}: {statistics.median(times):.2f} s median, {max(times):.2f} s worst of {count} (processor time);"
        f" proved {sum(gap == 0 for gap in gaps)} of {len(gaps)}, worst gap {max(gaps, default=0):.3%};"
        f" a 50 mm grid costs {np.mean(dearer):.1%} more on average, {max(dearer):.1%} at worst,"
        f" least {min(dearer):.1%}, in {statistics.median(grid_times):.2f} s"
    )


def measure_job(title: str, strings: int, faces: int, solids: int, size: tuple[int, int]) -> None:
    """A whole job: its places alone, against the grid, and the whole plan in a process of its own.

    Silence is the longest time between two words of progress.
    """
    with tempfile.TemporaryDirectory() as folder:
        path = write_job(Path(folder), strings, faces, solids, size)
        job, stock = cutlist.read_job(path)
        said = [time.perf_counter()]
        start = time.process_time()
        searched = searched_places(job, stock, cable_tasks(job), lambda *_: said.append(time.perf_counter()))
        alone_s = time.process_time() - start
        said.append(time.perf_counter())
        assert not isinstance(searched, str), searched
        found = searched.found
        assert found.certificate is not None
        start = time.process_time()
        grid_cost = best_on_grid(searched.question.problem, 0.050)
        grid_s = time.process_time() - start
        seconds, megabytes, status = measured(["plan", str(path), "--out", f"{folder}/plan"])
    silence_s = max(np.diff(said))
    dearer = "serves nowhere" if grid_cost is None else f"costs {float(grid_cost / found.cost) - 1:.2%} more"
    print(
        f"{title}: places alone {alone_s:.1f} s (processor time, silence {silence_s:.1f} s),"
        f" gap {found.certificate.gap:.2%}; a 50 mm grid priced by the same table on the same runs {dearer},"
        f" in {grid_s:.1f} s after the runs are known;"
        f" whole plan {seconds:.1f} s, {megabytes:.0f} MB (exit {status}: there are no fuses)"
    )


if __name__ == "__main__":
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    measure("5 strings, 2 faces of 600 x 400", rounds, 5, 2, 600, 400)
    measure("16 strings, 4 faces of 1200 x 800", rounds, 16, 4, 1200, 800)
    measure_job("5 strings, 2 faces of 600 x 400, 20 solids", 5, 2, 20, (600, 400))
    measure_job("16 strings, 4 faces of 1200 x 800, 100 solids", 16, 4, 100, (1200, 800))
