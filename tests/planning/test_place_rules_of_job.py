"""The job's own rules of places, held against bars that stand where the test puts them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import cutlist
from cutlist.bank.bus_bars import BarPlace
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.findings import Finding
from cutlist.plan_types import PlacedBar
from cutlist.planning.place_rules import (
    dry_place,
    lowest_z_m,
    pair_allowed,
    place_rule_findings,
    separation_m,
    stated_places,
)

FEN = Path(__file__).parent.parent.parent / "examples" / "fen-station" / "job.yaml"
HIGH = BarPlace((1.0, 0.0, 0.9), (1, 0, 0), (0, 1, 0), "upper")
LOW = BarPlace((1.0, 0.0, 0.4), (1, 0, 0), (0, 1, 0), "lower")


@pytest.fixture(scope="module")
def fen() -> tuple[Job, Stock]:
    job, stock = cutlist.read_job(FEN)
    return replace(job, site=replace(job.site, bilge_z_m=0.2), limits=replace(job.limits, above_bilge_m=0.3)), stock


def found(job: Job, positive: BarPlace, negative: BarPlace) -> dict[str, Finding]:
    bars = [PlacedBar(b, p, ()) for b, p in ((job.positive_bar, positive), (job.negative_bar, negative))]
    return {f"{f.rule} {f.item}": f for f in place_rule_findings(job, bars, ())}


def test_height_above_the_bilge_line(fen: tuple[Job, Stock]) -> None:
    """Line at z 0.2 m and 0.3 m above it: no stud below 0.5. At 0.9 a bar has 0.7 m, at 0.4 it has 0.2."""
    job, _ = fen
    assert lowest_z_m(job) == pytest.approx(0.5)
    told = found(job, HIGH, LOW)
    high = told[f"height above the bilge line {job.positive_bar.name}"]
    low = told[f"height above the bilge line {job.negative_bar.name}"]
    assert (high.status, high.value, high.limit) == ("pass", pytest.approx(0.7), pytest.approx(0.3))
    assert high.margin == pytest.approx(4 / 3)
    assert (low.status, low.value) == ("fail", pytest.approx(0.2))
    assert low.margin == pytest.approx(-1 / 3)


def test_an_upright_row_counts_by_its_lowest_stud(fen: tuple[Job, Stock]) -> None:
    job, _ = fen
    half_m = (job.positive_bar.studs - 1) * job.positive_bar.pitch_m / 2
    upright = replace(HIGH, along=(0, 0, 1), centre=(1.0, 0.0, 0.5 + half_m))
    assert dry_place(job, job.positive_bar, upright)
    assert not dry_place(job, job.positive_bar, replace(upright, centre=(1.0, 0.0, 0.499 + half_m)))
    bar = replace(job.positive_bar, places=(LOW, HIGH))
    assert stated_places(job, bar) == (HIGH,)
    assert stated_places(job, replace(bar, places=(LOW,))) == (LOW,)  # the finding tells


def test_distance_and_faces(fen: tuple[Job, Stock]) -> None:
    """The rows lie 0.5 m above each other. What is asked for never undercuts what keeps the lugs apart."""
    job, stock = fen
    lugs_m = separation_m(stock, job)
    assert separation_m(stock, replace(job, policy=replace(job.policy, bars_apart_m=lugs_m / 2))) == lugs_m
    far = replace(job, policy=replace(job.policy, bars_apart_m=0.6, bars_on="one face"))
    assert separation_m(stock, far) == 0.6
    told = found(far, HIGH, LOW)
    assert told["distance between the bus bars bus bars"].status == "fail"
    assert told["distance between the bus bars bus bars"].value == pytest.approx(0.5)
    assert told["faces of the bus bars bus bars"].status == "fail"
    two = replace(far, policy=replace(far.policy, bars_apart_m=0.45, bars_on="different faces"))
    assert {f.status for name, f in found(two, HIGH, LOW).items() if "bus bars bus bars" in name} == {"pass"}
    assert pair_allowed(two, HIGH, LOW, 0.45)
    assert not pair_allowed(two, HIGH, LOW, 0.51)
    assert not pair_allowed(far, HIGH, LOW, 0.1)
