"""Wall time and peak memory of whole commands, each in a process of its own.

    python -m tests.benchmarks.bench_plan

Wanted: each example under 3 s and 500 MB, `evenlead --help` under 0.3 s. The simple alternative beside it is what a
person would do with a tape: straight lines, every lead as long as the longest, no routing (no price, no proof).
"""

from __future__ import annotations

import math
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
EXAMPLES = ("fen-station", "dredge-tender", "clinic-trailer")
REPEATS = 3


def measured(arguments: list[str]) -> tuple[float, float, int]:
    """Seconds, peak megabytes and exit status of one run of the command."""
    began = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "cutlist.cli.main", *arguments], cwd=ROOT, stdout=subprocess.DEVNULL
    )
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    return time.perf_counter() - began, usage.ru_maxrss / 1024, process.returncode


def by_tape(name: str) -> float:
    """Metres of lead cable by the simple way: the longest straight terminal-to-bar distance for every lead."""
    import cutlist

    job, _ = cutlist.read_job(ROOT / "examples" / name / "job.yaml")
    faces = {face.name: face for face in job.site.faces}

    def middle(bar):
        if bar.places:
            return bar.places[0].centre
        f = faces[bar.faces[0]]
        return tuple(o + a * f.width_m / 2 + b * f.height_m / 2 for o, a, b in zip(f.origin, f.u, f.v, strict=True))

    plus, minus = middle(job.positive_bar), middle(job.negative_bar)
    longest = max(max(math.dist(s.positive.point, plus), math.dist(s.negative.point, minus)) for s in job.strings)
    return 2 * len(job.strings) * longest


def main() -> None:
    seconds, megabytes, _ = min(measured(["--help"]) for _ in range(REPEATS))
    print(f"{'--help':<16}{seconds:8.2f} s {megabytes:8.0f} MB")
    for name in EXAMPLES:
        with tempfile.TemporaryDirectory() as folder:
            job = f"examples/{name}/job.yaml"
            runs = [measured(["plan", job, "--out", f"{folder}/plan"]) for _ in range(REPEATS)]
        seconds, megabytes, status = min(runs)
        first = runs[0][0]
        print(
            f"{name:<16}{seconds:8.2f} s {megabytes:8.0f} MB   first run {first:.2f} s, exit {status}; "
            f"leads by tape in the air {by_tape(name):.1f} m"
        )
    print(f"(best of {REPEATS}; this process: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB)")


if __name__ == "__main__":
    main()
