"""Seconds for every sheet, of a small bank and of one of 60 leads with 24-character names.

    python -m tests.benchmarks.bench_sheets

Wanted: all sheets of either in under 2 s beyond the plan. Beside it the simple alternative: the plan's JSON alone.
"""

from __future__ import annotations

import time

from cutlist.sheets.plan_json import plan_text
from cutlist.sheets.write import sheet_set
from tests.sheets.sample import workshop_plan

REPEATS = 3


def main() -> None:
    banks = {
        "5 strings": workshop_plan(strings=5),
        "60 leads": workshop_plan(30, string_name=lambda i: f"Forward locker, row {i:04d}", spool_um=150_000_000),
    }
    for name, plan in banks.items():
        whole, text = [], []
        for _ in range(REPEATS):
            began = time.perf_counter()
            files = sheet_set(plan)
            whole.append(time.perf_counter() - began)
            began = time.perf_counter()
            plan_text(plan)
            text.append(time.perf_counter() - began)
        size = sum(map(len, files.values())) / 1e6
        print(f"{name:<12} all sheets {min(whole):6.2f} s, plan.json alone {min(text):6.2f} s, {size:.2f} MB")


if __name__ == "__main__":
    main()
