"""Findings of one kind stand under one heading, worst first. Margins are worked by hand: (limit - value) / limit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutlist.findings import Finding
from cutlist.sheets.cut_sheet import cut_sheet_pdf
from cutlist.sheets.finding_groups import FindingGroup, grouped, items_text
from cutlist.sheets.page import plan_html
from cutlist.sheets.summary import summary_text
from tests.sheets.test_cut_sheet import flat
from tests.sheets.test_page import read, rows

LIMIT = 600.0


def gap(number: int, value: float) -> Finding:
    return Finding(
        "clamp spacing", f"cable {number}", "fail", f"{value:g} mm hang free.", value, LIMIT, "mm", "job file",
        "fix a batten",
    )  # fmt: skip


@pytest.fixture
def crowded(plan):
    """37 missing clamps, of which cable 20 hangs longest; one ampacity that fails by more; 6 notes with a mend."""
    gaps = [gap(i, 700.0 if i != 20 else 900.0) for i in range(37)]
    hot = Finding("ampacity", "feeder", "fail", "The feeder is too warm.", 300.0, 100.0, "A", "job file")
    notes = [Finding("protection", f"S{i}", "note", "fed from both ends", mend="a second fuse") for i in range(6)]
    return replace(plan, findings=(*notes, *gaps, hot, *plan.findings))


def test_worst_first_within_and_between(crowded):
    """By hand: ampacity (100 - 300) / 100 = -2; clamps at worst (600 - 900) / 600 = -0.5, the others -1/6."""
    failing = grouped(crowded.findings, "fail")
    assert [(g.rule, len(g.findings)) for g in failing] == [("ampacity", 1), ("clamp spacing", 37)]
    assert failing[1].worst.item == "cable 20"
    assert [f.item for f in failing[1].findings[1:4]] == ["cable 0", "cable 1", "cable 2"]
    states = [g.status for g in grouped(crowded.findings)]
    assert states == sorted(states, key=["fail", "unknown", "note", "pass"].index)
    assert sum(len(g.findings) for g in grouped(crowded.findings)) == len(crowded.findings)


def test_the_terminal_is_short(crowded):
    said = summary_text(crowded).split("\n\n")[-1]
    assert said == (
        "38 limits not met:\n"
        "  ampacity, feeder: The feeder is too warm.\n"
        "  clamp spacing: 37 of the kind, worst first\n"
        "    clamp spacing, cable 20: 900 mm hang free.\n"
        "    clamp spacing, cable 0: 700 mm hang free.\n"
        "    clamp spacing, cable 1: 700 mm hang free.\n"
        "    mend: fix a batten\n"
        "    and 34 more of the kind, all among the findings\n"
        "1 not known for want of data: fault withstand (S1 positive)\n"
        "To be looked at: protection (6: S0, S1, S2, S3 and 2 more)\n"
    )


def test_the_page_has_a_line_a_kind_and_all_beneath(crowded):
    html = plan_html(crowded)
    kinds = [line[:4] for line in rows(html, "Every rule")[1:3]]
    assert kinds == [["ampacity", "feeder", "1", "NOT MET"], ["clamp spacing", "worst: cable 20", "37", "NOT MET"]]
    folded = rows(html, "Findings on clamp spacing, 37 NOT MET")
    assert [line[1] for line in folded[1:3]] == ["cable 20", "cable 0"]
    assert len(folded) == 38
    assert sum(name.startswith("Findings on") for name in read(html).tables) == 2


def test_the_cut_sheet_warns_without_filling_a_page(crowded):
    paper = flat(cut_sheet_pdf(crowded))
    assert "clamp spacing, 37 of the kind, worst first" in paper
    assert "and 34 more of the kind: see plan.html" in paper
    assert paper.count("hang free") == 3


def test_items_named_stand_in_natural_order():
    """S2 before S10, whatever their margins."""
    some = tuple(Finding("fault withstand", name, "note", "", mend="x") for name in ("S10", "S4", "S2"))
    assert items_text(FindingGroup("fault withstand", "note", some)) == "fault withstand (3: S2, S4, S10)"
