"""Surplus on the benchmark scenes: how many targets are laid exactly, how quickly, and are they sound?

    python -m tests.benchmarks.bench_surplus [--solids 50] [--seeds 3] [--leads 8] [--clamped]

Every shortest run is asked to be 1, 2, 5, 10, 20 and 40 % longer; every run laid is checked by the stranger.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter

import numpy as np

from geometry.check import faults_in_run
from geometry.find_runs import find_runs
from geometry.runs import NoRun
from geometry.surplus import grid_around, lay_at_length
from geometry.surroundings import Surroundings
from tests.benchmarks.scenes import scene

LONGER = (0.01, 0.02, 0.05, 0.10, 0.20, 0.40)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--solids", type=int, default=50)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--leads", type=int, default=8)
    parser.add_argument("--clamped", action="store_true", help="clamps every 450 mm within 40 mm of structure")
    parser.add_argument("--verbose", action="store_true")
    given = parser.parse_args()
    held = {"span_m": 0.45, "reach_m": 0.04} if given.clamped else {}
    asked = laid = unsound = unheld = 0
    shapes: Counter[str] = Counter()
    times = []
    for seed in range(1, given.seeds + 1):
        made = scene(given.solids, given.leads, seed)
        runs = find_runs(made.space, made.requests, **held)
        surroundings = Surroundings(made.space)
        for request, run in zip(made.requests, runs, strict=True):
            if isinstance(run, NoRun):
                continue
            rules = held
            if faults_in_run(made.space, request, run, **held):
                unheld += 1  # a fault of the shortest run, told of it; its surplus is laid all the same
                rules = {}
            grid = grid_around(surroundings, [run], 0.4 * run.length_m)
            for share in LONGER:
                target_m = run.length_m * (1 + share)
                start = time.perf_counter()
                found = lay_at_length(made.space, request, run, target_m, grid=grid, **held)
                times.append(time.perf_counter() - start)
                asked += 1
                if isinstance(found, NoRun):
                    if given.verbose:
                        print(f"{made.name} {request.name} +{share:.0%}: {found.reason}")
                    continue
                laid += 1
                shapes[found.surplus_shape] += 1
                faults = faults_in_run(made.space, request, found, target_m=target_m, **rules)
                if faults:
                    unsound += 1
                    if given.verbose:
                        print(f"{made.name} {request.name} +{share:.0%} {found.surplus_shape}: {faults}")
    print(f"{asked} asked, {laid} laid ({laid / max(asked, 1):.1%}), {unsound} unsound")
    print(f"{unheld} shortest runs cannot be clamped")
    print("shapes:", ", ".join(f"{name or 'as it is'} {count}" for name, count in sorted(shapes.items())))
    print(f"time: median {np.median(times) * 1000:.0f} ms, 9 in 10 under {np.quantile(times, 0.9) * 1000:.0f} ms")


if __name__ == "__main__":
    main()
