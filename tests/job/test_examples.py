"""Every example is read without a fault, keeps to the published schemas, and is what its scenario says."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner
from ruamel.yaml import YAML

from cutlist.bank.job import Job
from cutlist.job.reader import read_job, read_stock
from cutlist.job.schema import schema_job, schema_stock

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = sorted(folder.name for folder in EXAMPLES.iterdir() if folder.is_dir())

# string ends of the scenarios: stud centres as surveyed, mm
DREDGE = {
    "P1": ((400, -900, 300), (740, -900, 300)),
    "P2": ((400, -900, 560), (740, -900, 560)),
    "P3": ((900, -900, 300), (1240, -900, 300)),
    "Q1": ((400, 900, 300), (740, 900, 300)),
    "Q2": ((1100, 900, 300), (1440, 900, 300)),
}
TRAILER = {
    "A": ((600, 300, 250), (600, 900, 250)),
    "B": ((1000, 300, 250), (1000, 900, 250)),
    "C": ((-500, 1000, 400), (-500, 1400, 400)),
}


def sound(name: str) -> Job:
    read = read_job(EXAMPLES / name / "job.yaml")
    assert [fault.text() for fault in read.faults] == []
    assert read.job is not None
    return read.job


def plain(path: Path) -> Any:
    return YAML(typ="safe", pure=True).load(path.read_text(encoding="utf-8"))


def test_there_are_three_examples() -> None:
    assert NAMES == ["clinic-trailer", "dredge-tender", "fen-station"]


@pytest.mark.parametrize("name", NAMES)
def test_no_faults(name: str) -> None:
    job = sound(name)
    assert job.positive_bar.pole == "positive"
    assert job.negative_bar.pole == "negative"


@pytest.mark.parametrize(("name", "survey"), [("dredge-tender", DREDGE), ("clinic-trailer", TRAILER)])
def test_string_ends_are_where_the_survey_found_them(name: str, survey: dict[str, object]) -> None:
    found = {
        s.name: tuple(tuple(round(x * 1000, 6) for x in end.point) for end in (s.positive, s.negative))
        for s in sound(name).strings
    }
    assert found == survey


def test_the_trailer_is_51_v_and_expects_a_fourth_string() -> None:
    job = sound("clinic-trailer")
    assert job.voltage_v == pytest.approx(51.2)
    assert job.policy.later_strings == 1
    assert job.policy.round_up_um == 3175  # 1/8 in
    assert job.positive_bar.pitch_m == pytest.approx(0.0381)  # 1 1/2 in


def test_feet_in_the_stock_file_are_exact() -> None:
    """27 ft 6 in = 330 in; 330 x 25 400 um."""
    stock = read_stock(EXAMPLES / "clinic-trailer" / "stock.yaml").stock
    assert stock is not None
    red = stock.cable("1/0 AWG", "red")
    assert red is not None
    assert red.remnants[0].length_um == 330 * 25_400
    assert red.by_length[0].increment_um == 304_800
    assert stock.rules.kerf_um == 1588  # 1/16 in is 1587.5 um: what is lost is rounded up


@pytest.mark.parametrize("name", NAMES)
def test_examples_keep_to_the_schemas(name: str) -> None:
    for schema, file in ((schema_job(), "job.yaml"), (schema_stock(), "stock.yaml")):
        jsonschema.Draft202012Validator.check_schema(schema)
        found = jsonschema.Draft202012Validator(schema).iter_errors(plain(EXAMPLES / name / file))
        assert [f"{error.json_path}: {error.message}" for error in found] == []


def test_the_schema_knows_what_the_reader_refuses() -> None:
    job = plain(EXAMPLES / "fen-station" / "job.yaml")
    check = jsonschema.Draft202012Validator(schema_job())
    job["colour"] = "red"  # no such key
    job["limits"]["drop"] = 2  # no unit
    job["policy"]["clearance"] = "five mm"
    del job["stock"]
    job["bus bars"][0]["at"] = {"centre": [0, 0, 0], "along": "+x", "out": "+z"}  # beside "on"
    assert sorted(error.json_path for error in check.iter_errors(job)) == [
        "$",
        "$",
        "$.limits.drop",
        "$.policy.clearance",
        "$['bus bars'][0]",
    ]


@pytest.mark.parametrize("what", ["job", "stock"])
def test_schema_command_prints_it(what: str) -> None:
    from cutlist.cli.schema import schema

    done = CliRunner().invoke(schema, [what], standalone_mode=False)
    assert done.exit_code == 0
    assert json.loads(done.output) == (schema_job() if what == "job" else schema_stock())


def test_check_command_says_the_job_in_one_line() -> None:
    from cutlist.cli.check import check

    done = CliRunner().invoke(check, [str(EXAMPLES / "fen-station" / "job.yaml")], standalone_mode=False)
    assert done.return_value == 0
    assert done.output == (
        "Fen weather station: no faults. "
        "5 strings of 3, 24 V, 1 load, 4 feeders, 13 solids, 1 hole, 2 conductors in stock.\n"
    )
