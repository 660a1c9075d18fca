"""How equal is enough, in the plan: causes, tolerance and chance against hand and law."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutlist.bank.job import Limits
from cutlist.electrics.bank_solution import solve_bank, solve_states
from cutlist.planning.equality import equality_findings, equality_of
from cutlist.planning.questions import MOST_STRINGS, usual_answers
from cutlist.sheets.equal_rows import cause_rows, enough_words, what_if_rows
from tests.electrics.banks import bank, battery_type, cables_of, conductor

CU50 = conductor("50 mm2")


def test_one_long_lead_by_hand():
    """Two strings of 5 + 4 x 0.386 + 4 x 0.06 = 6.784 milliohm; one lead 1 m longer: 7.17. Bars are single nodes, so
    the currents go as 7.17 / 6.784, which is the lead's doing alone, all at 20 degrees."""
    job = bank(2, 1, battery=battery_type(resistance_ohm=0.005))
    solution = solve_bank(job, cables_of(job, CU50, lead_m={"S1 positive": 3.0}), conductor_c=20)
    equality = equality_of(job, solution)
    assert equality.largest_over_smallest == pytest.approx(7.17 / 6.784, rel=1e-9)
    assert equality.causes[0].cause == "lead length"
    assert equality.causes[0].alone == pytest.approx(7.17 / 6.784 - 1, rel=1e-9)
    assert equality.causes[0].without == pytest.approx(0, abs=1e-9)
    assert equality.causes[0].spread_ohm == pytest.approx(0.386e-3)
    rows = cause_rows(equality)
    assert rows.lines == (("lead length", "5.69", "0.00", "0.386"),)


def test_tolerance_by_hand():
    """Two like strings of R = 6.784 milliohm, both leads of one e longer and of the other e shorter: shares go as
    R + 2 e c to R - 2 e c, c = 0.386 milliohm a metre, so one is off by 2 e c / R: 10 % at e = 0.879 m."""
    job = bank(2, 1, battery=battery_type(resistance_ohm=0.005))
    equality = equality_of(job, solve_bank(job, cables_of(job, CU50), conductor_c=20))
    assert equality.tolerance.length_m == pytest.approx(0.1 * 6.784 / (2 * 0.386), rel=1e-6)
    assert equality.held_m == 0.005
    (finding,) = equality_findings(equality)
    assert finding.status == "pass"
    assert "879 mm longer or shorter" in enough_words(equality, "mm")[0]
    # a share of 0.05 % leaves 4.4 mm: less than the 5 mm that lengths are marked to
    strict = replace(job, limits=Limits(drop=0.03, share=0.0005))
    (finding,) = equality_findings(equality_of(strict, solve_bank(strict, cables_of(job, CU50), conductor_c=20)))
    assert finding.status == "fail"
    assert finding.limit == pytest.approx(0.0005 * 6.784 / (2 * 0.386), rel=1e-5)


def test_a_single_string_shares_with_none():
    """Left to ask are a bad crimp and one string more."""
    job = bank(1, 2)
    solution = solve_bank(job, cables_of(job, CU50))
    assert equality_of(job, solution) is None
    assert equality_findings(None) == ()
    asked = what_if_rows(usual_answers(job, cables_of(job, CU50), {}, (solution,)), "mm")
    assert [rows.caption for rows in asked] == ["One bad crimp, at continuous current", "One string more"]


def test_the_same_answers_from_solved_states():
    job = bank(3, 1)
    cables = cables_of(job, CU50)
    solved = usual_answers(job, cables, {}, solve_states(job, cables))
    assert solved == usual_answers(job, cables, {}, ())
    assert [i.string for i in solved.isolated] == ["S1", "S2", "S3"]


def test_of_a_large_bank_only_the_extremes():
    job = bank(MOST_STRINGS + 1, 1)
    cables = cables_of(job, CU50, lead_m={"S4 positive": 1.0, "S7 negative": 4.0})
    asked = usual_answers(
        job, cables, {}, solve_states(replace(job, policy=replace(job.policy, one_string_out=False)), cables)
    )
    assert [i.string for i in asked.isolated] == ["S4", "S7"]
