"""What the papers say of cables that could not be laid apart."""

from __future__ import annotations

from cutlist.findings import Finding
from cutlist.planning.results import overlaps


def meeting(*items: str) -> str:
    return " ".join(overlaps([Finding("cables lie beside each other", item, "note", "") for item in items]))


def test_one_pair_is_no_pairs():
    assert "1 pair of cables lies in each other as drawn (A and B)." in meeting("A and B")


def test_of_several_pairs_the_first_is_named():
    assert "2 pairs of cables lie in each other as drawn (deepest A and B; all" in meeting("A and B", "C and D")
    assert meeting() == ""
