"""Cables that could not be laid apart are told on the papers, not only among the findings."""

from __future__ import annotations

from cutlist.findings import Finding
from cutlist.planning.results import overlaps

RULE = "cables lie beside each other"


def test_each_pair_is_counted_and_the_first_named() -> None:
    found = [Finding(RULE, item, "note", "1 mm apart") for item in ("S1 and S2", "S1 and S3")]
    (words,) = overlaps([*found, Finding("voltage drop", "inverter", "note", "")])
    assert "2 pairs" in words
    assert "S1 and S2" in words


def test_cables_that_lie_apart_are_no_matter_for_words() -> None:
    assert overlaps([Finding(RULE, "all cables", "pass", "")]) == ()
