"""The calculation record: every figure done again from its own formula and inputs, and one string from first inputs."""

import re
from dataclasses import replace

import pytest

from cutlist.electrics.ampacity import Segment
from cutlist.electrics.bank_solution import solve_bank
from cutlist.electrics.record import electrical_record
from tests.electrics.banks import bank, cables_of, conductor, fuse, with_shunt

CU50 = conductor("50 mm2")


def a_bank(**changes):
    policy = replace(bank().policy, string_fuse="at battery")
    job = with_shunt(bank(3, 2, bar=(0.02, 0.003), policy=policy, **changes))
    cables = [
        replace(c, segments=(Segment(1, 20), Segment(3, 45, True, 4)), paralleled=2) if c.name == "S2 negative" else c
        for c in cables_of(job, CU50, lead_m={"S3 positive": 3.0}, tap=(2, 0))
    ]
    return job, cables, {s.name: fuse(100) for s in job.strings}


def by_calculator(figure):
    """The formula with the inputs' figures put in: nothing but numbers and + - * / ** ( )."""
    text = figure.formula
    for name, value, _ in sorted(figure.inputs, key=lambda i: -len(i[0])):
        text = re.sub(rf"\b{name}\b", f"({value!r})", text)
    assert re.fullmatch(r"[-+*/(). 0-9e]+", text), text
    return eval(text)


@pytest.mark.parametrize("state", ["continuous", "charge"])
def test_every_figure_follows_from_its_inputs(state):
    job, cables, fuses = a_bank()
    if state == "charge":
        job = replace(job, loads=(replace(job.loads[0], charger=True, surge=None),))
    record = electrical_record(job, solve_bank(job, cables, fuses=fuses, state=state))
    assert len(record) > 60
    for figure in record:
        assert by_calculator(figure) == pytest.approx(figure.value, rel=1e-6, abs=1e-9), (figure.item, figure.quantity)
        assert figure.source
        assert figure.unit or figure.quantity.startswith(("departure", "drop, share"))


def test_what_is_printed_is_in_the_record():
    job, cables, fuses = a_bank()
    solution = solve_bank(job, cables, fuses=fuses)
    values = {(f.item, f.quantity): f.value for f in electrical_record(job, solution)}
    for name, state in solution.cables.items():
        assert values[(name, "drop")] == state.drop_v
        assert values[(name, "ampacity")] == state.allowed_a
    for name, amps in solution.string_currents_a.items():
        assert values[(name, "current")] == amps
    assert values[("inverter", "drop")] == solution.worst_drop.total_v
    assert values[("bank", "current of all strings")] == pytest.approx(100)


def test_inputs_of_one_figure_are_results_of_others():
    """The chain closes: a string's resistance is made of the record's cable resistances, its current of that."""
    job, cables, fuses = a_bank()
    record = electrical_record(job, solve_bank(job, cables, fuses=fuses))
    values = {(f.item, f.quantity): f.value for f in record}
    string = next(f for f in record if (f.item, f.quantity) == ("S1", "resistance from stud to stud"))
    named = {unit.split(": ")[1]: value for _, value, unit in string.inputs if "leads" in unit or "jumpers" in unit}
    assert named == pytest.approx({name: values[(name, "resistance")] for name in named}, rel=1e-8)
    current = next(f for f in record if (f.item, f.quantity) == ("S1", "current"))
    assert {n: v for n, v, _ in current.inputs}["resistance"] == string.value


def test_one_string_from_first_inputs():
    """One string of one battery, 100 A, 2 m leads of 50 mm2, 1 m feeders, joints 60 microohm, air 20 °C, worked here.
    Rise 75 (100 / 245)^2 = 12.4948 K for leads and feeders alike (they carry the same 100 A), so 32.4948 °C and
    0.386 x (1 + 0.00393 x 12.4948) = 0.404954 milliohm a metre. String: 4 + 2 x 0.809908 + 4 x 0.06 = 5.859816
    milliohm. Drop: 6 m x 0.404954 + 8 x 0.06 = 2.909724 milliohm x 100 A = 0.2909724 V of 12 V: 2.424770 %."""
    job = bank(1, 1)
    record = electrical_record(job, solve_bank(job, cables_of(job, CU50)))
    values = {(f.item, f.quantity): f.value for f in record}
    assert values[("S1 positive", "temperature of stretch 1")] == pytest.approx(32.4948, abs=1e-4)
    assert values[("S1 positive", "resistance")] == pytest.approx(0.809908e-3, rel=1e-6)
    assert values[("S1", "resistance from stud to stud")] == pytest.approx(5.859816e-3, rel=1e-6)
    assert values[("inverter", "drop")] == pytest.approx(0.2909724, rel=1e-6)
    assert values[("inverter", "drop, share of nominal")] == pytest.approx(0.02424770, rel=1e-6)
    # The handbook: 10.75 x 100 x 6 x 3.28084 / (50 x 1973.53) = 0.21446 V: it leaves out joints and warmth.
    assert values[("inverter", "drop by the handbook")] == pytest.approx(0.21446, rel=1e-4)


def test_a_surge_has_no_record():
    job, cables, fuses = a_bank()
    with pytest.raises(ValueError, match="no record of its own"):
        electrical_record(job, solve_bank(job, cables, fuses=fuses, state="surge"))
