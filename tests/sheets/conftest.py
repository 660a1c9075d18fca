"""Plans that the tests of the sheets share; made once."""

from __future__ import annotations

import pytest

from cutlist.plan_types import Plan
from tests.sheets.sample import workshop_plan

HOSTILE = '<script>alert(1)</script>=cmd()|#import "x" $q$ \\u{41} `a` *b* _c_ @d שלום'


@pytest.fixture(scope="session")
def plan() -> Plan:
    return workshop_plan()


@pytest.fixture(scope="session")
def inch_plan() -> Plan:
    return workshop_plan(units="in")


@pytest.fixture(scope="session")
def priceless_plan() -> Plan:
    return workshop_plan(prices=False)


@pytest.fixture(scope="session")
def failing_plan() -> Plan:
    return workshop_plan(fails=True)


@pytest.fixture(scope="session")
def large_plan() -> Plan:
    """60 leads whose cables have names of 24 characters or more."""
    return workshop_plan(strings=30, string_name=lambda i: f"Forward locker, row {i:04d}", spool_um=150_000_000)


@pytest.fixture(scope="session")
def hostile_plan() -> Plan:
    return workshop_plan(string_name=lambda i: f"={i}{HOSTILE}", job_name=f"@{HOSTILE}")
