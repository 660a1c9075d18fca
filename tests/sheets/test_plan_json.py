"""plan.json holds the whole plan in plain types, obeys its published schema, and is the same on every run."""

from __future__ import annotations

import dataclasses
import json
from decimal import Decimal

import jsonschema
import numpy as np
import pytest

from cutlist.plan_types import Plan
from cutlist.sheets.plan_json import plan_dict, plan_mark, plan_schema, plan_text
from geometry.curve import Arc, Straight
from tests.sheets.sample import workshop_plan


@pytest.mark.parametrize("name", ["plan", "inch_plan", "priceless_plan", "failing_plan", "hostile_plan", "large_plan"])
def test_every_plan_obeys_the_schema(name, request):
    jsonschema.Draft202012Validator(plan_schema()).validate(json.loads(plan_text(request.getfixturevalue(name))))


def test_the_schema_is_a_schema_and_refuses_what_is_not_a_plan(plan):
    jsonschema.Draft202012Validator.check_schema(plan_schema())
    schema, text = jsonschema.Draft202012Validator(plan_schema()), plan_text(plan)
    assert schema.is_valid(json.loads(text))
    for spoil in (
        lambda d: d.pop("cables"),
        lambda d: d["cables"][0].update(target_m="1.5"),
        lambda d: d["order"].update(total=110.65),
        lambda d: d.update(extra=1),
    ):
        document = json.loads(text)
        spoil(document)
        assert not schema.is_valid(document)


def test_text_and_values_are_one(plan):
    assert json.loads(plan_text(plan)) == plan_dict(plan)


def test_every_field_of_the_plan_is_there(plan):
    assert list(plan_dict(plan)) == ["format", *(f.name for f in dataclasses.fields(Plan))]


def test_money_is_text_with_its_digits(plan):
    order = plan_dict(plan)["order"]
    assert order["total"] == "110.65"
    assert sum(Decimal(line["price"]) for line in order["lines"]) == Decimal(order["total"])


def test_a_missing_price_is_null(priceless_plan):
    assert {line["price"] for line in plan_dict(priceless_plan)["order"]["lines"]} == {None}


def test_a_run_can_be_drawn_again_from_the_document(plan):
    """The pieces alone give back every run's length: straights by their ends, arcs by radius and angle."""
    for cable, written in zip(plan.cables, plan_dict(plan)["cables"], strict=True):
        length_m = 0.0
        for piece in written["laid"]["curve"]["pieces"]:
            if piece["shape"] == "straight":
                length_m += Straight(np.array(piece["start"]), np.array(piece["end"])).length_m
            else:
                arc = Arc(
                    np.array(piece["centre"]), np.array(piece["start"]), np.array(piece["normal"]), piece["angle_rad"]
                )
                length_m += arc.length_m
        assert length_m == pytest.approx(cable.laid.length_m, abs=1e-9)
        assert written["laid"]["length_m"] == pytest.approx(length_m, abs=1e-9)


def test_two_plans_of_one_job_are_one_text_and_carry_one_mark():
    one, other = workshop_plan(), workshop_plan()
    assert plan_text(one) == plan_text(other)
    assert plan_mark(one) == plan_mark(other)


def test_another_plan_carries_another_mark(plan, priceless_plan):
    assert plan_mark(plan) != plan_mark(priceless_plan)


def test_an_unbounded_figure_is_null(plan):
    open_ended = dataclasses.replace(plan.findings[0], value=float("inf"))
    document = plan_dict(dataclasses.replace(plan, findings=(open_ended,)))
    assert document["findings"][0]["value"] is None
