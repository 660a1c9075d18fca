"""A main fuse that is too large for a feeder, or too far off, is mended by a larger feeder if stock has one.

By the 30 °C figures of 33 CFR 183.425 Table 5 brought to 20 °C, a fuse under 50 V may be 150 % of what the feeder may
carry (33 CFR 183.455(c)(1)); the limits themselves are taken from `ampacity_of`, which tests of its own hold against
the table.
"""

from __future__ import annotations

from dataclasses import replace

from cutlist.bank.bus_bars import Device, Feeder
from cutlist.bank.job import Job
from cutlist.electrics.protection import protect
from cutlist.electrics.sizing import size, with_conductors
from cutlist.electrics.warmth import ampacity_of
from tests.electrics.banks import bank, cables_of, conductor, fuse, stock, terminal

SIZES = ("25 mm2", "35 mm2", "50 mm2", "70 mm2")


def with_main(rating_a: float) -> Job:
    main = Device("main fuse", "fuse", terminal("in", "M10"), terminal("out", "M10"), 0.0, rating_a, interrupt_a=20e3)
    fused = bank(2, 2, load_a=60.0, policy=replace(bank().policy, string_fuse="at battery"))
    feeders = (
        Feeder("bar to fuse", "positive", ("bus bar", "positive bar"), ("device source side", "main fuse")),
        Feeder("fuse to load", "positive", ("device load side", "main fuse"), ("load positive", "inverter")),
        fused.feeders[1],
    )
    return replace(fused, devices=(main,), feeders=feeders)


def feeder_for(rating_a: float, string_fuse_a: float, feeder_m: float) -> tuple[str, list[str]]:
    """The feeder that is chosen, and what the findings say of the main fuse once it is laid."""
    job, store = with_main(rating_a), stock(SIZES, fuses=[fuse(string_fuse_a)])
    cables = cables_of(job, conductor("25 mm2"), feeder_m=feeder_m)
    chosen = size(job, store, cables).chosen
    assert chosen is not None
    laid = with_conductors(cables, chosen.combination)
    said = [
        f.status for f in protect(job, store, laid).findings if f.rule in ("main fuse rating", "main fuse distance")
    ]
    return chosen.combination.feeder.name, said


def allowed_a(size_name: str) -> float:
    job = with_main(100.0)
    (feeder,) = [c for c in cables_of(job, conductor(size_name)) if c.name == "fuse to load"]
    return 1.5 * ampacity_of(job, feeder).current_a


def test_a_main_fuse_too_large_for_the_thinnest_gets_the_next_feeder() -> None:
    between_a = (allowed_a("25 mm2") + allowed_a("35 mm2")) / 2
    assert feeder_for(allowed_a("25 mm2") - 1, 80.0, 0.15) == ("25 mm2", ["pass", "pass"])
    assert feeder_for(between_a, 80.0, 0.15) == ("35 mm2", ["pass", "pass"])


def test_a_main_fuse_far_off_gets_a_feeder_that_the_string_fuses_protect() -> None:
    """Two string fuses of just over half of what 25 mm2 may be fused at: within 7 in that is no matter."""
    half_a = allowed_a("25 mm2") / 2 + 1
    assert feeder_for(100.0, half_a, 0.15) == ("25 mm2", ["pass", "pass"])
    assert feeder_for(100.0, half_a, 1.0) == ("35 mm2", ["pass", "pass"])


def test_when_no_feeder_mends_it_the_feeder_stays_thin_and_the_finding_says_so() -> None:
    assert feeder_for(2 * allowed_a("70 mm2"), 80.0, 0.15) == ("25 mm2", ["fail", "pass"])
