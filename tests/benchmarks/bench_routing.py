"""Runs on the benchmark scenes: found, sound, how near the best known, how near proved, how long it takes.

    python -m tests.benchmarks.bench_routing [--solids 10 50] [--seeds 2] [--leads 8] [--grid 2] [--long]

Best known: the shorter of the run, the run that a proof shows, and with --long that of a search of forty ways from
every pair of directions. With --grid N the first N leads of each scene are also found on a 20 mm voxel grid with 26
neighbours, without bends or lugs: that length flatters the grid.
"""

from __future__ import annotations

import argparse
import itertools
import resource
import time
from dataclasses import replace

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra

from geometry import find_runs as search
from geometry.check import faults_in_run
from geometry.clearances import Clearances
from geometry.find_runs import find_runs
from geometry.footing import footings
from geometry.runs import Request, Run
from tests.benchmarks.scenes import Scene, scene

VOXEL_M = 0.02


def longest_search_m(made: Scene, request: Request) -> float:
    """The best of forty ways from every pair of directions; infinite if none is laid."""
    usual, search.WAYS_TRIED = search.WAYS_TRIED, 40
    best_m = np.inf
    for way, back in itertools.product(request.start.directions, request.finish.directions):
        asked = replace(
            request,
            start=replace(request.start, directions=(way,)),
            finish=replace(request.finish, directions=(back,)),
        )
        run = find_runs(made.space, [asked])[0]
        if isinstance(run, Run):
            best_m = min(best_m, run.length_m)
    search.WAYS_TRIED = usual
    return best_m


def on_a_grid_m(made: Scene, requests: tuple[Request, ...]) -> tuple[list[float], float]:
    """Lengths on the voxel grid, and seconds a lead (the grid itself is made once and counted in)."""
    began = time.process_time()
    around = Clearances(made.space)
    low, high = made.space.compartments[0].solid.bounds()
    axes = [np.arange(a, b, VOXEL_M) for a, b in zip(low, high, strict=True)]
    shape = tuple(len(axis) for axis in axes)
    points = np.array(np.meshgrid(*axes, indexing="ij")).reshape(3, -1).T
    everything, standoff_m = np.arange(around.count), requests[0].cable.standoff_m
    free = np.concatenate(
        [(around.distances(p, everything) >= standoff_m).all(axis=1) for p in np.array_split(points, 200)]
    )
    number = np.arange(len(points)).reshape(shape)
    ones, twos, steps = [], [], []
    for step in itertools.product((-1, 0, 1), repeat=3):
        if step <= (0, 0, 0):
            continue
        here = number[tuple(slice(max(0, -s), n - max(0, s)) for s, n in zip(step, shape, strict=True))].ravel()
        there = number[tuple(slice(max(0, s), n + min(0, s)) for s, n in zip(step, shape, strict=True))].ravel()
        both = free[here] & free[there]
        ones.append(here[both])
        twos.append(there[both])
        steps.append(np.full(int(both.sum()), VOXEL_M * float(np.linalg.norm(step))))
    count = len(points)
    graph = coo_matrix((np.concatenate(steps), (np.concatenate(ones), np.concatenate(twos))), (count, count)).tocsr()
    places = points[free]
    names = np.flatnonzero(free)
    lengths = []
    for request in requests:
        starts, _ = footings(around, request.start, request.cable)
        finishes, _ = footings(around, request.finish, request.cable)
        best_m = np.inf
        for start in starts:
            source = int(np.linalg.norm(places - start.launch, axis=1).argmin())
            reached = dijkstra(graph, directed=False, indices=int(names[source]))
            for finish in finishes:
                sink = int(np.linalg.norm(places - finish.launch, axis=1).argmin())
                ends_m = float(
                    np.linalg.norm(places[source] - start.point) + np.linalg.norm(places[sink] - finish.point)
                )
                best_m = min(best_m, float(reached[names[sink]]) + ends_m)
        lengths.append(best_m)
    return lengths, (time.process_time() - began) / len(requests)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--solids", type=int, nargs="+", default=[10, 50])
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--leads", type=int, default=8)
    parser.add_argument("--grid", type=int, default=0)
    parser.add_argument("--long", action="store_true")
    given = parser.parse_args()
    for solids in given.solids:
        asked = found = unsound = 0
        search_s = proof_s = 0.0
        excess, gaps, grid_ratio, grid_s = [], [], [], []
        for seed in range(1, given.seeds + 1):
            made = scene(solids, given.leads, seed)
            began = time.process_time()
            runs = find_runs(made.space, made.requests)
            search_s += time.process_time() - began
            began = time.process_time()
            proved = find_runs(made.space, made.requests, prove=True)
            proof_s += time.process_time() - began
            asked += len(runs)
            for request, run, sure in zip(made.requests, runs, proved, strict=True):
                if not isinstance(run, Run) or not isinstance(sure, Run):
                    continue
                found += 1
                unsound += bool(faults_in_run(made.space, request, sure))
                best_m = min(run.length_m, sure.length_m, longest_search_m(made, request) if given.long else np.inf)
                excess.append((run.length_m / best_m - 1, sure.length_m / best_m - 1))
                gaps.append(sure.gap)
            if given.grid:
                lengths, seconds = on_a_grid_m(made, made.requests[: given.grid])
                grid_s.append(seconds)
                for run, length_m in zip(proved, lengths, strict=False):
                    if isinstance(run, Run) and np.isfinite(length_m):
                        grid_ratio.append(length_m / run.length_m)
        quick, sure_excess = np.array(excess).T
        print(f"{solids} solids: {found} of {asked} found, {unsound} unsound")
        print(f"  CPU a lead: {search_s / asked * 1000:.0f} ms; with proof {proof_s / asked * 1000:.0f} ms")
        for name, share in (("search", quick), ("with proof", sure_excess)):
            near = np.mean(share <= 0.005)
            print(f"  {name}: {near:.1%} within 0.5 % of the best known, worst {share.max():.2%} longer")
        print(f"  proved gap: median {np.median(gaps):.2%}, worst {max(gaps):.2%}")
        if grid_ratio:
            print(
                f"  voxel grid: {np.median(grid_ratio):.3f} of our length (median), {np.mean(grid_s):.1f} s CPU a lead"
            )
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
