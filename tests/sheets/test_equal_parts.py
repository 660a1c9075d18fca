"""How equal is enough and what if, as the page, the terminal and plan.json say them."""

from __future__ import annotations

import dataclasses
import json

import jsonschema
import pytest

from cutlist.electrics.bank_solution import solve_bank, solve_states
from cutlist.planning.equality import equality_of
from cutlist.planning.questions import usual_answers
from cutlist.sheets.page import plan_html
from cutlist.sheets.plan_json import plan_schema, plan_text
from cutlist.sheets.summary import summary_text
from cutlist.sheets.what_if_text import what_if_text
from tests.electrics.banks import bank, battery_type, cables_of, conductor
from tests.sheets.test_page import rows


@pytest.fixture(scope="module")
def full(plan):
    """The sample plan with the answers of a small bank: two strings of 6.784 milliohm, one lead 1 m longer."""
    job = bank(2, 1, battery=battery_type(chemistry="flooded", emf_v=12.65, resistance_ohm=0.005))
    cables = cables_of(job, conductor("50 mm2"), lead_m={"S1 positive": 3.0})
    equality = equality_of(job, solve_bank(job, cables, conductor_c=20))
    return dataclasses.replace(
        plan, equality=equality, what_if=usual_answers(job, cables, {}, solve_states(job, cables))
    )


def test_the_page_has_both_parts(full):
    """7.17 / 6.784 is 5.69 % more: the long lead's doing (worked in tests/planning/test_equality.py)."""
    html = plan_html(full)
    assert rows(html, "What makes the strings share unevenly")[1:] == [["lead length", "5.69", "0.00", "0.386"]]
    out = rows(html, "A string out of service")[1:]
    assert [line[0] for line in out] == ["S1", "S2"]
    assert all(line[1] == "100.0" for line in out)  # one of two is out: the other carries all
    assert [line[0] for line in rows(html, "One bad crimp")[1:]] == ["S1 positive", "S2 positive"]
    assert rows(html, "One string more")[1][2] == "no stud"
    bare = plan_html(dataclasses.replace(full, equality=None, what_if=type(full.what_if)()))
    assert 'id="equal"' not in bare
    assert 'id="what-if"' not in bare


def test_the_terminal_says_the_same(full):
    text = what_if_text(full.what_if, "mm")
    assert "String out" in text
    assert "no stud" in text
    assert "leads may be" in summary_text(full)


def test_plan_json_holds_them(full):
    document = json.loads(plan_text(full))
    jsonschema.validate(document, plan_schema())
    assert document["equality"]["causes"][0]["cause"] == "lead length"
    assert document["what_if"]["isolated"][0]["currents_a"] == {"S2": 100.0}
