"""The plans of the examples and of the starter job, made once for all tests that look at them."""

from __future__ import annotations

import fcntl
import os
import pickle
from collections.abc import Callable
from pathlib import Path

import pytest

import cutlist
from cutlist.job.starter import write_starter
from cutlist.plan_types import Plan
from geometry import cores

if "PYTEST_XDIST_WORKER" in os.environ:
    # every core has its share of the tests already; what two cores do together is in tests/geometry/test_cores.py, and
    # commands that run in processes of their own use both
    cores.cores = lambda: 1
EXAMPLES = Path(__file__).parent.parent / "examples"


@pytest.fixture(scope="session")
def plan_of(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Plan]:
    """Of the example of this name, or of the "starter". Tests in several processes share a folder: who comes first
    makes the plan."""
    folder = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        folder = folder.parent
    made: dict[str, Plan] = {}

    def plan(name: str) -> Plan:
        if name not in made:
            with (folder / f"{name}.pickle").open("a+b") as file:
                fcntl.flock(file, fcntl.LOCK_EX)
                file.seek(0)
                if not file.read(1):
                    job = EXAMPLES / name / "job.yaml"
                    if name == "starter":
                        job = tmp_path_factory.mktemp(name) / "locker" / "job.yaml"
                        write_starter(job.parent)
                    found = cutlist.make_plan(*cutlist.read_job(job))
                    assert isinstance(found, Plan), found
                    pickle.dump(found, file)
                    file.flush()
                file.seek(0)
                made[name] = pickle.load(file)
        return made[name]

    return plan
