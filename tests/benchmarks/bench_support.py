"""Support in the search: how many runs can be clamped, how much longer they are, how long it takes.

    python -m tests.benchmarks.bench_support [--solids 50] [--seeds 3] [--leads 8] [--clampable 1.0]

Clamps every 450 mm within 40 mm of structure. Beside it the simple alternative: the shortest run, as it is.
"""

from __future__ import annotations

import argparse
import time

import numpy as np

from geometry.check import faults_in_run
from geometry.find_runs import find_runs
from geometry.runs import Run
from geometry.supports import clamps_on
from geometry.surroundings import Surroundings
from tests.benchmarks.scenes import scene

SPAN_M, REACH_M = 0.45, 0.04


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--solids", type=int, default=50)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--leads", type=int, default=8)
    parser.add_argument("--clampable", type=float, default=1.0, help="share of the solids that take a clamp")
    given = parser.parse_args()
    leads = shortest_held = held = unsound = 0
    longer, took_s = [], 0.0
    for seed in range(1, given.seeds + 1):
        made = scene(given.solids, given.leads, seed, given.clampable)
        shortest = find_runs(made.space, made.requests)
        began = time.process_time()
        found = find_runs(made.space, made.requests, span_m=SPAN_M, reach_m=REACH_M)
        took_s += time.process_time() - began
        clamping = Surroundings(made.space)
        for request, short, run in zip(made.requests, shortest, found, strict=True):
            if not (isinstance(short, Run) and isinstance(run, Run)):
                continue
            leads += 1
            rules = {"span_m": SPAN_M, "reach_m": REACH_M, "straight_m": request.cable.straight_m}
            shortest_held += not clamps_on(clamping, short.curve, **rules)[1]
            missing = clamps_on(clamping, run.curve, **rules)[1]
            # the stranger looks at every run that is said to be held, with the support rules; at others without
            asked = {} if missing else {"span_m": SPAN_M, "reach_m": REACH_M}
            unsound += bool(faults_in_run(made.space, request, run, **asked))
            if not missing:
                held += 1
                longer.append(run.length_m / short.length_m - 1)
    print(
        f"{given.solids} solids, {leads} runs: held {held}, of the shortest {shortest_held}; unsound {unsound}; "
        f"longer: median {np.median(longer):.1%}, 9 in 10 {np.quantile(longer, 0.9):.1%}, worst {max(longer):.1%}; "
        f"{took_s / leads:.2f} s a run"
    )


if __name__ == "__main__":
    main()
