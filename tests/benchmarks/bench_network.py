"""How long the electrical solver takes, and the memory it needs: `python -m tests.benchmarks.bench_network`.

Best of several rounds, one thread. The first solution of a process also loads the sparse solver; that is printed apart.
"""

from __future__ import annotations

import itertools
import math
import time
import tracemalloc
from collections.abc import Callable

import numpy as np

from cutlist.electrics.bank_solution import solve_bank, solve_states
from cutlist.electrics.check import faults_in
from cutlist.electrics.network import Branch, Network, Source, solve
from cutlist.electrics.sharing import Spread, chance_outside
from cutlist.electrics.sizing import prepare, size, worst_drop_v
from cutlist.electrics.string_model import string_model
from tests.electrics.banks import bank, cables_of, conductor, stock

ROUNDS = 7


def large_bank(strings: int = 200, series: int = 16) -> Network:
    """Strings of batteries and jumpers on ladder bars, load at one end: some 10,000 branches."""
    branches = []
    for s in range(strings):
        nodes = [("-", s), *((s, b) for b in range(2 * series - 1)), ("+", s)]
        for i, (start, finish) in enumerate(itertools.pairwise(nodes)):
            battery = i % 2 == 0
            branches.append(Branch(f"{s} {i}", start, finish, 0.003 if battery else 0.00012, 3.3 if battery else 0.0))
        for pole in "+-" if s + 1 < strings else "":
            branches.append(Branch(f"bar {pole} {s}", (pole, s), (pole, s + 1), 4.6e-6))
    return Network(tuple(branches), (Source("load", ("+", 0), ("-", 0), 2000.0),), ("-", 0))


def measured(what: str, work: Callable[[], object], limit_s: float) -> float:
    tracemalloc.start()
    first = time.perf_counter()
    work()
    first = time.perf_counter() - first
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    best = math.inf
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    times = f"{1000 * best:8.1f} ms  (limit {1000 * limit_s:6.0f})  first {1000 * first:7.0f} ms"
    print(f"{what:58s} {times}  {peak / 1e6:6.1f} MB")
    return best


def main() -> None:
    network = large_bank()
    print(
        f"{len(network.branches)} branches; faults by the independent check: {len(faults_in(network, solve(network)))}"
    )
    measured("200 strings x 16 batteries on ladder bars", lambda: solve(network), 0.050)

    wire = conductor("50 mm2")
    job = bank(200, 16, bar=(0.1, 0.01))
    cables = cables_of(job, wire)
    measured("the same as a job: wired, warmed, solved, checked", lambda: solve_bank(job, cables), 5.0)
    scatter = Spread(0.05, 0.01, 0.005, 20e-6, 100e-6)
    for strings, limit_s in ((4, 1.0), (16, 2.0)):
        job = bank(strings, 4, bar=(0.025, 0.006))
        model = string_model(job, solve_bank(job, cables_of(job, wire)))
        measured(
            f"Monte Carlo, 10,000 x {strings} strings on ladder bars",
            lambda m=model: chance_outside(m, scatter, 0.05),
            limit_s,
        )

    job = bank(5, 3, bar=(0.025, 0.006))
    cables = cables_of(job, wire)
    measured("5 strings: every state and outage, checked", lambda: solve_states(job, cables), 0.5)
    sizes = ("16 mm2", "25 mm2", "35 mm2", "50 mm2", "70 mm2", "95 mm2")
    measured("5 strings: sizing from six conductors", lambda: size(job, stock(sizes), cables), 0.5)
    prepared, lengths = prepare(job, cables), np.linspace(0.5, 5, 1000)
    chosen = size(job, stock(sizes), cables).chosen
    assert chosen is not None
    measured(
        "5 strings: drop at 1,000 lead lengths, any string out",
        lambda: worst_drop_v(prepared, chosen.combination, lead_m=lengths),
        1.0,
    )


if __name__ == "__main__":
    main()
